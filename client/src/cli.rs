//! The command line: global options and which command runs.

use std::time::Duration;

use clap::{Parser, Subcommand};

use crate::clock;
use crate::commands::{
    advise, blend, booking, call, completions, cure, dew, dilute, doctor, export, film, handover,
    heat, job, man, paint, photo, plugin, quote, vehicle,
};
use crate::connect::{DEFAULT_SERVER, Server};
use crate::errors::{CliError, EXIT_CODES};
use crate::output::Format;
use crate::session::Session;
use crate::text::View;
use crate::units::{DurationS, System};

/// Jobs, film, mixes and coatings of a paint workshop, from the command line.
///
/// Quantities carry their unit: 500ml, 32floz, 1524mm, 60in, 35C, 95F, 10kPa,
/// 12h, 35%. Times are RFC 3339, "today 17:00", "tomorrow 09:30",
/// "2026-03-02 17:00" or now.
#[derive(Debug, Parser)]
#[command(name = "lamella", version, after_help = EXIT_CODES, max_term_width = 100)]
pub(crate) struct Cli {
    #[command(flatten)]
    global: Global,
    #[command(subcommand)]
    command: Command,
}

/// Options that every command takes.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Global options")]
struct Global {
    /// Where the daemon listens: HOST:PORT, http://HOST:PORT or unix:PATH.
    #[arg(
        long, global = true, value_name = "ADDR", env = "LAMELLA_SERVER", hide_env_values = true,
        default_value = DEFAULT_SERVER
    )]
    server: Server,
    /// How to print the answer: text for people, canonical protobuf JSON for
    /// programs.
    #[arg(long, global = true, value_enum, default_value_t = Format::Text)]
    output: Format,
    /// Which units come first in text.
    #[arg(
        long, global = true, value_enum, env = "LAMELLA_UNITS", hide_env_values = true, default_value_t = System::Metric
    )]
    units: System,
    /// How long to wait for an answer, for example 30s. [default: 10s; 5min
    /// where plugins are compiled; streams have no limit]
    #[arg(long, global = true, value_name = "TIME")]
    timeout: Option<DurationS>,
}

#[derive(Debug, Subcommand)]
enum Command {
    #[command(subcommand)]
    Job(Box<job::Command>),
    #[command(subcommand)]
    Vehicle(vehicle::Command),
    Quote(Box<quote::Args>),
    #[command(subcommand)]
    Plugin(plugin::Command),
    #[command(subcommand)]
    Booking(Box<booking::Command>),
    #[command(subcommand)]
    Photo(photo::Command),
    Handover(Box<handover::Args>),
    Dilute(Box<dilute::Args>),
    Blend(blend::Args),
    Film(film::Args),
    Cure(Box<cure::Args>),
    Heat(Box<heat::Args>),
    Advise(advise::Args),
    Dew(dew::Args),
    Paint(Box<paint::Args>),
    Removal(paint::RemovalArgs),
    Export(export::Args),
    Doctor(doctor::Args),
    Call(call::Args),
    Completions(completions::Args),
    Man(man::Args),
}

/// Runs the command that was given.
///
/// # Errors
/// What the command fails with; [`CliError::exit`] has the exit code.
pub(crate) async fn run(cli: Cli) -> Result<(), CliError> {
    let session = Session {
        server: cli.global.server,
        timeout: cli.global.timeout.map(limit).transpose()?,
        format: cli.global.output,
        view: View {
            units: cli.global.units,
            zone: clock::zone(),
            now: clock::now(),
        },
    };
    match cli.command {
        Command::Job(command) => job::run(*command, &session).await,
        Command::Vehicle(command) => vehicle::run(command, &session).await,
        Command::Quote(args) => quote::run(*args, &session).await,
        Command::Plugin(command) => plugin::run(command, &session).await,
        Command::Booking(command) => booking::run(*command, &session).await,
        Command::Photo(command) => photo::run(command, &session).await,
        Command::Handover(args) => handover::run(*args, &session).await,
        Command::Dilute(args) => dilute::run(*args, &session).await,
        Command::Blend(args) => blend::run(args, &session).await,
        Command::Film(args) => film::run(args, &session).await,
        Command::Cure(args) => cure::run(*args, &session).await,
        Command::Heat(args) => heat::run(*args, &session).await,
        Command::Advise(args) => advise::run(args, &session).await,
        Command::Dew(args) => dew::run(args, &session).await,
        Command::Paint(args) => paint::run(*args, &session).await,
        Command::Removal(args) => paint::removal(args, &session).await,
        Command::Export(args) => export::run(args, &session).await,
        Command::Doctor(args) => doctor::run(args, &session).await,
        Command::Call(args) => call::run(args, &session).await,
        Command::Completions(args) => completions::run(&args),
        Command::Man(args) => man::run(&args),
    }
}

/// A limit that a timer and a gRPC deadline can hold: above 0, up to a day.
fn limit(timeout: DurationS) -> Result<Duration, CliError> {
    if timeout.0 > 0.0 && timeout.0 <= 86_400.0 {
        Ok(Duration::from_secs_f64(timeout.0))
    } else {
        Err(CliError::Argument {
            argument: "--timeout",
            rule: format!("must be above 0 and at most 1d, got {} s", timeout.0),
        })
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory as _;

    use super::*;

    #[test]
    fn the_command_line_is_consistent() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_command_says_what_it_does_and_shows_an_example() {
        fn walk(command: &clap::Command, path: &str, missing: &mut Vec<String>) {
            if command.get_about().is_none() {
                missing.push(format!("{path}: about"));
            }
            let help = command
                .get_after_help()
                .map(ToString::to_string)
                .unwrap_or_default();
            if !command.has_subcommands() && !help.contains("lamella ") {
                missing.push(format!("{path}: example"));
            }
            for sub in command.get_subcommands() {
                walk(sub, &format!("{path} {}", sub.get_name()), missing);
            }
        }
        let mut missing = Vec::new();
        walk(&Cli::command(), "lamella", &mut missing);
        assert!(missing.is_empty(), "{missing:#?}");
    }
}
