//! The one thread that writes. It takes all commands that wait, runs each on the state that the
//! ones before it leave, appends their events, syncs once, updates the projection, and only
//! then answers. Nothing is acknowledged before it is durable.

use std::error::Error;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::Ordering;
use std::sync::{Arc, OnceLock, PoisonError, RwLock};
use std::time::Instant;

use tokio::sync::{broadcast, mpsc, oneshot};

use crate::command::{CommandTx, Commit, Committed, Reply};
use crate::config::StoreConfig;
use crate::error::{StoreError, panic_text};
use crate::journal::{FrameBatch, Journal, JournalReader, MAX_PAYLOAD_LEN};
use crate::lock::DirLock;
use crate::mem::apply;
use crate::projection::Engine;
use crate::snapshot::Snapshotter;
use crate::stats::Counters;
use crate::tx::{Overlay, Projector, Tx};
use crate::watch::Event;

/// What writer and readers share.
pub(crate) struct Shared {
    pub(crate) reader: JournalReader,
    /// The projection; `None` once closed. Held for writing only while one batch is applied, for
    /// reading during one view; no await happens inside.
    pub(crate) engine: RwLock<Option<Engine>>,
    /// The first failure; from then on the store is read-only.
    pub(crate) failed: OnceLock<Arc<str>>,
    pub(crate) counters: Counters,
}

/// The writer's belongings.
pub(crate) struct Writer {
    pub(crate) shared: Arc<Shared>,
    pub(crate) journal: Journal,
    pub(crate) projector: Arc<dyn Projector>,
    pub(crate) config: StoreConfig,
    pub(crate) snapshotter: Arc<Snapshotter>,
    pub(crate) live: broadcast::Sender<Event>,
    pub(crate) lock: DirLock,
}

/// A command on its way, its types forgotten.
pub(crate) trait Task: Send {
    fn run(&mut self, batch: &mut Batch<'_>);
    /// `Err` carries the reason of the failure that made the store read-only.
    fn finish(self: Box<Self>, durable: Result<(), Arc<str>>);
}

/// Outcome of a command: the store's failure, the command's refusal, or the reply.
pub(crate) type Outcome<R, E> = Result<Result<Committed<R>, E>, StoreError>;

/// A command with its types.
pub(crate) struct Job<F, R, E> {
    pub(crate) command: Option<F>,
    pub(crate) outcome: Option<Outcome<R, E>>,
    pub(crate) reply: oneshot::Sender<Outcome<R, E>>,
}

/// Commands being gathered for one sync.
pub(crate) struct Batch<'a> {
    engine: &'a Engine,
    projector: &'a dyn Projector,
    overlay: Overlay,
    frames: FrameBatch,
    events: Vec<Event>,
    next_seq: u64,
    /// The projection failed to read: nothing of this batch can be trusted.
    fault: Option<StoreError>,
}

impl Writer {
    /// Serves until all senders are gone, then closes everything.
    pub(crate) fn run(mut self, mut commands: mpsc::Receiver<Box<dyn Task>>) {
        while let Some(first) = commands.blocking_recv() {
            self.serve(first, &mut commands);
        }
        self.close();
    }

    fn serve(&mut self, first: Box<dyn Task>, commands: &mut mpsc::Receiver<Box<dyn Task>>) {
        if let Some(reason) = self.shared.failed.get() {
            first.finish(Err(Arc::clone(reason)));
            return;
        }
        let mut tasks = Vec::new();
        let result = self.commit(first, commands, &mut tasks);
        let answered = tasks.len() as u64;
        self.shared
            .counters
            .commands
            .fetch_add(answered, Ordering::Relaxed);
        let durable = result.map_err(|error| self.fail(&error));
        for task in tasks {
            task.finish(durable.clone());
        }
    }

    /// Gathers, appends, syncs, projects. `Err`: nothing may be acknowledged.
    fn commit(
        &mut self,
        first: Box<dyn Task>,
        commands: &mut mpsc::Receiver<Box<dyn Task>>,
        tasks: &mut Vec<Box<dyn Task>>,
    ) -> Result<(), StoreError> {
        let shared = Arc::clone(&self.shared);
        let guard = shared.engine.read().unwrap_or_else(PoisonError::into_inner);
        let engine = guard.as_ref().ok_or(StoreError::Closed)?;
        let projector = Arc::clone(&self.projector);
        let mut batch = Batch::new(engine, projector.as_ref(), self.journal.next_seq());
        let mut next = Some(first);
        while let Some(mut task) = next {
            task.run(&mut batch);
            tasks.push(task);
            if let Some(fault) = batch.fault.take() {
                return Err(fault);
            }
            let full = tasks.len() >= self.config.batch_commands.max(1)
                || batch.frames.len() >= self.config.batch_bytes;
            next = if full { None } else { commands.try_recv().ok() };
        }
        let Some(anchor) = batch.frames.last_crc() else {
            return Ok(()); // Only reads and refusals, all on committed state.
        };
        let Batch {
            overlay,
            frames,
            events,
            next_seq,
            ..
        } = batch;
        let last_seq = next_seq - 1;
        // Reads the projection, so it comes before the point of no return.
        let prepared = engine.prepare(&overlay, last_seq, anchor)?;
        drop(guard);

        let started = Instant::now();
        let sealed = self.journal.commit(&frames)?;
        let took = started.elapsed();
        shared.counters.synced(frames.records(), took);
        if let Some(hook) = &self.config.on_sync {
            hook.call(took);
        }

        let mut guard = shared
            .engine
            .write()
            .unwrap_or_else(PoisonError::into_inner);
        let projected = guard
            .as_mut()
            .map_or(Err(StoreError::Closed), |e| e.apply(prepared));
        drop(guard);
        if let Err(error) = projected {
            // The events are durable, so their callers are told yes; the next start replays them.
            // But no later command may decide on a state that lacks them.
            self.fail(&error);
        }
        shared.reader.publish(last_seq);
        for event in events {
            // Nobody may be watching.
            drop(self.live.send(event));
        }
        if let Some(sealed) = sealed
            && self.config.snapshots
        {
            self.snapshotter.request(sealed);
        }
        Ok(())
    }

