//! A journal of two segments, and the snapshot that is made when the first is
//! sealed: used where nothing else can tell the state, and only if it is sound.
//!
//! The daemon seals a segment at 16 MiB. Here the second is begun by hand, as
//! one that was created just before a crash, so that the store stays small.

use std::path::{Path, PathBuf};

use lamella_tests::api::Refused;
use lamella_tests::daemon::Daemon;
use lamella_tests::watch::Watch;
use lamella_tests::{shop, wait};
use serde_json::Value;
use tempfile::TempDir;
use tonic::Code;

use crate::segment::{self, Segment};
use crate::store;

/// A stopped store of two segments, with a snapshot of the first.
struct Two {
    dir: TempDir,
    first: Segment,
    second: Segment,
    /// Last event of the first segment, and of the snapshot.
    sealed: usize,
    answers: Value,
}

async fn two_segments() -> Two {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    store::fill(&daemon.client().await).await;
    assert!(daemon.terminate().success());
    let sealed = segment::only(dir.path()).records.len();
    begin_second(dir.path(), sealed, |_| {});
    let daemon = Daemon::start_on(dir.path());
    assert_eq!(daemon.sequence, sealed as u64);
    wait::until("the snapshot of the sealed segment", || {
        snapshot(dir.path(), sealed).exists().then_some(())
    });
    let api = daemon.client().await;
    shop::new_job(&api, "Black pickup").await;
    let answers = shop::everything(&api).await;
    assert!(daemon.terminate().success());
    store::verify_clean(dir.path(), "with two segments and a snapshot");
    let [first, second] = segment::all(dir.path()).try_into().unwrap();
    assert_eq!((first.records.len(), second.records.len()), (sealed, 1));
    Two {
        dir,
        first,
        second,
        sealed,
        answers,
    }
}

fn begin_second(data_dir: &Path, sealed: usize, change: impl FnOnce(&mut Vec<u8>)) {
    let mut header = segment::header(1, sealed as u64 + 1).to_vec();
    change(&mut header);
    std::fs::write(
        data_dir.join(format!("journal/{:020}.seg", sealed + 1)),
        header,
    )
    .unwrap();
}

fn snapshot(data_dir: &Path, sealed: usize) -> PathBuf {
    data_dir.join(format!("snapshots/{sealed:020}.snap"))
}

fn spoil_snapshot(data_dir: &Path, sealed: usize) {
    store::edit(&snapshot(data_dir, sealed), |bytes| {
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
    });
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_snapshot_stands_in_for_archived_segments_if_it_is_sound() {
    let two = two_segments().await;
    let archived = store::copy(two.dir.path());
    std::fs::remove_file(archived.path().join("journal").join(two.first.name())).unwrap();
    std::fs::remove_dir_all(archived.path().join("projection")).unwrap();
    let spoilt = store::copy(archived.path());

    let daemon = Daemon::start_on(archived.path());
    let api = daemon.client().await;
    assert_eq!(shop::everything(&api).await, two.answers);
    // What happened before can still be read, but no longer be replayed.
    let refused = Refused::of(&Watch::begin(&api, "0", "").await.unwrap_err());
    assert_eq!(
        (refused.code, refused.reason.as_str()),
        (Code::OutOfRange, "RESUME_TOKEN_TOO_OLD")
    );
    assert!(daemon.terminate().success());
    store::verify_clean(archived.path(), "without the first segment");

    spoil_snapshot(spoilt.path(), two.sealed);
    let next = two.sealed + 1;
    let said = format!(
        "the oldest event kept is {next} and no intact snapshot reaches {}",
        two.sealed
    );
    refuses(spoilt.path(), &said);

    // With the first segment there, a spoilt snapshot is passed over.
    let spoilt = store::copy(two.dir.path());
    spoil_snapshot(spoilt.path(), two.sealed);
    let found = store::verify(spoilt.path()).ended_with(1);
    assert!(
        found.stdout.contains(&format!("snapshot {}: ", two.sealed)),
        "{found}"
    );
    std::fs::remove_dir_all(spoilt.path().join("projection")).unwrap();
    assert_eq!(store::answers(spoilt.path()).await, two.answers);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn damage_in_a_sealed_segment_is_refused_and_names_the_snapshot() {
    let two = two_segments().await;
    let dir = store::copy(two.dir.path());
    let (first, second) = (&two.first, &two.second);
    let file = dir.path().join("journal").join(first.name());
    let last = first.records.last().unwrap();
    let newest = format!(
        "the newest intact snapshot holds the state at sequence {}",
        two.sealed
    );
    let mut flipped = first.bytes.clone();
    flipped[last.end - 1] ^= 1;
    // A sealed segment has no tail: cut short, it is damaged.
    for (bytes, name, offset) in [
        (&flipped[..], first.name(), last.start),
        (&first.bytes[..last.end - 1], first.name(), last.start),
        (&first.bytes[..last.start + 3], first.name(), last.start),
        (&first.bytes[..last.start], second.name(), 0),
        (&first.bytes[..7], first.name(), 0),
    ] {
        std::fs::write(&file, bytes).unwrap();
        let said = refuses(dir.path(), &format!("segment `{name}` at byte {offset}: "));
        assert!(said.contains(&newest), "{said}");
        assert_eq!(std::fs::read(&file).unwrap(), bytes);
    }
    std::fs::remove_file(&file).unwrap();
    std::fs::remove_file(file.with_file_name(second.name())).unwrap();
    let sealed = two.sealed;
    refuses(
        dir.path(),
        &format!("no segments although a snapshot at sequence {sealed} exists"),
    );
    // Nothing of that did harm: with both back, all is as before.
    std::fs::write(&file, &first.bytes).unwrap();
    std::fs::write(file.with_file_name(second.name()), &second.bytes).unwrap();
    assert_eq!(store::answers(dir.path()).await, two.answers);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_segment_that_got_no_whole_header_is_begun_again() {
    let one = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(one.path());
    store::fill(&daemon.client().await).await;
    assert!(daemon.terminate().success());
    let answers = store::answers(one.path()).await;
    let sealed = segment::only(one.path()).records.len();
    let cuts: [fn(&mut Vec<u8>); 4] = [
        |header| header.clear(),
        |header| header.truncate(10),
        |header| header.truncate(segment::HEADER_LEN - 1),
        |header| header.fill(0),
    ];
    for (number, cut) in cuts.into_iter().enumerate() {
        let dir = store::copy(one.path());
        begin_second(dir.path(), sealed, cut);
        let daemon = Daemon::start_on(dir.path());
        let api = daemon.client().await;
        assert_eq!(shop::everything(&api).await, answers, "cut {number}");
        shop::new_job(&api, "Black pickup").await;
        assert!(daemon.terminate().success());
        let counts: Vec<_> = segment::all(dir.path())
            .iter()
            .map(|s| s.records.len())
            .collect();
        assert_eq!(counts, [sealed, 1], "cut {number}");
        store::verify_clean(dir.path(), &format!("cut {number}"));
    }
}

/// The daemon must not start, and say so; all that it wrote.
fn refuses(data_dir: &Path, said: &str) -> String {
    let refused = Daemon::builder()
        .data_dir(data_dir)
        .try_start()
        .unwrap_err();
    assert_eq!(refused.status.code(), Some(1), "{}", refused.stderr);
    assert!(
        refused.stderr.contains(said),
        "{said} is not in\n{}",
        refused.stderr
    );
    refused.stderr
}
