//! The writer's end of the journal: open (cutting a torn tail), append, sync, roll.

use std::sync::Arc;

use super::backend::{Backend, segment_name};
use super::frame::{SEGMENT_HEADER_LEN, encode_record, encode_segment_header};
use super::reader::JournalReader;
use super::scan::{INDEX_EVERY, scan};
use crate::error::StoreError;

/// An open journal. One writer owns it; any number of [`JournalReader`]s read beside it.
pub(crate) struct Journal {
    backend: Arc<dyn Backend>,
    reader: JournalReader,
    segment_bytes: u64,
    /// The segment being written.
    first_seq: u64,
    len: u64,
    next_seq: u64,
}

/// What opening a journal found.
pub(crate) struct Opened {
    pub(crate) journal: Journal,
    /// Bytes of a torn tail that were cut off.
    pub(crate) truncated_bytes: u64,
}

/// Framed records that will be appended together.
#[derive(Default)]
pub(crate) struct FrameBatch {
    bytes: Vec<u8>,
    /// Where each record starts in `bytes`, and its header checksum.
    records: Vec<(usize, u32)>,
}

/// A point in a [`FrameBatch`] to return to.
#[derive(Clone, Copy)]
pub(crate) struct FrameMark(usize, usize);

impl Journal {
    /// Scans the journal, cuts a torn tail with a warning, and makes what was kept durable:
    /// records that an earlier process wrote but did not live to sync are about to be trusted.
    pub(crate) fn open(
        backend: Arc<dyn Backend>,
        segment_bytes: u64,
    ) -> Result<Opened, StoreError> {
        let mut scan = scan(backend.as_ref())?;
        let truncated_bytes = scan.torn_bytes;
        let (first_seq, mut len, next_seq) = match scan.segments.last() {
            Some(last) => (last.first_seq, last.good_len, last.next_seq),
            None => (1, 0, 1),
        };
        let name = segment_name(first_seq);
        if scan.segments.is_empty() {
            backend
                .create(first_seq, &encode_segment_header(first_seq))
                .map_err(StoreError::io("create segment", &name))?;
            len = SEGMENT_HEADER_LEN as u64;
        } else {
            if truncated_bytes > 0 {
                tracing::warn!(
                    segment = name,
                    offset = len,
                    truncated_bytes,
                    "the journal's tail was cut short by a crash; it was never acknowledged and is removed"
                );
                backend
                    .truncate(first_seq, len)
                    .map_err(StoreError::io("truncate", &name))?;
            }
            if len == 0 {
                let header = encode_segment_header(first_seq);
                backend
                    .append(first_seq, &header)
                    .map_err(StoreError::io("write the header of", &name))?;
                len = SEGMENT_HEADER_LEN as u64;
            }
            backend
                .sync(first_seq)
                .map_err(StoreError::io("sync", &name))?;
        }
        if scan.segments.is_empty() {
            scan.segments.push(super::scan::SegmentScan {
                first_seq,
                next_seq,
                good_len: len,
                points: Vec::new(),
            });
        }
        let reader = JournalReader::new(Arc::clone(&backend), scan);
        let journal = Self {
            backend,
            reader,
            segment_bytes,
            first_seq,
            len,
            next_seq,
        };
        Ok(Opened {
            journal,
            truncated_bytes,
        })
    }

    pub(crate) fn reader(&self) -> &JournalReader {
        &self.reader
    }

    pub(crate) fn next_seq(&self) -> u64 {
        self.next_seq
    }

    /// Appends a batch to one segment and syncs once. Returns the last sequence number of the
    /// segment that was sealed on the way, if one was.
    ///
    /// The records are durable but not yet visible to readers: see [`JournalReader::publish`].
    pub(crate) fn commit(&mut self, batch: &FrameBatch) -> Result<Option<u64>, StoreError> {
        let bytes = batch.bytes.len() as u64;
        let mut sealed = None;
        let has_records = self.len > SEGMENT_HEADER_LEN as u64;
        if has_records && self.len + bytes > self.segment_bytes {
            // Everything in the old segment was synced by the commit that wrote it, so a torn
            // tail can only be in the newest segment.
            let first_seq = self.next_seq;
            self.backend
                .create(first_seq, &encode_segment_header(first_seq))
                .map_err(StoreError::io("create segment", segment_name(first_seq)))?;
            sealed = Some(first_seq - 1);
            (self.first_seq, self.len) = (first_seq, SEGMENT_HEADER_LEN as u64);
            self.reader.add_segment(first_seq);
        }
        if let Err(source) = self.backend.append(self.first_seq, &batch.bytes) {
            // Nobody was told yes. Removing what got through spares the next start a warning;
            // if it fails too, that start cuts the tail by itself.
            if let Err(error) = self.backend.truncate(self.first_seq, self.len) {
                tracing::warn!(%error, "cannot take back a failed append");
            }
            return Err(StoreError::io("append to", segment_name(self.first_seq))(
                source,
            ));
        }
        self.backend
            .sync(self.first_seq)
            .map_err(StoreError::io("sync", segment_name(self.first_seq)))?;
        for (seq, &(start, _)) in (self.next_seq..).zip(&batch.records) {
            if (seq - self.first_seq).is_multiple_of(INDEX_EVERY) {
                self.reader.add_point(seq, self.len + start as u64);
            }
        }
        self.len += bytes;
        self.next_seq += batch.records.len() as u64;
        Ok(sealed)
    }
}

impl FrameBatch {
    /// Records so far.
    pub(crate) fn records(&self) -> u64 {
        self.records.len() as u64
    }

    /// Bytes so far, headers included.
    pub(crate) fn len(&self) -> usize {
        self.bytes.len()
    }

    /// Header checksum of the last record.
    pub(crate) fn last_crc(&self) -> Option<u32> {
        self.records.last().map(|&(_, crc)| crc)
    }

    pub(crate) fn push(&mut self, seq: u64, payload: &[u8], continued: bool) {
        let start = self.bytes.len();
        let crc = encode_record(&mut self.bytes, seq, payload, continued);
        self.records.push((start, crc));
    }

    pub(crate) fn mark(&self) -> FrameMark {
        FrameMark(self.bytes.len(), self.records.len())
    }

    pub(crate) fn roll_back(&mut self, mark: FrameMark) {
        self.bytes.truncate(mark.0);
        self.records.truncate(mark.1);
    }
}
