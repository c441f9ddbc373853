//! The projection deleted, overwritten, cut, zeroed, swapped for an older one: the answers stay.

use std::fs;
use std::path::Path;
use std::sync::Arc;

use super::kit::{Lines, copy_dir, dump, files, fill, lines, model, open, small, write};
use crate::{Entry, ProjectionRecovery, RebuildReason, Store};

const EVENTS: u64 = 120;

/// A closed store and its content.
async fn prepared(dir: &Path) -> Vec<Entry> {
    let (store, _) = open(dir);
    fill(&store, &lines(EVENTS)).await;
    let content = dump(&store);
    assert_eq!(content, model(&lines(EVENTS)));
    store.close().await;
    content
}

/// Opens, compares, writes, opens again.
async fn serves_the_same(dir: &Path, content: &[Entry], what: &str) -> ProjectionRecovery {
    let (store, recovery) = open(dir);
    assert_eq!(dump(&store), content, "{what}");
    let line = format!("inc after-{}", recovery.last_seq);
    write(&store, &[&line]).await;
    let after = dump(&store);
    store.close().await;
    drop(store);
    let (store, again) = open(dir);
    assert_eq!(dump(&store), after, "{what}, opened again");
    assert_eq!(
        again.projection,
        ProjectionRecovery::Opened,
        "{what}, opened again"
    );
    store.close().await;
    recovery.projection
}

