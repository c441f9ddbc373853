//! The only file that knows sled. Every call is fenced: sled 0.34 may answer broken files with an
//! error, a panic, a hang, or an older state that looks sound.
//!
//! One tree `kv`: key `m` holds the [`Meta`], keys `k…` the entries.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use super::meta::Meta;
use crate::checksum::Content;
use crate::error::{StoreError, panic_text};
use crate::tx::{Base, Entry, Overlay};

const META_KEY: &[u8] = b"m";
const ENTRY: u8 = b'k';
/// sled's own background flush; only bounds how far the projection is behind after a hard stop.
const FLUSH_EVERY_MS: u64 = 1000;
/// Bytes of entries per batch while a whole state is loaded.
const LOAD_BYTES: usize = 1024 * 1024;

/// How to open the engine.
#[derive(Debug, Clone)]
pub(crate) struct EngineConfig {
    pub(crate) cache_bytes: u64,
    /// Limit for opening (with its full check) and for closing.
    pub(crate) limit: Duration,
}

/// An open projection.
pub(crate) struct Engine {
    db: sled::Db,
    tree: sled::Tree,
    meta: Meta,
}

/// What opening an existing folder found.
pub(crate) enum Found {
    /// Content agrees with its own account.
    Sound(Engine),
    /// No account of itself.
    Blank,
    /// Content disagrees with its account.
    Mismatch { claimed: Content, found: Content },
}

/// A batch ready to be applied.
pub(crate) struct Prepared {
    batch: sled::Batch,
    meta: Meta,
}

impl Engine {
    /// Opens a folder and reads all of it to check count and checksum, within the limit.
    pub(crate) fn open_checked(path: &Path, config: &EngineConfig) -> Result<Found, StoreError> {
        let (dir, cache_bytes) = (path.to_owned(), config.cache_bytes);
        fenced("open", config.limit, move || {
            let (db, tree) = open_tree(&dir, cache_bytes)?;
            let claimed = fence("read", || tree.get(META_KEY))?.and_then(|m| Meta::decode(&m));
            let mut engine = Self {
                db,
                tree,
                meta: claimed.unwrap_or_default(),
            };
            let Some(claimed) = claimed else {
                engine.release();
                return Ok(Found::Blank);
            };
            let found = engine.count()?;
            if found != claimed.content {
                engine.release();
                return Ok(Found::Mismatch {
                    claimed: claimed.content,
                    found,
                });
            }
            engine.meta = claimed;
            Ok(Found::Sound(engine))
        })
    }

    /// Creates an empty projection in a folder that must not exist.
    pub(crate) fn create(
        path: &Path,
        config: &EngineConfig,
        schema: u32,
    ) -> Result<Self, StoreError> {
        let (dir, cache_bytes) = (path.to_owned(), config.cache_bytes);
        fenced("create", config.limit, move || {
            let (db, tree) = open_tree(&dir, cache_bytes)?;
            Ok(Self {
                db,
                tree,
                meta: Meta {
                    schema,
                    ..Meta::default()
                },
            })
        })
    }

    pub(crate) fn meta(&self) -> &Meta {
        &self.meta
    }

    /// Fills an empty projection. Its account is written last: an interrupted load is never sound.
    pub(crate) fn load<'a>(
        &mut self,
        entries: impl Iterator<Item = (&'a [u8], &'a [u8])>,
        last_seq: u64,
        anchor: u32,
    ) -> Result<(), StoreError> {
        let mut meta = Meta {
            last_seq,
            anchor,
            ..self.meta
        };
        let mut batch = sled::Batch::default();
        let mut waiting = 0;
        for (key, value) in entries {
            meta.content.add(key, value);
            batch.insert(entry_key(key), value);
            waiting += key.len() + value.len();
            if waiting >= LOAD_BYTES {
                let full = std::mem::take(&mut batch);
                fence("load", || self.tree.apply_batch(full))?;
                waiting = 0;
            }
        }
        batch.insert(META_KEY, meta.encode());
        self.apply(Prepared { batch, meta })
    }

    /// Turns an overlay into one atomic batch with the account that will be true after it.
    pub(crate) fn prepare(
        &self,
        overlay: &Overlay,
        last_seq: u64,
        anchor: u32,
    ) -> Result<Prepared, StoreError> {
        let mut meta = Meta {
            last_seq,
            anchor,
            ..self.meta
        };
        let mut batch = sled::Batch::default();
        for (key, value) in overlay.writes() {
            if let Some(old) = self.get(key)? {
                meta.content.remove(key, &old);
            }
            if let Some(value) = value {
                meta.content.add(key, value);
                batch.insert(entry_key(key), value);
            } else {
                batch.remove(entry_key(key));
            }
        }
        batch.insert(META_KEY, meta.encode());
        Ok(Prepared { batch, meta })
    }

    /// Applies a batch atomically. Not durable, and need not be: the journal is.
    pub(crate) fn apply(&mut self, prepared: Prepared) -> Result<(), StoreError> {
        let Prepared { batch, meta } = prepared;
        fence("apply a batch", || self.tree.apply_batch(batch))?;
        self.meta = meta;
        Ok(())
    }

    /// Flushes and closes within the limit; beyond it the engine is left to itself.
    pub(crate) fn close(self, limit: Duration) -> Result<(), StoreError> {
        fenced("close", limit, move || {
            let flushed = fence("flush", || self.db.flush());
            self.release();
            flushed.map(|_| ())
        })
    }

    /// Closes without caring for what is not yet flushed.
    fn release(self) {
        let Self { db, tree, .. } = self;
        // A panic while closing files that are about to be set aside says nothing new.
        drop(catch_unwind(AssertUnwindSafe(move || {
            drop(tree);
            drop(db);
        })));
    }

    fn count(&self) -> Result<Content, StoreError> {
        fence("read", || {
            let mut content = Content::default();
            for entry in self.tree.range([ENTRY]..[ENTRY + 1]) {
                let (key, value) = entry?;
                content.add(&key[1..], &value);
            }
            Ok(content)
        })
    }
}

