//! An event as it is sent: canonical protobuf JSON of a `JobEvent`, signed.

use hmac::{Hmac, Mac as _};
use lamella_proto::{FILE_DESCRIPTOR_SET, v1};
use prost::Message as _;
use prost_reflect::{DescriptorPool, DynamicMessage, MessageDescriptor};
use sha2::Sha256;

use super::OutboxError;

/// Writes events.
pub(super) struct Writer {
    event: MessageDescriptor,
    include_customer: bool,
}

impl Writer {
    pub(super) fn try_new(include_customer: bool) -> Result<Self, OutboxError> {
        let unusable = |error: String| OutboxError::Descriptors(error);
        let pool = DescriptorPool::decode(FILE_DESCRIPTOR_SET)
            .map_err(|error| unusable(error.to_string()))?;
        let event = pool
            .get_message_by_name("lamella.v1.JobEvent")
            .ok_or_else(|| unusable("there is no lamella.v1.JobEvent".to_owned()))?;
        Ok(Self {
            event,
            include_customer,
        })
    }

    /// The body of a delivery.
    ///
    /// # Errors
    /// When the event has no JSON form.
    pub(super) fn body(&self, mut event: v1::JobEvent) -> Result<String, String> {
        if !self.include_customer {
            without_customer(&mut event);
        }
        let message = DynamicMessage::decode(self.event.clone(), event.encode_to_vec().as_slice())
            .map_err(|error| error.to_string())?;
        serde_json::to_string(&message).map_err(|error| error.to_string())
    }
}

/// HMAC-SHA256 (RFC 2104, FIPS 180-4) over the timestamp, a full stop and the
/// body, in hexadecimal. The timestamp is signed too, so that an old delivery
/// cannot be sent again as a new one.
pub(super) fn signature(secret: &[u8], timestamp: i64, body: &str) -> Option<String> {
    let mut mac = Hmac::<Sha256>::new_from_slice(secret).ok()?;
    mac.update(format!("{timestamp}.{body}").as_bytes());
    let bytes = mac.finalize().into_bytes();
    Some(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

fn without_customer(event: &mut v1::JobEvent) {
    use v1::job_event::Change;
    let job = match &mut event.change {
        Some(Change::Created(job) | Change::Deleted(job) | Change::Undeleted(job)) => Some(job),
        Some(Change::Updated(updated)) => updated.job.as_mut(),
        Some(Change::StageChanged(moved)) => moved.job.as_mut(),
        Some(Change::QuoteAccepted(accepted)) => accepted.job.as_mut(),
        Some(
            Change::Recorded(_)
            | Change::Quoted(_)
            | Change::Photographed(_)
            | Change::PhotoDeleted(_),
        )
        | None => None,
    };
    if let Some(job) = job {
        job.customer = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use v1::job_event::Change;

    #[test]
    fn signatures_are_what_another_hmac_computes() {
        // The key and data of RFC 4231, test case 2, behind our own prefix, by Python:
        // hmac.new(b"Jefe", b"7.what do ya want for nothing?", "sha256").hexdigest()
        assert_eq!(
            signature(b"Jefe", 7, "what do ya want for nothing?").unwrap(),
            "239f4b39fd23f4376db46b239fae471e7c6824b3931bc60f4c0b745bef8de34f"
        );
    }

    #[test]
    fn the_customer_is_left_out_of_every_kind_of_event_unless_wanted() {
        let job = || v1::Job {
            name: "jobs/a".to_owned(),
            customer: Some(v1::Customer {
                display_name: "A. Customer".to_owned(),
                ..v1::Customer::default()
            }),
            ..v1::Job::default()
        };
        let changes = [
            Change::Created(job()),
            Change::Deleted(job()),
            Change::Undeleted(job()),
            Change::Updated(v1::JobUpdated {
                job: Some(job()),
                update_mask: None,
            }),
            Change::StageChanged(v1::StageChanged {
                job: Some(job()),
                ..v1::StageChanged::default()
            }),
            Change::QuoteAccepted(v1::QuoteAccepted {
                job: Some(job()),
                quote: None,
            }),
        ];
        for change in changes {
            let event = v1::JobEvent {
                sequence: 3,
                job: "jobs/a".to_owned(),
                change: Some(change),
                ..v1::JobEvent::default()
            };
            let shown = |include| {
                Writer::try_new(include)
                    .unwrap()
                    .body(event.clone())
                    .unwrap()
            };
            assert!(shown(true).contains("A. Customer"), "{event:?}");
            assert!(!shown(false).contains("ustomer\":"), "{}", shown(false));
            // The Protocol Buffers documentation: 64-bit integers are strings.
            assert!(
                shown(false).contains(r#""sequence":"3""#),
                "{}",
                shown(false)
            );
        }
    }
}
