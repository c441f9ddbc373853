//! What may happen to a job or vehicle as a whole.
//!
//! Each function takes the state and a command and returns the event that
//! follows, or a refusal. The event carries the state after it.

use jiff::Timestamp;
use lamella_calc::caution::Caution;
use lamella_calc::error::CalcError;
use lamella_calc::violation::Checks;

use crate::append;
use crate::check;
use crate::gate::Situation;
use crate::job::{Approval, Job, JobField, JobFields};
use crate::record::Record;
use crate::refusal::Refusal;
use crate::stage::{Move, Stage};
use crate::vehicle::{Vehicle, VehicleField, VehicleFields};

/// What happened to a job.
#[derive(Debug, Clone, PartialEq)]
pub enum JobEvent {
    /// It was created.
    Created(Job),
    /// Fields were changed.
    Updated {
        /// The job after it.
        job: Job,
        /// Which fields were written.
        mask: Vec<JobField>,
    },
    /// Its stage was moved.
    StageChanged {
        /// Stage before.
        from: Stage,
        /// Stage after.
        to: Stage,
        /// What was said with it.
        note: String,
        /// The job after it.
        job: Job,
        /// What to look out for at the new stage.
        cautions: Vec<Caution>,
    },
    /// A record was appended.
    Recorded(Record),
    /// It was deleted; the job after it.
    Deleted(Job),
    /// A deletion was taken back; the job after it.
    Undeleted(Job),
}

/// A new job at stage booked.
///
/// # Errors
/// [`Refusal::Invalid`] with every field that is out of its range.
pub fn create_job(id: String, mut fields: JobFields, now: Timestamp) -> Result<JobEvent, Refusal> {
    let mut checks = Checks::new();
    fields.check(&mut checks, "job");
    checks.finish()?;
    keep_quote(None, fields.approval.as_mut());
    Ok(JobEvent::Created(Job {
        id,
        fields,
        stage: Stage::Booked,
        create_time: now,
        update_time: now,
        delete_time: None,
    }))
}

/// The job with the fields of `mask` taken from `fields`.
///
/// # Errors
/// [`Refusal::Deleted`], [`Refusal::Closed`], or [`Refusal::Invalid`] with
/// every violation of the job as it would be.
pub fn update_job(
    job: &Job,
    fields: &JobFields,
    mask: Vec<JobField>,
    now: Timestamp,
) -> Result<JobEvent, Refusal> {
    live(job)?;
    if job.stage.is_closed() {
        return Err(Refusal::Closed { stage: job.stage });
    }
    let mut fields = job.fields.updated(fields, &mask);
    let mut checks = Checks::new();
    fields.check(&mut checks, "job");
    checks.finish()?;
    keep_quote(job.fields.approval.as_ref(), fields.approval.as_mut());
    Ok(JobEvent::Updated {
        job: Job {
            fields,
            update_time: now,
            ..job.clone()
        },
        mask,
    })
}

/// The job with the customer's yes to one of its quotes, which `approval` names.
/// It takes the place of an earlier yes, at any stage before the end: more work may
/// be agreed on while the car is here.
///
/// # Errors
/// [`Refusal::Deleted`], [`Refusal::Closed`], or [`Refusal::Invalid`] with every
/// field of the approval that is out of its range.
pub fn accept_quote(job: &Job, approval: Approval, now: Timestamp) -> Result<Job, Refusal> {
    live(job)?;
    if job.stage.is_closed() {
        return Err(Refusal::Closed { stage: job.stage });
    }
    let mut checks = Checks::new();
    approval.check(&mut checks, "");
    checks.finish()?;
    let mut after = Job {
        update_time: now,
        ..job.clone()
    };
    after.fields.approval = Some(approval);
    Ok(after)
}

/// Only accepting a quote names one. An approval that is written back as it was
/// keeps its quote; one that is written anew is another yes, to no quote.
fn keep_quote(before: Option<&Approval>, written: Option<&mut Approval>) {
    let Some(written) = written else {
        return;
    };
    written.quote = before.and_then(|before| before.quote.clone());
    if before != Some(&*written) {
        written.quote = None;
    }
}

/// A move that is asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct MoveRequest {
    /// The stage to move to; none: the next one.
    pub to: Option<Stage>,
    /// What is said with it, up to 1000 characters; needed to go back and to
    /// cancel.
    pub note: String,
    /// Only a question: no note is needed for it.
    pub only_asking: bool,
}

