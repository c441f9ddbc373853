//! `lamella job new`.

use lamella_proto::v1;

use crate::commands::job::fields::FieldArgs;
use crate::errors::CliError;
use crate::render;
use crate::session::Session;

/// Book a job. Only its name must be given.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella job new 'Blue estate'
  lamella job new 'Blue estate' --vehicle blue-estate --promise 'tomorrow 17:00' \\
      --customer 'A. Customer' --service correct-one-step:hood,roof")]
pub(crate) struct Args {
    /// Name for people.
    #[arg(value_name = "NAME")]
    display_name: String,
    #[command(flatten)]
    fields: FieldArgs,
    /// The last part of the job's resource name. [default: chosen by the server]
    #[arg(long)]
    id: Option<String>,
    /// Makes a retry safe: the same id with the same request is done once.
    #[arg(long, value_name = "ID")]
    request_id: Option<String>,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut job = v1::Job {
        display_name: args.display_name,
        ..Default::default()
    };
    args.fields.write(&mut job, session)?;
    let mut jobs = session.jobs().await?;
    let request = session.request(v1::CreateJobRequest {
        job: Some(job),
        job_id: args.id.unwrap_or_default(),
        request_id: args.request_id.unwrap_or_default(),
    });
    let job = session.answer(jobs.create_job(request)).await?;
    session.show(&job, render::job::full)
}
