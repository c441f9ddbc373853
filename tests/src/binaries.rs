//! Where the programs under test are: beside the test executable, so that a
//! test never runs a program of another build.

use std::path::{Path, PathBuf};

/// The daemon's program.
///
/// # Panics
/// When it is not built; the message names the command that builds it.
pub fn lamellad() -> PathBuf {
    find("lamellad")
}

/// The client's program.
///
/// # Panics
/// When it is not built; the message names the command that builds it.
pub fn lamella() -> PathBuf {
    find("lamella")
}

/// The repository's top folder.
///
/// # Panics
/// Never: this crate lies one level below it.
pub fn repository() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("the crate lies in a folder")
}

/// `target/<profile>/NAME`; the test itself is in `target/<profile>/deps`.
fn find(name: &str) -> PathBuf {
    let test = std::env::current_exe().expect("the test knows its own path");
    let profile = test
        .parent()
        .and_then(Path::parent)
        .expect("target/<profile>/deps/test");
    let program = profile.join(name);
    assert!(
        program.is_file(),
        "{} is missing; build it first: cargo build --workspace --bins{}",
        program.display(),
        if profile.ends_with("release") {
            " --release"
        } else {
            ""
        }
    );
    program
}
