//! Reads a journal from end to end and says what is whole, what is a torn tail, what is damage.
//!
//! A torn tail exists only in the last segment: a frame cut by the end of the file, zeros from
//! a record boundary to the end, or a command whose last events are missing. The header's own
//! checksum is what tells a cut record from a flipped bit in its length.

use std::io;

use super::backend::{Backend, segment_name};
use super::frame::{
    FORMAT_VERSION, HeaderFault, RECORD_HEADER_LEN, RecordHeader, SEGMENT_HEADER_LEN,
    check_segment_header, decode_record_header,
};
use crate::error::{Damage, DamageKind, StoreError};

/// Every how many records the index remembers an offset.
pub(crate) const INDEX_EVERY: u64 = 256;
/// Bytes read at once.
const CHUNK: usize = 256 * 1024;

/// What a scan found.
#[derive(Debug, Default)]
pub(crate) struct Scan {
    pub(crate) segments: Vec<SegmentScan>,
    /// Bytes after the last whole command, all in the last segment.
    pub(crate) torn_bytes: u64,
}

/// One segment as scanned.
#[derive(Debug)]
pub(crate) struct SegmentScan {
    pub(crate) first_seq: u64,
    /// The sequence number after the last whole command.
    pub(crate) next_seq: u64,
    /// Bytes up to the end of the last whole command; 0 if even the header is cut.
    pub(crate) good_len: u64,
    /// Offsets of some records, ascending: see [`INDEX_EVERY`].
    pub(crate) points: Vec<(u64, u64)>,
}

impl Scan {
    /// First sequence number kept; `None` for a journal without segments.
    pub(crate) fn oldest_seq(&self) -> Option<u64> {
        self.segments.first().map(|segment| segment.first_seq)
    }

    /// Sequence number of the last whole record; 0 for an empty journal.
    pub(crate) fn last_seq(&self) -> u64 {
        self.segments
            .last()
            .map_or(0, |segment| segment.next_seq.saturating_sub(1))
    }
}

/// Scans all segments of a backend without changing anything.
pub(crate) fn scan(backend: &dyn Backend) -> Result<Scan, StoreError> {
    let mut out = Scan::default();
    scan_into(backend, &mut out)?;
    Ok(out)
}

/// As [`scan`]; after an error `out` holds what was whole before it.
pub(crate) fn scan_into(backend: &dyn Backend, out: &mut Scan) -> Result<(), StoreError> {
    let seqs = backend
        .segments()
        .map_err(StoreError::io("list segments of", "journal"))?;
    for (at, &first_seq) in seqs.iter().enumerate() {
        if let Some(previous) = out.segments.last()
            && previous.next_seq != first_seq
        {
            let kind = DamageKind::Sequence {
                expected: previous.next_seq,
                found: first_seq,
            };
            return Err(damage(first_seq, 0, kind));
        }
        let mut segment = SegmentScan {
            first_seq,
            next_seq: first_seq,
            good_len: 0,
            points: Vec::new(),
        };
        let torn_bytes = scan_segment(backend, &mut segment, at + 1 == seqs.len());
        out.segments.push(segment);
        out.torn_bytes = torn_bytes?;
    }
    Ok(())
}

/// Returns the bytes after the last whole command.
fn scan_segment(
    backend: &dyn Backend,
    out: &mut SegmentScan,
    is_last: bool,
) -> Result<u64, StoreError> {
    let first_seq = out.first_seq;
    let mut frames = Frames::open(backend, first_seq)?;
    match frames.segment_header()? {
        HeaderState::Whole => out.good_len = SEGMENT_HEADER_LEN as u64,
        HeaderState::Torn if is_last => return Ok(frames.end),
        HeaderState::Torn => {
            let missing = (SEGMENT_HEADER_LEN as u64).saturating_sub(frames.end);
            return Err(damage(first_seq, 0, DamageKind::TornInside { missing }));
        }
    }
    let mut seq = first_seq;
    loop {
        let offset = frames.offset;
        match frames.next(seq)? {
            Next::Record(header) => {
                if (seq - first_seq).is_multiple_of(INDEX_EVERY) {
                    out.points.push((seq, offset));
                }
                seq += 1;
                if !header.continued {
                    (out.next_seq, out.good_len) = (seq, frames.offset);
                }
            }
            Next::Torn { missing } if !is_last => {
                return Err(damage(
                    first_seq,
                    offset,
                    DamageKind::TornInside { missing },
                ));
            }
            Next::End if !is_last && out.next_seq != seq => {
                return Err(damage(first_seq, out.good_len, DamageKind::OpenGroup));
            }
            Next::End | Next::Torn { .. } => break,
        }
    }
    // An index must not point into a command that is about to be cut off.
    out.points.retain(|&(seq, _)| seq < out.next_seq);
    Ok(frames.end - out.good_len)
}

/// What stands at the current offset.
pub(crate) enum Next {
    /// A whole record; its payload is in [`Frames::payload`].
    Record(RecordHeader),
    /// The segment ends here.
    End,
    /// The frame is cut by the end of the file, or only zeros follow.
    Torn { missing: u64 },
}

#[derive(PartialEq, Eq)]
pub(crate) enum HeaderState {
    Whole,
    Torn,
}

