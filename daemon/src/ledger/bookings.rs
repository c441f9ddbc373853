//! Bookings of other systems: taken in, each with what it does to its job as
//! one journal entry, and read.

use lamella_jobs::append;
use lamella_jobs::booking::{self, Booking, BookingVersion, Decision, Outcome};
use lamella_jobs::gate::Situation;
use lamella_jobs::job::Job;
use lamella_jobs::record::{Entry as RecordEntry, Note, Record};
use lamella_jobs::stage::Stage;
use lamella_jobs::transition::{self, JobEvent, MoveRequest};
use lamella_proto::store::v1::{Entry, entry::Change};
use lamella_proto::v1;
use lamella_store::{Commit, KvRead, View};
use prost::Message as _;

use super::change::{self, Context};
use super::error::LedgerError;
use super::queries::{CHUNK, Page, Room, start};
use super::{Ledger, jobs, keys, load, projector};
use crate::convert;

/// What a version of a booking did.
#[derive(Debug, Clone, PartialEq)]
pub struct Upserted {
    /// What became of it.
    pub outcome: Outcome,
    /// The booking as it is now.
    pub booking: v1::Booking,
}

/// Which bookings to list. All conditions that are set must hold.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BookingQuery {
    /// Of this source.
    pub source: Option<String>,
    /// With this id in its source.
    pub external_id: Option<String>,
    /// Id of its job.
    pub job: Option<String>,
}

impl Ledger {
    /// Takes a version of a booking in. Sent again, it changes nothing more.
    ///
    /// # Errors
    /// A vehicle that does not exist, fields that a job refuses.
    pub async fn upsert_booking(&self, version: BookingVersion) -> Result<Upserted, LedgerError> {
        let clock = self.clock().clone();
        let committed = self
            .store()
            .execute(move |tx| {
                let now = clock.now();
                let seq = tx.next_seq();
                let done = take_in(version, &Context { tx, seq, now })?;
                let entries = done.entry.map(|(change, booking)| Entry {
                    entry_time: Some(convert::time::to_pb(now)),
                    request: None,
                    change,
                    booking: Some(booking),
                });
                let payloads = entries.iter().map(Entry::encode_to_vec).collect();
                Ok::<_, LedgerError>(Commit::new(payloads, done.upserted))
            })
            .await?;
        committed.map(|committed| committed.reply)
    }

    /// One booking.
    ///
    /// # Errors
    /// When there is none of that id.
    pub async fn booking(&self, id: String) -> Result<v1::Booking, LedgerError> {
        self.read(move |view| {
            let loaded = load::booking(view, &id)?;
            loaded
                .map(|loaded| loaded.message)
                .ok_or_else(|| LedgerError::NotFound {
                    name: convert::names::booking(&id),
                })
        })
        .await
    }

