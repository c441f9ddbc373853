//! The job store: a journal that is the truth, a sled projection for reading, snapshots that
//! bound the replay, and a gap-free watch.
//!
//! The crate knows bytes only. What they mean is the [`Projector`]'s business; the format on
//! disk, the invariants and what is assumed of the disk are in `DESIGN.md` beside this crate.
//!
//! | module | idea |
//! |---|---|
//! | `store` | open, execute, watch, close: the face of the crate |
//! | `writer` | the one thread that appends: group commit |
//! | `command` | what a command sees and what it returns |
//! | `tx` | key-value view: committed state, batch overlay, own writes |
//! | `journal` | segments, records, torn tail and damage |
//! | `projection` | sled, checked at open, set aside and rebuilt when in doubt |
//! | `snapshot` | dump files built from the journal, never from sled |
//! | `watch` | replay, then live |
//! | `verify` | read-only check of a data directory, and rebuild on demand |

mod checksum;
mod command;
mod config;
mod error;
mod journal;
mod lock;
mod mem;
mod projection;
mod read;
mod snapshot;
mod stats;
mod store;
#[cfg(test)]
mod tests;
mod tx;
mod verify;
mod watch;
mod writer;

pub use checksum::Content;
pub use command::{CommandTx, Commit, Committed};
pub use config::{StoreConfig, SyncHook};
pub use error::{Damage, DamageKind, ProjectError, StoreError, WatchError};
pub use journal::{Backend, FileBackend, MAX_PAYLOAD_LEN, segment_name};
pub use projection::{ProjectionRecovery, RebuildReason};
pub use read::{ReadHandle, View};
pub use stats::StoreStats;
pub use store::{Recovery, Store};
pub use tx::{Entry, KvRead, Projector, Tx};
pub use verify::{ProjectionState, SnapshotState, VerifyReport, rebuild, verify, verify_each};
pub use watch::{Event, Watcher};
