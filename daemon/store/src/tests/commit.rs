//! Group commit: exactly once, in one order, several commands per sync; refusals leave no trace.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use super::kit::{Lines, dump, history, lines, model, number, open, small, try_open, write};
use super::recording::{Image, Recording};
use crate::{CommandTx, Commit, KvRead, MAX_PAYLOAD_LEN, Store, StoreError};

const CALLERS: u64 = 64;
const EACH: u64 = 40;

/// 64 callers draw numbers from one counter that lives in the store. Each number must be drawn
/// once, the numbers must follow the events' order, and syncs must be shared.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn many_callers_exactly_once_and_in_order() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let store = Arc::new(store);
    let mut callers = Vec::new();
    for caller in 0..CALLERS {
        let store = Arc::clone(&store);
        callers.push(tokio::spawn(async move {
            let mut drawn = Vec::new();
            for n in 0..EACH {
                let done = store
                    .execute(move |tx| {
                        let before = tx.get(b"counter").map_or(0, |value| number(&value));
                        let events = vec![
                            b"inc counter".to_vec(),
                            format!("set {caller}-{n} {before}").into_bytes(),
                        ];
                        Ok::<_, ()>(Commit::new(events, before))
                    })
                    .await
                    .unwrap()
                    .unwrap();
                assert_eq!(done.seqs.end - done.seqs.start, 2);
                // Acknowledged means readable.
                let key = format!("{caller}-{n}");
                let value = store.reader().get(key.as_bytes()).unwrap().unwrap();
                assert_eq!(number(&value), done.reply);
                drawn.push((done.seqs.start, done.reply));
            }
            drawn
        }));
    }
    let mut drawn = Vec::new();
    for caller in callers {
        let own = caller.await.unwrap();
        assert!(own.is_sorted(), "one caller's commands are in its order");
        drawn.extend(own);
    }
    drawn.sort_unstable();
    let expected: Vec<(u64, u64)> = (0..CALLERS * EACH).map(|n| (2 * n + 1, n)).collect();
    assert_eq!(drawn, expected);
    let stats = store.stats();
    assert_eq!(
        (stats.commands, stats.records),
        (CALLERS * EACH, 2 * CALLERS * EACH)
    );
    assert!(
        stats.syncs < stats.commands,
        "{} syncs, {} commands",
        stats.syncs,
        stats.commands
    );
    assert_eq!(dump(&store), model(&history(&store)));
    let segments = std::fs::read_dir(dir.path().join("journal")).unwrap();
    let bytes: u64 = segments.map(|s| s.unwrap().metadata().unwrap().len()).sum();
    assert_eq!(store.journal_bytes().unwrap(), bytes);

    let before = dump(&store);
    store.close().await;
    drop(store);
    let (store, recovery) = open(dir.path());
    assert_eq!(recovery.last_seq, 2 * CALLERS * EACH);
    assert_eq!(dump(&store), before);
}

/// Keeps the writer busy with one command until the others are queued, so that those share a
/// batch for certain.
struct Held {
    store: Arc<Store>,
    go: std::sync::mpsc::Sender<()>,
    first: tokio::task::JoinHandle<()>,
}

impl Held {
    async fn new(store: &Arc<Store>) -> Self {
        let (go, wait) = std::sync::mpsc::channel::<()>();
        let (begun, begins) = tokio::sync::oneshot::channel::<()>();
        let first = Arc::clone(store);
        let first = tokio::spawn(async move {
            let command = move |_: &CommandTx<'_>| {
                begun.send(()).unwrap();
                wait.recv().unwrap();
                Ok::<_, ()>(Commit::new(vec![b"inc first".to_vec()], ()))
            };
            first.execute(command).await.unwrap().unwrap();
        });
        begins.await.unwrap();
        Self {
            store: Arc::clone(store),
            go,
            first,
        }
    }

    async fn queued(&self, commands: u64) {
        while self.store.stats().queued < commands {
            tokio::task::yield_now().await;
        }
    }

    async fn release(self) {
        self.go.send(()).unwrap();
        self.first.await.unwrap();
    }
}

