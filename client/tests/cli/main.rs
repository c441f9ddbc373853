//! The real binary against a server that answers as told: exit codes, error
//! text, streams, and what the arguments become on the wire. Whether the daemon
//! itself is right is the business of `tests/`.

#![expect(
    clippy::unwrap_used,
    reason = "helpers of tests may fail loudly, as tests do"
)]

mod call;
mod doctor;
mod fake;
mod fake_shop;
mod output;
mod plugins;
mod quotes;
mod refusals;
mod requests;
mod watch;

use std::process::{Command, Output};

use fake::Fake;

/// The binary with a clean environment.
fn lamella(server: &str, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lamella"));
    command
        .env_clear()
        .env("TZ", "Europe/Berlin")
        .arg("--server")
        .arg(server)
        .args(args);
    command
}

fn run(fake: &Fake, args: &[&str]) -> Output {
    lamella(&fake.address, args).output().unwrap()
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn code(output: &Output) -> Option<i32> {
    output.status.code()
}

/// Runs and expects success.
fn ok(fake: &Fake, args: &[&str]) -> String {
    let output = run(fake, args);
    assert_eq!(code(&output), Some(0), "{args:?}: {}", stderr(&output));
    stdout(&output)
}