/// The move to the stage that is named, or to the next one.
///
/// # Errors
/// [`Refusal::Deleted`], [`Refusal::NoSuchMove`], [`Refusal::Invalid`] for a
/// missing or overlong note, [`Refusal::Unmet`] with every condition of the
/// gate that does not hold.
pub fn advance_stage(situation: &Situation<'_>, request: MoveRequest) -> Result<JobEvent, Refusal> {
    let job = situation.job;
    live(job)?;
    let from = job.stage;
    let to = request.to.or(from.next()).unwrap_or(from);
    let kind = from.move_to(to).ok_or(Refusal::NoSuchMove { from, to })?;
    let mut checks = Checks::new();
    let least_note = match kind {
        Move::Back | Move::Cancel if !request.only_asking => 1,
        Move::Forward | Move::Back | Move::Cancel => 0,
    };
    check::text(&mut checks, "note", &request.note, least_note, 1000);
    checks.finish()?;
    let unmet = match kind {
        Move::Forward => situation.unmet(to),
        Move::Back | Move::Cancel => Vec::new(),
    };
    if !unmet.is_empty() {
        return Err(Refusal::Unmet {
            what: format!("stage {to}"),
            unmet,
        });
    }
    let mut after = Job {
        stage: to,
        update_time: situation.now,
        ..job.clone()
    };
    if kind == Move::Back && to < Stage::Approved {
        // What was agreed to is about to change, so the yes no longer holds.
        after.fields.approval = None;
    }
    let cautions = append::stage_cautions(situation, to);
    Ok(JobEvent::StageChanged {
        from,
        to,
        note: request.note,
        job: after,
        cautions,
    })
}

/// The job, deleted.
///
/// # Errors
/// [`Refusal::Deleted`] when it is already.
pub fn delete_job(job: &Job, now: Timestamp) -> Result<JobEvent, Refusal> {
    live(job)?;
    Ok(JobEvent::Deleted(Job {
        delete_time: Some(now),
        update_time: now,
        ..job.clone()
    }))
}

/// The job, no longer deleted.
///
/// # Errors
/// [`Refusal::NotDeleted`] when it is not deleted.
pub fn undelete_job(job: &Job, now: Timestamp) -> Result<JobEvent, Refusal> {
    if job.delete_time.is_none() {
        return Err(Refusal::NotDeleted {
            name: format!("jobs/{}", job.id),
        });
    }
    Ok(JobEvent::Undeleted(Job {
        delete_time: None,
        update_time: now,
        ..job.clone()
    }))
}

/// A new vehicle.
///
/// # Errors
/// [`Refusal::Invalid`] with every field that is out of its range.
pub fn create_vehicle(
    id: String,
    fields: VehicleFields,
    now: Timestamp,
) -> Result<Vehicle, Refusal> {
    check_vehicle(&fields)?;
    Ok(Vehicle {
        id,
        fields,
        create_time: now,
        update_time: now,
        delete_time: None,
    })
}

/// The vehicle with the fields of `mask` taken from `fields`.
///
/// # Errors
/// [`Refusal::Deleted`], or [`Refusal::Invalid`] with every violation of the
/// vehicle as it would be.
pub fn update_vehicle(
    vehicle: &Vehicle,
    fields: &VehicleFields,
    mask: &[VehicleField],
    now: Timestamp,
) -> Result<Vehicle, Refusal> {
    live_vehicle(vehicle)?;
    let fields = vehicle.fields.updated(fields, mask);
    check_vehicle(&fields)?;
    Ok(Vehicle {
        fields,
        update_time: now,
        ..vehicle.clone()
    })
}

/// The vehicle, deleted; `live_jobs` are the ids of its jobs that are neither
/// closed nor deleted.
///
/// # Errors
/// [`Refusal::Deleted`], or [`Refusal::Unmet`] naming each live job.
pub fn delete_vehicle(
    vehicle: &Vehicle,
    live_jobs: &[String],
    now: Timestamp,
) -> Result<Vehicle, Refusal> {
    live_vehicle(vehicle)?;
    if !live_jobs.is_empty() {
        let unmet = live_jobs.iter().map(|job| crate::refusal::Unmet {
            code: "VEHICLE_HAS_LIVE_JOB",
            subject: format!("jobs/{job}"),
            description: format!("jobs/{job} is not over"),
        });
        return Err(Refusal::Unmet {
            what: format!("deleting vehicles/{}", vehicle.id),
            unmet: unmet.collect(),
        });
    }
    Ok(Vehicle {
        delete_time: Some(now),
        update_time: now,
        ..vehicle.clone()
    })
}

/// The vehicle, no longer deleted.
///
/// # Errors
/// [`Refusal::NotDeleted`] when it is not deleted.
pub fn undelete_vehicle(vehicle: &Vehicle, now: Timestamp) -> Result<Vehicle, Refusal> {
    if vehicle.delete_time.is_none() {
        return Err(Refusal::NotDeleted {
            name: format!("vehicles/{}", vehicle.id),
        });
    }
    Ok(Vehicle {
        delete_time: None,
        update_time: now,
        ..vehicle.clone()
    })
}

fn live(job: &Job) -> Result<(), Refusal> {
    match job.delete_time {
        Some(_) => Err(Refusal::Deleted {
            name: format!("jobs/{}", job.id),
        }),
        None => Ok(()),
    }
}

fn live_vehicle(vehicle: &Vehicle) -> Result<(), Refusal> {
    match vehicle.delete_time {
        Some(_) => Err(Refusal::Deleted {
            name: format!("vehicles/{}", vehicle.id),
        }),
        None => Ok(()),
    }
}

fn check_vehicle(fields: &VehicleFields) -> Result<(), CalcError> {
    let mut checks = Checks::new();
    fields.check(&mut checks, "vehicle");
    checks.finish()
}
