//! Which snapshot to start from, and which to keep.

use std::error::Error as _;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::file::{SnapshotFault, SnapshotHeader, read, snapshot_name};
use crate::error::StoreError;
use crate::journal::JournalReader;
use crate::mem::MemBase;

/// Folder of the snapshots inside the data directory.
pub(crate) const SNAPSHOT_DIR: &str = "snapshots";

/// A snapshot that fits journal and projector.
pub(crate) struct Usable {
    pub(crate) seq: u64,
    pub(crate) anchor: u32,
    pub(crate) state: MemBase,
}

/// Sequence numbers of all snapshot files, ascending; none if there is no folder.
pub(crate) fn list(data_dir: &Path) -> Result<Vec<u64>, StoreError> {
    let dir = data_dir.join(SNAPSHOT_DIR);
    let entries = match fs::read_dir(&dir) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(StoreError::io("list", dir)(error)),
    };
    let mut seqs = Vec::new();
    for entry in entries {
        let name = entry.map_err(StoreError::io("list", &dir))?.file_name();
        let seq = name
            .to_str()
            .and_then(|name| name.strip_suffix(".snap")?.parse().ok());
        if let Some(seq) = seq
            && name.to_str() == Some(snapshot_name(seq).as_str())
        {
            seqs.push(seq);
        }
    }
    seqs.sort_unstable();
    Ok(seqs)
}

/// Loads the newest snapshot that is whole, of this projector version and of this journal. Each
/// one passed over gets a warning.
pub(crate) fn load_newest(
    data_dir: &Path,
    reader: &JournalReader,
    schema: u32,
) -> Result<Option<Usable>, StoreError> {
    let dir = data_dir.join(SNAPSHOT_DIR);
    for seq in list(data_dir)?.into_iter().rev() {
        match read(&dir, seq) {
            Err(fault) => pass_over(seq, &fault),
            Ok((header, state)) => match objection(&header, reader, schema)? {
                None => {
                    return Ok(Some(Usable {
                        seq,
                        anchor: header.anchor,
                        state,
                    }));
                }
                Some(why) => tracing::warn!(snapshot_seq = seq, why, "a snapshot is not used"),
            },
        }
    }
    Ok(None)
}

/// Sequence number of the newest snapshot that reads whole, whatever else is wrong.
pub(crate) fn newest_intact(data_dir: &Path) -> Option<u64> {
    let dir = data_dir.join(SNAPSHOT_DIR);
    list(data_dir)
        .ok()?
        .into_iter()
        .rev()
        .find(|&seq| read(&dir, seq).is_ok())
}

/// Renames snapshots that are ahead of the journal: they tell of a history that was cut off, and
/// must not be taken for the one that will grow in its place.
pub(crate) fn set_ahead_aside(data_dir: &Path, last_seq: u64) -> Result<(), StoreError> {
    for seq in list(data_dir)?.into_iter().filter(|&seq| seq > last_seq) {
        let path: PathBuf = data_dir.join(SNAPSHOT_DIR).join(snapshot_name(seq));
        tracing::warn!(
            snapshot_seq = seq,
            last_seq,
            "a snapshot is ahead of the journal"
        );
        fs::rename(&path, path.with_extension("ahead"))
            .map_err(StoreError::io("set aside", &path))?;
    }
    Ok(())
}

/// Removes all snapshots except `kept`, and files left by interrupted writing. Failures are only
/// logged: too many snapshots harm nobody.
pub(crate) fn prune(data_dir: &Path, kept: &[u64]) {
    let dir = data_dir.join(SNAPSHOT_DIR);
    let Ok(entries) = fs::read_dir(&dir) else {
        return;
    };
    for path in entries.filter_map(|entry| Some(entry.ok()?.path())) {
        let extension = path.extension().and_then(|extension| extension.to_str());
        let stem = path
            .file_stem()
            .and_then(|stem| stem.to_str()?.parse::<u64>().ok());
        let goes = match extension {
            Some("tmp") => true,
            Some("snap") => stem.is_some_and(|seq| !kept.contains(&seq)),
            _ => false,
        };
        if goes && let Err(error) = fs::remove_file(&path) {
            tracing::warn!(path = %path.display(), %error, "cannot remove an old snapshot");
        }
    }
}

fn objection(
    header: &SnapshotHeader,
    reader: &JournalReader,
    schema: u32,
) -> Result<Option<&'static str>, StoreError> {
    Ok(if header.schema != schema {
        Some("another projector version wrote it")
    } else if header.seq > reader.last_seq() {
        Some("it is ahead of the journal")
    } else if header.seq + 1 < reader.oldest_seq() {
        Some("the events that follow it are no longer kept")
    } else if reader
        .anchor(header.seq)?
        .is_some_and(|anchor| anchor != header.anchor)
    {
        Some("its last event is not the journal's")
    } else {
        None
    })
}

fn pass_over(seq: u64, fault: &SnapshotFault) {
    let cause = fault.source().map(ToString::to_string);
    tracing::warn!(snapshot_seq = seq, %fault, cause, "a snapshot is broken and not used");
}
