//! `lamella quote rerun`.

use lamella_proto::v1;

use crate::errors::CliError;
use crate::names::QuoteName;
use crate::render;
use crate::session::Session;

/// Make a quote once more, by the component that made it and from the same
/// inputs, and say whether it comes to the same. The exit code is 3 when not.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella quote rerun blue-estate/1")]
pub(crate) struct Args {
    /// The quote: jobs/JOB/quotes/QUOTE, or JOB/QUOTE.
    quote: QuoteName,
}

/// Runs the command.
///
/// # Errors
/// When it does not come to the same; else the server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    // The component may have to be compiled first.
    let session = session.patient();
    let mut quotes = session.quotes().await?;
    let request = session.request(v1::RerunQuoteRequest {
        name: args.quote.0.clone(),
    });
    let answer = session.answer(quotes.rerun_quote(request)).await?;
    session.show(&answer, |answer, _| render::quote::rerun(answer))?;
    if answer.same {
        Ok(())
    } else {
        Err(CliError::CameOutBad(format!(
            "{} no longer comes to the same",
            args.quote.0
        )))
    }
}
