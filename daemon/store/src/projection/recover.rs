//! Opens the projection, catches it up, or sets it aside and rebuilds it. Whatever sled makes of
//! its files, the outcome is the state that the journal tells.

use std::fs;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::engine::{Engine, EngineConfig, Found};
use crate::checksum::Content;
use crate::error::StoreError;
use crate::journal::JournalReader;
use crate::mem::apply;
use crate::snapshot;
use crate::tx::{Overlay, Projector};

/// Folder of the projection inside the data directory.
pub(crate) const PROJECTION_DIR: &str = "projection";
/// Exists while sled opens: an open that kills the process is recognised at the next start.
const MARKER: &str = "projection.opening";
const ASIDE: &str = "projection.bad-";
/// Events per batch while catching up.
const REPLAY_EVENTS: u64 = 512;
/// Bytes of events after which a batch is committed all the same.
const REPLAY_BYTES: usize = 1024 * 1024;

/// What became of the projection at open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ProjectionRecovery {
    /// A new store: nothing to recover.
    Created,
    /// It was sound and up to date.
    Opened,
    /// It was sound; the events after `from` were applied.
    CaughtUp {
        /// Last event it held before.
        from: u64,
    },
    /// It was set aside and built anew.
    Rebuilt {
        /// Why it was not used.
        why: RebuildReason,
        /// The snapshot that the replay started from; `None`: from the first event.
        from_snapshot: Option<u64>,
    },
}

/// Why a projection was not used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum RebuildReason {
    /// There was none.
    #[error("there was no projection")]
    Missing,
    /// An earlier start did not survive opening it.
    #[error("an earlier start ended while opening it")]
    InterruptedOpen,
    /// sled answered with an error, a panic, or not in time.
    #[error("the engine failed: {reason}")]
    EngineFailed {
        /// The engine's own words.
        reason: String,
    },
    /// It holds no account of itself.
    #[error("it was never completed")]
    Blank,
    /// Its entries disagree with its account.
    #[error("it holds {} entries where {} were recorded, or their checksum differs", found.entries, claimed.entries)]
    Mismatch {
        /// Recorded.
        claimed: Content,
        /// Counted.
        found: Content,
    },
    /// Another projector version wrote it.
    #[error("it has projector version {found}, this program {wanted}")]
    Version {
        /// Version recorded.
        found: u32,
        /// Version of this program.
        wanted: u32,
    },
    /// It holds events that the journal does not have.
    #[error("it is at sequence {projection_seq}, the journal ends at {journal_seq}")]
    Ahead {
        /// Last event of the projection.
        projection_seq: u64,
        /// Last event of the journal.
        journal_seq: u64,
    },
    /// Its last event is another one than the journal's under the same number.
    #[error("its event {seq} is not the journal's")]
    OtherHistory {
        /// Sequence number of both.
        seq: u64,
    },
    /// The events that it lacks are no longer kept.
    #[error("it is at sequence {projection_seq}, the oldest event kept is {oldest_seq}")]
    TooOld {
        /// Last event of the projection.
        projection_seq: u64,
        /// First event of the journal.
        oldest_seq: u64,
    },
    /// Somebody asked.
    #[error("a rebuild was asked for")]
    Requested,
}

/// What recovery works with.
pub(crate) struct Recoverer<'a> {
    pub(crate) data_dir: &'a Path,
    pub(crate) reader: &'a JournalReader,
    pub(crate) projector: &'a dyn Projector,
    pub(crate) config: EngineConfig,
}

