//! The example of README.md, which `tests/run bindings` compares with this file
//! and runs against a live daemon.
#![expect(
    clippy::print_stdout,
    reason = "an example shows what it does by printing"
)]

use lamella_proto::v1::job_service_client::JobServiceClient;
use lamella_proto::v1::{self, job_event::Change, watch_jobs_response::Message};
use tonic::transport::Endpoint;
use tonic_types::StatusExt as _;

#[tokio::main]
async fn main() -> Result<(), Box<dyn std::error::Error>> {
    let server = std::env::var("LAMELLA_SERVER").unwrap_or("127.0.0.1:7575".into());
    let server = Endpoint::new(format!("http://{server}"))?.connect().await?;
    let mut jobs = JobServiceClient::new(server);
    let mut create = v1::CreateJobRequest::default();
    create.job.get_or_insert_default().display_name = "Blue estate".into();
    let name = jobs.create_job(create).await?.into_inner().name;

    let mut advance = v1::AdvanceStageRequest::default();
    advance.name.clone_from(&name);
    if let Err(refused) = jobs.advance_stage(advance.clone()).await {
        let unmet = refused.get_details_precondition_failure();
        for condition in unmet.iter().flat_map(|unmet| &unmet.violations) {
            println!("{name} must wait: {}", condition.r#type);
        }
    }
    advance.set_to_stage(v1::Stage::Cancelled);
    advance.note.push_str("called off by phone");
    jobs.advance_stage(advance).await?;

    let mut watch = v1::WatchJobsRequest::default();
    watch.resume_token.push('0');
    watch.job = name;
    let mut events = jobs.watch_jobs(watch).await?.into_inner();
    while let Some(Message::Event(event)) = events.message().await?.and_then(|m| m.message) {
        if let Some(Change::StageChanged(moved)) = event.change {
            println!("{} {}", event.sequence, moved.to_stage().as_str_name());
        }
    }
    Ok(())
}
