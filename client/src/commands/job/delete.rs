//! `lamella job delete` and `lamella job undelete`.

use lamella_proto::v1;

use crate::commands::shared::ChangeArgs;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;

/// Mark a job deleted. It can be taken back.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job delete blue-estate")]
pub(crate) struct DeleteArgs {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Take back a deletion.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job undelete blue-estate")]
pub(crate) struct UndeleteArgs {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs `delete`.
///
/// # Errors
/// The server's.
pub(crate) async fn delete(args: DeleteArgs, session: &Session) -> Result<(), CliError> {
    let mut jobs = session.jobs().await?;
    let request = session.request(v1::DeleteJobRequest {
        name: args.job.0,
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let job = session.answer(jobs.delete_job(request)).await?;
    session.show(&job, render::job::full)
}

/// Runs `undelete`.
///
/// # Errors
/// The server's.
pub(crate) async fn undelete(args: UndeleteArgs, session: &Session) -> Result<(), CliError> {
    let mut jobs = session.jobs().await?;
    let request = session.request(v1::UndeleteJobRequest {
        name: args.job.0,
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let job = session.answer(jobs.undelete_job(request)).await?;
    session.show(&job, render::job::full)
}
