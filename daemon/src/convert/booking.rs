//! Bookings of other systems.

use lamella_calc::violation::Checks;
use lamella_jobs::booking::{Booking, BookingVersion, Outcome, Revision};
use lamella_jobs::check::join;
use lamella_jobs::job::{Job, JobField};
use lamella_jobs::stage::Stage;
use lamella_proto::v1;
use sha2::{Digest as _, Sha256};

use super::{job, names, time};

/// The id of a booking, from what it is called elsewhere: the first half of a
/// SHA-256 in hexadecimal, so that any external id, however written, makes one.
pub(crate) fn id(source: &str, external_id: &str) -> String {
    let digest = Sha256::digest([source.as_bytes(), b"\0", external_id.as_bytes()].concat());
    digest
        .iter()
        .take(16)
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// A version of a booking. Output-only fields are left aside.
pub(crate) fn version_from_pb(
    booking: &v1::Booking,
    path: &str,
    checks: &mut Checks,
) -> BookingVersion {
    let at = |field: &str| join(path, field);
    let revision = booking.revision.unwrap_or_default();
    checks.require(booking.revision.is_some(), at("revision"), || {
        "is required".to_owned()
    });
    let revised = match booking.revision {
        Some(_) => time::required(revision.time.as_ref(), &at("revision.time"), checks),
        None => jiff::Timestamp::UNIX_EPOCH,
    };
    let as_job = v1::Job {
        display_name: booking.display_name.clone(),
        vehicle: booking.vehicle.clone(),
        customer: booking.customer.clone(),
        services: booking.services.clone(),
        promise_time: booking.promise_time,
        wishes: booking.wishes.clone(),
        ..v1::Job::default()
    };
    BookingVersion {
        source: booking.source.clone(),
        external_id: booking.external_id.clone(),
        revision: Revision {
            sequence: revision.sequence,
            time: revised,
        },
        cancelled: booking.cancelled,
        fields: job::fields_from_pb(&as_job, path, checks),
        arrival_time: time::from_pb(booking.arrival_time.as_ref(), &at("arrival_time"), checks),
    }
}

/// A whole booking as it is stored.
pub(crate) fn booking_from_pb(booking: &v1::Booking, checks: &mut Checks) -> Booking {
    let kept = booking.kept_fields.iter().filter_map(|name| {
        let field = JobField::ALL.into_iter().find(|f| f.as_str() == name);
        checks.require(field.is_some(), "kept_fields", || {
            format!("`{name}` is not a known field")
        });
        field
    });
    let kept = kept.collect();
    Booking {
        id: names::id(&booking.name, "bookings", "name", checks),
        version: version_from_pb(booking, "", checks),
        job: names::optional_id(&booking.job, "jobs", "job", checks),
        kept,
        create_time: time::required(booking.create_time.as_ref(), "create_time", checks),
        update_time: time::required(booking.update_time.as_ref(), "update_time", checks),
    }
}

pub(crate) fn booking_to_pb(booking: &Booking) -> v1::Booking {
    let version = &booking.version;
    // The fields are those of a job, so they are written as those of a job.
    let fields = job::job_to_pb(
        &Job {
            id: String::new(),
            fields: version.fields.clone(),
            stage: Stage::Booked,
            create_time: booking.create_time,
            update_time: booking.update_time,
            delete_time: None,
        },
        "",
    );
    v1::Booking {
        name: names::booking(&booking.id),
        source: version.source.clone(),
        external_id: version.external_id.clone(),
        revision: Some(v1::BookingRevision {
            sequence: version.revision.sequence,
            time: Some(time::to_pb(version.revision.time)),
        }),
        cancelled: version.cancelled,
        display_name: fields.display_name,
        vehicle: fields.vehicle,
        customer: fields.customer,
        services: fields.services,
        arrival_time: version.arrival_time.map(time::to_pb),
        promise_time: fields.promise_time,
        wishes: fields.wishes,
        job: booking.job.as_deref().map(names::job).unwrap_or_default(),
        kept_fields: booking
            .kept
            .iter()
            .map(|field| field.as_str().to_owned())
            .collect(),
        create_time: Some(time::to_pb(booking.create_time)),
        update_time: Some(time::to_pb(booking.update_time)),
    }
}

pub(crate) fn outcome_to_pb(outcome: Outcome) -> v1::BookingOutcome {
    match outcome {
        Outcome::Created => v1::BookingOutcome::Created,
        Outcome::Updated => v1::BookingOutcome::Updated,
        Outcome::Unchanged => v1::BookingOutcome::Unchanged,
        Outcome::Cancelled => v1::BookingOutcome::Cancelled,
        Outcome::Noted => v1::BookingOutcome::Noted,
        Outcome::Outdated => v1::BookingOutcome::Outdated,
        Outcome::Conflict => v1::BookingOutcome::Conflict,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;
    use lamella_jobs::job::JobFields;

    #[test]
    fn a_booking_goes_there_and_back() {
        let at = |second| Timestamp::from_second(second).unwrap();
        let booking = Booking {
            id: id("web-form", "A/1"),
            version: BookingVersion {
                source: "web-form".to_owned(),
                external_id: "A/1".to_owned(),
                revision: Revision {
                    sequence: 3,
                    time: at(1_700_000_000),
                },
                cancelled: true,
                fields: JobFields {
                    display_name: "Blue estate".to_owned(),
                    vehicle: Some("blue-1".to_owned()),
                    wishes: "soon".to_owned(),
                    promise_time: Some(at(1_700_090_000)),
                    ..JobFields::default()
                },
                arrival_time: Some(at(1_700_080_000)),
            },
            job: Some("j-1".to_owned()),
            kept: vec![JobField::PromiseTime],
            create_time: at(1_700_000_001),
            update_time: at(1_700_000_002),
        };
        let mut checks = Checks::new();
        let back = booking_from_pb(&booking_to_pb(&booking), &mut checks);
        checks.finish().unwrap();
        assert_eq!(back, booking);
    }

    #[test]
    fn source_and_external_id_do_not_run_into_each_other() {
        assert_ne!(id("a", "bc"), id("ab", "c"));
        assert!(lamella_jobs::check::is_id(&id("web-form", "Ä, 7/8")));
    }
}
