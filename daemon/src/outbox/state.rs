//! How far delivery has come: `outbox.json` in the data directory, replaced as a
//! whole and synced, so that after a crash it says what it said before or after.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use lamella_proto::v1;
use serde::{Deserialize, Serialize};

use crate::convert;

const FILE: &str = "outbox.json";
/// Raised when an older daemon would misread the file.
const VERSION: u32 = 1;

/// Why the file cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum StateError {
    /// It cannot be read or written.
    #[error("cannot use {}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// It is not what it should be. Without it, delivery would begin anew.
    #[error("{} is damaged; mend it, or move it away to begin with the next event", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: serde_json::Error,
    },
    /// A newer daemon wrote it.
    #[error("{} has version {version}, and this daemon knows {VERSION}", path.display())]
    Version {
        /// The file.
        path: PathBuf,
        /// Its version.
        version: u32,
    },
}

/// What the file holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Stored {
    version: u32,
    /// Every event up to here is delivered, except those of `behind`.
    sequence: u64,
    /// Jobs, by id, that lag behind.
    behind: BTreeMap<String, Behind>,
}

/// A job whose events from `next` on are not delivered.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Behind {
    /// The event that is tried, or any number before it and after the last delivered.
    pub(super) next: u64,
    /// How often it was tried.
    pub(super) attempts: u32,
    /// What the last attempt failed with.
    pub(super) last_error: String,
    /// When that was.
    pub(super) last_attempt: Timestamp,
    /// It is a dead letter: tried again only when somebody says so.
    pub(super) dead: bool,
}

/// The state and its file.
#[derive(Debug)]
pub(super) struct State {
    path: PathBuf,
    stored: Stored,
}

impl State {
    pub(super) fn open(data_dir: &Path, last_seq: u64) -> Result<Self, StateError> {
        let path = data_dir.join(FILE);
        let stored = match std::fs::read(&path) {
            Ok(bytes) => serde_json::from_slice::<Stored>(&bytes).map_err(|source| {
                let path = path.clone();
                StateError::Damaged { path, source }
            })?,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Stored {
                version: VERSION,
                sequence: last_seq,
                behind: BTreeMap::new(),
            },
            Err(source) => return Err(StateError::Io { path, source }),
        };
        if stored.version != VERSION {
            let version = stored.version;
            return Err(StateError::Version { path, version });
        }
        let mut state = Self { path, stored };
        if state.stored.sequence > last_seq {
            tracing::warn!(
                sequence = state.stored.sequence,
                last_seq,
                "the outbox is ahead of the journal, which was restored; it goes on from there"
            );
            state.stored.sequence = last_seq;
            state
                .stored
                .behind
                .retain(|_, behind| behind.next <= last_seq);
        }
        // Kept at once: a first start must not begin later after a crash.
        state.write().map_err(|source| StateError::Io {
            path: state.path.clone(),
            source,
        })?;
        Ok(state)
    }

    pub(super) fn sequence(&self) -> u64 {
        self.stored.sequence
    }

    pub(super) fn behind(&self) -> impl Iterator<Item = (&String, &Behind)> {
        self.stored.behind.iter()
    }

    pub(super) fn get(&self, job: &str) -> Option<&Behind> {
        self.stored.behind.get(job)
    }

    /// The event was looked at; not written to the file, as looking again does
    /// no harm.
    pub(super) fn passed(&mut self, sequence: u64) {
        self.stored.sequence = self.stored.sequence.max(sequence);
    }

    /// An event was delivered: of a job that lags, or the next of all.
    pub(super) fn delivered(&mut self, job: &str, sequence: u64) {
        match self.stored.behind.get_mut(job) {
            Some(behind) => {
                *behind = Behind {
                    next: sequence + 1,
                    ..Behind::default()
                }
            }
            None => self.passed(sequence),
        }
        self.keep();
    }

    /// An attempt failed; whether the event is a dead letter now.
    pub(super) fn failed(
        &mut self,
        job: &str,
        sequence: u64,
        error: String,
        now: Timestamp,
        most_attempts: u32,
    ) -> bool {
        self.passed(sequence);
        let behind = self.stored.behind.entry(job.to_owned()).or_default();
        behind.next = sequence;
        behind.attempts = behind.attempts.saturating_add(1);
        behind.last_error = error;
        behind.last_attempt = now;
        behind.dead = behind.attempts >= most_attempts;
        let dead = behind.dead;
        self.keep();
        dead
    }

