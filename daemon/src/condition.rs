//! How the daemon itself is, looked at when somebody asks. Nothing is kept from
//! one time to the next but what the start found.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::tz::TimeZone;
use lamella_proto::v1;
use lamella_store::{Recovery, Store};

use crate::config::Listen;
use crate::ledger::Ledger;
use crate::outbox::{Outbox, Progress};
use crate::plugins::{Plugins, PluginsError};
use crate::rpc::status::chain;

/// Bytes written to see whether writing goes: one block, because an empty file
/// can be made on a disk that is full.
const PROBE: [u8; 4096] = [0; 4096];

/// How the daemon was started, and what that found.
#[derive(Debug, Clone)]
pub struct About {
    /// When it was.
    pub start_time: Timestamp,
    /// Where it listens.
    pub listen: Listen,
    /// Where everything is kept.
    pub data_dir: PathBuf,
    /// Whether a web page is served beside the API.
    pub web_root_served: bool,
    /// What opening the store found and did.
    pub recovery: Recovery,
}

/// Who is asked how the daemon is.
#[derive(Clone)]
pub(crate) struct Observer {
    pub(crate) about: About,
    pub(crate) time_zone: TimeZone,
    pub(crate) tax_configured: bool,
    pub(crate) ledger: Ledger,
    pub(crate) plugins: Plugins,
    pub(crate) outbox: Outbox,
}

/// How it is.
#[derive(Debug)]
pub(crate) struct Condition {
    /// What time the daemon takes it to be.
    pub(crate) now: Timestamp,
    /// How it was started.
    pub(crate) about: About,
    /// The shop's zone.
    pub(crate) time_zone: TimeZone,
    /// Whether anybody said what the taxes are.
    pub(crate) tax_configured: bool,
    /// The data directory and what lies in it.
    pub(crate) stored: Stored,
    /// All plugins, as the API shows them, or why the projection cannot be read.
    pub(crate) plugins: Result<Vec<v1::Plugin>, String>,
    /// How far delivery has come; `None` without an outbox.
    pub(crate) outbox: Option<Progress>,
}

/// The data directory and what lies in it.
#[derive(Debug, Default)]
pub(crate) struct Stored {
    /// Where it is.
    pub(crate) path: PathBuf,
    /// Bytes of its file system that may still be filled, and bytes in all.
    pub(crate) space: Option<Space>,
    /// Whether a file could be written and synced.
    pub(crate) writable: bool,
    /// What of this could not be done or found out, and why.
    pub(crate) faults: Vec<String>,
    /// First event kept.
    pub(crate) oldest_seq: u64,
    /// Last durable event.
    pub(crate) last_seq: u64,
    /// Last event in the projection.
    pub(crate) applied_seq: u64,
    /// Segments of the journal.
    pub(crate) segments: u64,
    /// Bytes of the journal.
    pub(crate) journal_bytes: Option<u64>,
    /// Watchers now.
    pub(crate) watchers: u64,
    /// Why the store takes no changes; `None`: it does.
    pub(crate) failure: Option<String>,
}

/// Bytes of a file system.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Space {
    /// That may still be filled.
    pub(crate) free_bytes: u64,
    /// In all.
    pub(crate) total_bytes: u64,
}

impl Observer {
    /// Looks at everything.
    ///
    /// # Errors
    /// When the looking itself breaks off; what is found amiss is no error.
    pub(crate) async fn look(&self) -> Result<Condition, PluginsError> {
        let plugins = self.plugins.all().await;
        let (ledger, data_dir) = (self.ledger.clone(), self.about.data_dir.clone());
        let looking = tokio::task::spawn_blocking(move || look(ledger.store(), &data_dir));
        let stored = looking.await.map_err(PluginsError::Lost)?;
        Ok(Condition {
            about: self.about.clone(),
            time_zone: self.time_zone.clone(),
            tax_configured: self.tax_configured,
            stored,
            plugins: plugins.map_err(|error| chain(&error)),
            outbox: self.outbox.progress(),
            // Last, so that the caller measures as little else as may be.
            now: self.ledger.clock().now(),
        })
    }
}

/// Looks at what lies on the disk. Blocks.
fn look(store: &Store, data_dir: &Path) -> Stored {
    let mut faults = Vec::new();
    let mut note = |what: &str, error: &dyn std::error::Error| {
        faults.push(format!("cannot {what}: {}", chain(error)));
    };
    let space = rustix::fs::statvfs(data_dir)
        .map_err(|error| note("ask for the free space", &error))
        .ok();
    let writable = probe(data_dir)
        .map_err(|error| note("write to the data directory", &error))
        .is_ok();
    let journal_bytes = store
        .journal_bytes()
        .map_err(|error| note("look at the journal", &error))
        .ok();
    let stats = store.stats();
    Stored {
        // Whoever is told cannot know what a relative path started from.
        path: std::fs::canonicalize(data_dir).unwrap_or_else(|_| data_dir.to_owned()),
        space: space.map(|space| Space {
            free_bytes: space.f_bavail.saturating_mul(space.f_frsize),
            total_bytes: space.f_blocks.saturating_mul(space.f_frsize),
        }),
        writable,
        faults,
        oldest_seq: stats.oldest_seq,
        last_seq: stats.last_seq,
        applied_seq: stats.applied_seq,
        segments: stats.segments,
        journal_bytes,
        watchers: stats.watchers,
        failure: store.failure().map(|reason| reason.to_string()),
    }
}

/// Writes a file that has no name, so that a daemon killed just now leaves
/// nothing behind.
fn probe(dir: &Path) -> std::io::Result<()> {
    let mut file = tempfile::tempfile_in(dir)?;
    file.write_all(&PROBE)?;
    // A full disk may say so only now.
    file.sync_data()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_directory_that_is_gone_cannot_be_written_to_and_a_probe_leaves_nothing() {
        let dir = tempfile::tempdir().unwrap();
        assert!(probe(dir.path()).is_ok());
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
        assert!(probe(&dir.path().join("gone")).is_err());
    }
}
