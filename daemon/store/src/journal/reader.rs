//! Replay from any sequence number, beside the writer.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, PoisonError, RwLock};

use super::backend::{Backend, segment_name};
use super::scan::{Frames, HeaderState, Next, Scan, damage};
use crate::error::{DamageKind, StoreError};
use crate::watch::Event;

/// A cheap handle that reads what has been published.
#[derive(Clone)]
pub(crate) struct JournalReader {
    backend: Arc<dyn Backend>,
    shared: Arc<Shared>,
}

struct Shared {
    /// Last sequence number that readers may see. Stored after the record is durable and the
    /// projection holds it, so a watcher that sees event n reads a state that includes it.
    visible_seq: AtomicU64,
    /// Segments and sparse offsets, ascending. Guards the list only; never held during I/O.
    index: RwLock<Vec<Segment>>,
}

struct Segment {
    first_seq: u64,
    points: Vec<(u64, u64)>,
}

impl JournalReader {
    pub(crate) fn new(backend: Arc<dyn Backend>, scan: Scan) -> Self {
        let visible_seq = AtomicU64::new(scan.last_seq());
        let index = scan
            .segments
            .into_iter()
            .map(|segment| Segment {
                first_seq: segment.first_seq,
                points: segment.points,
            })
            .collect();
        Self {
            backend,
            shared: Arc::new(Shared {
                visible_seq,
                index: RwLock::new(index),
            }),
        }
    }

    /// First sequence number kept (1 for a new journal).
    pub(crate) fn oldest_seq(&self) -> u64 {
        let index = self
            .shared
            .index
            .read()
            .unwrap_or_else(PoisonError::into_inner);
        index.first().map_or(1, |segment| segment.first_seq)
    }

    /// Last sequence number that readers may see; 0 for a new journal.
    pub(crate) fn last_seq(&self) -> u64 {
        self.shared.visible_seq.load(Ordering::Acquire)
    }

    /// Number of segments.
    pub(crate) fn segments(&self) -> usize {
        self.shared
            .index
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .len()
    }

    /// Bytes of all segments, counted on the medium.
    pub(crate) fn bytes(&self) -> Result<u64, StoreError> {
        let first_seqs: Vec<u64> = {
            let index = self
                .shared
                .index
                .read()
                .unwrap_or_else(PoisonError::into_inner);
            index.iter().map(|segment| segment.first_seq).collect()
        };
        first_seqs
            .into_iter()
            .map(|first_seq| {
                let len = self.backend.len(first_seq);
                len.map_err(StoreError::io("look at", segment_name(first_seq)))
            })
            .sum()
    }

    /// Last sequence number of the newest sealed segment, if there is one.
    pub(crate) fn last_sealed_seq(&self) -> Option<u64> {
        let index = self
            .shared
            .index
            .read()
            .unwrap_or_else(PoisonError::into_inner);
        if index.len() < 2 {
            return None;
        }
        index.last().map(|segment| segment.first_seq - 1)
    }

    /// Lets readers see everything up to `seq`.
    pub(crate) fn publish(&self, seq: u64) {
        self.shared.visible_seq.store(seq, Ordering::Release);
    }

    pub(crate) fn add_segment(&self, first_seq: u64) {
        let mut index = self
            .shared
            .index
            .write()
            .unwrap_or_else(PoisonError::into_inner);
        index.push(Segment {
            first_seq,
            points: Vec::new(),
        });
    }

    pub(crate) fn add_point(&self, seq: u64, offset: u64) {
        let mut index = self
            .shared
            .index
            .write()
            .unwrap_or_else(PoisonError::into_inner);
        if let Some(segment) = index.last_mut() {
            segment.points.push((seq, offset));
        }
    }

