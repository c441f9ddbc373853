//! Counters of a running store.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// A snapshot of a store's counters. Counts run from the store's opening.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct StoreStats {
    /// First event kept in the journal.
    pub oldest_seq: u64,
    /// Last event committed; 0 for none.
    pub last_seq: u64,
    /// Last event in the projection. Behind `last_seq` only after a failure, for what is durable
    /// is told of once it is applied; as `last_seq` once closed.
    pub applied_seq: u64,
    /// Segments of the journal.
    pub segments: u64,
    /// Commands answered, refused ones included.
    pub commands: u64,
    /// Events appended.
    pub records: u64,
    /// Appends made durable, each with one sync.
    pub syncs: u64,
    /// Duration of the last append and sync, in microseconds.
    pub last_sync_us: u64,
    /// Longest append and sync, in microseconds.
    pub max_sync_us: u64,
    /// Commands waiting for the writer now.
    pub queued: u64,
    /// Watchers now.
    pub watchers: u64,
    /// The store is read-only after a failure.
    pub failed: bool,
}

/// The counters themselves. Each stands alone, so relaxed ordering is enough.
#[derive(Debug, Default)]
pub(crate) struct Counters {
    pub(crate) commands: AtomicU64,
    pub(crate) records: AtomicU64,
    pub(crate) syncs: AtomicU64,
    pub(crate) last_sync_us: AtomicU64,
    pub(crate) max_sync_us: AtomicU64,
}

impl Counters {
    pub(crate) fn synced(&self, records: u64, took: Duration) {
        let us = u64::try_from(took.as_micros()).unwrap_or(u64::MAX);
        self.syncs.fetch_add(1, Ordering::Relaxed);
        self.records.fetch_add(records, Ordering::Relaxed);
        self.last_sync_us.store(us, Ordering::Relaxed);
        self.max_sync_us.fetch_max(us, Ordering::Relaxed);
    }
}
