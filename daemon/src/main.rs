//! `lamellad`: reads its settings, binds, serves, drains, and says which way
//! it ended.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Context as _;
use clap::{Parser, Subcommand};
use lamella_daemon::config::{Given, Settings};
use lamella_daemon::{demo, maintenance, run};

/// The local API daemon of a workshop that corrects paint, lays film and
/// applies coatings.
#[derive(Debug, Parser)]
#[command(name = "lamellad", version, args_conflicts_with_subcommands = false)]
struct Args {
    #[command(flatten)]
    given: Given,
    /// TOML file with the same settings, beaten by flags and environment.
    #[arg(long, env = "LAMELLA_CONFIG", value_name = "FILE", global = true)]
    config: Option<PathBuf>,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Takes one invented car from booking to hand-over, printing every step.
    Demo {
        /// Keep the store in this directory instead of a temporary one.
        #[arg(long, value_name = "DIR")]
        keep: Option<PathBuf>,
    },
    /// Checks a data directory and prints what it found; changes nothing.
    Verify {
        /// The data directory.
        #[arg(long, env = "LAMELLA_DATA_DIR", value_name = "DIR")]
        data_dir: PathBuf,
    },
    /// Rebuilds the projection from the journal.
    Rebuild {
        /// The data directory.
        #[arg(long, env = "LAMELLA_DATA_DIR", value_name = "DIR")]
        data_dir: PathBuf,
    },
}

fn main() -> ExitCode {
    let args = Args::parse();
    match dispatch(args) {
        Ok(code) => code,
        Err(error) => {
            eprintln!("lamellad: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn dispatch(args: Args) -> anyhow::Result<ExitCode> {
    let file = args
        .config
        .as_deref()
        .map(Given::from_file)
        .transpose()?
        .unwrap_or_default();
    let settings = args.given.or(file).resolve()?;
    match args.command {
        None => {
            log_to_stderr(&settings)?;
            runtime()?.block_on(run::run(settings))
        }
        Some(Command::Demo { keep }) => runtime()?.block_on(demo::run(keep)),
        Some(Command::Verify { data_dir }) => maintenance::verify(&data_dir),
        Some(Command::Rebuild { data_dir }) => {
            log_to_stderr(&settings)?;
            maintenance::rebuild(&data_dir)
        }
    }
}

fn runtime() -> anyhow::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .context("cannot start the async runtime")
}

fn log_to_stderr(settings: &Settings) -> anyhow::Result<()> {
    use std::io::IsTerminal as _;
    let filter = tracing_subscriber::EnvFilter::try_new(&settings.log)
        .with_context(|| format!("log filter `{}`", settings.log))?;
    let color = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        // It would complain on stderr, and panic where that is a file on a full disk.
        .log_internal_errors(false)
        .with_ansi(color)
        .init();
    Ok(())
}