    /// Bookings in the order in which they were first seen.
    ///
    /// # Errors
    /// A page token that no list gave out.
    pub async fn bookings(
        &self,
        query: BookingQuery,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<v1::Booking>, LedgerError> {
        self.read(move |view| list(view, &query, page_size, &page_token))
            .await
    }
}

/// What is to be kept, and what is answered.
struct Done {
    /// The change of the job, if any, and the booking after it.
    entry: Option<(Option<Change>, v1::Booking)>,
    upserted: Upserted,
}

fn take_in(version: BookingVersion, context: &Context<'_, '_>) -> Result<Done, LedgerError> {
    let id = convert::booking::id(&version.source, &version.external_id);
    let known = load::booking(context.tx, &id)?;
    let kept = known.as_ref().map(|known| &known.domain);
    let job = match kept.and_then(|kept| kept.job.as_deref()) {
        Some(job) => Some(load::job(context.tx, job)?.domain),
        None => None,
    };
    let decision = booking::decide(&version, kept, job.as_ref());
    if let (Decision::Leave(outcome), Some(known)) = (&decision, &known) {
        let upserted = Upserted {
            outcome: *outcome,
            booking: known.message.clone(),
        };
        return Ok(Done {
            entry: None,
            upserted,
        });
    }
    let done = carry_out(decision, &version, job.as_ref(), context)?;
    let after = Booking {
        id,
        create_time: kept.map_or(context.now, |kept| kept.create_time),
        update_time: context.now,
        job: done.job.or_else(|| kept.and_then(|kept| kept.job.clone())),
        kept: done
            .kept
            .unwrap_or_else(|| kept.map(|kept| kept.kept.clone()).unwrap_or_default()),
        version: version.over(kept),
    };
    let message = convert::booking::booking_to_pb(&after);
    Ok(Done {
        entry: Some((done.change, message.clone())),
        upserted: Upserted {
            outcome: done.outcome,
            booking: message,
        },
    })
}

/// What a decision came to.
struct CarriedOut {
    outcome: Outcome,
    change: Option<Change>,
    /// Id of a job that was created.
    job: Option<String>,
    /// Fields that the shop keeps, where that was judged anew.
    kept: Option<Vec<lamella_jobs::job::JobField>>,
}

fn carry_out(
    decision: Decision,
    version: &BookingVersion,
    job: Option<&Job>,
    context: &Context<'_, '_>,
) -> Result<CarriedOut, LedgerError> {
    let mut done = CarriedOut {
        outcome: Outcome::Unchanged,
        change: None,
        job: None,
        kept: None,
    };
    match (decision, job) {
        (Decision::Leave(outcome) | Decision::Keep(outcome), _) => done.outcome = outcome,
        (Decision::Create, _) => {
            let id = change::new_id(context.now);
            let event = transition::create_job(id.clone(), version.fields.clone(), context.now)?;
            jobs::vehicle_exists(context, &event)?;
            done.outcome = Outcome::Created;
            done.change = Some(jobs::job_change(&id, &event, context));
            done.job = Some(id);
            done.kept = Some(Vec::new());
        }
        (Decision::Update { mask, kept }, Some(job)) => {
            if !mask.is_empty() {
                let event = transition::update_job(job, &version.fields, mask, context.now)?;
                jobs::vehicle_exists(context, &event)?;
                done.change = Some(jobs::job_change(&job.id, &event, context));
            }
            done.outcome = Outcome::Updated;
            done.kept = Some(kept);
        }
        (Decision::Cancel { note }, Some(job)) => {
            let to = MoveRequest {
                to: Some(Stage::Cancelled),
                note,
                only_asking: false,
            };
            let change = jobs::move_change(context.tx, &job.id, to, "", context.now, context.seq)?;
            done.outcome = Outcome::Cancelled;
            done.change = Some(change);
        }
        (Decision::Note { text }, Some(job)) => {
            let event = JobEvent::Recorded(note(job, text, version, context)?);
            done.outcome = Outcome::Noted;
            done.change = Some(jobs::job_change(&job.id, &event, context));
        }
        (Decision::Update { .. } | Decision::Cancel { .. } | Decision::Note { .. }, None) => {
            return Err(load::unreadable(
                "a booking".to_owned(),
                &"a change of a job was decided without a job",
            ));
        }
    }
    Ok(done)
}

fn note(
    job: &Job,
    text: String,
    version: &BookingVersion,
    context: &Context<'_, '_>,
) -> Result<Record, LedgerError> {
    let vehicle = load::vehicle_of(context.tx, job)?;
    let records = load::records(context.tx, &job.id)?;
    let situation = Situation {
        job,
        vehicle: vehicle.as_ref(),
        records: &records,
        now: context.now,
    };
    let record = Record {
        id: context.seq.to_string(),
        record_time: context.now,
        author: version.source.clone(),
        create_time: context.now,
        entry: RecordEntry::Note(Note { text, panel: None }),
        cautions: Vec::new(),
    };
    Ok(append::append(&situation, record)?)
}

fn list(
    view: &View<'_>,
    query: &BookingQuery,
    page_size: usize,
    page_token: &str,
) -> Result<Page<v1::Booking>, LedgerError> {
    let mut from = start(page_token)?;
    let mut page = Page {
        items: Vec::new(),
        next_page_token: String::new(),
    };
    // One booking at most where a job or both halves of its key are given.
    let one = match query {
        BookingQuery { job: Some(job), .. } => Some(
            view.get(&keys::booking_of(job))
                .and_then(|named| keys::split_numbered_id(&named))
                .map(|(_, id)| id),
        ),
        BookingQuery {
            source: Some(source),
            external_id: Some(external_id),
            job: None,
        } => Some(Some(convert::booking::id(source, external_id))),
        BookingQuery { job: None, .. } => None,
    };
    if let Some(id) = one {
        let loaded = id.map(|id| load::booking(view, &id)).transpose()?.flatten();
        let found = loaded.map(|loaded| loaded.message);
        page.items
            .extend(found.filter(|booking| query.matches(booking)));
        return Ok(page);
    }
    let mut room = Room::new(page_size);
    loop {
        let first = keys::booking_order(from);
        let entries = view.scan_prefix(keys::BOOKING_ORDER, Some(&first), CHUNK);
        let Some(last) = entries.last().and_then(|(key, _)| keys::last_number(key)) else {
            return Ok(page);
        };
        for (key, id) in &entries {
            let id = String::from_utf8_lossy(id);
            let stored = view.get(&keys::booking(&id)).unwrap_or_default();
            let (_, booking) = projector::split::<v1::Booking>(&stored)
                .map_err(|e| load::unreadable(convert::names::booking(&id), &e))?;
            if !query.matches(&booking) {
                continue;
            }
            if !room.takes(&booking) {
                let creation = keys::last_number(key).unwrap_or_default();
                page.next_page_token = format!("{creation:x}");
                return Ok(page);
            }
            page.items.push(booking);
        }
        from = last.saturating_add(1);
    }
}

impl BookingQuery {
    fn matches(&self, booking: &v1::Booking) -> bool {
        let is = |wanted: &Option<String>, value: &str| {
            wanted.as_deref().is_none_or(|wanted| wanted == value)
        };
        is(&self.source, &booking.source)
            && is(&self.external_id, &booking.external_id)
            && self
                .job
                .as_deref()
                .is_none_or(|job| booking.job == convert::names::job(job))
    }
}
