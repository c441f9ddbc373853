//! What changes a job.

use jiff::Timestamp;
use lamella_jobs::append;
use lamella_jobs::gate::Situation;
use lamella_jobs::job::{JobField, JobFields};
use lamella_jobs::record::Record;
use lamella_jobs::transition::{self, JobEvent, MoveRequest};
use lamella_proto::store::v1::entry::Change;
use lamella_proto::v1;
use lamella_store::KvRead;

use super::change::{self, Context, RequestKey};
use super::error::LedgerError;
use super::{Ledger, keys, load};
use crate::convert;

/// A stage change, as the API answers it.
#[derive(Debug, Clone, PartialEq)]
pub struct StageMove {
    /// The job after it.
    pub job: v1::Job,
    /// What to look out for.
    pub cautions: Vec<v1::Caution>,
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
                let id = id.unwrap_or_else(|| change::new_id(context.now));
                if context.tx.get(&keys::job(&id)).is_some() {
                    return Err(LedgerError::Exists {
                        name: convert::names::job(&id),
                    });
                }
                let event =
                    transition::create_job(id.clone(), dated(fields, context), context.now)?;
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

    /// Moves a job to the stage that is named, or to the next one.
    ///
    /// # Errors
    /// Unknown job, stale etag, no such move, a gate that is closed.
    pub async fn advance_stage(
        &self,
        id: String,
        to: MoveRequest,
        etag: String,
        request: RequestKey,
    ) -> Result<StageMove, LedgerError> {
        let change = self
            .change(request, move |context| {
                move_change(context.tx, &id, to, &etag, context.now, context.seq)
            })
            .await?;
        stage_move(change)
    }

    /// What [`advance_stage`](Self::advance_stage) would answer now, without
    /// doing it.
    ///
    /// # Errors
    /// The same.
    pub async fn ask_stage(
        &self,
        id: String,
        to: MoveRequest,
        etag: String,
    ) -> Result<StageMove, LedgerError> {
        let now = self.clock.now();
        let change = self
            .read(move |view| move_change(view, &id, to, &etag, now, view.last_seq()))
            .await?;
        stage_move(change)
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
                Ok(job_change(
                    &id,
                    &transition::delete_job(&job, context.now)?,
                    context,
                ))
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
                Ok(job_change(
                    &id,
                    &transition::undelete_job(&job, context.now)?,
                    context,
                ))
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
            Change::Job(_) | Change::Vehicle(_) | Change::Plugin(_) | Change::PluginRemoved(_) => {
                Err(change::unexpected("a record"))
            }
        }
    }
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

/// The move of a job, as its rules decide on the state that `tx` shows.
pub(super) fn move_change(
    tx: &impl KvRead,
    id: &str,
    to: MoveRequest,
    etag: &str,
    now: Timestamp,
    seq: u64,
) -> Result<Change, LedgerError> {
    let loaded = load::job(tx, id)?;
    change::same_etag(&loaded.message.name, &loaded.message.etag, etag)?;
    let job = loaded.domain;
    let vehicle = load::vehicle_of(tx, &job)?;
    let records = load::records(tx, id)?;
    let situation = Situation {
        job: &job,
        vehicle: vehicle.as_ref(),
        records: &records,
        now,
    };
    let event = transition::advance_stage(&situation, to)?;
    Ok(Change::Job(convert::event::event_to_pb(
        id,
        &event,
        &change::etag(seq),
    )))
}

fn stage_move(change: Change) -> Result<StageMove, LedgerError> {
    let cautions = match &change {
        Change::Job(v1::JobEvent {
            change: Some(v1::job_event::Change::StageChanged(moved)),
            ..
        }) => moved.cautions.clone(),
        Change::Job(_) | Change::Vehicle(_) | Change::Plugin(_) | Change::PluginRemoved(_) => {
            Vec::new()
        }
    };
    Ok(StageMove {
        job: job_after(change)?,
        cautions,
    })
}

fn job_at(
    context: &Context<'_, '_>,
    id: &str,
    etag: &str,
) -> Result<lamella_jobs::job::Job, LedgerError> {
    let loaded = load::job(context.tx, id)?;
    change::same_etag(&loaded.message.name, &loaded.message.etag, etag)?;
    Ok(loaded.domain)
}

/// A job may only name a vehicle that exists and is not deleted.
pub(super) fn vehicle_exists(
    context: &Context<'_, '_>,
    event: &JobEvent,
) -> Result<(), LedgerError> {
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

pub(super) fn job_change(id: &str, event: &JobEvent, context: &Context<'_, '_>) -> Change {
    Change::Job(convert::event::event_to_pb(
        id,
        event,
        &change::etag(context.seq),
    ))
}

fn job_after(change: Change) -> Result<v1::Job, LedgerError> {
    use v1::job_event::Change as JobChange;
    match change {
        Change::Job(event) => match event.change {
            Some(JobChange::Created(job) | JobChange::Deleted(job) | JobChange::Undeleted(job)) => {
                Ok(job)
            }
            Some(JobChange::Updated(updated)) => {
                updated.job.ok_or_else(|| change::unexpected("a job"))
            }
            Some(JobChange::StageChanged(moved)) => {
                moved.job.ok_or_else(|| change::unexpected("a job"))
            }
            Some(JobChange::QuoteAccepted(accepted)) => {
                accepted.job.ok_or_else(|| change::unexpected("a job"))
            }
            Some(
                JobChange::Recorded(_)
                | JobChange::Quoted(_)
                | JobChange::Photographed(_)
                | JobChange::PhotoDeleted(_),
            )
            | None => Err(change::unexpected("a job")),
        },
        Change::Vehicle(_) | Change::Plugin(_) | Change::PluginRemoved(_) => {
            Err(change::unexpected("a job"))
        }
    }
}
