//! From journal entries to the projection: what each change writes.

use jiff::Timestamp;
use lamella_jobs::stage::Stage;
use lamella_proto::store::v1::{Entry, entry};
use lamella_proto::v1;
use lamella_store::{KvRead as _, ProjectError, Projector, Tx};
use prost::Message as _;

use super::keys;
use crate::convert;

/// Writes each entry's change where the reads look for it.
#[derive(Debug, Clone, Copy, Default)]
pub struct JobProjector;

impl Projector for JobProjector {
    fn version(&self) -> u32 {
        keys::SCHEMA
    }

    fn apply(&self, seq: u64, payload: &[u8], tx: &mut Tx<'_>) -> Result<(), ProjectError> {
        let entry = Entry::decode(payload).map_err(ProjectError::new)?;
        match &entry.change {
            Some(entry::Change::Job(event)) => job_event(seq, &entry, event, tx)?,
            Some(entry::Change::Vehicle(vehicle)) => put_vehicle(seq, vehicle, tx)?,
            Some(entry::Change::Plugin(plugin)) => {
                let id = id_of(&plugin.name, "plugins/")?;
                tx.put(keys::plugin(id), plugin.encode_to_vec());
            }
            Some(entry::Change::PluginRemoved(plugin)) => {
                tx.delete(keys::plugin(id_of(&plugin.name, "plugins/")?));
            }
            None if entry.booking.is_some() => {}
            None => {
                return Err(ProjectError::new(
                    "the entry holds no change that is known here",
                ));
            }
        }
        if let Some(booking) = &entry.booking {
            put_booking(seq, booking, tx)?;
        }
        if let Some(request) = &entry.request {
            tx.put(keys::request(&request.request_id), payload);
        }
        Ok(())
    }
}

fn job_event(
    seq: u64,
    entry: &Entry,
    event: &v1::JobEvent,
    tx: &mut Tx<'_>,
) -> Result<(), ProjectError> {
    use v1::job_event::Change;
    let id = id_of(&event.job, "jobs/")?;
    match &event.change {
        Some(Change::Recorded(record)) => {
            tx.put(
                keys::number(&keys::records(id), seq),
                record.encode_to_vec(),
            );
        }
        Some(Change::Created(job) | Change::Deleted(job) | Change::Undeleted(job)) => {
            put_job(seq, id, job, tx)?;
        }
        Some(Change::Updated(v1::JobUpdated { job: Some(job), .. })) => put_job(seq, id, job, tx)?,
        Some(Change::StageChanged(v1::StageChanged { job: Some(job), .. })) => {
            put_job(seq, id, job, tx)?;
        }
        Some(Change::Quoted(quote)) => put_quote(id, quote, tx)?,
        Some(Change::QuoteAccepted(v1::QuoteAccepted {
            quote: Some(quote),
            job: Some(job),
        })) => {
            put_job(seq, id, job, tx)?;
            put_quote(id, quote, tx)?;
        }
        Some(Change::Photographed(photo)) => put_photo(id, photo, tx)?,
        Some(Change::PhotoDeleted(photo)) => delete_photo(id, photo, tx)?,
        Some(Change::Updated(_) | Change::StageChanged(_) | Change::QuoteAccepted(_)) | None => {
            return Err(ProjectError::new(
                "the job event holds no job that is known here",
            ));
        }
    }
    let mut served = event.clone();
    served.sequence = i64::try_from(seq).map_err(ProjectError::new)?;
    served.event_time = entry.entry_time;
    tx.put(
        keys::number(&keys::history(id), seq),
        served.encode_to_vec(),
    );
    tx.put(keys::moment(moment(&served)?, seq), id);
    Ok(())
}

