//! A check of a data directory that changes nothing in it, and a rebuild of the projection on
//! demand. Both need the directory to be free.

use std::error::Error;
use std::fmt;
use std::fs;
use std::io;
use std::path::Path;
use std::sync::Arc;

use serde::Serialize;

use crate::checksum::Content;
use crate::config::StoreConfig;
use crate::error::StoreError;
use crate::journal::{FileBackend, JournalReader, Scan, scan_into};
use crate::lock::DirLock;
use crate::mem::MemBase;
use crate::projection::{Engine, EngineConfig, Found, PROJECTION_DIR, RebuildReason, Recoverer};
use crate::snapshot::{self, SNAPSHOT_DIR, SnapshotHeader};
use crate::store::{JOURNAL_DIR, Recovery, lock_dir, open_journal, recovery};
use crate::tx::Projector;

/// What a check found. `Display` prints it for people, one line per fact.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct VerifyReport {
    /// Segments read, up to the damage if there is one.
    pub segments: u64,
    /// Whole events read.
    pub records: u64,
    /// First event kept; 0 for an empty journal.
    pub first_seq: u64,
    /// Last whole event; 0 for an empty journal.
    pub last_seq: u64,
    /// Bytes after the last whole command, left by a crash. The next start removes them.
    pub torn_tail_bytes: u64,
    /// Where the journal is damaged and how; the store does not open then.
    pub damage: Option<String>,
    /// All snapshot files, ascending.
    pub snapshots: Vec<SnapshotState>,
    /// The projection.
    pub projection: ProjectionState,
}

/// One snapshot file as found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SnapshotState {
    /// Sequence number in its name.
    pub seq: u64,
    /// What is wrong with it; `None` if it is whole and equals a replay of the journal.
    pub problem: Option<String>,
}

/// The projection as found.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct ProjectionState {
    /// Last event it holds, if that could be read.
    pub seq: Option<u64>,
    /// Entries it holds.
    pub entries: u64,
    /// Whether its content, brought up to the journal's end, equals a fresh replay.
    pub equals_replay: bool,
    /// What is wrong with it; the next start rebuilds it then.
    pub problem: Option<String>,
}

/// Checks a data directory without changing it: reads every byte of journal and snapshots,
/// replays the journal in memory, and compares snapshots and (a copy of) the projection with that.
///
/// # Errors
/// [`StoreError::Locked`] if a daemon holds the directory, [`StoreError::Project`] if the projector
/// refuses an event, [`StoreError::Io`] if something cannot be read. Damage is no error here
/// but part of the report.
pub fn verify(data_dir: &Path, projector: &dyn Projector) -> Result<VerifyReport, StoreError> {
    verify_each(data_dir, projector, &mut |_, _| {})
}

/// As [`verify`], and shows `each` every key and value that the replay of a sound journal came
/// to, in key order: for checking what lies outside the store against what the store says of it.
///
/// # Errors
/// As [`verify`].
pub fn verify_each(
    data_dir: &Path,
    projector: &dyn Projector,
    each: &mut dyn FnMut(&[u8], &[u8]),
) -> Result<VerifyReport, StoreError> {
    fs::metadata(data_dir).map_err(StoreError::io("look into", data_dir))?;
    let _lock = DirLock::shared(data_dir)?;
    let backend = Arc::new(FileBackend::read_only(&data_dir.join(JOURNAL_DIR)));
    let mut report = VerifyReport::default();
    let mut scan = Scan::default();
    let damaged = match scan_into(backend.as_ref(), &mut scan) {
        Ok(()) => false,
        Err(StoreError::Damaged { damage, .. }) => {
            report.damage = Some(damage.to_string());
            true
        }
        Err(error @ StoreError::UnknownFormat { .. }) => {
            report.damage = Some(error.to_string());
            true
        }
        Err(StoreError::Io { source, .. }) if source.kind() == io::ErrorKind::NotFound => false,
        Err(error) => return Err(error),
    };
    report.segments = scan.segments.len() as u64;
    report.records = scan.segments.iter().map(|s| s.next_seq - s.first_seq).sum();
    report.first_seq = if report.records > 0 {
        scan.oldest_seq().unwrap_or(0)
    } else {
        0
    };
    report.last_seq = scan.last_seq();
    report.torn_tail_bytes = scan.torn_bytes;

    let snapshots = read_snapshots(data_dir)?;
    if damaged || (scan.segments.is_empty() && !snapshots.is_empty()) {
        let missing = (!damaged).then(|| "there is no journal although snapshots exist".to_owned());
        report.damage = report.damage.or(missing);
        report.snapshots = snapshots.into_iter().map(|s| s.state(None)).collect();
        report.projection.problem = Some("not compared: the journal is damaged".to_owned());
        return Ok(report);
    }
    let reader = JournalReader::new(backend, scan);
    let replayed = replay(&reader, projector, snapshots, &mut report)?;
    for (key, value) in replayed.iter().flat_map(MemBase::entries) {
        each(key, value);
    }
    let content = replayed.map(|state| state.content());
    report.projection = check_projection(data_dir, &reader, projector, content)?;
    Ok(report)
}