/// Commands sent while the writer is busy share one sync, counted at the disk.
#[tokio::test(flavor = "multi_thread")]
async fn waiting_commands_share_one_sync() {
    let dir = tempfile::tempdir().unwrap();
    let backend = Arc::new(Recording::new(Image::new()));
    let (store, _) =
        Store::open_on(backend.clone(), dir.path(), small(), Arc::new(Lines(1))).unwrap();
    let store = Arc::new(store);
    let syncs = backend.syncs();
    let held = Held::new(&store).await;
    let others: Vec<_> = (0..10)
        .map(|_| {
            let store = Arc::clone(&store);
            tokio::spawn(async move { write(&store, &["inc a"]).await })
        })
        .collect();
    held.queued(10).await;
    held.release().await;
    for other in others {
        other.await.unwrap();
    }
    assert_eq!(backend.syncs() - syncs, 1);
    assert_eq!((store.last_seq(), store.stats().syncs), (11, 1));
}

/// A refused command between two that commit, all in one batch: the next one sees the state as if
/// it had never been, and gets its sequence number.
#[tokio::test(flavor = "multi_thread")]
async fn a_refusal_inside_a_batch_leaves_no_trace() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let store = Arc::new(store);
    let held = Held::new(&store).await;
    let own = Arc::clone(&store);
    let refused = tokio::spawn(async move {
        let events = vec![
            b"inc first".to_vec(),
            b"set a 1".to_vec(),
            b"nonsense".to_vec(),
        ];
        own.execute(|_| Ok::<_, ()>(Commit::new(events, ()))).await
    });
    held.queued(1).await;
    let own = Arc::clone(&store);
    let next = tokio::spawn(async move {
        own.execute(|tx| {
            let seen = (tx.get(b"first"), tx.get(b"a"), tx.next_seq());
            Ok::<_, ()>(Commit::new(vec![b"inc first".to_vec()], seen))
        })
        .await
    });
    held.queued(2).await;
    held.release().await;
    let error = refused.await.unwrap().unwrap_err();
    assert!(
        matches!(error, StoreError::Project { seq: 4, .. }),
        "{error}"
    );
    let done = next.await.unwrap().unwrap().unwrap();
    assert_eq!(done.reply, (Some(b"1".to_vec()), None, 2));
    assert_eq!(store.stats().syncs, 1);
    assert_eq!(history(&store), ["inc first", "inc first"]);
    assert_eq!(dump(&store), model(&history(&store)));
}

#[tokio::test(flavor = "multi_thread")]
async fn refusals_leave_no_trace() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    write(&store, &["set a 1"]).await;
    let before = dump(&store);

    let refused = store.execute(|_| Err::<Commit<()>, _>("no")).await.unwrap();
    assert_eq!(refused, Err("no"));

    // The projector refuses the second event: the first is taken back as well.
    let events = vec![b"set a 2".to_vec(), b"nonsense".to_vec()];
    let error = store
        .execute(|_| Ok::<_, ()>(Commit::new(events, ())))
        .await
        .unwrap_err();
    assert!(
        matches!(error, StoreError::Project { seq: 3, .. }),
        "{error}"
    );

    let events = vec![b"set a 3".to_vec(), b"panic".to_vec()];
    let error = store
        .execute(|_| Ok::<_, ()>(Commit::new(events, ())))
        .await
        .unwrap_err();
    assert!(
        matches!(error, StoreError::Project { seq: 3, .. }),
        "{error}"
    );

    let command = |_: &CommandTx<'_>| -> Result<Commit<()>, ()> { panic!("a command's own") };
    let error = store.execute(command).await.unwrap_err();
    let StoreError::CommandPanicked { message } = &error else {
        panic!("{error}")
    };
    assert_eq!(message, "a command's own");

    let events = vec![b"set a 4".to_vec(), vec![b'x'; MAX_PAYLOAD_LEN + 1]];
    let error = store
        .execute(|_| Ok::<_, ()>(Commit::new(events, ())))
        .await
        .unwrap_err();
    assert!(
        matches!(error, StoreError::PayloadTooLarge { .. }),
        "{error}"
    );

    assert_eq!(dump(&store), before);
    assert_eq!((store.last_seq(), store.stats().failed), (1, false));
    assert_eq!(write(&store, &["set a 5"]).await, 2);
    assert_eq!(history(&store), ["set a 1", "set a 5"]);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_reply_can_be_read_from_the_state_after() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let done = store
        .execute(|tx| {
            assert_eq!(tx.next_seq(), 1);
            let events = vec![b"inc n".to_vec(), b"inc n".to_vec()];
            Ok::<_, ()>(Commit::and_then_read(events, |tx| {
                (tx.get(b"n"), tx.next_seq())
            }))
        })
        .await;
    let done = done.unwrap().unwrap();
    assert_eq!(done.reply, (Some(b"2".to_vec()), 3));
    assert_eq!(done.seqs, 1..3);
    let none = store
        .execute(|_| Ok::<_, ()>(Commit::nothing(())))
        .await
        .unwrap()
        .unwrap();
    assert_eq!(none.seqs, 3..3);
}

