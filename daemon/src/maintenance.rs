//! What an owner does to a data directory while no daemon runs on it.

use std::path::Path;
use std::process::ExitCode;

use anyhow::Context as _;

use crate::ledger::{JobProjector, Naming};
use crate::photos::check::NamedPhotos;
use crate::plugins;

/// Checks a data directory and prints what it found. Exit code 0: clean;
/// 1: something is wrong, and it says what.
///
/// # Errors
/// When the directory cannot be read or a daemon holds it.
pub fn verify(data_dir: &Path) -> anyhow::Result<ExitCode> {
    let projector = Naming::default();
    let mut named = NamedPhotos::default();
    let report = lamella_store::verify_each(data_dir, &projector, &mut |key, value| {
        named.note(key, value);
    })
    .with_context(|| format!("cannot verify {}", data_dir.display()))?;
    say(&report);
    let plugins = plugins::check(data_dir, &projector.components())?;
    say(&plugins);
    let mut whole = true;
    // Of a damaged journal it is not known which photos there are.
    if report.is_sound() {
        let photos = named
            .check(data_dir)
            .with_context(|| format!("cannot verify the photos in {}", data_dir.display()))?;
        say(&photos);
        whole = photos.problems.is_empty();
    }
    Ok(if report.is_clean() && plugins.is_clean() && whole {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

/// Rebuilds the projection from the newest snapshot and the journal.
///
/// # Errors
/// When the journal is damaged, or a daemon holds the directory.
pub fn rebuild(data_dir: &Path) -> anyhow::Result<ExitCode> {
    lamella_store::rebuild(data_dir, &JobProjector)
        .with_context(|| format!("cannot rebuild {}", data_dir.display()))?;
    verify(data_dir)
}

#[expect(clippy::print_stdout, reason = "the report is this command's output")]
fn say(report: &impl std::fmt::Display) {
    println!("{report}");
}