/// Sets the projection aside and builds it anew from the newest usable snapshot and the journal.
///
/// # Errors
/// As [`Store::open`](crate::Store::open).
pub fn rebuild(data_dir: &Path, projector: &dyn Projector) -> Result<Recovery, StoreError> {
    let config = StoreConfig::default();
    let _lock = lock_dir(data_dir, &config)?;
    let journal_dir = data_dir.join(JOURNAL_DIR);
    let backend =
        FileBackend::try_new(&journal_dir).map_err(StoreError::io("prepare", &journal_dir))?;
    let opened = open_journal(data_dir, Arc::new(backend), config.segment_bytes)?;
    let reader = opened.journal.reader();
    snapshot::set_ahead_aside(data_dir, reader.last_seq())?;
    let engine_config = EngineConfig::from(&config);
    let limit = engine_config.limit;
    let recoverer = Recoverer {
        data_dir,
        reader,
        projector,
        config: engine_config,
    };
    let (engine, projection) = recoverer.rebuild(RebuildReason::Requested)?;
    engine.close(limit)?;
    Ok(recovery(reader, opened.truncated_bytes, projection))
}

impl VerifyReport {
    /// Nothing is damaged, and the next start has nothing to repair. A projection that is merely
    /// behind is normal after a hard stop and counts as clean.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.is_sound()
            && self.torn_tail_bytes == 0
            && self
                .snapshots
                .iter()
                .all(|snapshot| snapshot.problem.is_none())
            && self.projection.problem.is_none()
            && self.projection.equals_replay
    }

    /// The journal is whole up to a torn tail: the store opens, and loses nothing acknowledged.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.damage.is_none()
    }
}

impl fmt::Display for VerifyReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "journal: {} segments, {} events ({} to {})",
            self.segments, self.records, self.first_seq, self.last_seq
        )?;
        if self.torn_tail_bytes > 0 {
            let bytes = self.torn_tail_bytes;
            writeln!(
                f,
                "torn tail: {bytes} bytes, never acknowledged; the next start removes them"
            )?;
        }
        if let Some(damage) = &self.damage {
            writeln!(f, "DAMAGE: {damage}; the store does not open")?;
        }
        for snapshot in &self.snapshots {
            let state = snapshot
                .problem
                .as_deref()
                .unwrap_or("whole, equals a replay");
            writeln!(f, "snapshot {}: {state}", snapshot.seq)?;
        }
        match (&self.projection.problem, self.projection.seq) {
            (Some(problem), _) => writeln!(f, "projection: {problem}")?,
            (None, Some(seq)) => writeln!(
                f,
                "projection: at {seq}, {} entries, equals a replay",
                self.projection.entries
            )?,
            (None, None) => writeln!(f, "projection: none yet")?,
        }
        write!(
            f,
            "{}",
            if self.is_clean() {
                "clean"
            } else {
                "not clean"
            }
        )
    }
}

/// A snapshot file with what could be read of it.
struct ReadSnapshot {
    seq: u64,
    read: Result<(SnapshotHeader, MemBase), String>,
}

impl ReadSnapshot {
    fn state(&self, problem: Option<String>) -> SnapshotState {
        let problem = self.read.as_ref().err().cloned().or(problem);
        SnapshotState {
            seq: self.seq,
            problem,
        }
    }
}

