//! What a job costs: its quotes, and the one that was said yes to.

use lamella_jobs::job::{Approval, Job};
use lamella_jobs::record::Record;
use lamella_jobs::refusal::Refusal;
use lamella_jobs::transition;
use lamella_proto::store::v1::entry::Change;
use lamella_proto::v1::{self, job_event::Change as JobChange};
use lamella_store::KvRead;
use prost::Message as _;

use super::change::{self, RequestKey};
use super::error::LedgerError;
use super::queries::{self, Page};
use super::{Ledger, keys, load};
use crate::convert;

/// All of a job that a price depends on, as it was at one moment.
#[derive(Debug, Clone)]
pub struct JobFacts {
    /// The job.
    pub job: v1::Job,
    /// Its vehicle, where it names one.
    pub vehicle: Option<v1::Vehicle>,
    /// Its records, oldest first.
    pub records: Vec<Record>,
    /// Sequence number of the last record; 0 without any.
    last_record: u64,
}

/// A quote that was accepted, and the job with its approval.
#[derive(Debug, Clone, PartialEq)]
pub struct Acceptance {
    /// The quote.
    pub quote: v1::Quote,
    /// The job.
    pub job: v1::Job,
}

impl Ledger {
    /// What a price of this job depends on.
    ///
    /// # Errors
    /// Unknown job, one that is over or deleted.
    pub async fn job_facts(&self, job: String) -> Result<JobFacts, LedgerError> {
        self.read(move |view| {
            let (facts, job) = facts(view, &job)?;
            priceable(&job)?;
            Ok(facts)
        })
        .await
    }

    /// The same of any job, also of one that is over or deleted.
    ///
    /// # Errors
    /// Unknown job.
    pub async fn recorded_job(&self, job: String) -> Result<JobFacts, LedgerError> {
        self.read(move |view| facts(view, &job).map(|(facts, _)| facts))
            .await
    }

    /// Stores a quote that was made of `facts`, under the number of its entry.
    ///
    /// # Errors
    /// [`LedgerError::JobChanged`] when job, vehicle or records are no longer as they
    /// were; a job that is over or deleted.
    pub async fn create_quote(
        &self,
        facts: JobFacts,
        mut quote: v1::Quote,
        request: RequestKey,
    ) -> Result<v1::Quote, LedgerError> {
        let change = self
            .change(request, move |context| {
                facts.still_hold(context.tx)?;
                let job = facts.id();
                quote.name = convert::names::quote(job, &context.seq.to_string());
                quote.create_time = Some(convert::time::to_pb(context.now));
                quote.accept_time = None;
                Ok(job_event(job, JobChange::Quoted(quote)))
            })
            .await?;
        quoted(change)
    }

    /// The quote that this very request made before, if it did: a repeated request
    /// is not priced again.
    ///
    /// # Errors
    /// A `request_id` that was used for another request.
    pub async fn quote_of_request(
        &self,
        request: RequestKey,
    ) -> Result<Option<v1::Quote>, LedgerError> {
        self.read(move |view| {
            let done = change::already_done(view, &request)?;
            done.map(quoted).transpose()
        })
        .await
    }

    /// One quote of a job, by its number.
    ///
    /// # Errors
    /// When there is none.
    pub async fn quote(&self, job: String, number: u64) -> Result<v1::Quote, LedgerError> {
        self.read(move |view| quote_at(view, &job, number)).await
    }

    /// A job's quotes in order of creation.
    ///
    /// # Errors
    /// Unknown job, a page token that no list gave out.
    pub async fn quotes(
        &self,
        job: String,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<v1::Quote>, LedgerError> {
        self.read(move |view| {
            load::job_message(view, &job)?;
            queries::messages(view, &keys::quotes(&job), page_size, &page_token)
        })
        .await
    }

    /// Makes a quote the one that was said yes to, in the place of any other.
    ///
    /// # Errors
    /// Unknown job or quote, stale etag, a job that is over or deleted.
    pub async fn accept_quote(
        &self,
        (job_id, number): (String, u64),
        approved_by: String,
        note: String,
        etag: String,
        request: RequestKey,
    ) -> Result<Acceptance, LedgerError> {
        let change = self
            .change(request, move |context| {
                let mut quote = quote_at(context.tx, &job_id, number)?;
                let job = load::job(context.tx, &job_id)?;
                change::same_etag(&job.message.name, &job.message.etag, &etag)?;
                let approval = Approval {
                    approved_by,
                    approve_time: context.now,
                    amount: quote.gross_total.as_ref().map(convert::job::money_from_pb),
                    note,
                    quote: Some(number.to_string()),
                };
                let after = transition::accept_quote(&job.domain, approval, context.now)?;
                quote.accept_time = Some(convert::time::to_pb(context.now));
                let etag = change::etag(context.seq);
                let accepted = v1::QuoteAccepted {
                    quote: Some(quote),
                    job: Some(convert::job::job_to_pb(&after, &etag)),
                };
                Ok(job_event(&job_id, JobChange::QuoteAccepted(accepted)))
            })
            .await?;
        accepted(change)
    }
}

impl JobFacts {
    /// Facts that nobody checked, for tests of what is made of them.
    #[cfg(test)]
    pub(crate) fn unchecked(job: v1::Job, vehicle: Option<v1::Vehicle>) -> Self {
        Self {
            job,
            vehicle,
            records: Vec::new(),
            last_record: 0,
        }
    }