/// A cursor over the frames of one segment that reads in large chunks.
pub(crate) struct Frames<'a> {
    backend: &'a dyn Backend,
    first_seq: u64,
    /// Where the next frame starts.
    pub(crate) offset: u64,
    /// Bytes of the segment when it was opened.
    pub(crate) end: u64,
    window: Vec<u8>,
    window_start: u64,
    payload: (usize, usize),
}

impl<'a> Frames<'a> {
    pub(crate) fn open(backend: &'a dyn Backend, first_seq: u64) -> Result<Self, StoreError> {
        let end = backend.len(first_seq).map_err(io_at(first_seq))?;
        let (window, window_start, payload) = (Vec::new(), 0, (0, 0));
        Ok(Self {
            backend,
            first_seq,
            offset: 0,
            end,
            window,
            window_start,
            payload,
        })
    }

    /// The payload of the record last returned.
    pub(crate) fn payload(&self) -> &[u8] {
        &self.window[self.payload.0..self.payload.1]
    }

    /// Checks the segment's header and steps over it.
    pub(crate) fn segment_header(&mut self) -> Result<HeaderState, StoreError> {
        let mut bytes = [0; SEGMENT_HEADER_LEN];
        let got = self.fetch(0, SEGMENT_HEADER_LEN)?;
        if got.len() < SEGMENT_HEADER_LEN {
            return Ok(HeaderState::Torn);
        }
        bytes.copy_from_slice(got);
        match check_segment_header(&bytes, self.first_seq) {
            Ok(()) => {}
            Err(HeaderFault::Version(found)) => {
                let (segment, supported) = (segment_name(self.first_seq), FORMAT_VERSION);
                return Err(StoreError::UnknownFormat {
                    segment,
                    found,
                    supported,
                });
            }
            Err(HeaderFault::Damage(_)) if self.only_zeros_from(0)? => {
                return Ok(HeaderState::Torn);
            }
            Err(HeaderFault::Damage(kind)) => return Err(damage(self.first_seq, 0, kind)),
        }
        self.offset = SEGMENT_HEADER_LEN as u64;
        Ok(HeaderState::Whole)
    }

    /// Reads the frame at the current offset, which must carry `expected_seq`.
    pub(crate) fn next(&mut self, expected_seq: u64) -> Result<Next, StoreError> {
        let offset = self.offset;
        let mut bytes = [0; RECORD_HEADER_LEN];
        let got = self.fetch(offset, RECORD_HEADER_LEN)?;
        if got.is_empty() {
            return Ok(Next::End);
        }
        if got.len() < RECORD_HEADER_LEN {
            return Ok(Next::Torn {
                missing: (RECORD_HEADER_LEN - got.len()) as u64,
            });
        }
        bytes.copy_from_slice(got);
        let header = match decode_record_header(&bytes, expected_seq) {
            Ok(header) => header,
            Err(kind) => {
                return if self.only_zeros_from(offset)? {
                    Ok(Next::Torn { missing: 0 })
                } else {
                    Err(damage(self.first_seq, offset, kind))
                };
            }
        };
        let frame_len = RECORD_HEADER_LEN + header.payload_len;
        let got = self.fetch(offset, frame_len)?;
        if got.len() < frame_len {
            return Ok(Next::Torn {
                missing: (frame_len - got.len()) as u64,
            });
        }
        if crc32c::crc32c(&got[RECORD_HEADER_LEN..]) != header.payload_crc {
            let kind = DamageKind::Payload { seq: header.seq };
            return Err(damage(self.first_seq, offset, kind));
        }
        let start = usize::try_from(offset - self.window_start).unwrap_or(usize::MAX);
        self.payload = (start + RECORD_HEADER_LEN, start + frame_len);
        self.offset = offset + frame_len as u64;
        Ok(Next::Record(header))
    }

    fn only_zeros_from(&mut self, mut offset: u64) -> Result<bool, StoreError> {
        loop {
            let bytes = self.fetch(offset, CHUNK)?;
            if bytes.is_empty() {
                return Ok(true);
            }
            if bytes.iter().any(|&byte| byte != 0) {
                return Ok(false);
            }
            offset += bytes.len() as u64;
        }
    }

    /// Bytes at `offset`, fewer than `len` only where the segment ends.
    fn fetch(&mut self, offset: u64, len: usize) -> Result<&[u8], StoreError> {
        let available = self.end.saturating_sub(offset);
        let len = len.min(usize::try_from(available).unwrap_or(usize::MAX));
        let in_window = offset >= self.window_start
            && offset + len as u64 <= self.window_start + self.window.len() as u64;
        if !in_window {
            let want = len
                .max(CHUNK)
                .min(usize::try_from(available).unwrap_or(usize::MAX));
            self.window.resize(want, 0);
            self.window_start = offset;
            let got = self
                .backend
                .read(self.first_seq, offset, &mut self.window)
                .map_err(io_at(self.first_seq))?;
            self.window.truncate(got);
        }
        let start = usize::try_from(offset - self.window_start).unwrap_or(usize::MAX);
        Ok(&self.window[start..(start + len).min(self.window.len())])
    }
}

pub(crate) fn damage(first_seq: u64, offset: u64, kind: DamageKind) -> StoreError {
    StoreError::damaged(Damage {
        segment: segment_name(first_seq),
        offset,
        kind,
    })
}

pub(crate) fn io_at(first_seq: u64) -> impl FnOnce(io::Error) -> StoreError {
    StoreError::io("read segment", segment_name(first_seq))
}
