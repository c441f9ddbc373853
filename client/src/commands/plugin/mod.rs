//! `lamella plugin`: the shop's own price rules and product lists.

mod install;
mod list;
mod new;
mod products;
mod project;
mod settings;
mod show;
mod state;
mod try_out;
mod upload;

use crate::errors::CliError;
use crate::session::Session;

/// The shop's own price rules and product lists.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    New(new::Args),
    Test(try_out::Args),
    Install(install::Args),
    List(list::Args),
    Show(show::Args),
    Settings(settings::Args),
    Enable(state::EnableArgs),
    Disable(state::DisableArgs),
    Remove(state::RemoveArgs),
    Products(products::Args),
}

/// Runs the command.
///
/// # Errors
/// The server's; those of files for `new`, `test` and `install`.
pub(crate) async fn run(command: Command, session: &Session) -> Result<(), CliError> {
    match command {
        Command::New(args) => new::run(&args),
        Command::Test(args) => try_out::run(args, session).await,
        Command::Install(args) => install::run(args, session).await,
        Command::List(args) => list::run(args, session).await,
        Command::Show(args) => show::run(args, session).await,
        Command::Settings(args) => settings::run(args, session).await,
        Command::Enable(args) => state::enable(args, session).await,
        Command::Disable(args) => state::disable(args, session).await,
        Command::Remove(args) => state::remove(args, session).await,
        Command::Products(args) => products::run(args, session).await,
    }
}
