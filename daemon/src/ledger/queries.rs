//! What only reads.

use std::collections::BTreeSet;

use jiff::Timestamp;
use lamella_jobs::stage::Stage;
use lamella_proto::v1;
use lamella_store::{KvRead, View, Watcher};

use super::error::LedgerError;
use super::{Ledger, keys, load};
use crate::convert;

/// One page of something.
#[derive(Debug, Clone, PartialEq)]
pub struct Page<T> {
    /// What is on it.
    pub items: Vec<T>,
    /// Token of the next page; empty on the last.
    pub next_page_token: String,
}

/// Which jobs to list. All conditions that are set must hold.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct JobQuery {
    /// At one of these stages; empty: any.
    pub stages: Vec<Stage>,
    /// Of this vehicle.
    pub vehicle: Option<String>,
    /// Promised from here on.
    pub promised_from: Option<Timestamp>,
    /// Promised before this.
    pub promised_before: Option<Timestamp>,
    /// Created from here on.
    pub created_from: Option<Timestamp>,
    /// Created before this.
    pub created_before: Option<Timestamp>,
    /// The name contains this, in lower case; empty: any name.
    pub text: String,
    /// Deleted jobs too.
    pub show_deleted: bool,
}

impl Ledger {
    /// One job.
    ///
    /// # Errors
    /// When there is none of that id.
    pub async fn job(&self, id: String) -> Result<v1::Job, LedgerError> {
        self.read(move |view| load::job_message(view, &id)).await
    }

    /// One vehicle.
    ///
    /// # Errors
    /// When there is none of that id.
    pub async fn vehicle(&self, id: String) -> Result<v1::Vehicle, LedgerError> {
        self.read(move |view| load::vehicle_message(view, &id))
            .await
    }

