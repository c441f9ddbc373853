//! `lamella job`: jobs, their stages, their records and their history.

mod add;
mod advance;
mod approve;
mod delete;
pub(crate) mod fields;
mod history;
mod list;
mod new;
pub(crate) mod records;
mod show;
mod update;
mod watch;

use crate::errors::CliError;
use crate::session::Session;

/// Jobs: one car's visit each, from booking to hand-over.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    New(new::Args),
    List(list::Args),
    Show(show::Args),
    Update(update::Args),
    Approve(approve::Args),
    Move(advance::Args),
    Delete(delete::DeleteArgs),
    Undelete(delete::UndeleteArgs),
    Add(Box<add::Args>),
    Records(records::Args),
    History(history::Args),
    Watch(watch::Args),
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
        Command::Update(args) => update::run(args, session).await,
        Command::Approve(args) => approve::run(args, session).await,
        Command::Move(args) => advance::run(args, session).await,
        Command::Delete(args) => delete::delete(args, session).await,
        Command::Undelete(args) => delete::undelete(args, session).await,
        Command::Add(args) => add::run(*args, session).await,
        Command::Records(args) => records::run(args, session).await,
        Command::History(args) => history::run(args, session).await,
        Command::Watch(args) => watch::run(args, session).await,
    }
}
