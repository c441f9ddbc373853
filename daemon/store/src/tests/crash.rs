//! A crash at every byte and every sync: what was acknowledged is there, what is there is a
//! prefix of what was sent, and it goes on from there.

use std::sync::Arc;

use super::kit::{Lines, dump, history, lines, model, small, write};
use super::recording::{Image, Op, Recording, acknowledged, durable, op_len, written};
use crate::journal::{FrameBatch, Journal};
use crate::{Commit, Store, StoreConfig, StoreError};

async fn recorded(sent: &[String]) -> Vec<Op> {
    let dir = tempfile::tempdir().unwrap();
    let backend = Arc::new(Recording::new(Image::new()));
    let (store, _) =
        Store::open_on(backend.clone(), dir.path(), small(), Arc::new(Lines(1))).unwrap();
    for line in sent {
        let seq = write(&store, &[line]).await;
        backend.acknowledged(seq);
    }
    store.close().await;
    backend.log()
}

/// Opens a disk image, returns all payloads, and proves that it can be appended to again.
fn reopen(image: Image) -> Vec<String> {
    let backend = Arc::new(Recording::new(image));
    let mut journal = Journal::open(backend.clone(), 400).unwrap().journal;
    let read = journal
        .reader()
        .read_from(0, usize::MAX, usize::MAX)
        .unwrap();
    let mut batch = FrameBatch::default();
    batch.push(journal.next_seq(), b"after the crash", false);
    journal.commit(&batch).unwrap();
    let again = Journal::open(backend, 400).unwrap();
    assert_eq!(again.truncated_bytes, 0);
    assert_eq!(again.journal.next_seq(), read.len() as u64 + 2);
    read.iter()
        .map(|(_, payload)| String::from_utf8(payload.to_vec()).unwrap())
        .collect()
}