/// When what the event tells happened; see [`keys::moment`].
pub(super) fn moment(event: &v1::JobEvent) -> Result<Timestamp, ProjectError> {
    use v1::job_event::Change;
    use v1::record::Entry as Recorded;
    let committed = event.event_time.as_ref();
    let at = match &event.change {
        Some(Change::Recorded(record)) => match &record.entry {
            Some(Recorded::Labour(labour)) => labour.from_time.as_ref(),
            Some(
                Recorded::GaugeReadings(_)
                | Recorded::Pass(_)
                | Recorded::Mix(_)
                | Recorded::FilmPiece(_)
                | Recorded::CoatLayer(_)
                | Recorded::BayAir(_)
                | Recorded::PartOff(_)
                | Recorded::PartRefit(_)
                | Recorded::Note(_),
            )
            | None => record.record_time.as_ref(),
        },
        Some(
            Change::Created(_)
            | Change::Updated(_)
            | Change::StageChanged(_)
            | Change::Deleted(_)
            | Change::Undeleted(_)
            | Change::Quoted(_)
            | Change::QuoteAccepted(_)
            | Change::Photographed(_)
            | Change::PhotoDeleted(_),
        )
        | None => committed,
    };
    let at = at.or(committed).copied().unwrap_or_default();
    Timestamp::new(at.seconds, at.nanos).map_err(ProjectError::new)
}

fn put_photo(job: &str, photo: &v1::Photo, tx: &mut Tx<'_>) -> Result<(), ProjectError> {
    let (entry, in_file) = photo_keys(job, photo)?;
    tx.put(entry, photo.encode_to_vec());
    tx.put(in_file, []);
    tx.delete(keys::dropped_file(&photo.sha256));
    Ok(())
}

/// Forgets a photo. Where its file has no other, that is remembered, so that a
/// deletion of the file which was cut short is finished later.
fn delete_photo(job: &str, photo: &v1::Photo, tx: &mut Tx<'_>) -> Result<(), ProjectError> {
    let (entry, in_file) = photo_keys(job, photo)?;
    tx.delete(entry);
    tx.delete(in_file);
    if tx
        .scan_prefix(&keys::in_file(&photo.sha256), None, 1)
        .is_empty()
    {
        tx.put(keys::dropped_file(&photo.sha256), []);
    }
    Ok(())
}

fn photo_keys(job: &str, photo: &v1::Photo) -> Result<(Vec<u8>, Vec<u8>), ProjectError> {
    let number = last_segment(&photo.name)?;
    let mut in_file = keys::in_file(&photo.sha256);
    in_file.extend_from_slice(&keys::photos(job));
    Ok((
        keys::number(&keys::photos(job), number),
        keys::number(&in_file, number),
    ))
}

/// The number that a name ends in.
fn last_segment(name: &str) -> Result<u64, ProjectError> {
    name.rsplit('/')
        .next()
        .unwrap_or_default()
        .parse()
        .map_err(ProjectError::new)
}

fn put_quote(job: &str, quote: &v1::Quote, tx: &mut Tx<'_>) -> Result<(), ProjectError> {
    tx.put(quote_key(job, &quote.name)?, quote.encode_to_vec());
    Ok(())
}

/// A quote that the job's approval no longer names is not accepted any more.
fn forget_acceptance(
    before: &v1::Job,
    after: &v1::Job,
    tx: &mut Tx<'_>,
) -> Result<(), ProjectError> {
    let named = |job: &v1::Job| job.approval.as_ref().map(|yes| yes.quote.clone());
    let Some(quote) = named(before).filter(|quote| !quote.is_empty()) else {
        return Ok(());
    };
    if named(after).as_ref() == Some(&quote) {
        return Ok(());
    }
    let key = quote_key(id_of(&before.name, "jobs/")?, &quote)?;
    if let Some(stored) = tx.get(&key) {
        let mut quote = v1::Quote::decode(stored.as_slice()).map_err(ProjectError::new)?;
        quote.accept_time = None;
        tx.put(key, quote.encode_to_vec());
    }
    Ok(())
}

