//! `lamella job approve`: the customer's yes.

use lamella_proto::v1;

use crate::commands::shared::{ChangeArgs, instant};
use crate::errors::CliError;
use crate::money::Amount;
use crate::names::JobName;
use crate::render;
use crate::session::Session;
use crate::times::TimeArg;

/// Write down that the customer said yes to the work and its price.
///
/// The job then may move to the stage approved: `lamella job move JOB`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job approve blue-estate --by 'A. Customer' --amount '850.00 EUR' --note 'by phone'")]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    /// Who said yes.
    #[arg(long, value_name = "NAME")]
    by: String,
    /// The price said yes to, tax included: "850.00 EUR".
    #[arg(long, value_name = "AMOUNT")]
    amount: Option<Amount>,
    /// How it was given.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// When. [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<TimeArg>,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let approval = v1::Approval {
        approved_by: args.by,
        approve_time: instant(args.at, session)?,
        amount: args.amount.map(|amount| amount.0),
        note: args.note.unwrap_or_default(),
        quote: String::new(),
    };
    let job = v1::Job {
        name: args.job.0,
        approval: Some(approval),
        etag: args.change.etag.unwrap_or_default(),
        ..Default::default()
    };
    let mut jobs = session.jobs().await?;
    let request = session.request(v1::UpdateJobRequest {
        job: Some(job),
        update_mask: Some(prost_types::FieldMask {
            paths: vec!["approval".to_owned()],
        }),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let job = session.answer(jobs.update_job(request)).await?;
    session.show(&job, render::job::full)
}