/// The largest event allowed, and the segment that it does not fit into.
#[tokio::test(flavor = "multi_thread")]
async fn the_largest_event_is_kept() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let value = "v".repeat(MAX_PAYLOAD_LEN - "set k ".len());
    write(&store, &["inc before"]).await;
    write(&store, &[&format!("set k {value}")]).await;
    write(&store, &["inc after"]).await;
    store.close().await;
    drop(store);
    let (store, recovery) = open(dir.path());
    assert_eq!(recovery.segments, 3);
    assert_eq!(
        store.reader().get(b"k").unwrap().unwrap().len(),
        value.len()
    );
}

/// A caller that left before its command began gets nothing done; the others do.
#[tokio::test(flavor = "multi_thread")]
async fn callers_may_leave() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let store = Arc::new(store);
    let ran = Arc::new(AtomicU64::new(0));
    let mut calls = Vec::new();
    for n in 0..200 {
        let (store, ran) = (Arc::clone(&store), Arc::clone(&ran));
        let call = tokio::spawn(async move {
            let command = move |_: &CommandTx<'_>| {
                ran.fetch_add(1, Ordering::SeqCst);
                Ok::<_, ()>(Commit::new(vec![b"inc n".to_vec()], ()))
            };
            store.execute(command).await.unwrap().unwrap();
        });
        if n % 2 == 0 {
            call.abort();
        }
        calls.push(call);
    }
    let mut acknowledged = 0;
    for call in calls {
        acknowledged += u64::from(call.await.is_ok());
    }
    store.close().await;
    let ran = ran.load(Ordering::SeqCst);
    assert!(acknowledged >= 100 && acknowledged <= ran);
    drop(store);
    let (store, _) = open(dir.path());
    assert_eq!(number(&store.reader().get(b"n").unwrap().unwrap()), ran);
    assert_eq!(store.last_seq(), ran);
}

#[tokio::test(flavor = "multi_thread")]
async fn closing_commits_what_was_sent_and_refuses_the_rest() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let store = Arc::new(store);
    let calls: Vec<_> = lines(50)
        .into_iter()
        .map(|line| {
            let store = Arc::clone(&store);
            tokio::spawn(async move {
                let events = vec![line.into_bytes()];
                store
                    .execute(|_| Ok::<_, ()>(Commit::new(events, ())))
                    .await
            })
        })
        .collect();
    store.close().await;
    let mut acknowledged = 0;
    for call in calls {
        match call.await.unwrap() {
            Ok(done) => acknowledged += u64::from(done.is_ok()),
            Err(error) => assert!(matches!(error, StoreError::Closed), "{error}"),
        }
    }
    let late = store.execute(|_| Ok::<_, ()>(Commit::nothing(()))).await;
    assert!(matches!(late, Err(StoreError::Closed)));
    assert!(matches!(store.reader().get(b"x"), Err(StoreError::Closed)));
    store.close().await;
    // The lock is free although the handle is still there.
    let (again, recovery) = open(dir.path());
    assert_eq!(recovery.last_seq, acknowledged);
    assert_eq!(dump(&again), model(&history(&again)));
}

#[tokio::test(flavor = "multi_thread")]
async fn one_store_per_directory() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let second = try_open(dir.path()).err().unwrap();
    let StoreError::Locked { holder, path } = &second else {
        panic!("{second}")
    };
    assert_eq!(*holder, Some(std::process::id()));
    assert!(
        second.to_string().contains(&std::process::id().to_string()),
        "{second}"
    );
    assert_eq!(*path, dir.path().join("lock"));
    drop(store);
    open(dir.path());
}