fn quote_key(job: &str, name: &str) -> Result<Vec<u8>, ProjectError> {
    let number: u64 = name
        .rsplit('/')
        .next()
        .unwrap_or_default()
        .parse()
        .map_err(ProjectError::new)?;
    Ok(keys::number(&keys::quotes(job), number))
}

/// Stores the job and moves its index entries.
fn put_job(seq: u64, id: &str, job: &v1::Job, tx: &mut Tx<'_>) -> Result<(), ProjectError> {
    let before = tx
        .get(&keys::job(id))
        .map(|stored| split::<v1::Job>(&stored))
        .transpose()?;
    let created = before.as_ref().map_or(seq, |(created, _)| *created);
    if let Some((_, before)) = &before {
        for key in index_keys(created, before)? {
            tx.delete(key);
        }
        forget_acceptance(before, job, tx)?;
    } else {
        tx.put(keys::job_order(created), id);
    }
    for key in index_keys(created, job)? {
        tx.put(key, id);
    }
    tx.put(keys::job(id), joined(created, job));
    Ok(())
}

/// The index entries of a job: by stage while it is not deleted, by vehicle
/// always.
fn index_keys(created: u64, job: &v1::Job) -> Result<Vec<Vec<u8>>, ProjectError> {
    let mut keys = Vec::new();
    if job.delete_time.is_none() {
        let stage: Stage = convert::job::stage_from_pb(job.stage())
            .ok_or_else(|| ProjectError::new(format!("unknown stage {}", job.stage)))?;
        keys.push(keys::number(&keys::at_stage(stage), created));
    }
    if let Some(vehicle) = job.vehicle.strip_prefix("vehicles/") {
        keys.push(keys::number(&keys::of_vehicle(vehicle), created));
    }
    Ok(keys)
}

fn put_vehicle(seq: u64, vehicle: &v1::Vehicle, tx: &mut Tx<'_>) -> Result<(), ProjectError> {
    let id = id_of(&vehicle.name, "vehicles/")?;
    let before = tx
        .get(&keys::vehicle(id))
        .map(|stored| split::<v1::Vehicle>(&stored))
        .transpose()?;
    let created = before.map_or(seq, |(created, _)| created);
    tx.put(keys::vehicle_order(created), id);
    tx.put(keys::vehicle(id), joined(created, vehicle));
    Ok(())
}

fn put_booking(seq: u64, booking: &v1::Booking, tx: &mut Tx<'_>) -> Result<(), ProjectError> {
    let id = id_of(&booking.name, "bookings/")?;
    let before = tx
        .get(&keys::booking(id))
        .map(|stored| split::<v1::Booking>(&stored))
        .transpose()?;
    let created = before.map_or(seq, |(created, _)| created);
    tx.put(keys::booking_order(created), id);
    if let Some(job) = booking.job.strip_prefix("jobs/") {
        tx.put(keys::booking_of(job), keys::numbered_id(seq, id));
    }
    tx.put(keys::booking(id), joined(created, booking));
    Ok(())
}

/// A stored resource: its creation sequence, then its message.
pub(crate) fn joined(created: u64, message: &impl prost::Message) -> Vec<u8> {
    let mut value = created.to_be_bytes().to_vec();
    value.extend_from_slice(&message.encode_to_vec());
    value
}

/// What [`joined`] put together.
pub(crate) fn split<M: prost::Message + Default>(stored: &[u8]) -> Result<(u64, M), ProjectError> {
    let (created, message) = stored
        .split_first_chunk::<8>()
        .ok_or_else(|| ProjectError::new("stored resource is shorter than its creation number"))?;
    let message = M::decode(message).map_err(ProjectError::new)?;
    Ok((u64::from_be_bytes(*created), message))
}

fn id_of<'a>(name: &'a str, collection: &str) -> Result<&'a str, ProjectError> {
    name.strip_prefix(collection)
        .ok_or_else(|| ProjectError::new(format!("`{name}` does not begin with `{collection}`")))
}
