//! What happened in a span of time, over all jobs, in order. A reader holds a few
//! hundred events at a time and keeps no commit waiting while they are dealt with;
//! it sees the journal as it was when it was made.

use std::collections::VecDeque;

use jiff::Timestamp;
use lamella_proto::v1;
use lamella_store::{KvRead as _, ReadHandle, View};
use prost::Message as _;

use super::error::LedgerError;
use super::{Ledger, keys, load};

/// One event with its moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Happening {
    /// When it happened: a record's own time, for labour its beginning, else when
    /// it was committed.
    pub at: Timestamp,
    /// The event, with its sequence number.
    pub event: v1::JobEvent,
}

/// Reads happenings. Everything blocks: use it off the async threads.
#[derive(Clone)]
pub struct Happenings {
    handle: ReadHandle,
    end: Timestamp,
    /// Last event of the journal that counts.
    up_to: u64,
    /// Where the next page begins.
    next_key: Vec<u8>,
    page: VecDeque<Happening>,
    ended: bool,
}

/// Index entries read in one view.
const PAGE: usize = 256;

impl Ledger {
    /// What happened from `start` on and before `end`, as known now.
    pub fn happenings(&self, start: Timestamp, end: Timestamp) -> Happenings {
        Happenings {
            handle: self.store().reader(),
            end,
            up_to: self.store().last_seq(),
            next_key: keys::moments_from(start),
            page: VecDeque::new(),
            ended: start >= end,
        }
    }
}

/// In order of their moments, then of the journal. Ends after an error.
impl Iterator for Happenings {
    type Item = Result<Happening, LedgerError>;

    fn next(&mut self) -> Option<Self::Item> {
        while self.page.is_empty() && !self.ended {
            if let Err(error) = self.read_page() {
                self.ended = true;
                return Some(Err(error));
            }
        }
        self.page.pop_front().map(Ok)
    }
}

impl Happenings {
    /// A job as it stood when the span ended: after its last change before then,
    /// or, if it did not exist yet, as it was created.
    ///
    /// # Errors
    /// When the store fails or there is no such job.
    pub fn job_at_end(&self, name: &str) -> Result<v1::Job, LedgerError> {
        let prefix = keys::history(name.strip_prefix("jobs/").unwrap_or(name));
        let mut found: Option<v1::Job> = None;
        let mut from = prefix.clone();
        loop {
            let entries = self
                .handle
                .view(|view| view.scan_prefix(&prefix, Some(&from), PAGE))?;
            let Some((last, _)) = entries.last() else {
                break;
            };
            from.clone_from(last);
            from.push(0);
            for (_, value) in &entries {
                let event = decoded(value, name)?;
                let within = self.counts(event.sequence) && committed(&event) < self.end;
                if (within || found.is_none())
                    && let Some(job) = job_after(event)
                {
                    found = Some(job);
                }
            }
        }
        found.ok_or_else(|| LedgerError::NotFound {
            name: name.to_owned(),
        })
    }

    /// A quote, by `jobs/{job}/quotes/{quote}`; none if there is none.
    ///
    /// # Errors
    /// When the store fails or the quote cannot be read.
    pub fn quote(&self, name: &str) -> Result<Option<v1::Quote>, LedgerError> {
        let parts = name
            .strip_prefix("jobs/")
            .and_then(|rest| rest.split_once("/quotes/"));
        let Some((job, Ok(number))) = parts.map(|(job, number)| (job, number.parse::<u64>()))
        else {
            return Ok(None);
        };
        let stored = self.handle.get(&keys::number(&keys::quotes(job), number))?;
        stored
            .map(|value| v1::Quote::decode(value.as_slice()))
            .transpose()
            .map_err(|error| load::unreadable(name.to_owned(), &error))
    }

    fn read_page(&mut self) -> Result<(), LedgerError> {
        let read = self.handle.view(|view| self.page_of(view))??;
        let (page, next_key) = read;
        self.ended = next_key.is_none();
        self.page = page;
        if let Some(key) = next_key {
            self.next_key = key;
        }
        Ok(())
    }

    /// The next page, and where the one after it begins unless it is the last.
    fn page_of(
        &self,
        view: &View<'_>,
    ) -> Result<(VecDeque<Happening>, Option<Vec<u8>>), LedgerError> {
        let end = keys::moments_from(self.end);
        let entries = view.scan_prefix(keys::MOMENTS, Some(&self.next_key), PAGE);
        let mut page = VecDeque::with_capacity(entries.len());
        let full = entries.len() == PAGE;
        let mut next_key = None;
        for (key, job) in entries {
            if key >= end {
                return Ok((page, None));
            }
            let seq = keys::last_number(&key).unwrap_or_default();
            if seq <= self.up_to {
                let job = String::from_utf8_lossy(&job).into_owned();
                page.push_back(happening(view, &job, seq)?);
            }
            next_key = Some(key);
        }
        let next_key = next_key.filter(|_| full).map(|mut key| {
            key.push(0);
            key
        });
        Ok((page, next_key))
    }

    fn counts(&self, sequence: i64) -> bool {
        u64::try_from(sequence).is_ok_and(|seq| seq <= self.up_to)
    }
}

fn happening(view: &View<'_>, job: &str, seq: u64) -> Result<Happening, LedgerError> {
    let what = || format!("event {seq} of jobs/{job}");
    let stored = view
        .get(&keys::number(&keys::history(job), seq))
        .ok_or_else(|| load::unreadable(what(), &"the index names it, the history does not"))?;
    let event = decoded(&stored, &what())?;
    let at = super::projector::moment(&event).map_err(|error| load::unreadable(what(), &error))?;
    Ok(Happening { at, event })
}

fn decoded(stored: &[u8], what: &str) -> Result<v1::JobEvent, LedgerError> {
    v1::JobEvent::decode(stored).map_err(|error| load::unreadable(what.to_owned(), &error))
}

fn committed(event: &v1::JobEvent) -> Timestamp {
    let time = event.event_time.as_ref();
    time.and_then(|time| Timestamp::new(time.seconds, time.nanos).ok())
        .unwrap_or_default()
}

/// The job after an event, where the event changed it.
fn job_after(event: v1::JobEvent) -> Option<v1::Job> {
    use v1::job_event::Change;
    match event.change? {
        Change::Created(job) | Change::Deleted(job) | Change::Undeleted(job) => Some(job),
        Change::Updated(updated) => updated.job,
        Change::StageChanged(moved) => moved.job,
        Change::QuoteAccepted(accepted) => accepted.job,
        Change::Recorded(_)
        | Change::Quoted(_)
        | Change::Photographed(_)
        | Change::PhotoDeleted(_) => None,
    }
}
