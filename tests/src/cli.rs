//! Runs the programs as a person or a script does.

use std::ffi::OsStr;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

use crate::binaries;

/// What a program did.
#[derive(Debug)]
pub struct Ran {
    /// The command as typed, for messages.
    pub command: String,
    /// Its exit code; none when a signal ended it.
    pub code: Option<i32>,
    /// What it wrote to stdout.
    pub stdout: String,
    /// What it wrote to stderr.
    pub stderr: String,
}

impl Ran {
    /// The JSON that it printed.
    ///
    /// # Panics
    /// When it failed or printed something else; the message shows all.
    pub fn json(&self) -> Value {
        assert_eq!(self.code, Some(0), "{self}");
        serde_json::from_str(&self.stdout).unwrap_or_else(|error| panic!("{error} in {self}"))
    }

    /// Itself, when it ended with this code.
    ///
    /// # Panics
    /// When it did not; the message shows all.
    pub fn ended_with(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{self}");
        self
    }
}

impl std::fmt::Display for Ran {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self {
            command,
            code,
            stdout,
            stderr,
        } = self;
        write!(
            f,
            "`{command}` (exit code {code:?})\nstdout:\n{stdout}\nstderr:\n{stderr}"
        )
    }
}

/// Runs `lamella` against a server.
///
/// # Panics
/// When the program is missing.
pub fn lamella<S: AsRef<OsStr>>(server: &str, args: impl IntoIterator<Item = S>) -> Ran {
    let mut command = clean(&binaries::lamella());
    command.env("LAMELLA_SERVER", server).args(args);
    run(command, "")
}

/// Runs `lamella` against a server, with text on its standard input.
///
/// # Panics
/// When the program is missing.
pub fn lamella_reading<S: AsRef<OsStr>>(
    server: &str,
    args: impl IntoIterator<Item = S>,
    stdin: &str,
) -> Ran {
    let mut command = clean(&binaries::lamella());
    command.env("LAMELLA_SERVER", server).args(args);
    run(command, stdin)
}

/// Runs a command of `lamellad`, for example `verify`.
///
/// # Panics
/// When the program is missing.
pub fn lamellad<S: AsRef<OsStr>>(args: impl IntoIterator<Item = S>) -> Ran {
    let mut command = clean(&binaries::lamellad());
    command.args(args).current_dir(std::env::temp_dir());
    run(command, "")
}

/// A command without the `LAMELLA_*` of whoever runs the tests, and without
/// colour.
pub fn clean(program: &Path) -> Command {
    let mut command = Command::new(program);
    for (name, _) in std::env::vars_os() {
        if name.to_string_lossy().starts_with("LAMELLA_") {
            command.env_remove(name);
        }
    }
    command.env("NO_COLOR", "1");
    command
}

/// Runs a command to its end, with `stdin` on its standard input.
///
/// # Panics
/// When it cannot be started.
pub fn run(mut command: Command, stdin: &str) -> Ran {
    let shown = shown(&command);
    command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    let mut child = command
        .spawn()
        .unwrap_or_else(|error| panic!("cannot start `{shown}`: {error}"));
    let mut pipe = child.stdin.take().expect("stdin is piped");
    // A program that does not read its input closes it, which is its right.
    let _ = pipe.write_all(stdin.as_bytes());
    drop(pipe);
    let Output {
        status,
        stdout,
        stderr,
    } = child.wait_with_output().expect("a child ends");
    Ran {
        command: shown,
        code: status.code(),
        stdout: String::from_utf8_lossy(&stdout).into_owned(),
        stderr: String::from_utf8_lossy(&stderr).into_owned(),
    }
}

fn shown(command: &Command) -> String {
    let words = std::iter::once(command.get_program()).chain(command.get_args());
    words
        .map(OsStr::to_string_lossy)
        .collect::<Vec<_>>()
        .join(" ")
}
