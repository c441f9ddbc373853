//! What a store can be told at open.

use std::fmt;
use std::sync::Arc;
use std::time::Duration;

/// Settings of a store. `Default` suits a workshop's daemon.
#[derive(Debug, Clone)]
pub struct StoreConfig {
    /// A segment is sealed before it would grow beyond this many bytes; at least one batch goes
    /// into each. Default 16 MiB.
    pub segment_bytes: u64,
    /// Commands that may wait for the writer before callers wait too. From 1; default 1024.
    pub queue_commands: usize,
    /// Commands committed with one sync at most. From 1; default 1024.
    pub batch_commands: usize,
    /// Bytes of events after which a batch takes no further command. Default 4 MiB.
    pub batch_bytes: usize,
    /// Events a watcher may lag behind before it re-reads the journal. From 1; default 1024.
    pub watch_events: usize,
    /// Build a snapshot whenever a segment is sealed. Default true.
    pub snapshots: bool,
    /// How long the projection may take to open or close before it is set aside. Default 60 s.
    pub projection_limit: Duration,
    /// Page cache of the projection in bytes. Default 64 MiB.
    pub projection_cache_bytes: u64,
    /// One line for the lock file beside the process id, such as the daemon's start time.
    pub lock_note: String,
    /// Told of every append that was made durable. Default none.
    pub on_sync: Option<SyncHook>,
}

/// Called on the writer thread with how long an append and its sync took. It must be quick and
/// must not wait: every caller waits for it.
#[derive(Clone)]
pub struct SyncHook(Arc<dyn Fn(Duration) + Send + Sync>);

impl SyncHook {
    /// A hook that does this.
    pub fn new(call: impl Fn(Duration) + Send + Sync + 'static) -> Self {
        Self(Arc::new(call))
    }

    pub(crate) fn call(&self, took: Duration) {
        (self.0)(took);
    }
}

impl fmt::Debug for SyncHook {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SyncHook")
    }
}

impl Default for StoreConfig {
    fn default() -> Self {
        Self {
            segment_bytes: 16 * 1024 * 1024,
            queue_commands: 1024,
            batch_commands: 1024,
            batch_bytes: 4 * 1024 * 1024,
            watch_events: 1024,
            snapshots: true,
            projection_limit: Duration::from_secs(60),
            projection_cache_bytes: 64 * 1024 * 1024,
            lock_note: String::new(),
            on_sync: None,
        }
    }
}
