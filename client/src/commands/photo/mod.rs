//! `lamella photo`: the condition on arrival, and proof of work.

mod add;
mod list;
mod remove;
mod save;

use crate::errors::CliError;
use crate::session::Session;

/// Photos of a job: the condition on arrival, and proof of work.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    Add(add::Args),
    List(list::Args),
    Save(save::Args),
    Remove(remove::Args),
}

/// Runs the command.
///
/// # Errors
/// The server's, or that a file cannot be read or written.
pub(crate) async fn run(command: Command, session: &Session) -> Result<(), CliError> {
    match command {
        Command::Add(args) => add::run(args, session).await,
        Command::List(args) => list::run(args, session).await,
        Command::Save(args) => save::run(args, session).await,
        Command::Remove(args) => remove::run(args, session).await,
    }
}
