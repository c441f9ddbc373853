//! The stream behind WatchJobs: replay, then live, with heartbeats, until the
//! caller goes or the daemon stops.

use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use lamella_proto::store::v1::{Entry, entry};
use lamella_proto::v1::{self, watch_jobs_response::Message};
use lamella_store::Watcher;
use prost::Message as _;
use tokio::sync::{mpsc, watch};
use tokio::time::MissedTickBehavior;
use tokio_stream::Stream;
use tokio_stream::wrappers::ReceiverStream;
use tonic::Status;

use super::status;
use crate::convert;

/// What WatchJobs returns.
pub(crate) type WatchStream =
    Pin<Box<dyn Stream<Item = Result<v1::WatchJobsResponse, Status>> + Send>>;

/// How often a quiet stream says that it is alive.
const HEARTBEAT: Duration = Duration::from_secs(15);
/// Messages that may wait for a slow reader before the journal waits too.
const WAITING: usize = 64;

/// Starts streams that all end when the daemon stops.
#[derive(Clone)]
pub(crate) struct Watching {
    stopping: watch::Receiver<bool>,
    last_seq: Arc<dyn Fn() -> u64 + Send + Sync>,
}

impl Watching {
    /// Streams end once `stopping` turns true. `last_seq` tells the sequence
    /// number of the last event.
    pub(crate) fn new(
        stopping: watch::Receiver<bool>,
        last_seq: impl Fn() -> u64 + Send + Sync + 'static,
    ) -> Self {
        Self {
            stopping,
            last_seq: Arc::new(last_seq),
        }
    }

    /// The events after `after`, of one job or of all.
    pub(crate) fn stream(&self, watcher: Watcher, after: u64, job: Option<&str>) -> WatchStream {
        let (sender, receiver) = mpsc::channel(WAITING);
        let feed = Feed {
            watcher,
            sender,
            job: job.map(convert::names::job),
            reached: after,
            live_from: (self.last_seq)(),
        };
        tokio::spawn(feed.run(self.stopping.clone()));
        Box::pin(ReceiverStream::new(receiver))
    }
}

/// Returns once the daemon stops.
async fn stopped(stopping: &mut watch::Receiver<bool>) {
    // An error means that the sender is gone, which is a stop as well.
    let _ = stopping.wait_for(|stop| *stop).await;
}

struct Feed {
    watcher: Watcher,
    sender: mpsc::Sender<Result<v1::WatchJobsResponse, Status>>,
    /// Only this job's events.
    job: Option<String>,
    /// The last sequence number dealt with.
    reached: u64,
    /// Sequence number from which on events are live.
    live_from: u64,
}

impl Feed {
    async fn run(mut self, mut stopping: watch::Receiver<bool>) {
        let mut heartbeat = tokio::time::interval(HEARTBEAT);
        heartbeat.set_missed_tick_behavior(MissedTickBehavior::Delay);
        heartbeat.tick().await;
        let mut caught_up = false;
        loop {
            if !caught_up && self.reached >= self.live_from {
                caught_up = true;
                if !self.send(Message::CaughtUp(v1::CaughtUp {})).await {
                    return;
                }
            }
            tokio::select! {
                () = stopped(&mut stopping) => {
                    let status = Status::unavailable("the daemon is stopping; resume later");
                    // Nobody may be listening any more, which is fine.
                    let _ = self.sender.send(Err(status)).await;
                    return;
                }
                () = self.sender.closed() => return,
                _ = heartbeat.tick() => {
                    if !self.send(Message::Heartbeat(v1::Heartbeat {})).await {
                        return;
                    }
                }
                next = self.watcher.next() => match next {
                    None => return,
                    Some(Ok((seq, payload))) => {
                        heartbeat.reset();
                        if !self.deal_with(seq, &payload).await {
                            return;
                        }
                    }
                    Some(Err(error)) => {
                        let _ = self.sender.send(Err(status::watch(&error))).await;
                        return;
                    }
                },
            }
        }
    }

    /// Sends what one entry means to this watcher. False: it has gone.
    async fn deal_with(&mut self, seq: u64, payload: &[u8]) -> bool {
        self.reached = seq;
        let entry = match Entry::decode(payload) {
            Ok(entry) => entry,
            Err(error) => {
                tracing::error!(seq, %error, "a journal entry cannot be read");
                let status = Status::internal("a journal entry cannot be read");
                let _ = self.sender.send(Err(status)).await;
                return false;
            }
        };
        let Some(entry::Change::Job(mut event)) = entry.change else {
            return true;
        };
        if self.job.as_ref().is_some_and(|job| *job != event.job) {
            return true;
        }
        event.sequence = i64::try_from(seq).unwrap_or(i64::MAX);
        event.event_time = entry.entry_time;
        self.send(Message::Event(event)).await
    }

    async fn send(&self, message: Message) -> bool {
        let response = v1::WatchJobsResponse {
            resume_token: self.reached.to_string(),
            message: Some(message),
        };
        self.sender.send(Ok(response)).await.is_ok()
    }
}
