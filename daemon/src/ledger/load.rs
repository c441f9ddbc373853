//! From what is stored to the domain.

use lamella_calc::violation::Checks;
use lamella_jobs::booking::Booking;
use lamella_jobs::job::Job;
use lamella_jobs::record::Record;
use lamella_jobs::stage::Stage;
use lamella_jobs::vehicle::Vehicle;
use lamella_proto::v1;
use lamella_store::KvRead;
use prost::Message as _;

use super::error::LedgerError;
use super::{keys, projector};
use crate::convert;

/// A stored resource in both forms.
pub(crate) struct Loaded<D, P> {
    /// The domain's.
    pub(crate) domain: D,
    /// The API's.
    pub(crate) message: P,
}

pub(crate) fn job_message(tx: &impl KvRead, id: &str) -> Result<v1::Job, LedgerError> {
    let name = || convert::names::job(id);
    let stored = tx
        .get(&keys::job(id))
        .ok_or_else(|| LedgerError::NotFound { name: name() })?;
    let (_, message) = projector::split(&stored).map_err(|e| unreadable(name(), &e))?;
    Ok(message)
}

pub(crate) fn job(tx: &impl KvRead, id: &str) -> Result<Loaded<Job, v1::Job>, LedgerError> {
    let message = job_message(tx, id)?;
    let mut checks = Checks::new();
    let domain = convert::job::job_from_pb(&message, &mut checks);
    Ok(Loaded {
        domain: sound(domain, checks, &message.name)?,
        message,
    })
}

pub(crate) fn vehicle_message(tx: &impl KvRead, id: &str) -> Result<v1::Vehicle, LedgerError> {
    let name = || convert::names::vehicle(id);
    let stored = tx
        .get(&keys::vehicle(id))
        .ok_or_else(|| LedgerError::NotFound { name: name() })?;
    let (_, message) = projector::split(&stored).map_err(|e| unreadable(name(), &e))?;
    Ok(message)
}

pub(crate) fn vehicle(
    tx: &impl KvRead,
    id: &str,
) -> Result<Loaded<Vehicle, v1::Vehicle>, LedgerError> {
    let message = vehicle_message(tx, id)?;
    let mut checks = Checks::new();
    let domain = convert::vehicle::vehicle_from_pb(&message, &mut checks);
    Ok(Loaded {
        domain: sound(domain, checks, &message.name)?,
        message,
    })
}

/// A booking, where there is one of that id.
pub(crate) fn booking(
    tx: &impl KvRead,
    id: &str,
) -> Result<Option<Loaded<Booking, v1::Booking>>, LedgerError> {
    let Some(stored) = tx.get(&keys::booking(id)) else {
        return Ok(None);
    };
    let name = convert::names::booking(id);
    let (_, message) =
        projector::split::<v1::Booking>(&stored).map_err(|e| unreadable(name.clone(), &e))?;
    let mut checks = Checks::new();
    let domain = convert::booking::booking_from_pb(&message, &mut checks);
    Ok(Some(Loaded {
        domain: sound(domain, checks, &name)?,
        message,
    }))
}

/// The job's vehicle, where it names one.
pub(crate) fn vehicle_of(tx: &impl KvRead, job: &Job) -> Result<Option<Vehicle>, LedgerError> {
    job.fields
        .vehicle
        .as_deref()
        .map(|id| vehicle(tx, id).map(|loaded| loaded.domain))
        .transpose()
}

/// All records of a job, oldest first.
pub(crate) fn records(tx: &impl KvRead, job: &str) -> Result<Vec<Record>, LedgerError> {
    let mut records = Vec::new();
    for (key, value) in tx.scan_all(&keys::records(job)) {
        let what = || {
            format!(
                "jobs/{job}/records/{}",
                keys::last_number(&key).unwrap_or_default()
            )
        };
        let message = v1::Record::decode(value.as_slice()).map_err(|e| unreadable(what(), &e))?;
        let mut checks = Checks::new();
        let domain = convert::record::record_from_pb(&message, &mut checks);
        let domain = domain.ok_or_else(|| unreadable(what(), &"no entry that is known here"))?;
        records.push(sound(domain, checks, &message.name)?);
    }
    Ok(records)
}

/// The ids of a vehicle's jobs that are neither closed nor deleted.
pub(crate) fn live_jobs_of(tx: &impl KvRead, vehicle: &str) -> Result<Vec<String>, LedgerError> {
    let mut live = Vec::new();
    for (_, id) in tx.scan_all(&keys::of_vehicle(vehicle)) {
        let id = String::from_utf8_lossy(&id).into_owned();
        let message = job_message(tx, &id)?;
        let closed = convert::job::stage_from_pb(message.stage()).is_none_or(Stage::is_closed);
        if !closed && message.delete_time.is_none() {
            live.push(id);
        }
    }
    Ok(live)
}

pub(crate) fn unreadable(what: String, reason: &dyn std::fmt::Display) -> LedgerError {
    LedgerError::Unreadable {
        what,
        reason: reason.to_string(),
    }
}

/// What was stored was valid when it was written, so a violation on the way
/// back means that this daemon does not know what a newer one wrote.
fn sound<D>(domain: D, checks: Checks, what: &str) -> Result<D, LedgerError> {
    match checks.finish() {
        Ok(()) => Ok(domain),
        Err(error) => Err(unreadable(what.to_owned(), &error)),
    }
}