    /// Jobs in order of creation.
    ///
    /// # Errors
    /// A page token that no list gave out.
    pub async fn jobs(
        &self,
        query: JobQuery,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<v1::Job>, LedgerError> {
        self.read(move |view| {
            let from = start(&page_token)?;
            let mut page = Page {
                items: Vec::new(),
                next_page_token: String::new(),
            };
            let mut room = Room::new(page_size);
            let mut candidates = Candidates::new(&query, from);
            while let Some((creation, id)) = candidates.next(view) {
                let job = load::job_message(view, &id)?;
                if !query.matches(&job) {
                    continue;
                }
                if !room.takes(&job) {
                    page.next_page_token = format!("{creation:x}");
                    break;
                }
                page.items.push(job);
            }
            Ok(page)
        })
        .await
    }

    /// Vehicles in order of creation.
    ///
    /// # Errors
    /// A page token that no list gave out.
    pub async fn vehicles(
        &self,
        show_deleted: bool,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<v1::Vehicle>, LedgerError> {
        self.read(move |view| {
            let mut from = start(&page_token)?;
            let mut room = Room::new(page_size);
            let mut page = Page {
                items: Vec::new(),
                next_page_token: String::new(),
            };
            loop {
                let first = keys::vehicle_order(from);
                let entries = view.scan_prefix(keys::VEHICLE_ORDER, Some(&first), CHUNK);
                let Some(last) = entries.last().and_then(|(key, _)| keys::last_number(key)) else {
                    return Ok(page);
                };
                for (key, id) in &entries {
                    let vehicle = load::vehicle_message(view, &String::from_utf8_lossy(id))?;
                    if vehicle.delete_time.is_some() && !show_deleted {
                        continue;
                    }
                    if !room.takes(&vehicle) {
                        let creation = keys::last_number(key).unwrap_or_default();
                        page.next_page_token = format!("{creation:x}");
                        return Ok(page);
                    }
                    page.items.push(vehicle);
                }
                from = last.saturating_add(1);
            }
        })
        .await
    }

    /// A job's records, oldest first.
    ///
    /// # Errors
    /// Unknown job, a page token that no list gave out.
    pub async fn records(
        &self,
        job: String,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<v1::Record>, LedgerError> {
        self.read(move |view| {
            load::job_message(view, &job)?;
            messages(view, &keys::records(&job), page_size, &page_token)
        })
        .await
    }

    /// All that happened to a job, oldest first.
    ///
    /// # Errors
    /// Unknown job, a page token that no list gave out.
    pub async fn history(
        &self,
        job: String,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<v1::JobEvent>, LedgerError> {
        self.read(move |view| {
            load::job_message(view, &job)?;
            messages(view, &keys::history(&job), page_size, &page_token)
        })
        .await
    }

    /// A job's first event with this sequence number or a later one.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn event_from(
        &self,
        job: String,
        seq: u64,
    ) -> Result<Option<(u64, v1::JobEvent)>, LedgerError> {
        self.read(move |view| {
            let prefix = keys::history(&job);
            let first = keys::number(&prefix, seq);
            let found = view.scan_prefix(&prefix, Some(&first), 1).pop();
            let Some((key, event)) = found else {
                return Ok(None);
            };
            let event = prost::Message::decode(event.as_slice())
                .map_err(|error| load::unreadable(convert::names::job(&job), &error))?;
            Ok(Some((keys::last_number(&key).unwrap_or_default(), event)))
        })
        .await
    }

    /// Everything after a sequence number, then whatever happens.
    ///
    /// # Errors
    /// A number ahead of the last event, or older than the journal keeps.
    pub fn watch(&self, after_seq: u64) -> Result<Watcher, LedgerError> {
        Ok(self.store().watch(after_seq)?)
    }

    /// Runs a read off the async threads: a page may be a thousand jobs.
    pub(super) async fn read<T, F>(&self, read: F) -> Result<T, LedgerError>
    where
        T: Send + 'static,
        F: FnOnce(&View<'_>) -> Result<T, LedgerError> + Send + 'static,
    {
        let handle = self.store().reader();
        let task = tokio::task::spawn_blocking(move || handle.view(read));
        task.await
            .map_err(|error| load::unreadable("this".to_owned(), &error))??
    }
}

impl JobQuery {
    fn matches(&self, job: &v1::Job) -> bool {
        let at_stage = self.stages.is_empty()
            || crate::convert::job::stage_from_pb(job.stage())
                .is_some_and(|stage| self.stages.contains(&stage));
        let of_vehicle = self
            .vehicle
            .as_deref()
            .is_none_or(|id| job.vehicle.strip_prefix("vehicles/") == Some(id));
        let named = self.text.is_empty() || job.display_name.to_lowercase().contains(&self.text);
        at_stage
            && of_vehicle
            && named
            && (self.show_deleted || job.delete_time.is_none())
            && within(
                job.promise_time.as_ref(),
                self.promised_from,
                self.promised_before,
            )
            && within(
                job.create_time.as_ref(),
                self.created_from,
                self.created_before,
            )
    }
}

/// Whether an instant lies in `from..before`; a missing one lies only in an
/// open range.
fn within(
    instant: Option<&prost_types::Timestamp>,
    from: Option<Timestamp>,
    before: Option<Timestamp>,
) -> bool {
    let instant = instant.and_then(|t| Timestamp::new(t.seconds, t.nanos).ok());
    match instant {
        Some(instant) => {
            from.is_none_or(|from| instant >= from) && before.is_none_or(|before| instant < before)
        }
        None => from.is_none() && before.is_none(),
    }
}

/// How many index entries are read at a time.
pub(super) const CHUNK: usize = 256;

/// The jobs that an index offers for a query, in order of creation.
struct Candidates {
    prefixes: Vec<Vec<u8>>,
    from: u64,
    found: BTreeSet<(u64, String)>,
    ended: bool,
}

impl Candidates {
    fn new(query: &JobQuery, from: u64) -> Self {
        // The narrowest index first; deleted jobs are in no stage's index.
        let prefixes = match &query.vehicle {
            Some(vehicle) => vec![keys::of_vehicle(vehicle)],
            None if !query.stages.is_empty() && !query.show_deleted => query
                .stages
                .iter()
                .map(|stage| keys::at_stage(*stage))
                .collect(),
            None => vec![keys::JOB_ORDER.to_vec()],
        };
        Self {
            prefixes,
            from,
            found: BTreeSet::new(),
            ended: false,
        }
    }

    fn next(&mut self, view: &impl KvRead) -> Option<(u64, String)> {
        if self.found.is_empty() && !self.ended {
            self.fill(view);
        }
        self.found.pop_first()
    }

    /// Reads the next chunk of every index. An index that filled its chunk may
    /// go on, so only what lies before the end of the shortest such chunk is
    /// complete; the rest is read again with the next one.
    fn fill(&mut self, view: &impl KvRead) {
        let mut complete_to = u64::MAX;
        for prefix in &self.prefixes {
            let first = keys::number(prefix, self.from);
            let entries = view.scan_prefix(prefix, Some(&first), CHUNK);
            if entries.len() == CHUNK
                && let Some(last) = entries.last().and_then(|(key, _)| keys::last_number(key))
            {
                complete_to = complete_to.min(last);
            }
            self.found.extend(entries.into_iter().map(|(key, id)| {
                let creation = keys::last_number(&key).unwrap_or_default();
                (creation, String::from_utf8_lossy(&id).into_owned())
            }));
        }
        self.found.retain(|(creation, _)| *creation <= complete_to);
        self.ended = complete_to == u64::MAX;
        self.from = complete_to.saturating_add(1);
    }
}

/// What still fits on a page: a count that the caller chose, and a size that
/// stays well below the 4 MiB that many gRPC clients take.
pub(super) struct Room {
    items: usize,
    bytes: usize,
}

impl Room {
    /// Most bytes on a page that has more than one item.
    const BYTES: usize = 2 * 1024 * 1024;

    pub(super) fn new(page_size: usize) -> Self {
        Self {
            items: page_size,
            bytes: Self::BYTES,
        }
    }

    /// Whether one more goes on the page. The first always does.
    pub(super) fn takes(&mut self, item: &impl prost::Message) -> bool {
        let size = item.encoded_len();
        let fits = self.items > 0 && (size <= self.bytes || self.bytes == Self::BYTES);
        self.items = self.items.saturating_sub(1);
        self.bytes = self.bytes.saturating_sub(size.max(1));
        fits
    }
}

pub(super) fn messages<M: prost::Message + Default>(
    view: &impl KvRead,
    prefix: &[u8],
    page_size: usize,
    page_token: &str,
) -> Result<Page<M>, LedgerError> {
    let first = keys::number(prefix, start(page_token)?);
    let mut page = Page {
        items: Vec::new(),
        next_page_token: String::new(),
    };
    let mut room = Room::new(page_size);
    for (key, value) in view.scan_prefix(prefix, Some(&first), page_size.saturating_add(1)) {
        let item =
            M::decode(value.as_slice()).map_err(|e| load::unreadable("an entry".to_owned(), &e))?;
        if !room.takes(&item) {
            page.next_page_token = format!("{:x}", keys::last_number(&key).unwrap_or_default());
            break;
        }
        page.items.push(item);
    }
    Ok(page)
}

/// A page token is the number of the first entry of its page.
pub(super) fn start(page_token: &str) -> Result<u64, LedgerError> {
    if page_token.is_empty() {
        return Ok(0);
    }
    u64::from_str_radix(page_token, 16).map_err(|_| LedgerError::PageToken)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_holds_what_was_asked_for_and_never_more_than_its_bytes() {
        let job = |characters: usize| v1::Job {
            wishes: "x".repeat(characters),
            ..Default::default()
        };
        let mut room = Room::new(2);
        assert!(room.takes(&job(0)) && room.takes(&job(10)));
        assert!(!room.takes(&job(10)), "a third of two");
        let mut room = Room::new(1000);
        assert!(room.takes(&job(3 * 1024 * 1024)), "the first always fits");
        assert!(!room.takes(&job(1)));
        let mut room = Room::new(1000);
        let taken = (0..1000).filter(|_| room.takes(&job(4000))).count();
        assert!((500..530).contains(&taken), "{taken} jobs of 4 kB in 2 MiB");
    }
}