impl Base for Engine {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        fence("read", || {
            Ok(self.tree.get(entry_key(key))?.map(|value| value.to_vec()))
        })
    }

    fn scan(&self, prefix: &[u8], from: &[u8], limit: usize) -> Result<Vec<Entry>, StoreError> {
        fence("scan", || {
            let mut out = Vec::new();
            for entry in self.tree.range(entry_key(from.max(prefix))..) {
                let (key, value) = entry?;
                if out.len() == limit || key[0] != ENTRY || !key[1..].starts_with(prefix) {
                    break;
                }
                out.push((key[1..].to_vec(), value.to_vec()));
            }
            Ok(out)
        })
    }
}

fn entry_key(key: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(key.len() + 1);
    out.push(ENTRY);
    out.extend_from_slice(key);
    out
}

fn open_tree(dir: &Path, cache_bytes: u64) -> Result<(sled::Db, sled::Tree), StoreError> {
    // A store just closed in this process may still be letting go of sled's own lock file.
    let give_up = Instant::now() + Duration::from_secs(2);
    loop {
        let opened = fence("open", || {
            let db = sled::Config::new()
                .path(dir)
                .cache_capacity(cache_bytes)
                .flush_every_ms(Some(FLUSH_EVERY_MS))
                .open()?;
            let tree = db.open_tree("kv")?;
            Ok((db, tree))
        });
        match opened {
            Err(StoreError::Projection { reason, .. })
                if reason.contains("acquire lock") && Instant::now() < give_up =>
            {
                thread::sleep(Duration::from_millis(20));
            }
            done => return done,
        }
    }
}

/// Runs sled code on this thread; an error or a panic becomes a [`StoreError`].
fn fence<T>(
    action: &'static str,
    work: impl FnOnce() -> Result<T, sled::Error>,
) -> Result<T, StoreError> {
    match catch_unwind(AssertUnwindSafe(work)) {
        Ok(Ok(value)) => Ok(value),
        Ok(Err(error)) => Err(StoreError::Projection {
            action,
            reason: error.to_string(),
        }),
        Err(panic) => Err(StoreError::Projection {
            action,
            reason: panic_text(panic.as_ref()),
        }),
    }
}

/// Runs sled code on a thread of its own and waits no longer than `limit` for it.
fn fenced<T: Send + 'static>(
    action: &'static str,
    limit: Duration,
    work: impl FnOnce() -> Result<T, StoreError> + Send + 'static,
) -> Result<T, StoreError> {
    let (sender, receiver) = mpsc::sync_channel(1);
    let run = move || {
        let result = catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|panic| {
            Err(StoreError::Projection {
                action,
                reason: panic_text(panic.as_ref()),
            })
        });
        // Nobody listens any more after a timeout; an engine that came late is dropped here.
        drop(sender.send(result));
    };
    thread::Builder::new()
        .name("projection".to_owned())
        .spawn(run)
        .map_err(StoreError::io("start a thread to open", "projection"))?;
    match receiver.recv_timeout(limit) {
        Ok(result) => result,
        Err(_) => Err(StoreError::Projection {
            action,
            reason: format!("no answer within {} ms", limit.as_millis()),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_call_that_does_not_return_is_given_up() {
        let (go, wait) = mpsc::channel::<()>();
        let limit = Duration::from_millis(20);
        let result = fenced("open", limit, move || {
            // Ends when the test does.
            assert!(wait.recv().is_err());
            Ok(())
        });
        let text = result.unwrap_err().to_string();
        assert!(
            text.contains("cannot open: no answer within 20 ms"),
            "{text}"
        );
        drop(go);
    }

    #[test]
    fn a_panic_becomes_an_error() {
        let limit = Duration::from_secs(60);
        let result = fenced::<()>("open", limit, || panic!("page {} is bad", 7));
        assert!(result.unwrap_err().to_string().contains("page 7 is bad"));
        let result = fence::<()>("read", || panic!("on this thread"));
        assert!(
            result
                .unwrap_err()
                .to_string()
                .contains("cannot read: on this thread")
        );
    }
}
