//! A key-value state in memory: under a snapshot being built, and for verification.

use std::collections::BTreeMap;
use std::ops::Bound;
use std::panic::{AssertUnwindSafe, catch_unwind};

use crate::checksum::Content;
use crate::error::{ProjectError, StoreError, panic_text};
use crate::journal::JournalReader;
use crate::tx::{Base, Entry, Overlay, Projector, Tx};

/// An in-memory state.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub(crate) struct MemBase {
    entries: BTreeMap<Vec<u8>, Vec<u8>>,
}

impl From<BTreeMap<Vec<u8>, Vec<u8>>> for MemBase {
    fn from(entries: BTreeMap<Vec<u8>, Vec<u8>>) -> Self {
        Self { entries }
    }
}

impl Base for MemBase {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        Ok(self.entries.get(key).cloned())
    }

    fn scan(&self, prefix: &[u8], from: &[u8], limit: usize) -> Result<Vec<Entry>, StoreError> {
        Ok(self
            .entries
            .range::<[u8], _>((Bound::Included(from.max(prefix)), Bound::Unbounded))
            .take_while(|(key, _)| key.starts_with(prefix))
            .take(limit)
            .map(|(key, value)| (key.clone(), value.clone()))
            .collect())
    }
}

impl MemBase {
    pub(crate) fn entries(&self) -> impl Iterator<Item = (&[u8], &[u8])> {
        self.entries
            .iter()
            .map(|(key, value)| (key.as_slice(), value.as_slice()))
    }

    pub(crate) fn insert(&mut self, key: Vec<u8>, value: Vec<u8>) {
        self.entries.insert(key, value);
    }

    pub(crate) fn content(&self) -> Content {
        let mut content = Content::default();
        for (key, value) in self.entries() {
            content.add(key, value);
        }
        content
    }

    /// Applies the events after `after_seq` up to `to_seq`. Stops early, and says so with
    /// `false`, when `stop` does.
    pub(crate) fn replay(
        &mut self,
        reader: &JournalReader,
        projector: &dyn Projector,
        after_seq: u64,
        to_seq: u64,
        stop: &dyn Fn() -> bool,
    ) -> Result<bool, StoreError> {
        let mut finished = true;
        reader.for_each(after_seq, to_seq, |seq, payload, _| {
            let mut overlay = Overlay::default();
            apply(projector, seq, payload, self, &mut overlay)?;
            for (key, value) in overlay.into_writes() {
                match value {
                    Some(value) => self.entries.insert(key, value),
                    None => self.entries.remove(&key),
                };
            }
            finished = !stop();
            Ok(finished)
        })?;
        Ok(finished)
    }
}

/// Applies one event through a projector. A refusal, a panic and a failing medium all become
/// errors; the overlay may then hold part of the event's writes.
pub(crate) fn apply(
    projector: &dyn Projector,
    seq: u64,
    payload: &[u8],
    base: &dyn Base,
    overlay: &mut Overlay,
) -> Result<(), StoreError> {
    let mut tx = Tx::new(base, overlay);
    let applied = catch_unwind(AssertUnwindSafe(|| projector.apply(seq, payload, &mut tx)))
        .unwrap_or_else(|panic| Err(ProjectError::panicked(&panic_text(panic.as_ref()))));
    if let Some(fault) = tx.into_fault() {
        return Err(fault);
    }
    applied.map_err(|source| StoreError::Project { seq, source })
}
