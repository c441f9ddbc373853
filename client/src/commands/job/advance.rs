//! `lamella job move`: to the next stage, or another one.

use lamella_proto::v1;

use crate::commands::choices::Stage;
use crate::commands::shared::ChangeArgs;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;
use crate::text::{self, View};

/// Move a job to another stage, if that stage lets it in.
///
/// A stage that does not says everything it is waiting for.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella job move blue-estate
  lamella job move blue-estate cancelled --note 'customer sold the car'")]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    /// The stage. [default: the next one]
    #[arg(value_enum)]
    stage: Option<Stage>,
    /// Why; needed for a step back and for cancelled.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Only say whether it could be moved.
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's; a stage that refuses names each condition.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut jobs = session.jobs().await?;
    let request = session.request(v1::AdvanceStageRequest {
        name: args.job.0,
        to_stage: args.stage.map(i32::from).unwrap_or_default(),
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
        note: args.note.unwrap_or_default(),
        validate_only: args.dry_run,
    });
    let answer = session.answer(jobs.advance_stage(request)).await?;
    session.show(&answer, render_answer)
}

fn render_answer(answer: &v1::AdvanceStageResponse, view: &View) -> String {
    let job = answer
        .job
        .as_ref()
        .map(|job| render::job::full(job, view))
        .unwrap_or_default();
    job + &text::cautions(&answer.cautions)
}
