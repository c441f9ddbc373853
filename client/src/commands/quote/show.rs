//! `lamella quote show`.

use lamella_proto::v1;

use crate::errors::CliError;
use crate::names::QuoteName;
use crate::render;
use crate::session::Session;

/// Show a quote. With --output json it has all that it was made from.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella quote show blue-estate/1 --why")]
pub(crate) struct Args {
    /// The quote: jobs/JOB/quotes/QUOTE, or JOB/QUOTE.
    quote: QuoteName,
    /// Why each line is there and costs what it does.
    #[arg(long)]
    why: bool,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut quotes = session.quotes().await?;
    let request = session.request(v1::GetQuoteRequest { name: args.quote.0 });
    let quote = session.answer(quotes.get_quote(request)).await?;
    session.show(&quote, |quote, view| {
        render::quote::full(quote, args.why, view)
    })
}
