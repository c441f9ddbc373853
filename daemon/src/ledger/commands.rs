//! What changes something. Each command runs on the store's writer thread, so
//! it decides on the state that the next sequence number will follow.

use jiff::Timestamp;
use lamella_jobs::append;
use lamella_jobs::gate::Situation;
use lamella_jobs::job::{JobField, JobFields};
use lamella_jobs::record::Record;
use lamella_jobs::stage::Stage;
use lamella_jobs::transition::{self, JobEvent};
use lamella_jobs::vehicle::{Vehicle, VehicleField, VehicleFields};
use lamella_proto::store::v1::{Entry, RequestKey as StoredKey, entry::Change};
use lamella_proto::v1;
use lamella_store::{CommandTx, Commit, KvRead as _};
use prost::Message as _;

use super::error::LedgerError;
use super::{Ledger, keys, load};
use crate::convert;

/// What makes a retry recognisable: see `CreateJobRequest.request_id`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RequestKey {
    /// The client's id for the request; empty when it gave none.
    pub request_id: String,
    /// The method.
    pub method: &'static str,
    /// SHA-256 of the request without its id.
    pub digest: Vec<u8>,
}

/// A stage change, as the API answers it.
#[derive(Debug, Clone, PartialEq)]
pub struct StageMove {
    /// The job after it.
    pub job: v1::Job,
    /// What to look out for.
    pub cautions: Vec<v1::Caution>,
}

/// What a command sees besides its own arguments.
struct Context<'a, 'b> {
    tx: &'a CommandTx<'b>,
    seq: u64,
    now: Timestamp,
}

impl Ledger {
    /// Creates a job.
    ///
    /// # Errors
    /// Invalid fields, an id that is taken, a vehicle that does not exist.
    pub async fn create_job(
        &self,
        id: Option<String>,
        fields: JobFields,
        request: RequestKey,
    ) -> Result<v1::Job, LedgerError> {
        let change = self
            .change(request, move |context| {
                let id = id.unwrap_or_else(|| new_id(context.now));
                if context.tx.get(&keys::job(&id)).is_some() {
                    return Err(LedgerError::Exists { name: convert::names::job(&id) });
                }
                let event = transition::create_job(id.clone(), dated(fields, context), context.now)?;
                vehicle_exists(context, &event)?;
                Ok(job_change(&id, &event, context))
            })
            .await?;
        job_after(change)
    }

