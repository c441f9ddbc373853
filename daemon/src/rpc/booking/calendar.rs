//! Between calendars and bookings, and between jobs and calendars.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use lamella_calc::violation::Checks;
use lamella_ical::{Entry, Occurrence, ReadOptions, Reading, WriteOptions};
use lamella_jobs::booking::{BookingVersion, Revision};
use lamella_jobs::job::JobFields;
use lamella_proto::v1::{self, imported_event::Result as Became};
use tonic::Status;

use super::super::status;
use crate::config::Shop;
use crate::convert;
use crate::ledger::{Ledger, LedgerError, Visit};

/// Most bytes of a calendar that is given out, so that clients with gRPC's usual
/// limit of 4 MiB can take it.
pub(super) const MAX_EXPORT_BYTES: usize = 3 * 1024 * 1024;
/// What a booking is called whose event has no SUMMARY.
const UNTITLED: &str = "(untitled)";

/// Reads a calendar off the async threads: rules may take a while.
pub(super) async fn read(
    calendar: Vec<u8>,
    zone: TimeZone,
    (from, before): (Timestamp, Timestamp),
) -> Result<Reading, Status> {
    let options = ReadOptions { zone, from, before };
    // What is too long is refused by its size, and not read.
    let calendar = if calendar.len() > lamella_ical::MAX_BYTES {
        Vec::new()
    } else {
        calendar
    };
    tokio::task::spawn_blocking(move || lamella_ical::read(&calendar, &options))
        .await
        .map_err(|_| Status::internal("reading the calendar failed"))
}

/// Hands every event of the window over.
pub(super) async fn take_in(
    ledger: &Ledger,
    source: &str,
    reading: Reading,
) -> Result<v1::ImportCalendarResponse, Status> {
    let mut response = v1::ImportCalendarResponse::default();
    for occurrence in reading.occurrences {
        let external_id = external_id(&occurrence);
        let result = if occurrence.in_window {
            one(ledger, source, &external_id, &occurrence).await?
        } else {
            Became::OutsideWindow(v1::OutsideWindow {})
        };
        let (line, start) = (occurrence.line, occurrence.start);
        response.add(line, occurrence.uid, external_id, Some(start), result);
    }
    for rejection in reading.rejections {
        let why = Became::Rejected(rejection.fault.to_string());
        response.add(rejection.line, rejection.uid, String::new(), None, why);
    }
    response.events.sort_by_key(|event| event.line);
    Ok(response)
}

trait Count {
    fn add(
        &mut self,
        line: u32,
        uid: String,
        external_id: String,
        start: Option<Timestamp>,
        result: Became,
    );
}

impl Count for v1::ImportCalendarResponse {
    fn add(
        &mut self,
        line: u32,
        uid: String,
        external_id: String,
        start: Option<Timestamp>,
        result: Became,
    ) {
        match &result {
            Became::TakenIn(_) => self.taken_in_count += 1,
            Became::OutsideWindow(_) => self.outside_count += 1,
            Became::Rejected(_) => self.rejected_count += 1,
        }
        self.events.push(v1::ImportedEvent {
            line: i32::try_from(line).unwrap_or(i32::MAX),
            uid,
            external_id,
            start_time: start.map(convert::time::to_pb),
            result: Some(result),
        });
    }
}

/// Only what the store itself fails at ends the import.
async fn one(
    ledger: &Ledger,
    source: &str,
    external_id: &str,
    occurrence: &Occurrence,
) -> Result<Became, Status> {
    let version = version(source, external_id, occurrence);
    let mut checks = Checks::new();
    version.check(&mut checks, "");
    if let Err(error) = checks.finish() {
        return Ok(Became::Rejected(error.to_string()));
    }
    match ledger.upsert_booking(version).await {
        Ok(upserted) => Ok(Became::TakenIn(v1::ImportedBooking {
            outcome: convert::booking::outcome_to_pb(upserted.outcome).into(),
            booking: upserted.booking.name,
            job: upserted.booking.job,
        })),
        Err(error @ LedgerError::Refused(_)) => Ok(Became::Rejected(error.to_string())),
        Err(error) => Err(status::ledger(&error)),
    }
}

/// The UID; of one of several times also when the calendar first set it.
fn external_id(occurrence: &Occurrence) -> String {
    match occurrence.recurrence {
        Some(set) => format!("{}/{}", occurrence.uid, set.strftime("%Y%m%dT%H%M%SZ")),
        None => occurrence.uid.clone(),
    }
}

fn version(source: &str, external_id: &str, occurrence: &Occurrence) -> BookingVersion {
    let summary = occurrence.summary.trim();
    let name = if summary.is_empty() {
        UNTITLED
    } else {
        summary
    };
    BookingVersion {
        source: source.to_owned(),
        external_id: external_id.to_owned(),
        revision: Revision {
            sequence: occurrence.sequence,
            time: occurrence.revised,
        },
        cancelled: occurrence.cancelled,
        fields: JobFields {
            display_name: name.to_owned(),
            promise_time: occurrence.end,
            wishes: occurrence.description.clone(),
            ..JobFields::default()
        },
        arrival_time: Some(occurrence.start),
    }
}

/// The shop's schedule.
pub(super) fn write(
    visits: &[Visit],
    shop: &Shop,
    include_customer: bool,
) -> v1::ExportCalendarResponse {
    let entries: Vec<Entry> = visits
        .iter()
        .map(|visit| entry(visit, include_customer))
        .collect();
    let options = WriteOptions {
        product: "-//lamella//schedule//EN".to_owned(),
        name: shop.name.clone(),
        zone: shop.time_zone.clone(),
    };
    v1::ExportCalendarResponse {
        calendar: lamella_ical::write(&options, &entries),
        event_count: i32::try_from(entries.len()).unwrap_or(i32::MAX),
    }
}

fn entry(visit: &Visit, include_customer: bool) -> Entry {
    let job = &visit.job;
    let instant = |time: Option<&prost_types::Timestamp>| {
        time.and_then(|time| Timestamp::new(time.seconds, time.nanos).ok())
            .unwrap_or_default()
    };
    let stage = convert::job::stage_from_pb(job.stage());
    Entry {
        uid: format!("{}@lamella", job.name),
        // The journal's number of the last change, so it rises.
        sequence: i32::try_from(visit.changed_seq).unwrap_or(i32::MAX),
        revised: visit.changed,
        created: instant(job.create_time.as_ref()),
        start: visit.begin,
        end: visit.end,
        summary: job.display_name.clone(),
        description: description(job, include_customer),
        category: stage
            .map(|stage| stage.as_str().to_owned())
            .unwrap_or_default(),
        cancelled: stage == Some(lamella_jobs::stage::Stage::Cancelled),
    }
}

/// What is to be done; who for and what they wish only when asked.
fn description(job: &v1::Job, include_customer: bool) -> String {
    let services = job.services.iter().map(|service| {
        if service.description.is_empty() {
            service.code.clone()
        } else {
            service.description.clone()
        }
    });
    let mut lines: Vec<String> = services.collect();
    if include_customer {
        if let Some(customer) = &job.customer {
            let parts = [&customer.display_name, &customer.phone, &customer.email];
            let given: Vec<&str> = parts
                .into_iter()
                .map(String::as_str)
                .filter(|part| !part.is_empty())
                .collect();
            if !given.is_empty() {
                lines.push(format!("For: {}", given.join(", ")));
            }
        }
        if !job.wishes.is_empty() {
            lines.push(format!("Wishes: {}", job.wishes));
        }
    }
    lines.join("\n")
}
