//! The one module that writes: answers to standard output, complaints to
//! standard error. Colour codes are dropped unless it is a terminal, and
//! always with `NO_COLOR`.

use std::io::{ErrorKind, Write};
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;

use crate::errors::CliError;
use crate::text;

/// How answers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Format {
    /// For people.
    Text,
    /// Canonical protobuf JSON, for programs.
    Json,
}

/// Writes a text, with a line end of its own if it has none, and flushes, so
/// that whoever follows a stream sees each line when it is there.
///
/// # Errors
/// [`CliError::OutputClosed`] when nobody reads any more; else
/// [`CliError::Output`].
pub(crate) fn print(text: &str) -> Result<(), CliError> {
    let mut out = anstream::stdout().lock();
    let end = if text.ends_with('\n') || text.is_empty() {
        ""
    } else {
        "\n"
    };
    write!(out, "{text}{end}")
        .and_then(|()| out.flush())
        .map_err(failed)
}

/// Writes bytes as they are, for generated files.
///
/// # Errors
/// As [`print()`].
pub(crate) fn print_bytes(bytes: &[u8]) -> Result<(), CliError> {
    let mut out = std::io::stdout().lock();
    out.write_all(bytes)
        .and_then(|()| out.flush())
        .map_err(failed)
}

/// Writes a file whole or not at all: what was there before stays until then.
///
/// # Errors
/// [`CliError::Write`].
pub(crate) fn replace_file(path: &Path, bytes: &[u8]) -> Result<(), CliError> {
    let dir = match path.parent() {
        Some(dir) if dir != Path::new("") => dir,
        Some(_) | None => Path::new("."),
    };
    let write = || {
        let mut file = tempfile::Builder::new()
            .permissions(std::fs::Permissions::from_mode(0o644))
            .tempfile_in(dir)?;
        file.write_all(bytes)?;
        file.persist(path).map_err(|error| error.error)
    };
    write().map(|_| ()).map_err(|source| CliError::Write {
        path: path.to_owned(),
        source,
    })
}

/// Says on standard error that something happened which is no answer.
pub(crate) fn mention(text: &str) {
    // Nobody can be told that standard error is gone.
    let _ = writeln!(anstream::stderr().lock(), "{text}");
}

/// Says on standard error what went wrong.
pub(crate) fn complain(error: &CliError) {
    let report = error.report();
    if !report.is_empty() {
        let _ = write!(anstream::stderr().lock(), "{}{report}", text::error_word());
    }
}

fn failed(error: std::io::Error) -> CliError {
    if error.kind() == ErrorKind::BrokenPipe {
        CliError::OutputClosed
    } else {
        CliError::Output(error)
    }
}
