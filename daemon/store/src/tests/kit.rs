//! A projector over lines of text, the same rules over an ordinary map, and helpers.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::{
    Commit, Entry, KvRead, ProjectError, Projector, Recovery, Store, StoreConfig, StoreError, Tx,
};

/// Events: `set KEY VALUE`, `del KEY`, `inc KEY`; anything else is refused, `panic` panics.
/// Beside each `set` it keeps an index entry `by-value/VALUE/KEY`.
pub(crate) struct Lines(pub(crate) u32);

impl Projector for Lines {
    fn version(&self) -> u32 {
        self.0
    }

    fn apply(&self, _seq: u64, payload: &[u8], tx: &mut Tx<'_>) -> Result<(), ProjectError> {
        let text = std::str::from_utf8(payload).map_err(ProjectError::new)?;
        let words: Vec<&str> = text.split(' ').collect();
        match words[..] {
            ["set", key, value] => {
                drop_index(tx, key);
                tx.put(key, value);
                tx.put(format!("by-value/{value}/{key}"), "");
            }
            ["del", key] => {
                drop_index(tx, key);
                tx.delete(key);
            }
            ["inc", key] => {
                let now = tx.get(key.as_bytes()).map_or(0, |value| number(&value));
                tx.put(key, (now + 1).to_string());
            }
            ["panic"] => panic!("as told"),
            _ => return Err(ProjectError::new(format!("unknown line `{text}`"))),
        }
        Ok(())
    }
}

fn drop_index(tx: &mut Tx<'_>, key: &str) {
    if let Some(old) = tx.get(key.as_bytes()) {
        tx.delete(format!("by-value/{}/{key}", String::from_utf8_lossy(&old)));
    }
}

pub(crate) fn number(value: &[u8]) -> u64 {
    std::str::from_utf8(value).unwrap().parse().unwrap()
}

/// The same rules on an ordinary map, written without the store's types.
pub(crate) fn model<T: AsRef<str>>(lines: &[T]) -> Vec<Entry> {
    let mut map: BTreeMap<String, String> = BTreeMap::new();
    for line in lines {
        let words: Vec<&str> = line.as_ref().split(' ').collect();
        if matches!(words[0], "set" | "del")
            && let Some(old) = map.remove(words[1])
        {
            map.remove(&format!("by-value/{old}/{}", words[1]));
        }
        match words[0] {
            "set" => {
                map.insert(words[1].into(), words[2].into());
                map.insert(format!("by-value/{}/{}", words[2], words[1]), String::new());
            }
            "inc" => {
                let old: u64 = map.get(words[1]).map_or(0, |value| value.parse().unwrap());
                map.insert(words[1].into(), (old + 1).to_string());
            }
            _ => {}
        }
    }
    map.into_iter()
        .map(|(key, value)| (key.into_bytes(), value.into_bytes()))
        .collect()
}

/// Small segments, so that a few events already roll.
pub(crate) fn small() -> StoreConfig {
    StoreConfig {
        segment_bytes: 400,
        ..StoreConfig::default()
    }
}

pub(crate) fn open(dir: &Path) -> (Store, Recovery) {
    try_open(dir).unwrap()
}

pub(crate) fn try_open(dir: &Path) -> Result<(Store, Recovery), StoreError> {
    Store::open(dir, small(), Arc::new(Lines(1)))
}

/// Commits lines as one command; returns its last sequence number.
pub(crate) async fn write(store: &Store, lines: &[&str]) -> u64 {
    let payloads = lines.iter().map(|line| line.as_bytes().to_vec()).collect();
    let done = store
        .execute(move |_| Ok::<_, ()>(Commit::new(payloads, ())))
        .await;
    done.unwrap().unwrap().seqs.end - 1
}

/// `count` varied lines, always the same.
pub(crate) fn lines(count: u64) -> Vec<String> {
    (0..count)
        .map(|n| match n % 5 {
            0 | 1 => format!("set key{} value{}", n % 7, n % 3),
            2 => format!("del key{}", n % 7),
            _ => format!("inc count{}", n % 2),
        })
        .collect()
}

/// Commits each line as a command of its own.
pub(crate) async fn fill(store: &Store, lines: &[String]) {
    for line in lines {
        write(store, &[line]).await;
    }
}

pub(crate) fn dump(store: &Store) -> Vec<Entry> {
    store.reader().view(|view| view.scan_all(b"")).unwrap()
}

/// All events as text.
pub(crate) fn history(store: &Store) -> Vec<String> {
    let events = store.read_from(0, usize::MAX).unwrap();
    events
        .into_iter()
        .map(|(_, payload)| String::from_utf8(payload.to_vec()).unwrap())
        .collect()
}

/// Files below a folder, sorted.
pub(crate) fn files(dir: &Path) -> Vec<PathBuf> {
    let mut out = Vec::new();
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            out.extend(files(&path));
        } else {
            out.push(path);
        }
    }
    out.sort();
    out
}

pub(crate) fn copy_dir(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for path in files(from) {
        let target = to.join(path.strip_prefix(from).unwrap());
        fs::create_dir_all(target.parent().unwrap()).unwrap();
        fs::copy(path, target).unwrap();
    }
}

/// The journal's newest segment.
pub(crate) fn last_segment(dir: &Path) -> PathBuf {
    files(&dir.join("journal")).pop().unwrap()
}