impl Recoverer<'_> {
    /// Opens or rebuilds; on return the engine holds exactly the journal's state.
    pub(crate) fn recover(&self) -> Result<(Engine, ProjectionRecovery), StoreError> {
        let existed = self.dir().exists();
        match self.open_usable() {
            Ok((mut engine, from)) => match self.catch_up(&mut engine) {
                Ok(()) if from == self.reader.last_seq() => {
                    Ok((engine, ProjectionRecovery::Opened))
                }
                Ok(()) => Ok((engine, ProjectionRecovery::CaughtUp { from })),
                Err(StoreError::Projection { reason, .. }) => {
                    drop(engine.close(self.config.limit));
                    self.rebuild(RebuildReason::EngineFailed { reason })
                }
                Err(error) => Err(error),
            },
            Err(Unusable::Because(RebuildReason::Missing))
                if !existed && self.reader.last_seq() == 0 =>
            {
                let (engine, _) = self.rebuild(RebuildReason::Missing)?;
                Ok((engine, ProjectionRecovery::Created))
            }
            Err(Unusable::Because(why)) => self.rebuild(why),
            Err(Unusable::Store(error)) => Err(error),
        }
    }

    /// Sets aside what there is and builds anew.
    pub(crate) fn rebuild(
        &self,
        why: RebuildReason,
    ) -> Result<(Engine, ProjectionRecovery), StoreError> {
        if why != RebuildReason::Missing {
            tracing::warn!(reason = %why, "the projection is set aside and rebuilt");
        }
        set_aside(self.data_dir)?;
        let mut engine = Engine::create(&self.dir(), &self.config, self.projector.version())?;
        let from_snapshot =
            match snapshot::load_newest(self.data_dir, self.reader, self.projector.version())? {
                Some(found) => {
                    engine.load(found.state.entries(), found.seq, found.anchor)?;
                    Some(found.seq)
                }
                None if self.reader.oldest_seq() > 1 => {
                    return Err(StoreError::NoBase {
                        oldest_seq: self.reader.oldest_seq(),
                    });
                }
                None => {
                    engine.load(std::iter::empty(), 0, 0)?;
                    None
                }
            };
        self.catch_up(&mut engine)?;
        Ok((engine, ProjectionRecovery::Rebuilt { why, from_snapshot }))
    }

    /// Opens the folder and judges it against journal and projector.
    fn open_usable(&self) -> Result<(Engine, u64), Unusable> {
        let marker = self.data_dir.join(MARKER);
        let interrupted = marker.exists();
        if !self.dir().exists() {
            if interrupted {
                remove_marker(&marker)?;
            }
            return Err(RebuildReason::Missing.into());
        }
        if interrupted {
            set_aside(self.data_dir)?;
            remove_marker(&marker)?;
            return Err(RebuildReason::InterruptedOpen.into());
        }
        fs::write(&marker, b"").map_err(StoreError::io("write", &marker))?;
        let opened = Engine::open_checked(&self.dir(), &self.config);
        remove_marker(&marker)?;
        let engine = match opened {
            Ok(Found::Sound(engine)) => engine,
            Ok(Found::Blank) => return Err(RebuildReason::Blank.into()),
            Ok(Found::Mismatch { claimed, found }) => {
                return Err(RebuildReason::Mismatch { claimed, found }.into());
            }
            Err(error) => {
                return Err(RebuildReason::EngineFailed {
                    reason: text(&error),
                }
                .into());
            }
        };
        let from = engine.meta().last_seq;
        if let Some(why) = self.objection(&engine)? {
            drop(engine.close(self.config.limit));
            return Err(why.into());
        }
        Ok((engine, from))
    }

    pub(crate) fn objection(&self, engine: &Engine) -> Result<Option<RebuildReason>, StoreError> {
        let meta = engine.meta();
        let (wanted, journal_seq) = (self.projector.version(), self.reader.last_seq());
        let oldest_seq = self.reader.oldest_seq();
        Ok(if meta.schema != wanted {
            Some(RebuildReason::Version {
                found: meta.schema,
                wanted,
            })
        } else if meta.last_seq > journal_seq {
            Some(RebuildReason::Ahead {
                projection_seq: meta.last_seq,
                journal_seq,
            })
        } else if meta.last_seq + 1 < oldest_seq {
            Some(RebuildReason::TooOld {
                projection_seq: meta.last_seq,
                oldest_seq,
            })
        } else if self
            .reader
            .anchor(meta.last_seq)?
            .is_some_and(|anchor| anchor != meta.anchor)
        {
            Some(RebuildReason::OtherHistory { seq: meta.last_seq })
        } else {
            None
        })
    }

    /// Applies the events that the engine lacks.
    pub(crate) fn catch_up(&self, engine: &mut Engine) -> Result<(), StoreError> {
        let after_seq = engine.meta().last_seq;
        let last_seq = self.reader.last_seq();
        let mut overlay = Overlay::default();
        let (mut events, mut bytes) = (0, 0);
        self.reader
            .for_each(after_seq, last_seq, |seq, payload, crc| {
                apply(self.projector, seq, payload, engine, &mut overlay)?;
                overlay.savepoint();
                events += 1;
                bytes += payload.len();
                if events == REPLAY_EVENTS || bytes >= REPLAY_BYTES || seq == last_seq {
                    let prepared = engine.prepare(&overlay, seq, crc)?;
                    engine.apply(prepared)?;
                    overlay = Overlay::default();
                    (events, bytes) = (0, 0);
                }
                Ok(true)
            })
    }

    fn dir(&self) -> PathBuf {
        self.data_dir.join(PROJECTION_DIR)
    }
}

enum Unusable {
    Because(RebuildReason),
    Store(StoreError),
}

impl From<RebuildReason> for Unusable {
    fn from(why: RebuildReason) -> Self {
        Self::Because(why)
    }
}

impl From<StoreError> for Unusable {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

/// Moves the projection's folder out of the way and keeps only the latest such folder.
fn set_aside(data_dir: &Path) -> Result<(), StoreError> {
    let dir = data_dir.join(PROJECTION_DIR);
    if !dir.exists() {
        return Ok(());
    }
    let mut older = Vec::new();
    for entry in fs::read_dir(data_dir).map_err(StoreError::io("list", data_dir))? {
        let entry = entry.map_err(StoreError::io("list", data_dir))?;
        let name = entry.file_name();
        if let Some(n) = name
            .to_str()
            .and_then(|name| name.strip_prefix(ASIDE)?.parse().ok())
        {
            older.push((entry.path(), n));
        }
    }
    let next = older
        .iter()
        .map(|&(_, n)| n)
        .max()
        .unwrap_or(0_u64)
        .saturating_add(1);
    let target = data_dir.join(format!("{ASIDE}{next}"));
    fs::rename(&dir, &target).map_err(StoreError::io("set aside", &dir))?;
    for (path, _) in older {
        if let Err(error) = fs::remove_dir_all(&path) {
            tracing::warn!(path = %path.display(), %error, "cannot remove an older projection");
        }
    }
    Ok(())
}

fn remove_marker(marker: &Path) -> Result<(), StoreError> {
    fs::remove_file(marker).map_err(StoreError::io("remove", marker))
}

fn text(error: &StoreError) -> String {
    match error {
        StoreError::Projection { reason, .. } => reason.clone(),
        other => other.to_string(),
    }
}
