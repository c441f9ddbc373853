//! A disk in memory. It logs every operation, so that the state which a crash would leave at any
//! byte of any operation can be put together again; and it fails when told to.

use std::collections::BTreeMap;
use std::io;
use std::sync::Mutex;
use std::sync::atomic::{AtomicI64, Ordering};

use crate::Backend;

/// Segments by their first sequence number.
pub(crate) type Image = BTreeMap<u64, Vec<u8>>;

#[derive(Debug, Clone)]
pub(crate) enum Op {
    Create(u64, Vec<u8>),
    Append(u64, Vec<u8>),
    Truncate(u64, usize),
    Sync(u64),
    /// The test saw everything up to this event acknowledged.
    Acknowledged(u64),
}

#[derive(Default)]
pub(crate) struct Recording {
    live: Mutex<Image>,
    log: Mutex<Vec<Op>>,
    /// Appends until one fails halfway; negative: never.
    appends_left: AtomicI64,
    /// Syncs until one fails; negative: never.
    syncs_left: AtomicI64,
    /// Called after each sync.
    after_sync: Mutex<Option<Box<dyn Fn() + Send>>>,
}

impl Recording {
    pub(crate) fn new(image: Image) -> Self {
        Self {
            live: Mutex::new(image),
            log: Mutex::default(),
            appends_left: AtomicI64::new(-1),
            syncs_left: AtomicI64::new(-1),
            after_sync: Mutex::default(),
        }
    }

    pub(crate) fn fail_append_after(&self, appends: i64) {
        self.appends_left.store(appends, Ordering::SeqCst);
    }

    pub(crate) fn fail_sync_after(&self, syncs: i64) {
        self.syncs_left.store(syncs, Ordering::SeqCst);
    }

    pub(crate) fn after_sync(&self, call: impl Fn() + Send + 'static) {
        *self.after_sync.lock().unwrap() = Some(Box::new(call));
    }

    pub(crate) fn acknowledged(&self, seq: u64) {
        self.push(Op::Acknowledged(seq));
    }

    pub(crate) fn log(&self) -> Vec<Op> {
        self.log.lock().unwrap().clone()
    }

    pub(crate) fn image(&self) -> Image {
        self.live.lock().unwrap().clone()
    }

    pub(crate) fn syncs(&self) -> usize {
        self.log
            .lock()
            .unwrap()
            .iter()
            .filter(|op| matches!(op, Op::Sync(_)))
            .count()
    }

    fn push(&self, op: Op) {
        self.log.lock().unwrap().push(op);
    }
}

fn due(left: &AtomicI64) -> bool {
    left.fetch_update(Ordering::SeqCst, Ordering::SeqCst, |n| {
        (n >= 0).then_some(n - 1)
    }) == Ok(0)
}

/// The bytes of an operation that a crash could cut.
pub(crate) fn op_len(op: &Op) -> usize {
    match op {
        Op::Create(_, bytes) | Op::Append(_, bytes) => bytes.len(),
        Op::Truncate(..) | Op::Sync(_) | Op::Acknowledged(_) => 0,
    }
}

/// What is on the disk after whole operations and the first `part` bytes of one more, if the
/// system wrote everything back in order.
pub(crate) fn written(whole: &[Op], cut: Option<(&Op, usize)>) -> Image {
    let mut image = Image::new();
    for (op, part) in whole.iter().map(|op| (op, op_len(op))).chain(cut) {
        match op {
            Op::Create(seq, bytes) => {
                image.insert(*seq, bytes[..part].to_vec());
            }
            Op::Append(seq, bytes) => {
                image
                    .get_mut(seq)
                    .unwrap()
                    .extend_from_slice(&bytes[..part]);
            }
            Op::Truncate(seq, len) => image.get_mut(seq).unwrap().truncate(*len),
            Op::Sync(_) | Op::Acknowledged(_) => {}
        }
    }
    image
}

/// What is on the disk after operations if the system wrote back only what it was made to.
pub(crate) fn durable(ops: &[Op]) -> Image {
    let mut kept = Image::new();
    for (at, op) in ops.iter().enumerate() {
        match op {
            Op::Create(seq, bytes) => {
                kept.insert(*seq, bytes.clone());
            }
            Op::Sync(seq) => {
                kept.insert(*seq, written(&ops[..at], None)[seq].clone());
            }
            Op::Append(..) | Op::Truncate(..) | Op::Acknowledged(_) => {}
        }
    }
    kept
}

/// The last event acknowledged within these operations.
pub(crate) fn acknowledged(ops: &[Op]) -> u64 {
    let last = ops.iter().rev().find_map(|op| match op {
        Op::Acknowledged(seq) => Some(*seq),
        Op::Create(..) | Op::Append(..) | Op::Truncate(..) | Op::Sync(_) => None,
    });
    last.unwrap_or(0)
}

impl Backend for Recording {
    fn segments(&self) -> io::Result<Vec<u64>> {
        Ok(self.live.lock().unwrap().keys().copied().collect())
    }

    fn create(&self, first_seq: u64, header: &[u8]) -> io::Result<()> {
        self.push(Op::Create(first_seq, header.to_vec()));
        let before = self.live.lock().unwrap().insert(first_seq, header.to_vec());
        assert!(before.is_none(), "segment {first_seq} created twice");
        Ok(())
    }

    fn len(&self, first_seq: u64) -> io::Result<u64> {
        let live = self.live.lock().unwrap();
        Ok(live.get(&first_seq).ok_or(io::ErrorKind::NotFound)?.len() as u64)
    }

    fn read(&self, first_seq: u64, offset: u64, buf: &mut [u8]) -> io::Result<usize> {
        let live = self.live.lock().unwrap();
        let bytes = live.get(&first_seq).ok_or(io::ErrorKind::NotFound)?;
        let rest = bytes
            .get(usize::try_from(offset).unwrap()..)
            .unwrap_or_default();
        let len = rest.len().min(buf.len());
        buf[..len].copy_from_slice(&rest[..len]);
        Ok(len)
    }

    fn append(&self, first_seq: u64, bytes: &[u8]) -> io::Result<()> {
        let fails = due(&self.appends_left);
        let bytes = if fails {
            &bytes[..bytes.len() / 2]
        } else {
            bytes
        };
        self.push(Op::Append(first_seq, bytes.to_vec()));
        self.live
            .lock()
            .unwrap()
            .get_mut(&first_seq)
            .unwrap()
            .extend_from_slice(bytes);
        if fails {
            Err(io::ErrorKind::StorageFull.into())
        } else {
            Ok(())
        }
    }

    fn truncate(&self, first_seq: u64, len: u64) -> io::Result<()> {
        let len = usize::try_from(len).unwrap();
        self.push(Op::Truncate(first_seq, len));
        self.live
            .lock()
            .unwrap()
            .get_mut(&first_seq)
            .unwrap()
            .truncate(len);
        Ok(())
    }

    fn sync(&self, first_seq: u64) -> io::Result<()> {
        if due(&self.syncs_left) {
            return Err(io::Error::from_raw_os_error(5)); // EIO
        }
        self.push(Op::Sync(first_seq));
        if let Some(call) = self.after_sync.lock().unwrap().as_ref() {
            call();
        }
        Ok(())
    }
}