    /// The job lags no more.
    pub(super) fn caught_up(&mut self, job: &str) {
        self.stored.behind.remove(job);
        self.keep();
    }

    pub(super) fn dead_letters(&self) -> Vec<v1::DeadLetter> {
        let dead = self.behind().filter(|(_, behind)| behind.dead);
        dead.map(|(job, behind)| letter(job, behind)).collect()
    }

    /// Makes a dead letter one that is tried, or skips it; as it was.
    pub(super) fn revive(&mut self, job: &str, discard: bool) -> Option<v1::DeadLetter> {
        let behind = self.stored.behind.get_mut(job).filter(|b| b.dead)?;
        let was = letter(job, behind);
        behind.dead = false;
        behind.attempts = 0;
        if discard {
            behind.next += 1;
        }
        self.keep();
        Some(was)
    }

    /// Writes the file; when that fails, events may be sent again after a
    /// restart, and none is lost.
    fn keep(&self) {
        if let Err(error) = self.write() {
            tracing::error!(path = %self.path.display(), %error, "cannot write the outbox's state");
        }
    }

    fn write(&self) -> std::io::Result<()> {
        let fresh = self.path.with_extension("json.new");
        let mut file = File::create(&fresh)?;
        file.write_all(&serde_json::to_vec(&self.stored)?)?;
        file.sync_all()?;
        std::fs::rename(&fresh, &self.path)?;
        match self.path.parent() {
            Some(dir) => File::open(dir)?.sync_all(),
            None => Ok(()),
        }
    }
}

fn letter(job: &str, behind: &Behind) -> v1::DeadLetter {
    v1::DeadLetter {
        job: convert::names::job(job),
        sequence: i64::try_from(behind.next).unwrap_or(i64::MAX),
        attempts: i32::try_from(behind.attempts).unwrap_or(i32::MAX),
        last_error: behind.last_error.clone(),
        last_attempt_time: Some(convert::time::to_pb(behind.last_attempt)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_said_is_said_again_after_a_restart() {
        let dir = tempfile::tempdir().unwrap();
        let now = Timestamp::UNIX_EPOCH;
        let mut state = State::open(dir.path(), 7).unwrap();
        state.delivered("a", 8);
        assert!(!state.failed("b", 9, "refused".to_owned(), now, 2));
        state.delivered("a", 10);
        assert!(state.failed("b", 9, "refused".to_owned(), now, 2));
        let again = State::open(dir.path(), 12).unwrap();
        assert_eq!(again.stored, state.stored);
        assert_eq!(again.sequence(), 10);
        let letters = again.dead_letters();
        assert_eq!(
            (letters.len(), letters[0].sequence, letters[0].attempts),
            (1, 9, 2)
        );
        assert!(again.get("a").is_none(), "a delivered job does not lag");
    }

    #[test]
    fn a_dead_letter_is_revived_or_skipped_and_only_a_dead_one() {
        let dir = tempfile::tempdir().unwrap();
        let mut state = State::open(dir.path(), 0).unwrap();
        let fail = |state: &mut State, most| {
            state.failed("a", 5, "x".to_owned(), Timestamp::UNIX_EPOCH, most)
        };
        fail(&mut state, 9);
        assert_eq!(state.revive("a", false), None);
        fail(&mut state, 2);
        assert_eq!(
            state.revive("a", false).map(|letter| letter.attempts),
            Some(2)
        );
        assert_eq!(state.get("a").map(|b| (b.next, b.attempts)), Some((5, 0)));
        fail(&mut state, 1);
        state.revive("a", true);
        assert_eq!(state.get("a").map(|b| b.next), Some(6));
    }

    #[test]
    fn a_damaged_or_newer_file_is_named_and_left_alone() {
        let dir = tempfile::tempdir().unwrap();
        for (text, part) in [
            ("{", "damaged"),
            (r#"{"version":9,"sequence":1,"behind":{}}"#, "version 9"),
        ] {
            std::fs::write(dir.path().join(FILE), text).unwrap();
            let error = State::open(dir.path(), 3).unwrap_err().to_string();
            assert!(error.contains(part) && error.contains(FILE), "{error}");
            assert_eq!(
                std::fs::read_to_string(dir.path().join(FILE)).unwrap(),
                text
            );
        }
    }
}
