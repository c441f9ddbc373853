//! Snapshots: dumps of the whole state at one sequence number. They bound the replay.
//!
//! | file | idea |
//! |---|---|
//! | `file` | the format: write, read, check |
//! | `choose` | the newest snapshot that can be used, and which to keep |
//! | `builder` | the background thread that makes them |

mod builder;
mod choose;
mod file;

pub(crate) use builder::Snapshotter;
pub(crate) use choose::{SNAPSHOT_DIR, list, load_newest, newest_intact, set_ahead_aside};
pub(crate) use file::{SnapshotHeader, read};
