//! `lamella quote`: what a job costs, by the shop's own price rule.

mod accept;
mod compare;
mod list;
mod new;
mod rerun;
mod show;

use crate::errors::CliError;
use crate::session::Session;

/// Price a job by the shop's own rule, or see to the quotes that it has.
///
/// A job called like one of the commands is reached as jobs/NAME.
#[derive(Debug, clap::Args)]
// Its name would be that of the group within.
#[group(skip)]
#[command(
    args_conflicts_with_subcommands = true,
    subcommand_negates_reqs = true,
    after_help = "\
Examples:
  lamella quote blue-estate
  lamella quote blue-estate --measure 'film:clear film=4.2m' --measure labour:correct=3h --why
  lamella quote blue-estate --plugin shop-prices --set per-hour=7200 --dry-run
  lamella quote accept blue-estate/1 --by 'A. Customer' --note 'by phone'"
)]
pub(crate) struct Args {
    #[command(flatten)]
    new: Option<new::Args>,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    List(list::Args),
    Show(show::Args),
    Accept(accept::Args),
    Rerun(rerun::Args),
    Compare(compare::Args),
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    match (args.command, args.new) {
        (Some(Command::List(args)), _) => list::run(args, session).await,
        (Some(Command::Show(args)), _) => show::run(args, session).await,
        (Some(Command::Accept(args)), _) => accept::run(args, session).await,
        (Some(Command::Rerun(args)), _) => rerun::run(args, session).await,
        (Some(Command::Compare(args)), _) => compare::run(args, session).await,
        (None, Some(args)) => new::run(args, session).await,
        (None, None) => Err(CliError::Argument {
            argument: "JOB",
            rule: "name the job to price".to_owned(),
        }),
    }
}
