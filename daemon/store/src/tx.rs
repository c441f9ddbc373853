//! The key-value view that commands read and projectors write: committed state, below it the
//! writes of earlier commands of the same batch, on top the writer's own.

use std::cell::RefCell;
use std::collections::BTreeMap;

use crate::error::{ProjectError, StoreError};

/// A key and its value.
pub type Entry = (Vec<u8>, Vec<u8>);

/// Turns events into key-value writes.
///
/// Must be deterministic: no clock, no randomness, no state of its own. The same journal always
/// gives the same entries, on any machine; the store proves it by rebuilding.
pub trait Projector: Send + Sync + 'static {
    /// Version of the written keys and values. A change makes the store rebuild the projection.
    fn version(&self) -> u32;

    /// Applies one event.
    ///
    /// # Errors
    /// A [`ProjectError`] refuses the event: a command that returned it fails and nothing of it is
    /// written. During replay it stops the store from opening, so an event that was once
    /// accepted must be accepted for ever.
    fn apply(&self, seq: u64, payload: &[u8], tx: &mut Tx<'_>) -> Result<(), ProjectError>;
}

/// Reading a key-value state. Implemented by [`Tx`], [`CommandTx`](crate::CommandTx) and
/// [`View`](crate::View).
///
/// A failure of the medium does not show here: it is remembered, reads give nothing from then
/// on, and whoever opened the view gets the error instead of a result.
pub trait KvRead {
    /// The value of a key.
    fn get(&self, key: &[u8]) -> Option<Vec<u8>>;

    /// Entries whose key starts with `prefix`, in key order, from the key `from` on (inclusive;
    /// `None`: from the first), at most `limit`.
    fn scan_prefix(&self, prefix: &[u8], from: Option<&[u8]>, limit: usize) -> Vec<Entry>;

    /// As [`scan_prefix`](Self::scan_prefix), without a limit.
    fn scan_all(&self, prefix: &[u8]) -> Vec<Entry> {
        self.scan_prefix(prefix, None, usize::MAX)
    }
}

/// Committed state under an overlay.
pub(crate) trait Base {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError>;

    /// Entries from `from` on (inclusive) whose key starts with `prefix`, at most `limit`.
    fn scan(&self, prefix: &[u8], from: &[u8], limit: usize) -> Result<Vec<Entry>, StoreError>;
}

/// A value put, or `None` for a removal.
type Written = Option<Vec<u8>>;

/// Writes not yet committed, with enough memory to undo the latest of them.
#[derive(Default)]
pub(crate) struct Overlay {
    writes: BTreeMap<Vec<u8>, Written>,
    /// What stood in `writes` before each write since the last savepoint.
    undo: Vec<(Vec<u8>, Option<Written>)>,
}

/// A key-value state being written to.
pub struct Tx<'a> {
    base: &'a dyn Base,
    overlay: &'a mut Overlay,
    fault: RefCell<Option<StoreError>>,
}

impl Tx<'_> {
    /// Sets a key's value.
    pub fn put(&mut self, key: impl Into<Vec<u8>>, value: impl Into<Vec<u8>>) {
        self.overlay.write(key.into(), Some(value.into()));
    }

    /// Removes a key, present or not.
    pub fn delete(&mut self, key: impl Into<Vec<u8>>) {
        self.overlay.write(key.into(), None);
    }
}

impl KvRead for Tx<'_> {
    fn get(&self, key: &[u8]) -> Option<Vec<u8>> {
        match self.overlay.writes.get(key) {
            Some(written) => written.clone(),
            None => self.settle(self.base.get(key)),
        }
    }

    fn scan_prefix(&self, prefix: &[u8], from: Option<&[u8]>, limit: usize) -> Vec<Entry> {
        let merged = self
            .overlay
            .scan_over(self.base, prefix, from.unwrap_or(prefix), limit);
        self.settle(merged)
    }
}

impl<'a> Tx<'a> {
    pub(crate) fn new(base: &'a dyn Base, overlay: &'a mut Overlay) -> Self {
        Self {
            base,
            overlay,
            fault: RefCell::new(None),
        }
    }

    /// The first failure of the medium, if a read met one.
    pub(crate) fn into_fault(self) -> Option<StoreError> {
        self.fault.into_inner()
    }

    fn settle<T: Default>(&self, read: Result<T, StoreError>) -> T {
        read.unwrap_or_else(|error| {
            self.fault.borrow_mut().get_or_insert(error);
            T::default()
        })
    }
}

impl Overlay {
    /// All writes in key order; `None` is a removal.
    pub(crate) fn writes(&self) -> impl Iterator<Item = (&[u8], Option<&[u8]>)> {
        self.writes
            .iter()
            .map(|(key, value)| (key.as_slice(), value.as_deref()))
    }

