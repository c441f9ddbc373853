//! `lamella quote accept`: the customer's yes to a quote.

use lamella_proto::v1;

use crate::commands::shared::ChangeArgs;
use crate::errors::CliError;
use crate::names::QuoteName;
use crate::render;
use crate::session::Session;

/// Write down that the customer said yes to a quote.
///
/// The job is then approved at its price, and may move to that stage:
/// `lamella job move JOB`. Another quote that was accepted before is no longer.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella quote accept blue-estate/1 --by 'A. Customer' --note 'by phone'")]
pub(crate) struct Args {
    /// The quote: jobs/JOB/quotes/QUOTE, or JOB/QUOTE.
    quote: QuoteName,
    /// Who said yes.
    #[arg(long, value_name = "NAME")]
    by: String,
    /// How it was given.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut quotes = session.quotes().await?;
    let request = session.request(v1::AcceptQuoteRequest {
        name: args.quote.0,
        approved_by: args.by,
        note: args.note.unwrap_or_default(),
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let answer = session.answer(quotes.accept_quote(request)).await?;
    session.show(&answer, render::quote::accepted)
}
