//! Where the Python environment for foreign clients is.

use std::path::PathBuf;

use crate::binaries;

/// The interpreter that has grpcio: `LAMELLA_TEST_PYTHON`, which `tests/run`
/// sets, or the one in `tests/.cache`.
///
/// # Panics
/// When there is neither; the message says what to do.
pub fn interpreter() -> PathBuf {
    let cached = binaries::repository().join("tests/.cache/venv/bin/python");
    let python = std::env::var_os("LAMELLA_TEST_PYTHON").map_or(cached, PathBuf::from);
    assert!(
        python.is_file(),
        "{} is missing; `./tests/run e2e` makes it, or set LAMELLA_TEST_PYTHON to a Python with \
         what tests/python/requirements.txt lists",
        python.display()
    );
    python
}

/// A script in `tests/python`.
pub fn script(name: &str) -> PathBuf {
    binaries::repository().join("tests/python").join(name)
}
