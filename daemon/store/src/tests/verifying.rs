//! The report of a check, and that the check changes nothing.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::kit::{Lines, dump, files, fill, last_segment, lines, model, open};
use crate::{ProjectionRecovery, RebuildReason, StoreError, rebuild, verify};

async fn prepared(dir: &Path) {
    let (store, _) = open(dir);
    fill(&store, &lines(60)).await;
    store.snapshot_now().await.unwrap();
    store.close().await;
}

fn bytes_of(dir: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    files(dir)
        .into_iter()
        .map(|path| (path.clone(), fs::read(path).unwrap()))
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_sound_store_is_clean_and_untouched() {
    let dir = tempfile::tempdir().unwrap();
    prepared(dir.path()).await;
    let before = bytes_of(dir.path());
    let report = verify(dir.path(), &Lines(1)).unwrap();
    assert!(report.is_clean(), "{report}");
    assert_eq!(
        (report.records, report.first_seq, report.last_seq),
        (60, 1, 60)
    );
    assert_eq!(report.projection.seq, Some(60));
    assert_eq!(report.projection.entries, model(&lines(60)).len() as u64);
    assert_eq!(report.snapshots.len(), 2);
    assert!(report.to_string().ends_with("clean"), "{report}");
    assert_eq!(bytes_of(dir.path()), before);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_torn_tail_is_reported_and_left() {
    let dir = tempfile::tempdir().unwrap();
    prepared(dir.path()).await;
    let segment = last_segment(dir.path());
    let bytes = fs::read(&segment).unwrap();
    fs::write(&segment, [bytes.as_slice(), &[1, 2, 3]].concat()).unwrap();
    let before = bytes_of(dir.path());
    let report = verify(dir.path(), &Lines(1)).unwrap();
    assert_eq!(report.torn_tail_bytes, 3);
    assert!(report.is_sound() && !report.is_clean(), "{report}");
    assert_eq!(bytes_of(dir.path()), before);
}

#[tokio::test(flavor = "multi_thread")]
async fn damage_is_reported_with_its_place() {
    let dir = tempfile::tempdir().unwrap();
    prepared(dir.path()).await;
    let segments = files(&dir.path().join("journal"));
    let mut bytes = fs::read(&segments[1]).unwrap();
    bytes[24 + 20] ^= 4;
    fs::write(&segments[1], bytes).unwrap();
    let report = verify(dir.path(), &Lines(1)).unwrap();
    assert!(!report.is_sound());
    let damage = report.damage.clone().unwrap();
    let name = segments[1].file_name().unwrap().to_str().unwrap();
    assert!(
        damage.contains(name) && damage.contains("byte 24"),
        "{damage}"
    );
    let before: u64 = name.strip_suffix(".seg").unwrap().parse().unwrap();
    assert_eq!((report.records, report.last_seq), (before - 1, before - 1));
}

#[tokio::test(flavor = "multi_thread")]
async fn broken_snapshots_and_projections_are_reported() {
    let dir = tempfile::tempdir().unwrap();
    prepared(dir.path()).await;
    let snapshots = files(&dir.path().join("snapshots"));
    let bytes = fs::read(&snapshots[0]).unwrap();
    fs::write(&snapshots[0], &bytes[..bytes.len() / 2]).unwrap();
    fs::remove_dir_all(dir.path().join("projection")).unwrap();
    let report = verify(dir.path(), &Lines(1)).unwrap();
    assert!(report.is_sound() && !report.is_clean(), "{report}");
    assert!(report.snapshots[0].problem.is_some() && report.snapshots[1].problem.is_none());
    assert_eq!(report.projection.problem.as_deref(), Some("missing"));
    let other = verify(dir.path(), &Lines(2)).unwrap();
    assert!(other.snapshots[1].problem.is_some(), "{other}");
}

/// A projection whose own account is right but whose content is not the journal's: only the
/// comparison with a replay can tell.
#[tokio::test(flavor = "multi_thread")]
async fn a_plausible_but_wrong_projection_is_found() {
    struct Wrong;
    impl crate::Projector for Wrong {
        fn version(&self) -> u32 {
            1
        }
        fn apply(
            &self,
            seq: u64,
            payload: &[u8],
            tx: &mut crate::Tx<'_>,
        ) -> Result<(), crate::ProjectError> {
            if seq == 4 {
                Ok(())
            } else {
                Lines(1).apply(seq, payload, tx)
            }
        }
    }
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = crate::Store::open(dir.path(), super::kit::small(), Arc::new(Wrong)).unwrap();
    fill(&store, &lines(60)).await;
    store.snapshot_now().await.unwrap();
    store.close().await;
    drop(store);
    assert!(verify(dir.path(), &Wrong).unwrap().is_clean());
    let report = verify(dir.path(), &Lines(1)).unwrap();
    assert!(
        !report.projection.equals_replay && !report.is_clean(),
        "{report}"
    );
    assert!(
        report
            .snapshots
            .iter()
            .all(|snapshot| snapshot.problem.is_some()),
        "{report}"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_store_in_use_is_not_checked() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let me = Some(std::process::id());
    for error in [
        verify(dir.path(), &Lines(1)).err(),
        rebuild(dir.path(), &Lines(1)).err(),
    ] {
        assert!(matches!(error, Some(StoreError::Locked { holder, .. }) if holder == me));
    }
    drop(store);
    let missing = verify(&dir.path().join("nowhere"), &Lines(1));
    assert!(matches!(missing, Err(StoreError::Io { .. })));
    let empty = tempfile::tempdir().unwrap();
    assert!(verify(empty.path(), &Lines(1)).unwrap().is_clean());
    assert_eq!(fs::read_dir(empty.path()).unwrap().count(), 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn rebuilt_on_demand() {
    let dir = tempfile::tempdir().unwrap();
    prepared(dir.path()).await;
    let recovery = rebuild(dir.path(), &Lines(1)).unwrap();
    let ProjectionRecovery::Rebuilt { why, from_snapshot } = recovery.projection else {
        panic!()
    };
    assert_eq!((why, from_snapshot), (RebuildReason::Requested, Some(60)));
    let (store, recovery) = open(dir.path());
    assert_eq!(recovery.projection, ProjectionRecovery::Opened);
    assert_eq!(dump(&store), model(&lines(60)));
}
