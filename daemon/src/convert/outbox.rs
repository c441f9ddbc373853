//! How far the outbox has come.

use lamella_proto::v1;

use super::{count, sequence, time};
use crate::outbox::Progress;

/// As OutboxService tells it; `None`: there is no outbox.
pub(crate) fn to_pb(progress: Option<&Progress>) -> v1::Outbox {
    let Some(progress) = progress else {
        return v1::Outbox::default();
    };
    v1::Outbox {
        configured: true,
        sequence: sequence(progress.delivered_seq),
        waiting_job_count: count(progress.waiting_jobs),
        dead_letter_count: count(progress.dead_letters),
    }
}

/// As StatusService tells it, where the journal ends at `last_seq`.
pub(crate) fn to_status_pb(progress: Option<&Progress>, last_seq: u64) -> v1::OutboxStatus {
    let Some(progress) = progress else {
        return v1::OutboxStatus::default();
    };
    let failure = progress.last_failure.as_ref();
    v1::OutboxStatus {
        configured: true,
        receiver: progress.receiver.clone(),
        delivered_sequence: sequence(progress.delivered_seq),
        pending_event_count: sequence(last_seq.saturating_sub(progress.delivered_seq)),
        waiting_job_count: count(progress.waiting_jobs),
        dead_letter_count: count(progress.dead_letters),
        last_failure: failure.map(|(at, message)| v1::DeliveryFailure {
            attempt_time: Some(time::to_pb(*at)),
            message: message.clone(),
        }),
    }
}
