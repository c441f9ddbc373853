//! The face of the crate: open, execute, read, watch, close.

use std::path::Path;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex, OnceLock, PoisonError, RwLock};
use std::thread::{self, JoinHandle};

use tokio::sync::{broadcast, mpsc, oneshot, watch};

use crate::command::{CommandTx, Commit, Committed};
use crate::config::StoreConfig;
use crate::error::{StoreError, WatchError};
use crate::journal::{Backend, FileBackend, Journal, JournalReader, Opened, sync_dir};
use crate::lock::DirLock;
use crate::projection::{EngineConfig, ProjectionRecovery, Recoverer};
use crate::read::ReadHandle;
use crate::snapshot::{self, Snapshotter};
use crate::stats::{Counters, StoreStats};
use crate::tx::Projector;
use crate::watch::{Event, Watcher};
use crate::writer::{Job, Shared, Task, Writer};

/// Folder of the journal inside the data directory.
pub(crate) const JOURNAL_DIR: &str = "journal";

/// What opening a store found and did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recovery {
    /// First event kept; 1 for a new store.
    pub oldest_seq: u64,
    /// Last event; 0 for a new store.
    pub last_seq: u64,
    /// Segments of the journal.
    pub segments: u64,
    /// Bytes of a torn tail that were cut off; they had never been acknowledged.
    pub truncated_bytes: u64,
    /// What became of the projection.
    pub projection: ProjectionRecovery,
}

/// An open store. Share it behind an [`Arc`]; dropping it closes it.
pub struct Store {
    shared: Arc<Shared>,
    /// `None` once closed. Guards only the handle: cloned out before any await.
    commands: Mutex<Option<mpsc::Sender<Box<dyn Task>>>>,
    live: broadcast::WeakSender<Event>,
    snapshotter: Arc<Snapshotter>,
    /// Never carries a value: its closing says that the writer has ended.
    ended: watch::Receiver<()>,
    thread: Mutex<Option<JoinHandle<()>>>,
}

impl Store {
    /// Opens a data directory, creating it if needed: takes the lock, checks the whole journal,
    /// cuts a torn tail, brings the projection up to date. Blocks while it does.
    ///
    /// # Errors
    /// [`StoreError::Locked`] if it is in use, [`StoreError::Damaged`] if the journal is damaged
    /// before its tail, [`StoreError::JournalMissing`], [`StoreError::NoBase`],
    /// [`StoreError::Project`] if the projector refuses an event of the journal,
    /// [`StoreError::Io`].
    pub fn open(
        data_dir: &Path,
        config: StoreConfig,
        projector: Arc<dyn Projector>,
    ) -> Result<(Self, Recovery), StoreError> {
        let lock = lock_dir(data_dir, &config)?;
        let journal = data_dir.join(JOURNAL_DIR);
        let backend =
            FileBackend::try_new(&journal).map_err(StoreError::io("prepare", &journal))?;
        Self::start(data_dir, config, projector, Arc::new(backend), lock)
    }