    fn id(&self) -> &str {
        self.job.name.strip_prefix("jobs/").unwrap_or_default()
    }

    /// Refuses when the job is not as it was any more.
    fn still_hold(&self, tx: &impl KvRead) -> Result<(), LedgerError> {
        let id = self.id();
        let job = load::job(tx, id)?;
        priceable(&job.domain)?;
        let vehicle = vehicle_message(tx, &job.message)?;
        let etag = |vehicle: &Option<v1::Vehicle>| vehicle.as_ref().map(|v| v.etag.clone());
        // The etag of a job does not change with its records.
        let prefix = keys::records(id);
        let later = keys::number(&prefix, self.last_record.saturating_add(1));
        let same = job.message.etag == self.job.etag
            && etag(&vehicle) == etag(&self.vehicle)
            && tx.scan_prefix(&prefix, Some(&later), 1).is_empty();
        if same {
            Ok(())
        } else {
            Err(LedgerError::JobChanged {
                name: self.job.name.clone(),
            })
        }
    }
}

fn facts(view: &impl KvRead, id: &str) -> Result<(JobFacts, Job), LedgerError> {
    let job = load::job(view, id)?;
    let records = load::records(view, id)?;
    // A record's id is the sequence number of its entry.
    let last_record = records.last().and_then(|record| record.id.parse().ok());
    let facts = JobFacts {
        vehicle: vehicle_message(view, &job.message)?,
        last_record: last_record.unwrap_or_default(),
        job: job.message,
        records,
    };
    Ok((facts, job.domain))
}

/// What is over or deleted is not priced.
fn priceable(job: &Job) -> Result<(), Refusal> {
    if job.delete_time.is_some() {
        return Err(Refusal::Deleted {
            name: convert::names::job(&job.id),
        });
    }
    if job.stage.is_closed() {
        return Err(Refusal::Closed { stage: job.stage });
    }
    Ok(())
}

fn vehicle_message(tx: &impl KvRead, job: &v1::Job) -> Result<Option<v1::Vehicle>, LedgerError> {
    let id = job.vehicle.strip_prefix("vehicles/");
    id.map(|id| load::vehicle_message(tx, id)).transpose()
}

fn quote_at(tx: &impl KvRead, job: &str, number: u64) -> Result<v1::Quote, LedgerError> {
    let name = convert::names::quote(job, &number.to_string());
    match tx.get(&keys::number(&keys::quotes(job), number)) {
        None => Err(LedgerError::NotFound { name }),
        Some(stored) => {
            v1::Quote::decode(stored.as_slice()).map_err(|error| load::unreadable(name, &error))
        }
    }
}

fn job_event(job: &str, change: JobChange) -> Change {
    Change::Job(v1::JobEvent {
        sequence: 0,
        event_time: None,
        job: convert::names::job(job),
        change: Some(change),
    })
}

fn quoted(change: Change) -> Result<v1::Quote, LedgerError> {
    match change {
        Change::Job(v1::JobEvent {
            change: Some(JobChange::Quoted(quote)),
            ..
        }) => Ok(quote),
        Change::Job(_) | Change::Vehicle(_) | Change::Plugin(_) | Change::PluginRemoved(_) => {
            Err(change::unexpected("a quote"))
        }
    }
}

fn accepted(change: Change) -> Result<Acceptance, LedgerError> {
    match change {
        Change::Job(v1::JobEvent {
            change:
                Some(JobChange::QuoteAccepted(v1::QuoteAccepted {
                    quote: Some(quote),
                    job: Some(job),
                })),
            ..
        }) => Ok(Acceptance { quote, job }),
        Change::Job(_) | Change::Vehicle(_) | Change::Plugin(_) | Change::PluginRemoved(_) => {
            Err(change::unexpected("an accepted quote"))
        }
    }
}

#[cfg(test)]
#[path = "quotes_tests.rs"]
mod tests;
