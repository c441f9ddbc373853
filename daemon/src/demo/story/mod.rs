//! The story: one invented blue estate, from booking to hand-over.

mod agreement;
mod arrival;
mod care;
mod correction;
mod leaving;

use lamella_proto::v1;
use lamella_proto::v1::record::Entry;
use tonic::Status;

use super::teller::Teller;

/// The vehicle's and the job's id.
const ID: &str = "blue-estate";
const JOB: &str = "jobs/blue-estate";

/// Tells it all, in order.
///
/// # Errors
/// When a step does not go as told.
pub(super) async fn tell(teller: &mut Teller) -> anyhow::Result<()> {
    arrival::tell(teller).await?;
    agreement::tell(teller).await?;
    correction::tell(teller).await?;
    care::tell(teller).await?;
    leaving::tell(teller).await
}

/// Appends a record and prints its cautions.
async fn add(teller: &mut Teller, entry: Entry) -> anyhow::Result<v1::Record> {
    let record = v1::Record {
        entry: Some(entry),
        ..v1::Record::default()
    };
    let request = v1::AppendRecordRequest {
        parent: JOB.to_owned(),
        record: Some(record),
        ..v1::AppendRecordRequest::default()
    };
    let answer = teller.jobs.append_record(request).await?.into_inner();
    let record = answer.record.unwrap_or_default();
    teller.cautions(&record.cautions);
    Ok(record)
}

/// Moves the job to its next stage.
async fn advance(teller: &mut Teller) -> Result<v1::AdvanceStageResponse, Status> {
    let request = v1::AdvanceStageRequest {
        name: JOB.to_owned(),
        ..v1::AdvanceStageRequest::default()
    };
    Ok(teller.jobs.advance_stage(request).await?.into_inner())
}

/// Moves the job on and says where it is now.
async fn move_on(teller: &mut Teller) -> anyhow::Result<()> {
    teller.command("job move blue-estate");
    let moved = advance(teller).await?;
    let stage = moved.job.unwrap_or_default().stage();
    teller.answer(&format!("now {}", stage_name(stage)));
    teller.cautions(&moved.cautions);
    Ok(())
}

/// A stage as a person says it: `STAGE_IN_WORK` is "in work".
fn stage_name(stage: v1::Stage) -> String {
    stage
        .as_str_name()
        .trim_start_matches("STAGE_")
        .replace('_', " ")
        .to_lowercase()
}

fn timestamp(instant: jiff::Timestamp) -> prost_types::Timestamp {
    crate::convert::time::to_pb(instant)
}

fn ranked(name: &str, rank: i32) -> Option<v1::RankedItem> {
    Some(v1::RankedItem {
        name: name.to_owned(),
        rank,
    })
}
