//! Watching events from a resume token: replay, then live, without a gap or a repeat.

use std::collections::VecDeque;
use std::sync::Arc;

use tokio::sync::broadcast::{self, error::RecvError};
use tokio::task::JoinHandle;

use crate::error::{StoreError, WatchError};
use crate::journal::JournalReader;

/// An event: its sequence number and its bytes.
pub type Event = (u64, Arc<[u8]>);

/// Events read from the journal at once.
const REPLAY_EVENTS: usize = 256;
/// Bytes of payload read from the journal at once, about.
const REPLAY_BYTES: usize = 1024 * 1024;

/// A stream of events. Dropping it ends the watch.
///
/// It subscribes before it replays, so nothing falls between the two; a watcher too slow for the
/// live channel is sent back to the journal and misses nothing.
pub struct Watcher {
    live: broadcast::Receiver<Event>,
    reader: JournalReader,
    /// Last event handed out, or the resume token.
    seen: u64,
    /// Events read from the journal, not yet handed out.
    replayed: VecDeque<Event>,
    replaying: bool,
    /// A read under way; kept so that a dropped `next` does not throw its result away.
    reading: Option<JoinHandle<Result<Vec<Event>, StoreError>>>,
}

impl Watcher {
    /// The next event and its sequence number; each is one more than the last. `None` once the
    /// store is closed and everything was handed out.
    ///
    /// Cancel-safe: a dropped call loses nothing. Needs a tokio runtime, whose blocking threads
    /// read the journal.
    ///
    /// # Errors
    /// [`WatchError::Replay`] if the journal cannot be read back, [`WatchError::TooOld`] if the
    /// next event has been removed meanwhile.
    pub async fn next(&mut self) -> Option<Result<Event, WatchError>> {
        loop {
            if let Some(event) = self.replayed.pop_front() {
                self.seen = event.0;
                return Some(Ok(event));
            }
            if self.replaying {
                if let Err(error) = self.replay().await {
                    return Some(Err(error));
                }
                continue;
            }
            match self.live.recv().await {
                Ok((seq, _)) if seq <= self.seen => {}
                Ok((seq, payload)) if seq == self.seen + 1 => {
                    self.seen = seq;
                    return Some(Ok((seq, payload)));
                }
                // A gap cannot be in the channel, but must never be passed on: read it back.
                Ok(_) | Err(RecvError::Lagged(_)) => self.replaying = true,
                Err(RecvError::Closed) if self.seen < self.reader.last_seq() => {
                    self.replaying = true;
                }
                Err(RecvError::Closed) => return None,
            }
        }
    }

    /// The last event handed out, or the token the watch began with: the token to resume from.
    #[must_use]
    pub fn seen(&self) -> u64 {
        self.seen
    }
}

impl Watcher {
    pub(crate) fn try_new(
        live: broadcast::Receiver<Event>,
        reader: JournalReader,
        after_seq: u64,
    ) -> Result<Self, WatchError> {
        let (oldest_seq, last_seq) = (reader.oldest_seq(), reader.last_seq());
        if after_seq > last_seq {
            return Err(WatchError::Ahead {
                after_seq,
                last_seq,
            });
        }
        if after_seq + 1 < oldest_seq {
            return Err(WatchError::TooOld {
                after_seq,
                oldest_seq,
            });
        }
        let replaying = after_seq < last_seq;
        Ok(Self {
            live,
            reader,
            seen: after_seq,
            replayed: VecDeque::new(),
            replaying,
            reading: None,
        })
    }

    /// Reads the next stretch of the journal; an empty one means that live events follow.
    async fn replay(&mut self) -> Result<(), WatchError> {
        let (reader, seen) = (self.reader.clone(), self.seen);
        let oldest_seq = reader.oldest_seq();
        if seen + 1 < oldest_seq {
            return Err(WatchError::TooOld {
                after_seq: seen,
                oldest_seq,
            });
        }
        let reading = self.reading.get_or_insert_with(|| {
            tokio::task::spawn_blocking(move || reader.read_from(seen, REPLAY_EVENTS, REPLAY_BYTES))
        });
        let read = reading.await;
        self.reading = None;
        let events = match read {
            Ok(events) => events.map_err(|error| WatchError::Replay(Box::new(error)))?,
            // The runtime is shutting down, or the read panicked.
            Err(_) => return Err(WatchError::Replay(Box::new(StoreError::Closed))),
        };
        self.replaying = !events.is_empty();
        self.replayed.extend(events);
        Ok(())
    }
}