fn random_bytes(seed: u64, len: usize) -> Vec<u8> {
    // Weyl sequence through the SplitMix64 finaliser; any stream of varied bytes would do.
    let mut state = seed;
    let mut out = Vec::with_capacity(len + 8);
    while out.len() < len {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut word = state;
        word = (word ^ (word >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        out.extend_from_slice(&(word ^ (word >> 31)).to_le_bytes());
    }
    out.truncate(len);
    out
}

#[tokio::test(flavor = "multi_thread")]
async fn every_kind_of_scribble_on_every_file() {
    let master = tempfile::tempdir().unwrap();
    let content = prepared(master.path()).await;
    type Scribble = (&'static str, fn(Vec<u8>, u64) -> Vec<u8>);
    let scribbles: [Scribble; 6] = [
        ("random bytes", |bytes, seed| {
            random_bytes(seed, bytes.len())
        }),
        ("zeroed", |bytes, _| vec![0; bytes.len()]),
        ("cut to half", |bytes, _| bytes[..bytes.len() / 2].to_vec()),
        ("emptied", |_, _| Vec::new()),
        ("second half random", |mut bytes, seed| {
            let half = bytes.len() / 2;
            let noise = random_bytes(seed, bytes.len() - half);
            bytes[half..].copy_from_slice(&noise);
            bytes
        }),
        ("one byte in 64 changed", |mut bytes, seed| {
            let noise = random_bytes(seed, bytes.len() / 64 + 1);
            for (at, noise) in noise.into_iter().enumerate() {
                if let Some(byte) = bytes.get_mut(at * 64 + usize::from(noise % 64)) {
                    *byte ^= noise | 1;
                }
            }
            bytes
        }),
    ];
    let names: Vec<_> = files(&master.path().join("projection"))
        .into_iter()
        .map(|path| path.strip_prefix(master.path()).unwrap().to_owned())
        .collect();
    assert!(!names.is_empty());
    for (seed, (what, scribble)) in scribbles.into_iter().enumerate() {
        // Each file alone, then all of them.
        let mut targets: Vec<Vec<_>> = names.iter().map(|name| vec![name.clone()]).collect();
        targets.push(names.clone());
        for target in targets {
            let dir = tempfile::tempdir().unwrap();
            copy_dir(master.path(), dir.path());
            for (at, name) in target.iter().enumerate() {
                let path = dir.path().join(name);
                let bytes = fs::read(&path).unwrap();
                fs::write(&path, scribble(bytes, (seed * 100 + at) as u64)).unwrap();
            }
            serves_the_same(dir.path(), &content, &format!("{what}: {target:?}")).await;
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn deleted() {
    let dir = tempfile::tempdir().unwrap();
    let content = prepared(dir.path()).await;
    fs::remove_dir_all(dir.path().join("projection")).unwrap();
    let recovery = serves_the_same(dir.path(), &content, "deleted").await;
    let ProjectionRecovery::Rebuilt { why, from_snapshot } = recovery else {
        panic!()
    };
    assert_eq!(why, RebuildReason::Missing);
    assert!(
        from_snapshot.is_some(),
        "the rebuild starts from a snapshot"
    );
}

/// Each file missing alone; sled may then begin an empty database in its place.
#[tokio::test(flavor = "multi_thread")]
async fn each_file_deleted() {
    let master = tempfile::tempdir().unwrap();
    let content = prepared(master.path()).await;
    for path in files(&master.path().join("projection")) {
        let dir = tempfile::tempdir().unwrap();
        copy_dir(master.path(), dir.path());
        fs::remove_file(dir.path().join(path.strip_prefix(master.path()).unwrap())).unwrap();
        serves_the_same(dir.path(), &content, &format!("{} deleted", path.display())).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_older_copy_is_caught_up() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    fill(&store, &lines(30)).await;
    store.close().await;
    drop(store);
    let old = tempfile::tempdir().unwrap();
    copy_dir(&dir.path().join("projection"), old.path());
    let (store, _) = open(dir.path());
    write(&store, &["set later x"]).await;
    let content = dump(&store);
    store.close().await;
    drop(store);
    fs::remove_dir_all(dir.path().join("projection")).unwrap();
    copy_dir(old.path(), &dir.path().join("projection"));
    let recovery = serves_the_same(dir.path(), &content, "older copy").await;
    assert_eq!(recovery, ProjectionRecovery::CaughtUp { from: 30 });
}

/// What sled calls sound, but is not what was written: one entry gone, changed, or added.
#[tokio::test(flavor = "multi_thread")]
async fn a_silently_different_state_is_noticed() {
    let master = tempfile::tempdir().unwrap();
    let content = prepared(master.path()).await;
    let edits: [fn(&sled::Tree); 3] = [
        |tree| drop(tree.remove(b"kcount0").unwrap().unwrap()),
        |tree| drop(tree.insert(b"kcount0", b"1").unwrap().unwrap()),
        |tree| assert!(tree.insert(b"kcount7", b"1").unwrap().is_none()),
    ];
    for edit in edits {
        let dir = tempfile::tempdir().unwrap();
        copy_dir(master.path(), dir.path());
        let db = sled::open(dir.path().join("projection")).unwrap();
        edit(&db.open_tree("kv").unwrap());
        db.flush().unwrap();
        drop(db);
        let recovery = serves_the_same(dir.path(), &content, "edited").await;
        let ProjectionRecovery::Rebuilt { why, .. } = recovery else {
            panic!("{recovery:?}")
        };
        assert!(matches!(why, RebuildReason::Mismatch { .. }), "{why}");
    }
}

/// A sound projection of another store with the same sequence numbers.
#[tokio::test(flavor = "multi_thread")]
async fn a_foreign_copy_is_rebuilt() {
    let (dir, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let content = prepared(dir.path()).await;
    let (store, _) = open(other.path());
    for _ in 0..EVENTS {
        write(&store, &["inc other"]).await;
    }
    store.close().await;
    fs::remove_dir_all(dir.path().join("projection")).unwrap();
    copy_dir(
        &other.path().join("projection"),
        &dir.path().join("projection"),
    );
    let recovery = serves_the_same(dir.path(), &content, "foreign copy").await;
    let ProjectionRecovery::Rebuilt { why, .. } = recovery else {
        panic!("{recovery:?}")
    };
    assert_eq!(why, RebuildReason::OtherHistory { seq: EVENTS });
}

/// The process ended while sled opened: the folder is not tried a second time, and of folders
/// set aside only the latest stays.
#[tokio::test(flavor = "multi_thread")]
async fn an_open_that_killed_the_process_is_set_aside() {
    let dir = tempfile::tempdir().unwrap();
    let content = prepared(dir.path()).await;
    for round in 1..=3 {
        fs::write(dir.path().join("projection.opening"), b"").unwrap();
        let (store, recovery) = open(dir.path());
        let ProjectionRecovery::Rebuilt { why, .. } = recovery.projection else {
            panic!()
        };
        assert_eq!(why, RebuildReason::InterruptedOpen);
        assert_eq!(dump(&store), content);
        assert!(!dir.path().join("projection.opening").exists());
        store.close().await;
        let aside: Vec<_> = fs::read_dir(dir.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.starts_with("projection.bad-"))
            .collect();
        assert_eq!(aside, [format!("projection.bad-{round}")]);
    }
}

/// An engine that refuses to open (its own lock is held from outside) is set aside.
#[tokio::test(flavor = "multi_thread")]
async fn an_engine_that_refuses_is_set_aside() {
    let dir = tempfile::tempdir().unwrap();
    let content = prepared(dir.path()).await;
    let database = files(&dir.path().join("projection"))
        .into_iter()
        .find(|path| path.file_name().unwrap() == "db")
        .unwrap();
    let held = fs::File::open(&database).unwrap();
    rustix::fs::flock(&held, rustix::fs::FlockOperation::NonBlockingLockExclusive).unwrap();
    let (store, recovery) = Store::open(dir.path(), small(), Arc::new(Lines(1))).unwrap();
    let ProjectionRecovery::Rebuilt { why, .. } = recovery.projection else {
        panic!()
    };
    assert!(matches!(why, RebuildReason::EngineFailed { .. }), "{why}");
    assert_eq!(dump(&store), content);
}
