//! `lamella vehicle`: vehicles and their panels.

mod delete;
mod ledger;
mod list;
mod new;
mod panel;
mod panel_spec;
mod show;
mod update;

use crate::errors::CliError;
use crate::session::Session;

/// Vehicles and their panels; a vehicle outlives its jobs.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    New(new::Args),
    List(list::Args),
    Show(show::Args),
    Ledger(ledger::Args),
    Update(update::Args),
    Panel(panel::Args),
    Delete(delete::DeleteArgs),
    Undelete(delete::UndeleteArgs),
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(command: Command, session: &Session) -> Result<(), CliError> {
    match command {
        Command::New(args) => new::run(args, session).await,
        Command::List(args) => list::run(args, session).await,
        Command::Show(args) => show::run(args, session).await,
        Command::Ledger(args) => ledger::run(args, session).await,
        Command::Update(args) => update::run(args, session).await,
        Command::Panel(args) => panel::run(args, session).await,
        Command::Delete(args) => delete::delete(args, session).await,
        Command::Undelete(args) => delete::undelete(args, session).await,
    }
}
