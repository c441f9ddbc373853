//! `lamella job records`.

use lamella_proto::v1;
use lamella_proto::v1::job_service_client::JobServiceClient;
use tonic::transport::Channel;

use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;

/// List what was recorded on a job, in the order it was written down.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job records blue-estate --all --output json")]
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
    let list = pages(&mut jobs, session, &args.job.0, &args.page).await?;
    session.show(&list, render::record::list)
}

/// All records of a job.
///
/// # Errors
/// The server's.
pub(crate) async fn all(
    jobs: &mut JobServiceClient<Channel>,
    session: &Session,
    job: &str,
) -> Result<Vec<v1::Record>, CliError> {
    Ok(pages(jobs, session, job, &PageArgs::everything())
        .await?
        .records)
}

async fn pages(
    jobs: &mut JobServiceClient<Channel>,
    session: &Session,
    job: &str,
    paging: &PageArgs,
) -> Result<v1::ListRecordsResponse, CliError> {
    let mut list = v1::ListRecordsResponse::default();
    let mut page_token = paging.token();
    loop {
        let request = session.request(v1::ListRecordsRequest {
            parent: job.to_owned(),
            page_size: paging.size(),
            page_token,
        });
        let page = session.answer(jobs.list_records(request)).await?;
        list.records.extend(page.records);
        list.next_page_token = page.next_page_token;
        if !paging.all || list.next_page_token.is_empty() {
            return Ok(list);
        }
        page_token = list.next_page_token.clone();
    }
}
