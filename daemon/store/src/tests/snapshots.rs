//! Snapshots: made from the journal, two kept, broken or foreign ones passed over.

use std::fs;
use std::path::Path;
use std::sync::Arc;

use super::kit::{Lines, dump, files, fill, history, lines, model, open, small, try_open, write};
use crate::{ProjectionRecovery, RebuildReason, Store, StoreError};

fn snapshots(dir: &Path) -> Vec<u64> {
    let names = files(&dir.join("snapshots"));
    names
        .iter()
        .map(|path| path.file_stem().unwrap().to_str().unwrap().parse().unwrap())
        .collect()
}

/// Fills a store with snapshots at 20 and 40 and a journal up to 50; leaves no projection.
async fn prepared(dir: &Path) -> Vec<String> {
    let config = crate::StoreConfig {
        snapshots: false,
        ..small()
    };
    let (store, _) = Store::open(dir, config, Arc::new(Lines(1))).unwrap();
    let all = lines(50);
    for (at, line) in all.iter().enumerate() {
        write(&store, &[line]).await;
        if at + 1 == 20 || at + 1 == 40 {
            assert_eq!(store.snapshot_now().await.unwrap(), at as u64 + 1);
        }
    }
    store.close().await;
    drop(store);
    fs::remove_dir_all(dir.join("projection")).unwrap();
    assert_eq!(snapshots(dir), [20, 40]);
    all
}

fn rebuilt_from(recovery: &ProjectionRecovery) -> Option<u64> {
    match recovery {
        ProjectionRecovery::Rebuilt { from_snapshot, .. } => *from_snapshot,
        other => panic!("not rebuilt: {other:?}"),
    }
}

/// Opens without background snapshots, so that the folder stays as the test left it.
fn reopen(dir: &Path) -> (Store, ProjectionRecovery) {
    let config = crate::StoreConfig {
        snapshots: false,
        ..small()
    };
    let (store, recovery) = Store::open(dir, config, Arc::new(Lines(1))).unwrap();
    (store, recovery.projection)
}

#[tokio::test(flavor = "multi_thread")]
async fn the_newest_whole_one_is_the_base() {
    let dir = tempfile::tempdir().unwrap();
    let all = prepared(dir.path()).await;
    let paths = files(&dir.path().join("snapshots"));
    let mut bases = Vec::new();
    for broken in 0..=2 {
        // Newest first: a flipped byte in the middle, then a cut.
        if broken == 1 {
            let mut bytes = fs::read(&paths[1]).unwrap();
            let middle = bytes.len() / 2;
            bytes[middle] ^= 1;
            fs::write(&paths[1], bytes).unwrap();
        } else if broken == 2 {
            let bytes = fs::read(&paths[0]).unwrap();
            fs::write(&paths[0], &bytes[..bytes.len() - 1]).unwrap();
        }
        let (store, recovery) = reopen(dir.path());
        bases.push(rebuilt_from(&recovery));
        assert_eq!(dump(&store), model(&all));
        store.close().await;
        drop(store);
        fs::remove_dir_all(dir.path().join("projection")).unwrap();
    }
    assert_eq!(bases, [Some(40), Some(20), None]);
}

#[tokio::test(flavor = "multi_thread")]
async fn made_in_the_background_two_kept() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let all = lines(200);
    fill(&store, &all).await;
    // Requests are served in order, so after this one all earlier ones are done.
    assert_eq!(store.snapshot_now().await.unwrap(), 200);
    assert_eq!(store.snapshot_now().await.unwrap(), 200);
    let kept = snapshots(dir.path());
    assert_eq!((kept.len(), kept[1]), (2, 200), "{kept:?}");
    let segments = files(&dir.path().join("journal"));
    let sealed: u64 = segments
        .last()
        .unwrap()
        .file_stem()
        .unwrap()
        .to_str()
        .unwrap()
        .parse()
        .unwrap();
    assert_eq!(
        kept[0],
        sealed - 1,
        "the one before was made when a segment was sealed"
    );
    store.close().await;
}

/// A start makes up for a snapshot that an earlier process did not live to finish.
#[tokio::test(flavor = "multi_thread")]
async fn a_missing_one_is_made_at_start() {
    let dir = tempfile::tempdir().unwrap();
    prepared(dir.path()).await;
    for path in files(&dir.path().join("snapshots")) {
        fs::remove_file(path).unwrap();
    }
    fs::write(
        dir.path().join("snapshots/00000000000000000007.tmp"),
        b"half",
    )
    .unwrap();
    let (store, _) = open(dir.path());
    store.snapshot_now().await.unwrap();
    let kept = snapshots(dir.path());
    assert_eq!(kept.len(), 2, "{kept:?}");
    assert_eq!(kept[1], 50);
}

