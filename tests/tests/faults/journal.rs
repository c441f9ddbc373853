//! The journal: a flipped bit is refused and left alone, a torn tail is cut
//! off with a warning, a newer format is not touched.

use std::path::{Path, PathBuf};

use lamella_tests::daemon::Daemon;
use lamella_tests::{cli, shop};
use serde_json::Value;
use tempfile::TempDir;

use crate::random::Random;
use crate::segment::{self, HEADER_LEN, RECORD_HEADER_LEN, Segment};
use crate::store;

/// A store, stopped, before and after its last event.
struct Stores {
    before: TempDir,
    after: TempDir,
    answers_before: Value,
    answers_after: Value,
}

async fn stores() -> Stores {
    let before = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(before.path());
    store::fill(&daemon.client().await).await;
    assert!(daemon.terminate().success());
    let answers_before = store::answers(before.path()).await;
    let after = store::copy(before.path());
    let daemon = Daemon::start_on(after.path());
    shop::new_job(&daemon.client().await, "Black pickup").await;
    assert!(daemon.terminate().success());
    let answers_after = store::answers(after.path()).await;
    Stores {
        before,
        after,
        answers_before,
        answers_after,
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_flipped_bit_is_refused_with_segment_and_offset() {
    let mut random = Random::of_this_run();
    let stores = stores().await;
    let sound = segment::only(stores.after.path());
    let last = sound.records.len() - 1;
    let mut flips: Vec<(usize, usize)> = (0..HEADER_LEN).step_by(5).map(|byte| (byte, 0)).collect();
    for record in [0, last / 2, last - 1, last] {
        let bytes = &sound.records[record];
        // Length, sequence number, payload's checksum, header's checksum.
        for field in [0..4, 4..12, 12..16, 16..RECORD_HEADER_LEN] {
            flips.push((
                bytes.start + random.within(field.start..=field.end - 1),
                bytes.start,
            ));
        }
        let payload = bytes.start + RECORD_HEADER_LEN..=bytes.end - 1;
        flips.push((*payload.start(), bytes.start));
        flips.push((*payload.end(), bytes.start));
        flips.push((random.within(payload), bytes.start));
    }
    let dir = store::copy(stores.after.path());
    for (byte, offset) in flips {
        let bit = random.within(0..=7);
        let mut damaged = sound.bytes.clone();
        damaged[byte] ^= 1 << bit;
        let place = format!("segment `{}` at byte {offset}:", sound.name());
        refused(
            dir.path(),
            &sound,
            &damaged,
            &place,
            &format!("bit {bit} of byte {byte}"),
        );
    }
    // The directory is none the worse for all the refusals.
    write(dir.path(), &sound, &sound.bytes);
    assert_eq!(store::answers(dir.path()).await, stores.answers_after);
    store::verify_clean(dir.path(), "with the sound journal again");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_newer_format_is_refused_and_left_alone() {
    let stores = stores().await;
    let sound = segment::only(stores.after.path());
    let mut newer = sound.bytes.clone();
    newer[..HEADER_LEN].copy_from_slice(&segment::header(2, 1));
    let said = format!(
        "segment `{}` has format version 2, this program knows 1",
        sound.name()
    );
    refused(
        stores.after.path(),
        &sound,
        &newer,
        &said,
        "format version 2",
    );
}

/// Neither the daemon nor `rebuild` goes on with these bytes, and `verify` finds
/// them; each says `said` and changes nothing.
fn refused(data_dir: &Path, sound: &Segment, bytes: &[u8], said: &str, what: &str) {
    write(data_dir, sound, bytes);
    let before = content(data_dir);
    let started = Daemon::builder().data_dir(data_dir).try_start();
    let refused = started
        .err()
        .unwrap_or_else(|| panic!("{what}: the daemon started"));
    assert_eq!(refused.status.code(), Some(1), "{what}: {}", refused.stderr);
    assert!(
        refused.stderr.contains(said),
        "{what}: {said} is not in\n{}",
        refused.stderr
    );
    let verified = store::verify(data_dir).ended_with(1);
    assert!(
        verified.stdout.contains(said),
        "{what}: {said} is not in {verified}"
    );
    let rebuilt = cli::lamellad([
        "rebuild".as_ref(),
        "--data-dir".as_ref(),
        data_dir.as_os_str(),
    ]);
    assert!(rebuilt.ended_with(1).stderr.contains(said), "{what}");
    assert!(content(data_dir) == before, "{what}: something was changed");
}

/// Every file of a data directory but the lock, with its bytes.
fn content(data_dir: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let files = store::files(data_dir)
        .into_iter()
        .filter(|file| !file.ends_with("lock"));
    files
        .map(|file| (file.clone(), std::fs::read(file).unwrap()))
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_torn_tail_is_cut_off_with_a_warning() {
    let stores = stores().await;
    let whole = segment::only(stores.after.path());
    let last = whole.records.last().unwrap().clone();
    let torn = |length: usize| whole.bytes[..last.start + length].to_vec();
    let zeros = |length: usize| {
        let mut bytes = whole.bytes[..last.start].to_vec();
        bytes.resize(last.start + length, 0);
        bytes
    };
    let lengths = [
        1,
        3,
        RECORD_HEADER_LEN - 1,
        RECORD_HEADER_LEN,
        RECORD_HEADER_LEN + 1,
    ];
    let mut tails: Vec<Vec<u8>> = lengths.into_iter().map(torn).collect();
    tails.extend([torn(last.len() / 2), torn(last.len() - 1)]);
    tails.extend([zeros(1), zeros(RECORD_HEADER_LEN), zeros(4096)]);
    for bytes in tails {
        let length = bytes.len() - last.start;
        // As a crash leaves it: the projection never knew of the event.
        let dir = store::copy(stores.before.path());
        cut_off(dir.path(), &whole, &bytes, length, &stores.answers_before).await;
        // As a disk leaves it that forgot: the projection is ahead.
        if length == last.len() / 2 {
            let dir = store::copy(stores.after.path());
            cut_off(dir.path(), &whole, &bytes, length, &stores.answers_before).await;
        }
    }
}

/// Opens a journal whose last `torn` bytes are to be cut off.
async fn cut_off(data_dir: &Path, whole: &Segment, bytes: &[u8], torn: usize, answers: &Value) {
    write(data_dir, whole, bytes);
    let found = store::verify(data_dir).ended_with(1);
    assert!(
        found.stdout.contains(&format!("torn tail: {torn} bytes")),
        "{found}"
    );
    let daemon = Daemon::start_on(data_dir);
    let warning = format!("cut a torn tail off the journal bytes={torn}\n");
    assert!(
        daemon.stderr().contains(&warning),
        "{torn} bytes: {}",
        daemon.stderr()
    );
    let api = daemon.client().await;
    assert_eq!(&shop::everything(&api).await, answers, "{torn} bytes");
    let kept = bytes.len() - torn;
    assert_eq!(
        std::fs::read(journal_file(data_dir, whole)).unwrap(),
        bytes[..kept]
    );
    // Its number is free for another event.
    shop::new_job(&api, "Green van").await;
    let after = shop::everything(&api).await;
    assert_eq!(after["sequence"], answers["sequence"].as_u64().unwrap() + 1);
    assert!(daemon.terminate().success());
    store::verify_clean(data_dir, &format!("{torn} bytes"));
    let daemon = Daemon::start_on(data_dir);
    assert!(
        !daemon.stderr().contains("torn tail"),
        "{torn} bytes: {}",
        daemon.stderr()
    );
    assert_eq!(
        shop::everything(&daemon.client().await).await,
        after,
        "{torn} bytes"
    );
}

fn journal_file(data_dir: &Path, segment: &Segment) -> PathBuf {
    data_dir.join("journal").join(segment.name())
}

fn write(data_dir: &Path, segment: &Segment, bytes: &[u8]) {
    std::fs::write(journal_file(data_dir, segment), bytes).unwrap();
}
