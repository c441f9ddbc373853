//! What can go wrong, in three enums' worth of detail: the store, a watch, a projector.

use std::any::Any;
use std::io;
use std::path::PathBuf;
use std::sync::Arc;

use thiserror::Error;

/// Any failure of the store.
#[derive(Debug, Error)]
pub enum StoreError {
    /// The operating system refused a file operation.
    #[error("cannot {action} `{}`", path.display())]
    Io {
        /// What was attempted, as a verb phrase.
        action: &'static str,
        /// The file or directory.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// Another process, or another store in this one, holds the data directory.
    #[error("`{}` is held by {}; one daemon per data directory", path.display(), holder_text(*holder))]
    Locked {
        /// The lock file.
        path: PathBuf,
        /// The holder's process id, if it had written it yet.
        holder: Option<u32>,
    },
    /// The journal is damaged before its tail; it is never guessed at.
    #[error(
        "journal damaged: {damage}; nothing was changed. Restore the data directory from a copy, \
         look at it with `lamellad verify`{}", snapshot_text(*last_snapshot_seq)
    )]
    Damaged {
        /// Where and what.
        damage: Damage,
        /// Sequence number of the newest intact snapshot, if there is one.
        last_snapshot_seq: Option<u64>,
    },
    /// The journal was written by another format version, and is left alone.
    #[error(
        "segment `{segment}` has format version {found}, this program knows {supported}; use the \
         program that wrote it"
    )]
    UnknownFormat {
        /// File name of the segment inside the journal's directory.
        segment: String,
        /// Version in the file.
        found: u16,
        /// Version of this program.
        supported: u16,
    },
    /// Snapshots are there, but no journal: the truth is missing.
    #[error(
        "`{}` has no segments although a snapshot at sequence {snapshot_seq} exists; restore \
         the journal from a copy, or move the snapshots away to start empty", journal.display()
    )]
    JournalMissing {
        /// The journal's directory.
        journal: PathBuf,
        /// Sequence number of the snapshot that proves a journal once existed.
        snapshot_seq: u64,
    },
    /// One event is larger than a record may be.
    #[error("event of {len} bytes is larger than the {max} bytes of one record")]
    PayloadTooLarge {
        /// Bytes of the event.
        len: usize,
        /// Bytes allowed.
        max: usize,
    },
    /// The projector refused an event. From `execute`: nothing was written. At open: the journal
    /// holds an event that this program cannot apply.
    #[error("event {seq} cannot be applied")]
    Project {
        /// The event's sequence number.
        seq: u64,
        /// The projector's reason.
        source: ProjectError,
    },
    /// The projection could not be read or written.
    #[error("projection: cannot {action}: {reason}")]
    Projection {
        /// What was attempted, as a verb phrase.
        action: &'static str,
        /// The engine's own words.
        reason: String,
    },
    /// The state cannot be rebuilt: the journal's beginning is gone and no snapshot covers it.
    #[error(
        "the oldest event kept is {oldest_seq} and no intact snapshot reaches {}; restore a \
         snapshot or the older segments from a copy", oldest_seq.saturating_sub(1)
    )]
    NoBase {
        /// First sequence number in the journal.
        oldest_seq: u64,
    },
    /// A command's own code panicked; nothing of it was written.
    #[error("command panicked: {message}")]
    CommandPanicked {
        /// The panic's message.
        message: String,
    },
    /// An earlier write failed: the store is read-only until it is opened again. Whether the
    /// commands of the failed batch are in the journal is known only after the next start.
    #[error("the store is read-only after a failure: {reason}; restart the daemon")]
    Failed {
        /// The first failure.
        reason: Arc<str>,
    },
    /// The store was closed.
    #[error("the store is closed")]
    Closed,
}

/// Where a journal is damaged, and how.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("segment `{segment}` at byte {offset}: {kind}")]
pub struct Damage {
    /// File name of the segment inside the journal's directory.
    pub segment: String,
    /// Byte offset in that file, from 0, of the record or header at fault.
    pub offset: u64,
    /// What is wrong there.
    pub kind: DamageKind,
}

/// The kinds of damage that are refused.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum DamageKind {
    /// Magic or checksum of a segment header is wrong.
    #[error("segment header does not match its checksum")]
    SegmentHeader,
    /// A record header does not match its checksum.
    #[error("record header does not match its checksum")]
    RecordHeader,
    /// A whole payload does not match its checksum.
    #[error("payload of event {seq} does not match its checksum")]
    Payload {
        /// Sequence number in the intact header.
        seq: u64,
    },
    /// A length that no record may have.
    #[error("record length {found} exceeds {max} bytes")]
    Length {
        /// Bytes claimed.
        found: usize,
        /// Bytes allowed.
        max: usize,
    },
    /// Sequence numbers do not follow each other.
    #[error("sequence number {found} where {expected} was expected")]
    Sequence {
        /// The next number in order.
        expected: u64,
        /// The number found.
        found: u64,
    },
    /// A record is cut short although later segments follow.
    #[error("cut short by {missing} bytes or more although a later segment follows")]
    TornInside {
        /// Bytes that the frame needs at least and does not have.
        missing: u64,
    },
    /// A command of several events stops in the middle although later segments follow.
    #[error("command ends in the middle although a later segment follows")]
    OpenGroup,
}

/// Why a watch could not start or go on.
#[derive(Debug, Error)]
pub enum WatchError {
    /// The resume token lies in the future.
    #[error("sequence {after_seq} is ahead of the last event {last_seq}")]
    Ahead {
        /// The token given.
        after_seq: u64,
        /// The last event of the store.
        last_seq: u64,
    },
    /// The events after the token are no longer kept.
    #[error("events after {after_seq} are no longer kept; the oldest is {oldest_seq}")]
    TooOld {
        /// The token given.
        after_seq: u64,
        /// First event still in the journal.
        oldest_seq: u64,
    },
    /// The journal could not be read back.
    #[error("cannot replay the journal")]
    Replay(#[source] Box<StoreError>),
}

/// Why a projector could not apply an event.
#[derive(Debug, Error)]
#[error("projector refused the event")]
pub struct ProjectError(#[source] Box<dyn std::error::Error + Send + Sync>);

impl ProjectError {
    /// Wraps the projector's own error.
    pub fn new(source: impl Into<Box<dyn std::error::Error + Send + Sync>>) -> Self {
        Self(source.into())
    }

    pub(crate) fn panicked(message: &str) -> Self {
        Self::new(format!("it panicked: {message}"))
    }
}

impl StoreError {
    /// Shorthand for a closure that dresses an [`io::Error`].
    pub(crate) fn io(
        action: &'static str,
        path: impl Into<PathBuf>,
    ) -> impl FnOnce(io::Error) -> Self {
        let path = path.into();
        move |source| Self::Io {
            action,
            path,
            source,
        }
    }

    /// Damage as found by a scan, before anything is known of snapshots.
    pub(crate) fn damaged(damage: Damage) -> Self {
        Self::Damaged {
            damage,
            last_snapshot_seq: None,
        }
    }
}

fn holder_text(holder: Option<u32>) -> String {
    holder.map_or_else(
        || "another process".to_owned(),
        |pid| format!("process {pid}"),
    )
}

fn snapshot_text(seq: Option<u64>) -> String {
    seq.map_or_else(
        || "; there is no intact snapshot".to_owned(),
        |seq| format!("; the newest intact snapshot holds the state at sequence {seq}"),
    )
}

/// The text of a panic, as far as it has one.
pub(crate) fn panic_text(panic: &(dyn Any + Send)) -> String {
    panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "panic without a message".to_owned())
}
