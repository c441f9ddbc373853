//! What a command sees while it decides, and what it hands back.

use std::ops::Range;

use crate::tx::{Entry, KvRead, Tx};

/// The state a command decides on: everything committed, and everything that earlier commands of
/// the same batch will commit with it.
///
/// A command only reads. What it wants changed it returns as events in a [`Commit`], so that
/// the journal alone can rebuild every entry.
pub struct CommandTx<'a> {
    tx: Tx<'a>,
    next_seq: u64,
}

/// A command's decision: the events to append, and its reply.
pub struct Commit<R> {
    pub(crate) payloads: Vec<Vec<u8>>,
    pub(crate) reply: Reply<R>,
}

pub(crate) enum Reply<R> {
    Ready(R),
    After(Box<dyn FnOnce(&CommandTx<'_>) -> R + Send>),
}

/// A committed command's reply.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Committed<R> {
    /// What the command returned.
    pub reply: R,
    /// Sequence numbers of its events, empty (at the next free number) if it wrote none.
    pub seqs: Range<u64>,
}

impl CommandTx<'_> {
    /// Sequence number that the first event of this command will get; the following ones count on.
    #[must_use]
    pub fn next_seq(&self) -> u64 {
        self.next_seq
    }
}

impl KvRead for CommandTx<'_> {
    fn get(&self, key: &[u8]) -> Option<Vec<u8>> {
        self.tx.get(key)
    }

    fn scan_prefix(&self, prefix: &[u8], from: Option<&[u8]>, limit: usize) -> Vec<Entry> {
        self.tx.scan_prefix(prefix, from, limit)
    }
}

impl<'a> CommandTx<'a> {
    pub(crate) fn new(tx: Tx<'a>, next_seq: u64) -> Self {
        Self { tx, next_seq }
    }

    pub(crate) fn into_tx(self) -> Tx<'a> {
        self.tx
    }
}

impl<R> Commit<R> {
    /// Appends `payloads` (all or none of them) and replies `reply`.
    #[must_use]
    pub fn new(payloads: Vec<Vec<u8>>, reply: R) -> Self {
        Self {
            payloads,
            reply: Reply::Ready(reply),
        }
    }

    /// Appends nothing and replies `reply`, once everything it was decided on is durable.
    #[must_use]
    pub fn nothing(reply: R) -> Self {
        Self::new(Vec::new(), reply)
    }

    /// Appends `payloads` and makes the reply from the state that the projector leaves after them.
    #[must_use]
    pub fn and_then_read(
        payloads: Vec<Vec<u8>>,
        reply: impl FnOnce(&CommandTx<'_>) -> R + Send + 'static,
    ) -> Self {
        Self {
            payloads,
            reply: Reply::After(Box::new(reply)),
        }
    }
}
