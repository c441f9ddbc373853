//! What happened to a job.

use lamella_jobs::transition::JobEvent;
use lamella_proto::v1::{self, job_event::Change};

use super::{caution, job, names, record};

/// The event as the journal keeps it: without sequence and time, which the
/// journal gives it. `etag` is that of the job after it.
pub(crate) fn event_to_pb(job_id: &str, event: &JobEvent, etag: &str) -> v1::JobEvent {
    let change = match event {
        JobEvent::Created(after) => Change::Created(job::job_to_pb(after, etag)),
        JobEvent::Updated { job: after, mask } => Change::Updated(v1::JobUpdated {
            job: Some(job::job_to_pb(after, etag)),
            update_mask: Some(prost_types::FieldMask {
                paths: mask.iter().map(|field| field.as_str().to_owned()).collect(),
            }),
        }),
        JobEvent::StageChanged {
            from,
            to,
            note,
            job: after,
            cautions,
        } => Change::StageChanged(v1::StageChanged {
            from_stage: job::stage_to_pb(*from).into(),
            to_stage: job::stage_to_pb(*to).into(),
            note: note.clone(),
            job: Some(job::job_to_pb(after, etag)),
            cautions: cautions.iter().map(caution::to_pb).collect(),
        }),
        JobEvent::Recorded(entry) => Change::Recorded(record::record_to_pb(job_id, entry)),
        JobEvent::Deleted(after) => Change::Deleted(job::job_to_pb(after, etag)),
        JobEvent::Undeleted(after) => Change::Undeleted(job::job_to_pb(after, etag)),
    };
    v1::JobEvent {
        sequence: 0,
        event_time: None,
        job: names::job(job_id),
        change: Some(change),
    }
}
