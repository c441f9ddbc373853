//! `lamellad`: reads its settings, binds, serves, drains, and says which way
//! it ended.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context as _;
use clap::{CommandFactory as _, Parser, Subcommand};
use lamella_daemon::config::{Given, Settings, environment, reference};
use lamella_daemon::{demo, maintenance, papers, run};

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
    /// Prints what can be configured: every key with its default and range.
    ConfigReference {
        /// For people, as a file to begin with, or as a schema.
        #[arg(long, value_enum, default_value_t = reference::Format::Markdown)]
        format: reference::Format,
    },
    /// Prints a completion script for a shell.
    Completions {
        /// Which shell.
        #[arg(value_enum)]
        shell: papers::Shell,
    },
    /// Writes manual pages for every command into a folder.
    Man {
        /// The folder; made if it is not there.
        #[arg(value_name = "DIR")]
        dir: PathBuf,
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
    let (given, config) = (args.given, args.config);
    match args.command {
        None => {
            let settings = settings(given, config.as_deref())?;
            log_to_stderr(&settings)?;
            warn_of_near_misses();
            runtime()?.block_on(run::run(settings))
        }
        Some(Command::Demo { keep }) => {
            settings(given, config.as_deref())?;
            runtime()?.block_on(demo::run(keep))
        }
        Some(Command::Verify { data_dir }) => {
            settings(given, config.as_deref())?;
            maintenance::verify(&data_dir)
        }
        Some(Command::Rebuild { data_dir }) => {
            log_to_stderr(&settings(given, config.as_deref())?)?;
            maintenance::rebuild(&data_dir)
        }
        // What the program says of itself takes no settings, and helps to mend bad ones.
        Some(Command::ConfigReference { format }) => papers::print(&reference::text(format)),
        Some(Command::Completions { shell }) => {
            papers::print(&papers::completions(Args::command(), shell)?)
        }
        Some(Command::Man { dir }) => papers::man(Args::command(), &dir),
    }
}

fn settings(given: Given, file: Option<&Path>) -> anyhow::Result<Settings> {
    let file = file.map(Given::from_file).transpose()?.unwrap_or_default();
    Ok(given.or(file).resolve()?)
}

/// Says which variables were meant for the daemon and missed it.
fn warn_of_near_misses() {
    let names = std::env::vars_os().filter_map(|(name, _)| name.into_string().ok());
    for miss in environment::near_misses(names, &Args::command()) {
        tracing::warn!(
            "the environment variable {} is not known and has no effect; did you mean {}?",
            miss.name,
            miss.meant
        );
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
        .with_ansi(color)
        .init();
    Ok(())
}
