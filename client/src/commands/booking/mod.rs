//! `lamella booking`: bookings of other systems, calendars in and out, and what
//! the outbox could not deliver.

mod calendar;
mod list;
mod outbox;
mod upsert;

use crate::errors::CliError;
use crate::session::Session;

/// Bookings of other systems, calendars in and out, and the outbox.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    Upsert(Box<upsert::Args>),
    List(list::ListArgs),
    Show(list::ShowArgs),
    Import(calendar::ImportArgs),
    Export(calendar::ExportArgs),
    Outbox(outbox::StatusArgs),
    DeadLetters(outbox::ListArgs),
    Retry(outbox::RetryArgs),
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(command: Command, session: &Session) -> Result<(), CliError> {
    match command {
        Command::Upsert(args) => upsert::run(*args, session).await,
        Command::List(args) => list::list(args, session).await,
        Command::Show(args) => list::show(args, session).await,
        Command::Import(args) => calendar::import(args, session).await,
        Command::Export(args) => calendar::export(args, session).await,
        Command::Outbox(_) => outbox::status(session).await,
        Command::DeadLetters(args) => outbox::list(args, session).await,
        Command::Retry(args) => outbox::retry(args, session).await,
    }
}