#[tokio::test(flavor = "multi_thread")]
async fn another_projector_version_starts_from_the_first_event() {
    let dir = tempfile::tempdir().unwrap();
    let all = prepared(dir.path()).await;
    drop(reopen(dir.path()));
    let (store, recovery) = Store::open(dir.path(), small(), Arc::new(Lines(2))).unwrap();
    let ProjectionRecovery::Rebuilt { why, from_snapshot } = recovery.projection else {
        panic!("an old projection was used");
    };
    assert_eq!(
        why,
        RebuildReason::Version {
            found: 1,
            wanted: 2
        }
    );
    assert_eq!(from_snapshot, None);
    assert_eq!(dump(&store), model(&all));
}

/// The journal lost its end: snapshots and projection of the lost history are not used, not even
/// when the new history reaches their sequence numbers.
#[tokio::test(flavor = "multi_thread")]
async fn a_cut_history_does_not_come_back() {
    let dir = tempfile::tempdir().unwrap();
    let all = prepared(dir.path()).await;
    drop(reopen(dir.path()));
    for segment in files(&dir.path().join("journal")).split_off(1) {
        fs::remove_file(segment).unwrap();
    }
    let (store, recovery) = reopen(dir.path());
    let kept = usize::try_from(store.last_seq()).unwrap();
    assert!(kept < 20);
    assert_eq!(rebuilt_from(&recovery), None);
    assert_eq!(history(&store), all[..kept]);
    // The very events that the lost snapshots ended with, at the same numbers: only that those
    // snapshots were put away keeps them from being taken for this history's.
    while store.last_seq() < 60 {
        let line = match store.last_seq() {
            19 | 39 => all[usize::try_from(store.last_seq()).unwrap()].as_str(),
            _ => "inc other",
        };
        write(&store, &[line]).await;
    }
    let history = history(&store);
    store.close().await;
    drop(store);
    fs::remove_dir_all(dir.path().join("projection")).unwrap();
    let (store, recovery) = reopen(dir.path());
    assert_eq!(rebuilt_from(&recovery), None);
    assert_eq!(dump(&store), model(&history));
}

/// A snapshot of another store with the same numbers is not this journal's.
#[tokio::test(flavor = "multi_thread")]
async fn a_foreign_snapshot_is_passed_over() {
    let (dir, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let all = prepared(dir.path()).await;
    let (store, _) = open(other.path());
    for _ in 0..45 {
        write(&store, &["inc other"]).await;
    }
    store.snapshot_now().await.unwrap();
    store.close().await;
    let name = "snapshots/00000000000000000045.snap";
    fs::copy(other.path().join(name), dir.path().join(name)).unwrap();
    let (store, recovery) = reopen(dir.path());
    assert_eq!(rebuilt_from(&recovery), Some(40));
    assert_eq!(dump(&store), model(&all));
}

#[tokio::test(flavor = "multi_thread")]
async fn without_its_beginning_the_journal_needs_a_snapshot() {
    let dir = tempfile::tempdir().unwrap();
    let all = prepared(dir.path()).await;
    fs::remove_file(&files(&dir.path().join("journal"))[0]).unwrap();
    let (store, recovery) = reopen(dir.path());
    assert_eq!(rebuilt_from(&recovery), Some(40));
    assert_eq!(dump(&store), model(&all));
    store.close().await;
    drop(store);
    fs::remove_dir_all(dir.path().join("snapshots")).unwrap();
    // The projection alone still serves; without it there is nothing to start from.
    drop(reopen(dir.path()));
    fs::remove_dir_all(dir.path().join("projection")).unwrap();
    let error = try_open(dir.path()).err().unwrap();
    assert!(matches!(error, StoreError::NoBase { .. }), "{error}");
}

#[tokio::test(flavor = "multi_thread")]
async fn snapshots_without_a_journal_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    prepared(dir.path()).await;
    fs::remove_dir_all(dir.path().join("journal")).unwrap();
    let error = try_open(dir.path()).err().unwrap();
    assert!(
        matches!(
            error,
            StoreError::JournalMissing {
                snapshot_seq: 40,
                ..
            }
        ),
        "{error}"
    );
}