    /// As [`Store::open`], with the journal elsewhere than in files.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub fn open_on(
        backend: Arc<dyn Backend>,
        data_dir: &Path,
        config: StoreConfig,
        projector: Arc<dyn Projector>,
    ) -> Result<(Self, Recovery), StoreError> {
        let lock = lock_dir(data_dir, &config)?;
        Self::start(data_dir, config, projector, backend, lock)
    }

    /// Runs a command on the writer thread, after all commands sent before it, and returns once
    /// its events are durable and readable.
    ///
    /// The command decides on the current state and returns a [`Commit`]; its `Err` writes
    /// nothing. It must be quick and must not wait: every other command waits for it. A caller
    /// that stops waiting does not undo a command that has begun.
    ///
    /// # Errors
    /// The outer error is the store's: [`StoreError::Project`], [`StoreError::PayloadTooLarge`] and
    /// [`StoreError::CommandPanicked`] wrote nothing; after [`StoreError::Failed`] and
    /// [`StoreError::Closed`] the outcome shows at the next open. The inner is the command's.
    pub async fn execute<F, R, E>(&self, command: F) -> Result<Result<Committed<R>, E>, StoreError>
    where
        F: FnOnce(&CommandTx<'_>) -> Result<Commit<R>, E> + Send + 'static,
        R: Send + 'static,
        E: Send + 'static,
    {
        let commands = self.sender().ok_or(StoreError::Closed)?;
        let (reply, outcome) = oneshot::channel();
        let job = Job {
            command: Some(command),
            outcome: None,
            reply,
        };
        commands
            .send(Box::new(job))
            .await
            .map_err(|_| self.gone())?;
        drop(commands);
        outcome.await.map_err(|_| self.gone())?
    }

    /// A handle for reading the committed state.
    #[must_use]
    pub fn reader(&self) -> ReadHandle {
        ReadHandle::new(Arc::clone(&self.shared))
    }

    /// Watches all events after `after_seq` (0: from the first): first those already there, then
    /// new ones as they become durable.
    ///
    /// # Errors
    /// [`WatchError::Ahead`] for a token beyond the last event, [`WatchError::TooOld`] if the next
    /// event is no longer kept, [`WatchError::Replay`] if the store is closed.
    pub fn watch(&self, after_seq: u64) -> Result<Watcher, WatchError> {
        let live = self
            .live
            .upgrade()
            .ok_or_else(|| WatchError::Replay(Box::new(StoreError::Closed)))?
            .subscribe();
        Watcher::try_new(live, self.shared.reader.clone(), after_seq)
    }

    /// Up to `limit` events after `after_seq`, oldest first, with their sequence numbers. Blocks
    /// on the disk: call it off the async threads.
    ///
    /// # Errors
    /// [`StoreError::NoBase`] if they are no longer kept, [`StoreError::Damaged`] or
    /// [`StoreError::Io`] if they cannot be read back.
    pub fn read_from(&self, after_seq: u64, limit: usize) -> Result<Vec<Event>, StoreError> {
        self.shared.reader.read_from(after_seq, limit, usize::MAX)
    }

    /// Last event committed; 0 for none.
    #[must_use]
    pub fn last_seq(&self) -> u64 {
        self.shared.reader.last_seq()
    }

    /// Makes a snapshot of the current state in the background and waits for it; returns the
    /// sequence number it holds.
    ///
    /// # Errors
    /// [`StoreError::Io`] if it cannot be written, [`StoreError::Closed`] if the store closed meanwhile.
    pub async fn snapshot_now(&self) -> Result<u64, StoreError> {
        let receiver = self.snapshotter.request_and_wait(self.last_seq());
        receiver.await.map_err(|_| StoreError::Closed)?
    }

    /// Current counters.
    #[must_use]
    pub fn stats(&self) -> StoreStats {
        let counters = &self.shared.counters;
        let queued = self.sender().map_or(0, |commands| {
            commands.max_capacity().saturating_sub(commands.capacity()) as u64
        });
        // The journal first: what it shows, the projection holds already. The other way
        // round, a change in between would look as if the projection lagged.
        let last_seq = self.last_seq();
        StoreStats {
            oldest_seq: self.shared.reader.oldest_seq(),
            last_seq,
            applied_seq: self.reader().applied_seq().unwrap_or(last_seq),
            segments: self.shared.reader.segments() as u64,
            commands: counters.commands.load(Ordering::Relaxed),
            records: counters.records.load(Ordering::Relaxed),
            syncs: counters.syncs.load(Ordering::Relaxed),
            last_sync_us: counters.last_sync_us.load(Ordering::Relaxed),
            max_sync_us: counters.max_sync_us.load(Ordering::Relaxed),
            queued,
            watchers: self
                .live
                .upgrade()
                .map_or(0, |live| live.receiver_count() as u64),
            failed: self.shared.failed.get().is_some(),
        }
    }

    /// Why the store is read-only; `None` while it takes commands, and once it was closed.
    #[must_use]
    pub fn failure(&self) -> Option<Arc<str>> {
        let failed = self.shared.failed.get().cloned();
        failed.or_else(|| {
            // Not asked to end, and yet gone: it panicked.
            let ended = self.sender().is_some() && self.ended.has_changed().is_err();
            ended.then(|| Arc::from("the writer thread has ended"))
        })
    }

    /// Bytes of the journal's segments. Blocks on the disk: call it off the async threads.
    ///
    /// # Errors
    /// [`StoreError::Io`] if a segment cannot be looked at.
    pub fn journal_bytes(&self) -> Result<u64, StoreError> {
        self.shared.reader.bytes()
    }

    /// Refuses new commands, commits those already sent, ends watches after their last event,
    /// flushes and closes the projection, releases the lock; returns when all is done.
    pub async fn close(&self) {
        self.refuse_commands();
        let mut ended = self.ended.clone();
        // Never changes; the error is the closing it waits for.
        drop(ended.changed().await);
    }
}

impl Drop for Store {
    fn drop(&mut self) {
        self.refuse_commands();
        let thread = self
            .thread
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        if let Some(thread) = thread
            && thread.join().is_err()
        {
            tracing::error!("the writer thread had panicked");
        }
    }
}