    /// Changes a job's fields. An empty mask means every field that is set.
    ///
    /// # Errors
    /// Unknown job, stale etag, invalid fields, a job that is over or deleted.
    pub async fn update_job(
        &self,
        id: String,
        fields: JobFields,
        mask: Vec<JobField>,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Job, LedgerError> {
        let change = self
            .change(request, move |context| {
                let job = job_at(context, &id, &etag)?;
                let fields = dated(fields, context);
                let event = transition::update_job(&job, &fields, mask, context.now)?;
                vehicle_exists(context, &event)?;
                Ok(job_change(&id, &event, context))
            })
            .await?;
        job_after(change)
    }

    /// Moves a job to `to`, or to the next stage.
    ///
    /// # Errors
    /// Unknown job, stale etag, no such move, a gate that is closed.
    pub async fn advance_stage(
        &self,
        id: String,
        to: Option<Stage>,
        note: String,
        etag: String,
        request: RequestKey,
    ) -> Result<StageMove, LedgerError> {
        let change = self
            .change(request, move |context| {
                let job = job_at(context, &id, &etag)?;
                let vehicle = load::vehicle_of(context.tx, &job)?;
                let records = load::records(context.tx, &id)?;
                let situation = Situation {
                    job: &job,
                    vehicle: vehicle.as_ref(),
                    records: &records,
                    now: context.now,
                };
                let event = transition::advance_stage(&situation, to, note)?;
                Ok(job_change(&id, &event, context))
            })
            .await?;
        let cautions = match &change {
            Change::Job(v1::JobEvent {
                change: Some(v1::job_event::Change::StageChanged(moved)),
                ..
            }) => moved.cautions.clone(),
            Change::Job(_) | Change::Vehicle(_) => Vec::new(),
        };
        Ok(StageMove { job: job_after(change)?, cautions })
    }

    /// Marks a job deleted.
    ///
    /// # Errors
    /// Unknown job, stale etag, deleted already.
    pub async fn delete_job(
        &self,
        id: String,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Job, LedgerError> {
        let change = self
            .change(request, move |context| {
                let job = job_at(context, &id, &etag)?;
                Ok(job_change(&id, &transition::delete_job(&job, context.now)?, context))
            })
            .await?;
        job_after(change)
    }

    /// Takes back a deletion.
    ///
    /// # Errors
    /// Unknown job, stale etag, not deleted.
    pub async fn undelete_job(
        &self,
        id: String,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Job, LedgerError> {
        let change = self
            .change(request, move |context| {
                let job = job_at(context, &id, &etag)?;
                Ok(job_change(&id, &transition::undelete_job(&job, context.now)?, context))
            })
            .await?;
        job_after(change)
    }

    /// Appends a record; `draft` is given the moment to fill what it leaves
    /// open.
    ///
    /// # Errors
    /// Unknown job, invalid record, a panel or part that does not fit, a job
    /// that is over or deleted.
    pub async fn append_record(
        &self,
        job_id: String,
        draft: impl FnOnce(Timestamp) -> Record + Send + 'static,
        request: RequestKey,
    ) -> Result<v1::Record, LedgerError> {
        let change = self
            .change(request, move |context| {
                let job = load::job(context.tx, &job_id)?.domain;
                let vehicle = load::vehicle_of(context.tx, &job)?;
                let records = load::records(context.tx, &job_id)?;
                let situation = Situation {
                    job: &job,
                    vehicle: vehicle.as_ref(),
                    records: &records,
                    now: context.now,
                };
                let mut record = draft(context.now);
                record.id = context.seq.to_string();
                record.create_time = context.now;
                let record = append::append(&situation, record)?;
                Ok(job_change(&job_id, &JobEvent::Recorded(record), context))
            })
            .await?;
        match change {
            Change::Job(v1::JobEvent {
                change: Some(v1::job_event::Change::Recorded(record)),
                ..
            }) => Ok(record),
            Change::Job(_) | Change::Vehicle(_) => Err(unexpected("a record")),
        }
    }

    /// Creates a vehicle.
    ///
    /// # Errors
    /// Invalid fields, an id that is taken.
    pub async fn create_vehicle(
        &self,
        id: Option<String>,
        fields: VehicleFields,
        request: RequestKey,
    ) -> Result<v1::Vehicle, LedgerError> {
        let change = self
            .change(request, move |context| {
                let id = id.unwrap_or_else(|| new_id(context.now));
                if context.tx.get(&keys::vehicle(&id)).is_some() {
                    return Err(LedgerError::Exists { name: convert::names::vehicle(&id) });
                }
                let vehicle = transition::create_vehicle(id, fields, context.now)?;
                Ok(vehicle_change(&vehicle, context))
            })
            .await?;
        vehicle_after(change)
    }

    /// Changes a vehicle's fields.
    ///
    /// # Errors
    /// Unknown vehicle, stale etag, invalid fields, a deleted vehicle.
    pub async fn update_vehicle(
        &self,
        id: String,
        fields: VehicleFields,
        mask: Vec<VehicleField>,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Vehicle, LedgerError> {
        let change = self
            .change(request, move |context| {
                let vehicle = vehicle_at(context, &id, &etag)?;
                let after = transition::update_vehicle(&vehicle, &fields, &mask, context.now)?;
                Ok(vehicle_change(&after, context))
            })
            .await?;
        vehicle_after(change)
    }

    /// Marks a vehicle deleted.
    ///
    /// # Errors
    /// Unknown vehicle, stale etag, deleted already, a live job.
    pub async fn delete_vehicle(
        &self,
        id: String,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Vehicle, LedgerError> {
        let change = self
            .change(request, move |context| {
                let vehicle = vehicle_at(context, &id, &etag)?;
                let live = load::live_jobs_of(context.tx, &id)?;
                let after = transition::delete_vehicle(&vehicle, &live, context.now)?;
                Ok(vehicle_change(&after, context))
            })
            .await?;
        vehicle_after(change)
    }

    /// Takes back a deletion.
    ///
    /// # Errors
    /// Unknown vehicle, stale etag, not deleted.
    pub async fn undelete_vehicle(
        &self,
        id: String,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Vehicle, LedgerError> {
        let change = self
            .change(request, move |context| {
                let vehicle = vehicle_at(context, &id, &etag)?;
                let after = transition::undelete_vehicle(&vehicle, context.now)?;
                Ok(vehicle_change(&after, context))
            })
            .await?;
        vehicle_after(change)
    }

    /// Runs `decide` on the writer thread and commits its change, or answers a
    /// repeated request with the change that it caused the first time.
    async fn change<F>(&self, request: RequestKey, decide: F) -> Result<Change, LedgerError>
    where
        F: FnOnce(&Context<'_, '_>) -> Result<Change, LedgerError> + Send + 'static,
    {
        let clock = self.clock.clone();
        let committed = self
            .store
            .execute(move |tx| {
                if let Some(change) = already_done(tx, &request)? {
                    return Ok(Commit::nothing(change));
                }
                let now = clock.now();
                let change = decide(&Context { tx, seq: tx.next_seq(), now })?;
                let entry = Entry {
                    entry_time: Some(convert::time::to_pb(now)),
                    request: (!request.request_id.is_empty()).then(|| StoredKey {
                        request_id: request.request_id,
                        method: request.method.to_owned(),
                        digest: request.digest,
                    }),
                    change: Some(change.clone()),
                };
                Ok(Commit::new(vec![entry.encode_to_vec()], change))
            })
            .await?;
        committed.map(|committed| committed.reply)
    }
}

/// The change that this very request caused before, if it did.
fn already_done(tx: &CommandTx<'_>, request: &RequestKey) -> Result<Option<Change>, LedgerError> {
    if request.request_id.is_empty() {
        return Ok(None);
    }
    let Some(stored) = tx.get(&keys::request(&request.request_id)) else { return Ok(None) };
    let what = || format!("request {}", request.request_id);
    let entry = Entry::decode(stored.as_slice()).map_err(|e| load::unreadable(what(), &e))?;
    let same = entry
        .request
        .as_ref()
        .is_some_and(|key| key.method == request.method && key.digest == request.digest);
    if !same {
        return Err(LedgerError::RequestReused {
            request_id: request.request_id.clone(),
            method: entry.request.map(|key| key.method).unwrap_or_default(),
        });
    }
    entry.change.map(Some).ok_or_else(|| load::unreadable(what(), &"it holds no change"))
}

/// A new id: sortable by time, and random enough never to meet another.
fn new_id(now: Timestamp) -> String {
    let time = std::time::UNIX_EPOCH
        + std::time::Duration::from_millis(u64::try_from(now.as_millisecond()).unwrap_or(0));
    ulid::Ulid::from_datetime(time).to_string().to_lowercase()
}

/// An approval without a time was given now.
fn dated(mut fields: JobFields, context: &Context<'_, '_>) -> JobFields {
    if let Some(approval) = &mut fields.approval
        && approval.approve_time == Timestamp::UNIX_EPOCH
    {
        approval.approve_time = context.now;
    }
    fields
}

fn job_at(
    context: &Context<'_, '_>,
    id: &str,
    etag: &str,
) -> Result<lamella_jobs::job::Job, LedgerError> {
    let loaded = load::job(context.tx, id)?;
    same_etag(&loaded.message.name, &loaded.message.etag, etag)?;
    Ok(loaded.domain)
}

fn vehicle_at(context: &Context<'_, '_>, id: &str, etag: &str) -> Result<Vehicle, LedgerError> {
    let loaded = load::vehicle(context.tx, id)?;
    same_etag(&loaded.message.name, &loaded.message.etag, etag)?;
    Ok(loaded.domain)
}

fn same_etag(name: &str, current: &str, given: &str) -> Result<(), LedgerError> {
    if given.is_empty() || given == current {
        return Ok(());
    }
    Err(LedgerError::EtagStale {
        name: name.to_owned(),
        current: current.to_owned(),
        given: given.to_owned(),
    })
}

/// A job may only name a vehicle that exists and is not deleted.
fn vehicle_exists(context: &Context<'_, '_>, event: &JobEvent) -> Result<(), LedgerError> {
    let job = match event {
        JobEvent::Created(job) | JobEvent::Updated { job, .. } => job,
        JobEvent::StageChanged { .. }
        | JobEvent::Recorded(_)
        | JobEvent::Deleted(_)
        | JobEvent::Undeleted(_) => return Ok(()),
    };
    match load::vehicle_of(context.tx, job)? {
        Some(vehicle) if vehicle.delete_time.is_some() => {
            let name = convert::names::vehicle(&vehicle.id);
            Err(lamella_jobs::refusal::Refusal::Deleted { name }.into())
        }
        Some(_) | None => Ok(()),
    }
}

fn job_change(id: &str, event: &JobEvent, context: &Context<'_, '_>) -> Change {
    Change::Job(convert::event::event_to_pb(id, event, &etag(context.seq)))
}

fn vehicle_change(vehicle: &Vehicle, context: &Context<'_, '_>) -> Change {
    Change::Vehicle(convert::vehicle::vehicle_to_pb(vehicle, &etag(context.seq)))
}

/// A resource's version is the sequence number of its last change.
fn etag(seq: u64) -> String {
    format!("{seq:x}")
}

fn job_after(change: Change) -> Result<v1::Job, LedgerError> {
    use v1::job_event::Change as JobChange;
    match change {
        Change::Job(event) => match event.change {
            Some(JobChange::Created(job) | JobChange::Deleted(job) | JobChange::Undeleted(job)) => {
                Ok(job)
            }
            Some(JobChange::Updated(updated)) => updated.job.ok_or_else(|| unexpected("a job")),
            Some(JobChange::StageChanged(moved)) => moved.job.ok_or_else(|| unexpected("a job")),
            Some(JobChange::Recorded(_)) | None => Err(unexpected("a job")),
        },
        Change::Vehicle(_) => Err(unexpected("a job")),
    }
}

fn vehicle_after(change: Change) -> Result<v1::Vehicle, LedgerError> {
    match change {
        Change::Vehicle(vehicle) => Ok(vehicle),
        Change::Job(_) => Err(unexpected("a vehicle")),
    }
}

/// The method of a replayed request is compared before, so this would be a bug.
fn unexpected(wanted: &str) -> LedgerError {
    load::unreadable("a repeated request".to_owned(), &format!("it does not hold {wanted}"))
}
