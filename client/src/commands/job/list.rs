//! `lamella job list`.

use lamella_proto::v1;

use crate::commands::choices::Stage;
use crate::commands::shared::instant;
use crate::errors::CliError;
use crate::names::VehicleName;
use crate::render;
use crate::session::Session;
use crate::times::TimeArg;

/// List jobs in the order they were booked.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella job list --stage in-work --stage curing
  lamella job list --promised-before 'tomorrow 00:00' --all --output json")]
pub(crate) struct Args {
    /// Only jobs at this stage; repeat for more.
    #[arg(long, value_enum, value_delimiter = ',')]
    stage: Vec<Stage>,
    /// Only jobs of this vehicle.
    #[arg(long)]
    vehicle: Option<VehicleName>,
    /// Only jobs whose name contains this.
    #[arg(long)]
    text: Option<String>,
    /// Only jobs promised at or after this time.
    #[arg(long, value_name = "TIME")]
    promised_from: Option<TimeArg>,
    /// Only jobs promised before this time.
    #[arg(long, value_name = "TIME")]
    promised_before: Option<TimeArg>,
    /// Only jobs created at or after this time.
    #[arg(long, value_name = "TIME")]
    created_from: Option<TimeArg>,
    /// Only jobs created before this time.
    #[arg(long, value_name = "TIME")]
    created_before: Option<TimeArg>,
    /// Deleted jobs as well.
    #[arg(long)]
    deleted: bool,
    #[command(flatten)]
    page: crate::commands::shared::PageArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let filter = v1::JobFilter {
        stages: args.stage.into_iter().map(i32::from).collect(),
        vehicle: args.vehicle.map(|name| name.0).unwrap_or_default(),
        promised_from: instant(args.promised_from, session)?,
        promised_before: instant(args.promised_before, session)?,
        created_from: instant(args.created_from, session)?,
        created_before: instant(args.created_before, session)?,
        text: args.text.unwrap_or_default(),
    };
    let mut request = v1::ListJobsRequest {
        page_size: args.page.size(),
        page_token: args.page.token(),
        filter: Some(filter),
        show_deleted: args.deleted,
    };
    let mut jobs = session.jobs().await?;
    let mut all = v1::ListJobsResponse::default();
    loop {
        let page = session
            .answer(jobs.list_jobs(session.request(request.clone())))
            .await?;
        all.jobs.extend(page.jobs);
        // The token of the first page misses nothing that came after it.
        if all.resume_token.is_empty() {
            all.resume_token = page.resume_token;
        }
        all.next_page_token = page.next_page_token;
        if !args.page.all || all.next_page_token.is_empty() {
            return session.show(&all, render::job::list);
        }
        request.page_token.clone_from(&all.next_page_token);
    }
}