fn check(image: Image, sent: &[String], acknowledged: u64, place: &str) {
    let kept = reopen(image);
    assert_eq!(kept, sent[..kept.len()], "{place}");
    assert!(
        kept.len() as u64 >= acknowledged,
        "{place}: {} of {acknowledged}",
        kept.len()
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn at_every_byte_and_every_sync() {
    let sent = lines(40);
    let log = recorded(&sent).await;
    let segments = log.iter().filter(|op| matches!(op, Op::Create(..))).count();
    assert!(segments >= 3, "the run must roll: {segments} segments");
    let mut images = 0;
    for (at, op) in log.iter().enumerate() {
        let (whole, acked) = (&log[..at], acknowledged(&log[..at]));
        for part in 0..=op_len(op) {
            let place = format!("operation {at}, {part} bytes of it");
            check(written(whole, Some((op, part))), &sent, acked, &place);
            images += 1;
        }
        // The system wrote back only what was synced: nothing acknowledged may be missing.
        check(
            durable(whole),
            &sent,
            acked,
            &format!("durable before operation {at}"),
        );
        // The file was extended, but its new blocks were not written.
        if let Op::Append(segment, bytes) = op {
            let mut zeroed = written(whole, None);
            zeroed
                .get_mut(segment)
                .unwrap()
                .extend(vec![0; bytes.len()]);
            check(zeroed, &sent, acked, &format!("zeros for operation {at}"));
        }
    }
    assert!(images > 1000, "{images} images");
}

/// Opening is itself interrupted: the cut of a torn tail, then its sync.
#[tokio::test(flavor = "multi_thread")]
async fn while_recovering() {
    let sent = lines(12);
    let log = recorded(&sent).await;
    let mut torn = written(&log, None);
    let last = torn.last_entry().unwrap().into_mut();
    last.truncate(last.len() - 3);
    let backend = Arc::new(Recording::new(torn.clone()));
    drop(Journal::open(backend.clone(), 400).unwrap());
    for at in 0..=backend.log().len() {
        let mut image = torn.clone();
        for op in &backend.log()[..at] {
            if let Op::Truncate(segment, len) = op {
                image.get_mut(segment).unwrap().truncate(*len);
            }
        }
        assert_eq!(reopen(image), sent[..11]);
    }
}

/// Whole records that an earlier process wrote but did not live to sync are made durable before
/// they are trusted, and so is the cut of a torn tail.
#[test]
fn opening_syncs_what_it_trusts() {
    let mut batch = FrameBatch::default();
    batch.push(1, b"written, never synced", false);
    let backend = Arc::new(Recording::new(Image::new()));
    Journal::open(backend.clone(), 400)
        .unwrap()
        .journal
        .commit(&batch)
        .unwrap();
    for torn in [false, true] {
        let mut image = backend.image();
        if torn {
            image.get_mut(&1).unwrap().extend([7; 5]);
        }
        let found = Arc::new(Recording::new(image));
        let opened = Journal::open(found.clone(), 400).unwrap();
        assert_eq!(opened.journal.next_seq(), 2);
        let log = found.log();
        assert!(matches!(log.last(), Some(Op::Sync(1))), "{log:?}");
        assert_eq!(log.iter().any(|op| matches!(op, Op::Truncate(..))), torn);
    }
}

/// The whole store, at every operation, over a projection that may be ahead or behind.
#[tokio::test(flavor = "multi_thread")]
async fn the_whole_store_at_every_operation() {
    let sent = lines(14);
    let log = recorded(&sent).await;
    let dir = tempfile::tempdir().unwrap();
    for at in 0..=log.len() {
        for image in [written(&log[..at], None), durable(&log[..at])] {
            let backend = Arc::new(Recording::new(image));
            let opened = Store::open_on(backend, dir.path(), small(), Arc::new(Lines(1)));
            let (store, recovery) = opened.unwrap();
            assert!(recovery.last_seq >= acknowledged(&log[..at]));
            let kept = history(&store);
            assert_eq!(kept, sent[..kept.len()]);
            assert_eq!(dump(&store), model(&kept), "at {at}: {recovery:?}");
            store.close().await;
        }
    }
}

/// A failed append or sync: an error for the batch, read-only from then on, reads go on, the sync
/// is not tried again.
#[tokio::test(flavor = "multi_thread")]
async fn a_failing_disk_makes_the_store_read_only() {
    for fail_sync in [false, true] {
        let dir = tempfile::tempdir().unwrap();
        let backend = Arc::new(Recording::new(Image::new()));
        let config = StoreConfig {
            snapshots: false,
            ..StoreConfig::default()
        };
        let (store, _) =
            Store::open_on(backend.clone(), dir.path(), config, Arc::new(Lines(1))).unwrap();
        let sent = lines(5);
        for line in &sent {
            write(&store, &[line]).await;
        }
        let syncs = backend.syncs();
        if fail_sync {
            backend.fail_sync_after(0);
        } else {
            backend.fail_append_after(0);
        }
        for attempt in 0..3 {
            let payloads = vec![b"inc lost".to_vec()];
            let result = store
                .execute(|_| Ok::<_, ()>(Commit::new(payloads, ())))
                .await;
            let Err(StoreError::Failed { reason }) = result else {
                panic!("attempt {attempt} was acknowledged by a failing disk");
            };
            let action = if fail_sync { "sync" } else { "append to" };
            assert!(reason.contains(action), "{reason}");
            assert_eq!(store.failure(), Some(reason), "it can be asked for later");
        }
        assert_eq!(backend.syncs(), syncs, "the sync was tried again");
        assert!(store.stats().failed);
        assert_eq!(dump(&store), model(&sent));
        assert_eq!(store.last_seq(), 5);
        assert!(store.watch(5).is_ok());
        store.close().await;
        let kept = reopen(backend.image());
        assert_eq!(kept[..5], sent[..], "what was acknowledged is there");
    }
}

/// The projection fails after the journal's sync: the event is durable, so it is acknowledged and
/// watched, but nothing more is decided on a state that lacks it; the next start has it.
#[tokio::test(flavor = "multi_thread")]
async fn a_failing_projection_does_not_unsay_what_is_durable() {
    let dir = tempfile::tempdir().unwrap();
    let backend = Arc::new(Recording::new(Image::new()));
    let (store, _) =
        Store::open_on(backend.clone(), dir.path(), small(), Arc::new(Lines(1))).unwrap();
    write(&store, &["set a 1"]).await;
    let mut watcher = store.watch(1).unwrap();
    let shared = store.shared_for_test();
    backend.after_sync(move || drop(shared.engine.write().unwrap().take()));
    assert_eq!(write(&store, &["set a 2"]).await, 2);
    assert_eq!(watcher.next().await.unwrap().unwrap().0, 2);
    let later = store.execute(|_| Ok::<_, ()>(Commit::nothing(()))).await;
    assert!(matches!(later, Err(StoreError::Failed { .. })));
    store.close().await;
    drop(store);
    let again = Arc::new(Recording::new(backend.image()));
    let (store, recovery) = Store::open_on(again, dir.path(), small(), Arc::new(Lines(1))).unwrap();
    assert_eq!(recovery.last_seq, 2);
    assert_eq!(dump(&store), model(&["set a 1", "set a 2"]));
}

/// The writer's thread ends by a panic, as a bug would make it: what waits is told so, and the
/// store says that it takes nothing more, until it is closed.
#[tokio::test(flavor = "multi_thread")]
async fn a_writer_that_is_gone_is_a_failure_and_no_stop() {
    let dir = tempfile::tempdir().unwrap();
    let backend = Arc::new(Recording::new(Image::new()));
    let (store, _) =
        Store::open_on(backend.clone(), dir.path(), small(), Arc::new(Lines(1))).unwrap();
    write(&store, &["set a 1"]).await;
    assert_eq!(store.failure(), None);
    backend.after_sync(|| panic!("as told"));
    let payloads = vec![b"set a 2".to_vec()];
    let lost = store
        .execute(|_| Ok::<_, ()>(Commit::new(payloads, ())))
        .await;
    // The answer's channel goes before the thread does.
    while store.failure().is_none() {
        tokio::task::yield_now().await;
    }
    let later = store.execute(|_| Ok::<_, ()>(Commit::nothing(()))).await;
    assert!(matches!(later, Err(StoreError::Failed { .. })), "{later:?}");
    assert!(lost.is_err(), "{lost:?}");
    assert_eq!(dump(&store), model(&["set a 1"]));
    store.close().await;
    assert_eq!(store.failure(), None, "closed is not failed");
}