    /// Makes the store read-only; the first reason stays.
    fn fail(&self, error: &StoreError) -> Arc<str> {
        let mut text = error.to_string();
        let mut cause = error.source();
        while let Some(inner) = cause {
            text = format!("{text}: {inner}");
            cause = inner.source();
        }
        // Before the log, which may fail as well when the disk is full.
        let first = self.shared.failed.get_or_init(|| Arc::from(text.as_str()));
        tracing::error!(reason = text, "the store is read-only from now on");
        Arc::clone(first)
    }

    fn close(self) {
        self.snapshotter.stop();
        let Self {
            shared,
            config,
            live,
            lock,
            ..
        } = self;
        let engine = shared
            .engine
            .write()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        if let Some(engine) = engine
            && let Err(error) = engine.close(config.projection_limit)
        {
            tracing::warn!(%error, "the projection did not close well; the next start checks it");
        }
        // Ends the watches.
        drop(live);
        // Last: whoever opens the directory next must find it at rest.
        drop(lock);
    }
}

impl<F, R, E> Task for Job<F, R, E>
where
    F: FnOnce(&CommandTx<'_>) -> Result<Commit<R>, E> + Send,
    R: Send,
    E: Send,
{
    fn run(&mut self, batch: &mut Batch<'_>) {
        // A caller who left before the start wants nothing done.
        if self.reply.is_closed() {
            return;
        }
        if let Some(command) = self.command.take() {
            self.outcome = Some(batch.execute(command));
        }
    }

    fn finish(self: Box<Self>, durable: Result<(), Arc<str>>) {
        let outcome = match durable {
            Ok(()) => self.outcome,
            Err(reason) => Some(Err(StoreError::Failed { reason })),
        };
        if let Some(outcome) = outcome {
            // The caller may have left meanwhile; what is durable stays.
            drop(self.reply.send(outcome));
        }
    }
}

impl<'a> Batch<'a> {
    fn new(engine: &'a Engine, projector: &'a dyn Projector, next_seq: u64) -> Self {
        let (overlay, frames, events) = (Overlay::default(), FrameBatch::default(), Vec::new());
        Self {
            engine,
            projector,
            overlay,
            frames,
            events,
            next_seq,
            fault: None,
        }
    }

    /// Runs one command; unless it commits, it leaves no trace in the batch.
    fn execute<F, R, E>(&mut self, command: F) -> Outcome<R, E>
    where
        F: FnOnce(&CommandTx<'_>) -> Result<Commit<R>, E>,
    {
        self.overlay.savepoint();
        let (mark, events, first_seq) = (self.frames.mark(), self.events.len(), self.next_seq);
        let outcome =
            catch_unwind(AssertUnwindSafe(|| self.attempt(command))).unwrap_or_else(|panic| {
                Err(StoreError::CommandPanicked {
                    message: panic_text(panic.as_ref()),
                })
            });
        if !matches!(outcome, Ok(Ok(_))) {
            self.overlay.roll_back();
            self.frames.roll_back(mark);
            self.events.truncate(events);
            self.next_seq = first_seq;
        }
        match outcome {
            // Not the command's doing: the whole store is affected.
            Err(StoreError::Projection { action, reason }) => {
                self.fault = Some(StoreError::Projection {
                    action,
                    reason: reason.clone(),
                });
                Err(StoreError::Projection { action, reason })
            }
            other => other,
        }
    }

    fn attempt<F, R, E>(&mut self, command: F) -> Outcome<R, E>
    where
        F: FnOnce(&CommandTx<'_>) -> Result<Commit<R>, E>,
    {
        let first_seq = self.next_seq;
        let decided = self.with_tx(|tx| command(tx))?;
        let Commit { payloads, reply } = match decided {
            Ok(commit) => commit,
            Err(refusal) => return Ok(Err(refusal)),
        };
        let count = payloads.len();
        for (at, payload) in payloads.into_iter().enumerate() {
            if payload.len() > MAX_PAYLOAD_LEN {
                let (len, max) = (payload.len(), MAX_PAYLOAD_LEN);
                return Err(StoreError::PayloadTooLarge { len, max });
            }
            let seq = self.next_seq;
            apply(
                self.projector,
                seq,
                &payload,
                self.engine,
                &mut self.overlay,
            )?;
            self.frames.push(seq, &payload, at + 1 < count);
            self.events.push((seq, Arc::from(payload)));
            self.next_seq += 1;
        }
        let reply = match reply {
            Reply::Ready(reply) => reply,
            Reply::After(read) => self.with_tx(|tx| read(tx))?,
        };
        Ok(Ok(Committed {
            reply,
            seqs: first_seq..self.next_seq,
        }))
    }

    fn with_tx<T>(&mut self, work: impl FnOnce(&CommandTx<'_>) -> T) -> Result<T, StoreError> {
        let tx = CommandTx::new(Tx::new(self.engine, &mut self.overlay), self.next_seq);
        let result = work(&tx);
        match tx.into_tx().into_fault() {
            Some(fault) => Err(fault),
            None => Ok(result),
        }
    }
}
