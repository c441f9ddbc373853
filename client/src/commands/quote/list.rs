//! `lamella quote list`.

use lamella_proto::v1;

use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;

/// List a job's quotes in the order they were made.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella quote list blue-estate")]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    #[command(flatten)]
    page: PageArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut quotes = session.quotes().await?;
    let mut list = v1::ListQuotesResponse::default();
    let mut page_token = args.page.token();
    loop {
        let request = session.request(v1::ListQuotesRequest {
            parent: args.job.0.clone(),
            page_size: args.page.size(),
            page_token,
        });
        let page = session.answer(quotes.list_quotes(request)).await?;
        list.quotes.extend(page.quotes);
        list.next_page_token = page.next_page_token;
        if !args.page.all || list.next_page_token.is_empty() {
            return session.show(&list, render::quote::list);
        }
        page_token = list.next_page_token.clone();
    }
}