impl Store {
    fn start(
        data_dir: &Path,
        config: StoreConfig,
        projector: Arc<dyn Projector>,
        backend: Arc<dyn Backend>,
        lock: DirLock,
    ) -> Result<(Self, Recovery), StoreError> {
        let Opened {
            journal,
            truncated_bytes,
        } = open_journal(data_dir, backend, config.segment_bytes)?;
        let reader = journal.reader().clone();
        snapshot::set_ahead_aside(data_dir, reader.last_seq())?;
        let recoverer = Recoverer {
            data_dir,
            reader: &reader,
            projector: projector.as_ref(),
            config: EngineConfig::from(&config),
        };
        let (engine, projection) = recoverer.recover()?;
        let recovery = recovery(&reader, truncated_bytes, projection);

        let snapshotter = Arc::new(Snapshotter::start(
            data_dir,
            reader.clone(),
            Arc::clone(&projector),
        )?);
        if config.snapshots
            && let Some(sealed) = reader.last_sealed_seq()
        {
            snapshotter.request(sealed);
        }
        let shared = Arc::new(Shared {
            reader,
            engine: RwLock::new(Some(engine)),
            failed: OnceLock::new(),
            counters: Counters::default(),
        });
        let (commands, queue) = mpsc::channel(config.queue_commands.max(1));
        let (live, _) = broadcast::channel(config.watch_events.max(1));
        let (ending, ended) = watch::channel(());
        let weak = live.downgrade();
        let writer = Writer {
            shared: Arc::clone(&shared),
            journal,
            projector,
            snapshotter: Arc::clone(&snapshotter),
            config,
            live,
            lock,
        };
        let thread = thread::Builder::new()
            .name("journal".to_owned())
            .spawn(move || {
                writer.run(queue);
                drop(ending);
            })
            .map_err(StoreError::io("start a thread for", data_dir))?;
        let store = Self {
            shared,
            commands: Mutex::new(Some(commands)),
            live: weak,
            snapshotter,
            ended,
            thread: Mutex::new(Some(thread)),
        };
        Ok((store, recovery))
    }

    #[cfg(test)]
    pub(crate) fn shared_for_test(&self) -> Arc<Shared> {
        Arc::clone(&self.shared)
    }

    fn sender(&self) -> Option<mpsc::Sender<Box<dyn Task>>> {
        self.commands
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    fn refuse_commands(&self) {
        self.commands
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
    }

    /// Why the writer no longer answers.
    fn gone(&self) -> StoreError {
        match self.failure() {
            Some(reason) => StoreError::Failed { reason },
            None => StoreError::Closed,
        }
    }
}

/// Takes the lock of a data directory, creating the directory if needed.
pub(crate) fn lock_dir(data_dir: &Path, config: &StoreConfig) -> Result<DirLock, StoreError> {
    if !data_dir.exists() {
        std::fs::create_dir_all(data_dir).map_err(StoreError::io("create", data_dir))?;
        if let Some(parent) = data_dir.parent() {
            sync_dir(parent).map_err(StoreError::io("sync", parent))?;
        }
    }
    DirLock::exclusive(data_dir, &config.lock_note)
}

/// Opens the journal; refuses a missing one, and adds to a damage what could be restored from.
pub(crate) fn open_journal(
    data_dir: &Path,
    backend: Arc<dyn Backend>,
    segment_bytes: u64,
) -> Result<Opened, StoreError> {
    let path = data_dir.join(JOURNAL_DIR);
    let segments = backend.segments().map_err(StoreError::io("list", &path))?;
    if segments.is_empty()
        && let Some(snapshot_seq) = snapshot::newest_intact(data_dir)
    {
        return Err(StoreError::JournalMissing {
            journal: path,
            snapshot_seq,
        });
    }
    Journal::open(backend, segment_bytes).map_err(|error| match error {
        StoreError::Damaged { damage, .. } => StoreError::Damaged {
            damage,
            last_snapshot_seq: snapshot::newest_intact(data_dir),
        },
        other => other,
    })
}

pub(crate) fn recovery(
    reader: &JournalReader,
    truncated_bytes: u64,
    projection: ProjectionRecovery,
) -> Recovery {
    Recovery {
        oldest_seq: reader.oldest_seq(),
        last_seq: reader.last_seq(),
        segments: reader.segments() as u64,
        truncated_bytes,
        projection,
    }
}

impl From<&StoreConfig> for EngineConfig {
    fn from(config: &StoreConfig) -> Self {
        Self {
            cache_bytes: config.projection_cache_bytes,
            limit: config.projection_limit,
        }
    }
}
