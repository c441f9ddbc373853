//! `lamella quote compare`.

use lamella_proto::v1;

use crate::errors::CliError;
use crate::names::QuoteName;
use crate::render;
use crate::session::Session;

/// Say in what two quotes differ, of one job or of two.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella quote compare blue-estate/1 blue-estate/2")]
pub(crate) struct Args {
    /// The quote: jobs/JOB/quotes/QUOTE, or JOB/QUOTE.
    quote: QuoteName,
    /// The other.
    other: QuoteName,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut quotes = session.quotes().await?;
    let request = session.request(v1::CompareQuotesRequest {
        name: args.quote.0,
        other: args.other.0,
    });
    let answer = session.answer(quotes.compare_quotes(request)).await?;
    session.show(&answer, |answer, _| {
        render::quote::differences(&answer.differences)
    })
}
