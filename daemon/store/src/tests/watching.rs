//! Watching: from any token, no gap, no repeat, however slow the watcher or busy the writer.

use std::sync::Arc;

use super::kit::{Lines, fill, history, lines, open, small, write};
use crate::{Store, StoreConfig, StoreError, WatchError, Watcher};

async fn take(watcher: &mut Watcher, count: usize) -> Vec<(u64, String)> {
    let mut out = Vec::new();
    while out.len() < count {
        let (seq, payload) = watcher.next().await.unwrap().unwrap();
        out.push((seq, String::from_utf8(payload.to_vec()).unwrap()));
    }
    out
}

fn numbered(lines: &[String]) -> Vec<(u64, String)> {
    (1..).zip(lines.iter().cloned()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn from_every_token_replayed_then_live() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let all = lines(60);
    fill(&store, &all[..40]).await;
    let mut watchers: Vec<(usize, Watcher)> = (0..=40)
        .map(|after| (after, store.watch(after as u64).unwrap()))
        .collect();
    assert_eq!(store.stats().watchers, 41);
    fill(&store, &all[40..]).await;
    store.close().await;
    for (after, watcher) in &mut watchers {
        assert_eq!(take(watcher, 60 - *after).await, numbered(&all)[*after..]);
        assert_eq!(watcher.seen(), 60);
        assert!(
            watcher.next().await.is_none(),
            "a closed store ends the watch"
        );
    }
}

/// Watchers that begin while 8 writers are busy, with a live channel of two events: nearly
/// everything goes through the fall-back to the journal.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn slow_watchers_beside_busy_writers() {
    let dir = tempfile::tempdir().unwrap();
    let config = StoreConfig {
        watch_events: 2,
        ..small()
    };
    let (store, _) = Store::open(dir.path(), config, Arc::new(Lines(1))).unwrap();
    let store = Arc::new(store);
    let writers: Vec<_> = (0..8)
        .map(|writer| {
            let store = Arc::clone(&store);
            tokio::spawn(async move {
                for n in 0..50 {
                    write(&store, &[&format!("set {writer} {n}"), "inc all"]).await;
                }
            })
        })
        .collect();
    let watchers: Vec<_> = (0..12)
        .map(|n| {
            let store = Arc::clone(&store);
            tokio::spawn(async move {
                while store.last_seq() < n * 20 {
                    tokio::task::yield_now().await;
                }
                let mut watcher = store.watch(n * 20).unwrap();
                let mut out = Vec::new();
                while out.len() as u64 + n * 20 < 800 {
                    out.extend(take(&mut watcher, 1).await);
                    tokio::task::yield_now().await;
                }
                out
            })
        })
        .collect();
    for writer in writers {
        writer.await.unwrap();
    }
    let all = numbered(&history(&store));
    assert_eq!(all.len(), 800);
    for (n, watcher) in watchers.into_iter().enumerate() {
        assert_eq!(watcher.await.unwrap(), all[n * 20..], "watcher {n}");
    }
}

/// An event seen by a watcher is already in the state that readers see.
#[tokio::test(flavor = "multi_thread")]
async fn a_seen_event_is_readable() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    let store = Arc::new(store);
    let mut watcher = store.watch(0).unwrap();
    let writer = Arc::clone(&store);
    let writing = tokio::spawn(async move { fill(&writer, &lines(50)).await });
    for _ in 0..50 {
        let (seq, _) = watcher.next().await.unwrap().unwrap();
        let state = store.reader().view(|view| view.last_seq()).unwrap();
        assert!(state >= seq, "event {seq} seen, state at {state}");
    }
    writing.await.unwrap();
}

/// A `next` that is dropped whenever it has to wait loses nothing, and still gets on.
#[tokio::test(flavor = "multi_thread")]
async fn next_may_be_dropped() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    fill(&store, &lines(300)).await;
    let mut watcher = store.watch(0).unwrap();
    let (mut out, mut dropped) = (Vec::new(), 0);
    while out.len() < 300 {
        tokio::select! {
            biased;
            event = watcher.next() => out.push(event.unwrap().unwrap().0),
            () = std::future::ready(()) => {
                dropped += 1;
                tokio::task::yield_now().await;
            }
        }
    }
    assert_eq!(out, (1..=300).collect::<Vec<u64>>());
    assert!(dropped > 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn tokens_out_of_range_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    fill(&store, &lines(60)).await;
    let ahead = store.watch(61).err().unwrap();
    assert!(
        matches!(
            ahead,
            WatchError::Ahead {
                after_seq: 61,
                last_seq: 60
            }
        ),
        "{ahead}"
    );
    store.snapshot_now().await.unwrap();
    store.close().await;
    drop(store);
    // The oldest segment goes to the archive.
    let segments = super::kit::files(&dir.path().join("journal"));
    std::fs::remove_file(&segments[0]).unwrap();
    let (store, recovery) = open(dir.path());
    let oldest = recovery.oldest_seq;
    assert!(oldest > 1);
    let old = store.watch(oldest - 2).err().unwrap();
    assert!(
        matches!(old, WatchError::TooOld { oldest_seq, .. } if oldest_seq == oldest),
        "{old}"
    );
    let mut watcher = store.watch(oldest - 1).unwrap();
    assert_eq!(watcher.next().await.unwrap().unwrap().0, oldest);
    let error = store.read_from(0, 1).unwrap_err();
    assert!(matches!(error, StoreError::NoBase { .. }), "{error}");
}
