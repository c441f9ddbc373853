//! Makes snapshots in the background, from the previous snapshot and the journal alone: the
//! writer is never stopped, and what sled holds is never copied into what must outlive it.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError, mpsc};
use std::thread::{self, JoinHandle};

use tokio::sync::oneshot;

use super::choose::{SNAPSHOT_DIR, list, load_newest, prune};
use super::file;
use crate::error::StoreError;
use crate::journal::JournalReader;
use crate::mem::MemBase;
use crate::tx::Projector;

/// Handle of the background thread.
pub(crate) struct Snapshotter {
    /// Guards only the sender; taken once at close.
    requests: Mutex<Option<mpsc::Sender<Request>>>,
    stop: Arc<AtomicBool>,
    thread: Mutex<Option<JoinHandle<()>>>,
}

struct Request {
    to_seq: u64,
    done: Option<oneshot::Sender<Result<u64, StoreError>>>,
}

struct Builder {
    data_dir: PathBuf,
    reader: JournalReader,
    projector: Arc<dyn Projector>,
    stop: Arc<AtomicBool>,
}

impl Snapshotter {
    pub(crate) fn start(
        data_dir: &Path,
        reader: JournalReader,
        projector: Arc<dyn Projector>,
    ) -> Result<Self, StoreError> {
        let (sender, receiver) = mpsc::channel::<Request>();
        let stop = Arc::new(AtomicBool::new(false));
        let builder = Builder {
            data_dir: data_dir.to_owned(),
            reader,
            projector,
            stop: Arc::clone(&stop),
        };
        let thread = thread::Builder::new()
            .name("snapshots".to_owned())
            .spawn(move || {
                while let Ok(request) = receiver.recv() {
                    let result = builder.build(request.to_seq);
                    if let Err(error) = &result
                        && !matches!(error, StoreError::Closed)
                    {
                        tracing::warn!(to_seq = request.to_seq, %error, "no snapshot was made");
                    }
                    if let Some(done) = request.done {
                        // The caller may have stopped waiting.
                        drop(done.send(result));
                    }
                }
            })
            .map_err(StoreError::io(
                "start a thread for",
                data_dir.join(SNAPSHOT_DIR),
            ))?;
        Ok(Self {
            requests: Mutex::new(Some(sender)),
            stop,
            thread: Mutex::new(Some(thread)),
        })
    }

    /// Asks for a snapshot in the background.
    pub(crate) fn request(&self, to_seq: u64) {
        self.send(Request { to_seq, done: None });
    }

    /// Asks for a snapshot; the receiver gets the sequence number of the newest one afterwards.
    pub(crate) fn request_and_wait(
        &self,
        to_seq: u64,
    ) -> oneshot::Receiver<Result<u64, StoreError>> {
        let (done, receiver) = oneshot::channel();
        self.send(Request {
            to_seq,
            done: Some(done),
        });
        receiver
    }

    /// Stops after the current event; an unfinished snapshot is dropped.
    pub(crate) fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
        self.requests
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        let thread = self
            .thread
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        if let Some(thread) = thread
            && thread.join().is_err()
        {
            tracing::warn!("the snapshot thread had panicked");
        }
    }

    fn send(&self, request: Request) {
        let requests = self.requests.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(requests) = requests.as_ref() {
            // A thread that is gone drops the request; whoever waits is told by the drop.
            drop(requests.send(request));
        }
    }
}

impl Builder {
    /// Builds the snapshot at `to_seq` unless there is one as new; returns the newest one's number.
    fn build(&self, to_seq: u64) -> Result<u64, StoreError> {
        let schema = self.projector.version();
        let previous = load_newest(&self.data_dir, &self.reader, schema)?;
        let base = previous.as_ref().map(|found| found.seq);
        if let Some(base) = base
            && base >= to_seq
        {
            return Ok(base);
        }
        let oldest_seq = self.reader.oldest_seq();
        if base.is_none() && oldest_seq > 1 {
            return Err(StoreError::NoBase { oldest_seq });
        }
        let mut state = previous.map_or_else(MemBase::default, |found| found.state);
        let stopped = || self.stop.load(Ordering::Relaxed);
        let projector = self.projector.as_ref();
        if !state.replay(&self.reader, projector, base.unwrap_or(0), to_seq, &stopped)? {
            return Err(StoreError::Closed);
        }
        let anchor = self.reader.anchor(to_seq)?.unwrap_or(0);
        let dir = self.data_dir.join(SNAPSHOT_DIR);
        file::write(&dir, to_seq, schema, anchor, &state)
            .map_err(StoreError::io("write a snapshot in", &dir))?;
        // Two are kept: the new one and the one it grew from, which was just read whole.
        let second = match base {
            Some(base) => Some(base),
            None => list(&self.data_dir)?
                .into_iter()
                .rev()
                .find(|&seq| seq < to_seq),
        };
        prune(
            &self.data_dir,
            &[Some(to_seq), second]
                .into_iter()
                .flatten()
                .collect::<Vec<_>>(),
        );
        Ok(to_seq)
    }
}