    pub(crate) fn into_writes(self) -> BTreeMap<Vec<u8>, Written> {
        self.writes
    }

    /// Forgets how to undo what was written so far.
    pub(crate) fn savepoint(&mut self) {
        self.undo.clear();
    }

    /// Undoes everything since the last savepoint.
    pub(crate) fn roll_back(&mut self) {
        while let Some((key, before)) = self.undo.pop() {
            match before {
                Some(value) => self.writes.insert(key, value),
                None => self.writes.remove(&key),
            };
        }
    }

    fn write(&mut self, key: Vec<u8>, value: Written) {
        let before = self.writes.insert(key.clone(), value);
        self.undo.push((key, before));
    }

    fn scan_over(
        &self,
        base: &dyn Base,
        prefix: &[u8],
        from: &[u8],
        limit: usize,
    ) -> Result<Vec<Entry>, StoreError> {
        const CHUNK: usize = 256;
        let mut cursor = from.max(prefix).to_vec();
        let mut out = Vec::new();
        while out.len() < limit {
            // Removals in the overlay may eat entries of the base, hence in chunks until full.
            let want = (limit - out.len()).clamp(1, CHUNK);
            let below = base.scan(prefix, &cursor, want)?;
            let exhausted = below.len() < want;
            let last = below.last().map(|(key, _)| key.clone());
            let mut merged: BTreeMap<Vec<u8>, Written> = below
                .into_iter()
                .map(|(key, value)| (key, Some(value)))
                .collect();
            let above = self
                .writes
                .range(cursor.clone()..)
                .take_while(|(key, _)| key.starts_with(prefix))
                .take_while(|(key, _)| exhausted || last.as_ref().is_some_and(|last| *key <= last));
            for (key, value) in above {
                merged.insert(key.clone(), value.clone());
            }
            let room = limit - out.len();
            out.extend(
                merged
                    .into_iter()
                    .filter_map(|(key, value)| Some((key, value?)))
                    .take(room),
            );
            match last {
                Some(mut next) if !exhausted => {
                    next.push(0);
                    cursor = next;
                }
                _ => break,
            }
        }
        Ok(out)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::mem::MemBase;

    fn key() -> impl Strategy<Value = Vec<u8>> {
        prop::collection::vec(0_u8..3, 0..4)
    }

    proptest! {
        /// The overlay answers as an ordinary map does to which all writes were applied.
        #[test]
        fn reads_see_base_and_writes(
            base in prop::collection::btree_map(key(), any::<[u8; 2]>(), 0..600),
            writes in prop::collection::vec((key(), prop::option::of(any::<[u8; 2]>())), 0..30),
            undone in prop::collection::vec((key(), prop::option::of(any::<[u8; 2]>())), 0..10),
            prefix in key(), from in prop::option::of(key()), limit in 0_usize..20,
        ) {
            let mut model: BTreeMap<Vec<u8>, Vec<u8>> =
                base.into_iter().map(|(key, value)| (key, value.to_vec())).collect();
            let mem = MemBase::from(model.clone());
            let mut overlay = Overlay::default();
            for (key, value) in &writes {
                overlay.write(key.clone(), value.map(|value| value.to_vec()));
                match value {
                    Some(value) => model.insert(key.clone(), value.to_vec()),
                    None => model.remove(key),
                };
            }
            overlay.savepoint();
            for (key, value) in undone {
                overlay.write(key, value.map(|value| value.to_vec()));
            }
            overlay.roll_back();
            let tx = Tx::new(&mem, &mut overlay);
            let start = from.clone().unwrap_or_default();
            let expected: Vec<Entry> = model.iter()
                .filter(|(key, _)| key.starts_with(&prefix) && **key >= start)
                .take(limit).map(|(key, value)| (key.clone(), value.clone())).collect();
            prop_assert_eq!(tx.scan_prefix(&prefix, from.as_deref(), limit), expected);
            prop_assert_eq!(tx.get(&prefix), model.get(&prefix).cloned());
            prop_assert!(tx.into_fault().is_none());
        }
    }

    #[test]
    fn a_scan_crosses_chunks_of_removed_entries() {
        let entries: BTreeMap<Vec<u8>, Vec<u8>> = (0..2000_u16)
            .map(|n| (n.to_be_bytes().to_vec(), vec![1]))
            .collect();
        let mem = MemBase::from(entries);
        let mut overlay = Overlay::default();
        let mut tx = Tx::new(&mem, &mut overlay);
        for n in 0..1990_u16 {
            tx.delete(n.to_be_bytes());
        }
        assert_eq!(tx.scan_all(b"").len(), 10);
        assert_eq!(tx.scan_prefix(b"", None, 3).len(), 3);
    }
}
