//! When each car is here: what a calendar of the shop shows.

use jiff::Timestamp;
use lamella_jobs::stage::Stage;
use lamella_proto::v1::{self, job_event::Change};
use lamella_store::{KvRead as _, View};
use prost::Message as _;

use super::error::LedgerError;
use super::queries::{CHUNK, JobQuery};
use super::{Ledger, keys, load, projector};
use crate::convert;

/// Which visits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScheduleQuery {
    /// At one of these stages; empty: any but cancelled.
    pub stages: Vec<Stage>,
    /// Only what ends at or after this.
    pub from: Timestamp,
    /// Only what begins before this.
    pub before: Option<Timestamp>,
}

/// One car's time in the shop.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// The job.
    pub job: v1::Job,
    /// Sequence number of the last change of the job or of its booking.
    pub changed_seq: u64,
    /// When that was.
    pub changed: Timestamp,
    /// Received; or booked to arrive; or promised; or entered.
    pub begin: Timestamp,
    /// Handed over or cancelled; or promised, where that is after the beginning.
    pub end: Option<Timestamp>,
}

impl Ledger {
    /// The visits, in the order in which the jobs were created.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn schedule(&self, query: ScheduleQuery) -> Result<Vec<Visit>, LedgerError> {
        let mut visits = Vec::new();
        let mut token = String::new();
        loop {
            // In pages, so that changes do not wait for a long schedule.
            let jobs = JobQuery {
                stages: query.stages.clone(),
                ..JobQuery::default()
            };
            let page = self.jobs(jobs, CHUNK, token).await?;
            let wanted = query.clone();
            let found = self
                .read(move |view| {
                    let mut found = Vec::new();
                    for job in page.items {
                        found.extend(visit(view, job)?.filter(|visit| wanted.has(visit)));
                    }
                    Ok((found, page.next_page_token))
                })
                .await?;
            visits.extend(found.0);
            token = found.1;
            if token.is_empty() {
                return Ok(visits);
            }
        }
    }
}

impl ScheduleQuery {
    fn has(&self, visit: &Visit) -> bool {
        let stage = convert::job::stage_from_pb(visit.job.stage());
        let at_stage = !self.stages.is_empty() || stage != Some(Stage::Cancelled);
        at_stage
            && visit.end.unwrap_or(visit.begin) >= self.from
            && self.before.is_none_or(|before| visit.begin < before)
    }
}

fn visit(view: &View<'_>, job: v1::Job) -> Result<Option<Visit>, LedgerError> {
    let id = job.name.strip_prefix("jobs/").unwrap_or_default();
    let moves = Moves::of(view, id)?;
    let booked = Booked::of(view, id)?;
    let promise = instant(job.promise_time.as_ref());
    let Some(begin) = moves
        .received
        .or(booked.arrival)
        .or(promise)
        .or(instant(job.create_time.as_ref()))
    else {
        return Ok(None);
    };
    let end = moves.over.or(promise).filter(|end| *end > begin);
    let job_seq = u64::from_str_radix(&job.etag, 16).unwrap_or_default();
    let job_time = instant(job.update_time.as_ref()).unwrap_or_default();
    Ok(Some(Visit {
        changed_seq: job_seq.max(booked.seq),
        changed: job_time.max(booked.changed),
        job,
        begin,
        end,
    }))
}

/// What a job's booking adds, if it has one.
#[derive(Default)]
struct Booked {
    arrival: Option<Timestamp>,
    seq: u64,
    changed: Timestamp,
}

impl Booked {
    fn of(view: &View<'_>, job: &str) -> Result<Self, LedgerError> {
        let named = view.get(&keys::booking_of(job));
        let Some((seq, id)) = named.and_then(|named| keys::split_numbered_id(&named)) else {
            return Ok(Self::default());
        };
        let stored = view.get(&keys::booking(&id)).unwrap_or_default();
        let (_, booking) = projector::split::<v1::Booking>(&stored)
            .map_err(|error| load::unreadable(convert::names::booking(&id), &error))?;
        Ok(Self {
            arrival: instant(booking.arrival_time.as_ref()),
            seq,
            changed: instant(booking.update_time.as_ref()).unwrap_or_default(),
        })
    }
}

/// When a job last came in, and when it was over.
#[derive(Default)]
struct Moves {
    received: Option<Timestamp>,
    over: Option<Timestamp>,
}

impl Moves {
    fn of(view: &View<'_>, job: &str) -> Result<Self, LedgerError> {
        let mut moves = Self::default();
        for (_, event) in view.scan_all(&keys::history(job)) {
            let event = v1::JobEvent::decode(event.as_slice())
                .map_err(|error| load::unreadable(convert::names::job(job), &error))?;
            let at = instant(event.event_time.as_ref());
            let Some(Change::StageChanged(moved)) = &event.change else {
                continue;
            };
            match moved.to_stage() {
                v1::Stage::Received if moved.from_stage() == v1::Stage::Booked => {
                    moves.received = at;
                }
                // Taken back: the car is not here.
                v1::Stage::Booked => moves.received = None,
                v1::Stage::HandedOver | v1::Stage::Cancelled => moves.over = at,
                v1::Stage::Unspecified
                | v1::Stage::Received
                | v1::Stage::Assessed
                | v1::Stage::Approved
                | v1::Stage::InWork
                | v1::Stage::Curing
                | v1::Stage::Ready => {}
            }
        }
        Ok(moves)
    }
}

fn instant(time: Option<&prost_types::Timestamp>) -> Option<Timestamp> {
    time.and_then(|time| Timestamp::new(time.seconds, time.nanos).ok())
}
