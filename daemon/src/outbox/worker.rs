//! Which event is tried when: each at once as it happens, and those of a job that
//! lags again and again, with growing waits.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use lamella_proto::store::v1::{Entry, entry::Change};
use lamella_proto::v1;
use lamella_store::WatchError;
use prost::Message as _;
use tokio::sync::watch;
use tokio::time::Instant;

use super::body::signature;
use super::post::Delivery;
use super::{Inner, Outbox};
use crate::config::OutboxSettings;
use crate::ledger::{Ledger, LedgerError};
use crate::rpc::status::chain;

impl Outbox {
    /// Delivers until `stopping` turns true. Without an outbox it returns at once.
    pub(crate) async fn run(self, ledger: Ledger, mut stopping: watch::Receiver<bool>) {
        let Some(inner) = self.inner else { return };
        let worker = Worker {
            inner,
            ledger,
            due: BTreeMap::new(),
        };
        tokio::select! {
            // An error means that the sender is gone, which is a stop as well.
            _ = stopping.wait_for(|stop| *stop) => {}
            ended = worker.work() => if let Err(error) = ended {
                tracing::error!(error = %chain(&error), "the outbox stopped; nothing more is delivered until a restart");
            }
        }
    }
}

struct Worker {
    inner: Arc<Inner>,
    ledger: Ledger,
    /// When each job that lags is tried again.
    due: BTreeMap<String, Instant>,
}

/// What happens next.
enum Next {
    Retry(String),
    Revived,
    Event(u64, Arc<[u8]>),
    End,
}

impl Worker {
    async fn work(mut self) -> Result<(), LedgerError> {
        let mut after = self.inner.lock().sequence();
        let mut watcher = loop {
            match self.ledger.watch(after) {
                Ok(watcher) => break watcher,
                Err(LedgerError::Watch(WatchError::TooOld { oldest_seq, .. })) => {
                    tracing::error!(
                        after,
                        oldest_seq,
                        "events that were never delivered have been removed from the journal"
                    );
                    after = oldest_seq.saturating_sub(1);
                }
                Err(error) => return Err(error),
            }
        };
        loop {
            self.note_due();
            let first = self.due.iter().min_by_key(|(_, at)| **at);
            let first = first.map(|(job, at)| (job.clone(), *at));
            let retry = async {
                match first {
                    Some((job, at)) => {
                        tokio::time::sleep_until(at).await;
                        job
                    }
                    None => std::future::pending().await,
                }
            };
            let next = tokio::select! {
                job = retry => Next::Retry(job),
                () = self.inner.wake.notified() => Next::Revived,
                event = watcher.next() => match event {
                    Some(Ok((seq, payload))) => Next::Event(seq, payload),
                    Some(Err(error)) => return Err(error.into()),
                    None => Next::End,
                },
            };
            match next {
                Next::Retry(job) => self.catch_up(&job).await?,
                Next::Event(seq, payload) => self.event(seq, &payload).await?,
                // Found by `note_due`.
                Next::Revived => {}
                Next::End => return Ok(()),
            }
        }
    }

    /// A job that lags, is no dead letter and has no time yet is due now: after a
    /// start, and when a dead letter was revived.
    fn note_due(&mut self) {
        let state = self.inner.lock();
        for (job, behind) in state.behind() {
            if !behind.dead {
                self.due.entry(job.clone()).or_insert_with(Instant::now);
            }
        }
    }

    async fn event(&mut self, seq: u64, payload: &[u8]) -> Result<(), LedgerError> {
        let entry = Entry::decode(payload).map_err(|error| LedgerError::Unreadable {
            what: format!("journal entry {seq}"),
            reason: error.to_string(),
        })?;
        let Some(Change::Job(mut event)) = entry.change else {
            self.inner.lock().passed(seq);
            return Ok(());
        };
        let job = event
            .job
            .strip_prefix("jobs/")
            .unwrap_or_default()
            .to_owned();
        if self.inner.lock().get(&job).is_some() {
            // It comes when its job is caught up.
            self.inner.lock().passed(seq);
            return Ok(());
        }
        event.sequence = i64::try_from(seq).unwrap_or(i64::MAX);
        event.event_time = entry.entry_time;
        self.attempt(&job, seq, event).await;
        Ok(())
    }

    /// Delivers what a job lags behind with, until one fails or none is left.
    async fn catch_up(&mut self, job: &str) -> Result<(), LedgerError> {
        loop {
            let (next, upto) = {
                let state = self.inner.lock();
                match state.get(job) {
                    Some(behind) if !behind.dead => (behind.next, state.sequence()),
                    Some(_) | None => {
                        self.due.remove(job);
                        return Ok(());
                    }
                }
            };
            let event = self.ledger.event_from(job.to_owned(), next).await?;
            // What is later than that comes from the watch.
            let event = event.filter(|(seq, _)| *seq <= upto);
            let Some((seq, event)) = event else {
                self.inner.lock().caught_up(job);
                self.due.remove(job);
                return Ok(());
            };
            if !self.attempt(job, seq, event).await {
                return Ok(());
            }
        }
    }

    /// One attempt; whether it was taken.
    async fn attempt(&mut self, job: &str, seq: u64, event: v1::JobEvent) -> bool {
        let sent = match self.delivery(event) {
            Ok(delivery) => self.inner.post.send(delivery).await,
            Err(error) => Err(error),
        };
        match sent {
            Ok(()) => {
                self.inner.lock().delivered(job, seq);
                true
            }
            Err(error) => {
                self.put_off(job, seq, &error);
                false
            }
        }
    }

    fn delivery(&self, event: v1::JobEvent) -> Result<Delivery, String> {
        let body = self.inner.writer.body(event)?;
        let timestamp = self.ledger.clock().now().as_second();
        let signature = signature(&self.inner.settings.secret.0, timestamp, &body)
            .ok_or("the secret cannot be used")?;
        Ok(Delivery {
            body,
            timestamp,
            signature,
        })
    }

    fn put_off(&mut self, job: &str, seq: u64, error: &str) {
        let settings = &self.inner.settings;
        let now = self.ledger.clock().now();
        let (dead, attempts) = {
            let mut state = self.inner.lock();
            let dead = state.failed(job, seq, error.to_owned(), now, settings.attempts);
            (dead, state.get(job).map_or(0, |behind| behind.attempts))
        };
        if dead {
            tracing::warn!(
                job,
                seq,
                attempts,
                error,
                "a delivery is a dead letter now; its job waits"
            );
            self.due.remove(job);
            return;
        }
        tracing::info!(
            job,
            seq,
            attempts,
            error,
            "a delivery failed and will be tried again"
        );
        self.due
            .insert(job.to_owned(), Instant::now() + wait(settings, attempts));
    }
}

/// The wait after so many attempts: doubled each time, up to the longest.
fn wait(settings: &OutboxSettings, attempts: u32) -> Duration {
    let doubled = 2_u32.saturating_pow(attempts.saturating_sub(1));
    settings
        .retry_base
        .saturating_mul(doubled)
        .min(settings.retry_max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Secret;

    #[test]
    fn waits_double_up_to_the_longest() {
        let settings = OutboxSettings {
            url: String::new(),
            secret: Secret(Vec::new()),
            include_customer: false,
            retry_base: Duration::from_secs(1),
            retry_max: Duration::from_secs(60),
            attempts: 100,
            timeout: Duration::from_secs(1),
            ca_pem: None,
        };
        let waits = [1, 2, 3, 6, 7, 8, 100].map(|attempts| wait(&settings, attempts).as_secs());
        assert_eq!(waits, [1, 2, 4, 32, 60, 60, 60]);
    }
}
