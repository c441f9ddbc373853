//! `lamella job update`.

use lamella_proto::v1;

use crate::commands::job::fields::FieldArgs;
use crate::commands::shared::ChangeArgs;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;

/// Change fields of a job. What is not given stays as it is.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella job update blue-estate --promise 'tomorrow 12:00' --phone '555 0100'
  lamella job update blue-estate --clear wishes")]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    /// New name for people.
    #[arg(long)]
    name: Option<String>,
    #[command(flatten)]
    fields: FieldArgs,
    /// Empty this field; repeat for more.
    #[arg(long, value_enum, value_delimiter = ',')]
    clear: Vec<Clearable>,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Fields that can be emptied.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Clearable {
    Vehicle,
    Promise,
    Customer,
    Arrival,
    Wishes,
    Services,
    Approval,
}

/// Runs the command.
///
/// # Errors
/// A usage error when there is nothing to change; else the server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut jobs = session.jobs().await?;
    let mut job = v1::Job {
        name: args.job.0,
        ..Default::default()
    };
    if args.fields.touches_customer() {
        // The customer travels as a whole: keep the parts that are not given,
        // and the etag, so that nobody else's change is lost in between.
        let request = session.request(v1::GetJobRequest {
            name: job.name.clone(),
        });
        let current = session.answer(jobs.get_job(request)).await?;
        job.customer = current.customer;
        job.etag = current.etag;
    }
    job.etag = args.change.etag.unwrap_or(job.etag);
    let mut paths = args.fields.write(&mut job, session)?;
    if let Some(name) = args.name {
        job.display_name = name;
        paths.push("display_name".to_owned());
    }
    for field in args.clear {
        let path = path(field);
        if paths.iter().any(|written| written == path) {
            return Err(CliError::Argument {
                argument: "--clear",
                rule: format!("{path} is set and cleared at once; leave one out"),
            });
        }
        paths.push(path.to_owned());
    }
    if paths.is_empty() {
        return Err(CliError::Argument {
            argument: "job update",
            rule: "nothing to change; name at least one field".to_owned(),
        });
    }
    let request = session.request(v1::UpdateJobRequest {
        job: Some(job),
        update_mask: Some(prost_types::FieldMask { paths }),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let job = session.answer(jobs.update_job(request)).await?;
    session.show(&job, render::job::full)
}

fn path(field: Clearable) -> &'static str {
    match field {
        Clearable::Vehicle => "vehicle",
        Clearable::Promise => "promise_time",
        Clearable::Customer => "customer",
        Clearable::Arrival => "arrival_condition",
        Clearable::Wishes => "wishes",
        Clearable::Services => "services",
        Clearable::Approval => "approval",
    }
}