    /// Calls `each` with sequence number, payload and header checksum of every event after
    /// `after_seq` up to `to_seq` (capped at what is visible), until it says stop (`false`).
    ///
    /// The caller has checked that `after_seq + 1` is not older than the oldest event kept.
    pub(crate) fn for_each(
        &self,
        after_seq: u64,
        to_seq: u64,
        mut each: impl FnMut(u64, &[u8], u32) -> Result<bool, StoreError>,
    ) -> Result<(), StoreError> {
        let to_seq = to_seq.min(self.last_seq());
        let mut want = after_seq.saturating_add(1);
        while want <= to_seq {
            let Some((first_seq, mut seq, offset)) = self.locate(want) else {
                return Err(StoreError::NoBase {
                    oldest_seq: self.oldest_seq(),
                });
            };
            let mut frames = Frames::open(self.backend.as_ref(), first_seq)?;
            if frames.segment_header()? == HeaderState::Torn {
                return Err(damage(first_seq, 0, DamageKind::SegmentHeader));
            }
            if let Some(offset) = offset {
                frames.offset = offset;
            }
            loop {
                let at = frames.offset;
                match frames.next(seq)? {
                    Next::Record(header) => {
                        if seq >= want {
                            want = seq + 1;
                            if !each(seq, frames.payload(), header.header_crc)? {
                                return Ok(());
                            }
                        }
                        seq += 1;
                        if seq > to_seq {
                            return Ok(());
                        }
                    }
                    // Records up to `to_seq` were whole when the journal was opened or written.
                    Next::Torn { missing } => {
                        return Err(damage(first_seq, at, DamageKind::TornInside { missing }));
                    }
                    Next::End => break,
                }
            }
            if self
                .locate(want)
                .is_none_or(|(segment, _, _)| segment == first_seq)
            {
                let kind = DamageKind::Sequence {
                    expected: want,
                    found: seq,
                };
                return Err(damage(first_seq, frames.offset, kind));
            }
        }
        Ok(())
    }

    /// Events after `after_seq`, oldest first: at most `limit`, and no more once `max_bytes` of
    /// payload are reached (but at least one).
    pub(crate) fn read_from(
        &self,
        after_seq: u64,
        limit: usize,
        max_bytes: usize,
    ) -> Result<Vec<Event>, StoreError> {
        let mut out = Vec::new();
        let mut bytes = 0_usize;
        if limit == 0 {
            return Ok(out);
        }
        self.for_each(after_seq, u64::MAX, |seq, payload, _| {
            bytes += payload.len();
            out.push((seq, Arc::from(payload)));
            Ok(out.len() < limit && bytes < max_bytes)
        })?;
        Ok(out)
    }

    /// Header checksum of one event: what binds a projection or snapshot to this very history.
    /// `None` if the event is not kept (0 stands for the empty state).
    pub(crate) fn anchor(&self, seq: u64) -> Result<Option<u32>, StoreError> {
        if seq == 0 || seq < self.oldest_seq() || seq > self.last_seq() {
            return Ok(None);
        }
        let mut found = None;
        self.for_each(seq - 1, seq, |_, _, crc| {
            found = Some(crc);
            Ok(false)
        })?;
        Ok(found)
    }

    /// Segment of `seq`, and the indexed record at or before it with its offset.
    fn locate(&self, seq: u64) -> Option<(u64, u64, Option<u64>)> {
        let index = self
            .shared
            .index
            .read()
            .unwrap_or_else(PoisonError::into_inner);
        let at = index
            .partition_point(|segment| segment.first_seq <= seq)
            .checked_sub(1)?;
        let segment = index.get(at)?;
        let point = segment
            .points
            .partition_point(|&(known, _)| known <= seq)
            .checked_sub(1);
        Some(match point.and_then(|point| segment.points.get(point)) {
            Some(&(known, offset)) => (segment.first_seq, known, Some(offset)),
            None => (segment.first_seq, segment.first_seq, None),
        })
    }
}

impl std::fmt::Debug for JournalReader {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let oldest = segment_name(self.oldest_seq());
        f.debug_struct("JournalReader")
            .field("oldest", &oldest)
            .finish_non_exhaustive()
    }
}
