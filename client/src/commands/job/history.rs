//! `lamella job history`.

use lamella_proto::v1;

use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;

/// List all that ever happened to a job, oldest first.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job history blue-estate --all")]
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
    let mut jobs = session.jobs().await?;
    let mut list = v1::ListJobHistoryResponse::default();
    let mut page_token = args.page.token();
    loop {
        let request = session.request(v1::ListJobHistoryRequest {
            name: args.job.0.clone(),
            page_size: args.page.size(),
            page_token,
        });
        let page = session.answer(jobs.list_job_history(request)).await?;
        list.events.extend(page.events);
        list.next_page_token = page.next_page_token;
        if !args.page.all || list.next_page_token.is_empty() {
            return session.show(&list, render::event::list);
        }
        page_token = list.next_page_token.clone();
    }
}