fn read_snapshots(data_dir: &Path) -> Result<Vec<ReadSnapshot>, StoreError> {
    let dir = data_dir.join(SNAPSHOT_DIR);
    let read = |seq| snapshot::read(&dir, seq).map_err(|fault| chain(&fault));
    let seqs = snapshot::list(data_dir)?;
    Ok(seqs
        .into_iter()
        .map(|seq| ReadSnapshot {
            seq,
            read: read(seq),
        })
        .collect())
}

/// Replays the journal in memory and compares each snapshot on the way. `None` if there is
/// nothing to start from.
fn replay(
    reader: &JournalReader,
    projector: &dyn Projector,
    snapshots: Vec<ReadSnapshot>,
    report: &mut VerifyReport,
) -> Result<Option<MemBase>, StoreError> {
    let oldest_seq = reader.oldest_seq();
    // From the first event, if it is kept; then the replay owes nothing to any snapshot.
    let mut at = (oldest_seq <= 1).then(|| (0, MemBase::default()));
    for mut snapshot in snapshots {
        let mut problem = None;
        if let Ok((header, state)) = &mut snapshot.read {
            problem = if header.seq > reader.last_seq() {
                Some("ahead of the journal".to_owned())
            } else if header.seq + 1 < oldest_seq {
                Some("the events that follow it are no longer kept".to_owned())
            } else if header.schema != projector.version() {
                let (found, wanted) = (header.schema, projector.version());
                Some(format!(
                    "of projector version {found}, this program has {wanted}"
                ))
            } else if let Some((seq, replayed)) = &mut at {
                replayed.replay(reader, projector, *seq, header.seq, &|| false)?;
                *seq = header.seq;
                let differs = replayed.content() != header.content;
                differs.then(|| "differs from a replay of the journal".to_owned())
            } else {
                at = Some((header.seq, std::mem::take(state)));
                None
            };
        }
        report.snapshots.push(snapshot.state(problem));
    }
    let Some((seq, mut state)) = at else {
        return Ok(None);
    };
    state.replay(reader, projector, seq, reader.last_seq(), &|| false)?;
    Ok(Some(state))
}

/// Opens a copy of the projection, for sled writes even when it only reads.
fn check_projection(
    data_dir: &Path,
    reader: &JournalReader,
    projector: &dyn Projector,
    replayed: Option<Content>,
) -> Result<ProjectionState, StoreError> {
    let mut out = ProjectionState::default();
    let original = data_dir.join(PROJECTION_DIR);
    if !original.exists() {
        out.equals_replay = reader.last_seq() == 0;
        out.problem = (!out.equals_replay).then(|| "missing".to_owned());
        return Ok(out);
    }
    let scratch = tempfile::tempdir().map_err(StoreError::io("create", std::env::temp_dir()))?;
    copy_dir(&original, &scratch.path().join(PROJECTION_DIR))
        .map_err(StoreError::io("copy", &original))?;
    let config = EngineConfig::from(&StoreConfig::default());
    let limit = config.limit;
    let recoverer = Recoverer {
        data_dir: scratch.path(),
        reader,
        projector,
        config,
    };
    let opened = Engine::open_checked(&scratch.path().join(PROJECTION_DIR), &recoverer.config);
    let problem = match opened {
        Ok(Found::Sound(mut engine)) => {
            out.seq = Some(engine.meta().last_seq);
            out.entries = engine.meta().content.entries;
            let problem = match recoverer.objection(&engine)? {
                Some(why) => Some(why.to_string()),
                None => {
                    recoverer.catch_up(&mut engine)?;
                    out.equals_replay = replayed == Some(engine.meta().content);
                    (!out.equals_replay).then(|| "differs from a replay of the journal".to_owned())
                }
            };
            drop(engine.close(limit));
            problem
        }
        Ok(Found::Blank) => Some(RebuildReason::Blank.to_string()),
        Ok(Found::Mismatch { claimed, found }) => {
            Some(RebuildReason::Mismatch { claimed, found }.to_string())
        }
        Err(error) => Some(chain(&error)),
    };
    out.problem = problem;
    Ok(out)
}

fn copy_dir(from: &Path, to: &Path) -> io::Result<()> {
    fs::create_dir(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let target = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            copy_dir(&entry.path(), &target)?;
        } else {
            fs::copy(entry.path(), &target)?;
        }
    }
    Ok(())
}

fn chain(error: &dyn Error) -> String {
    match error.source() {
        Some(source) => format!("{error}: {}", chain(source)),
        None => error.to_string(),
    }
}
