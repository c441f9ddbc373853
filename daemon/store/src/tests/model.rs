//! Random work on a journal beside a plain vector: append, reopen, cut.

use std::sync::Arc;

use proptest::prelude::*;

use super::recording::{Image, Recording};
use crate::journal::{FrameBatch, Journal};

const SEGMENT_HEADER: u64 = 24;
const RECORD_HEADER: u64 = 20;

#[derive(Debug, Clone)]
enum Step {
    /// Commands of these events, appended as one batch.
    Append(Vec<Vec<Vec<u8>>>),
    Reopen,
    /// Takes bytes off the last segment.
    Cut(u64),
    /// Reads everything after a place, given in percent of what there is.
    Read(u64),
}

fn step() -> impl Strategy<Value = Step> {
    let payload = prop::collection::vec(any::<u8>(), 0..60);
    let command = prop::collection::vec(payload, 1..4);
    prop_oneof![
        4 => prop::collection::vec(command, 1..4).prop_map(Step::Append),
        1 => Just(Step::Reopen),
        1 => (0_u64..400).prop_map(Step::Cut),
        1 => (0_u64..=100).prop_map(Step::Read),
    ]
}

/// What is expected: each command with its segment and the offset after it.
#[derive(Default)]
struct Model {
    commands: Vec<(Vec<Vec<u8>>, u64, u64)>,
    segment: u64,
    len: u64,
}

impl Model {
    fn events(&self) -> Vec<Vec<u8>> {
        self.commands
            .iter()
            .flat_map(|(events, _, _)| events.clone())
            .collect()
    }

    fn append(&mut self, batch: &[Vec<Vec<u8>>], segment_bytes: u64) {
        let size = |events: &[Vec<u8>]| -> u64 {
            events
                .iter()
                .map(|event| event.len() as u64 + RECORD_HEADER)
                .sum()
        };
        let total: u64 = batch.iter().map(|events| size(events)).sum();
        if self.len > SEGMENT_HEADER && self.len + total > segment_bytes {
            (self.segment, self.len) = (self.events().len() as u64 + 1, SEGMENT_HEADER);
        }
        for events in batch {
            self.len += size(events);
            self.commands.push((events.clone(), self.segment, self.len));
        }
    }

    fn cut(&mut self, bytes: u64) {
        let end = self.len.saturating_sub(bytes);
        self.commands
            .retain(|&(_, segment, after)| segment != self.segment || after <= end);
        let last = self
            .commands
            .last()
            .filter(|(_, segment, _)| *segment == self.segment);
        self.len = last.map_or(SEGMENT_HEADER, |&(_, _, after)| after);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn agrees_with_a_vector(steps in prop::collection::vec(step(), 1..40), segment_bytes in 50_u64..2000) {
        let mut backend = Arc::new(Recording::new(Image::new()));
        let mut journal = Journal::open(backend.clone(), segment_bytes).unwrap().journal;
        let mut model = Model { commands: Vec::new(), segment: 1, len: SEGMENT_HEADER };
        for step in steps {
            match step {
                Step::Append(commands) => {
                    let mut batch = FrameBatch::default();
                    for events in &commands {
                        for (n, event) in events.iter().enumerate() {
                            let seq = journal.next_seq() + batch.records();
                            batch.push(seq, event, n + 1 < events.len());
                        }
                    }
                    let last = journal.next_seq() + batch.records() - 1;
                    journal.commit(&batch).unwrap();
                    journal.reader().publish(last);
                    model.append(&commands, segment_bytes);
                }
                Step::Reopen => {
                    let opened = Journal::open(backend.clone(), segment_bytes).unwrap();
                    prop_assert_eq!(opened.truncated_bytes, 0);
                    journal = opened.journal;
                }
                Step::Cut(bytes) => {
                    let mut image = backend.image();
                    let last = image.last_entry().unwrap().into_mut();
                    let keep = last.len().saturating_sub(usize::try_from(bytes).unwrap());
                    last.truncate(keep);
                    backend = Arc::new(Recording::new(image));
                    journal = Journal::open(backend.clone(), segment_bytes).unwrap().journal;
                    model.cut(bytes);
                }
                Step::Read(percent) => {
                    let events = model.events();
                    let after = events.len() as u64 * percent / 100;
                    let read = journal.reader().read_from(after, usize::MAX, usize::MAX).unwrap();
                    let read: Vec<(u64, Vec<u8>)> =
                        read.into_iter().map(|(seq, payload)| (seq, payload.to_vec())).collect();
                    let expected: Vec<(u64, Vec<u8>)> =
                        (1..).zip(events).skip(usize::try_from(after).unwrap()).collect();
                    prop_assert_eq!(read, expected);
                }
            }
            prop_assert_eq!(journal.next_seq(), model.events().len() as u64 + 1);
        }
    }
}

/// The sparse index: every starting point in a journal of several thousand events, over several
/// segments, before and after a reopening.
#[test]
fn reading_starts_anywhere() {
    let backend = Arc::new(Recording::new(Image::new()));
    let mut journal = Journal::open(backend.clone(), 40_000).unwrap().journal;
    for seq in 1..=3000_u64 {
        let mut batch = FrameBatch::default();
        batch.push(seq, format!("event {seq}").as_bytes(), false);
        journal.commit(&batch).unwrap();
        journal.reader().publish(seq);
    }
    assert!(backend.image().len() > 2);
    for journal in [&journal, &Journal::open(backend, 40_000).unwrap().journal] {
        for after in (0..3000)
            .step_by(7)
            .chain([255, 256, 257, 2998, 2999, 3000, 9999])
        {
            let read = journal.reader().read_from(after, 2, usize::MAX).unwrap();
            let seqs: Vec<u64> = read.iter().map(|&(seq, _)| seq).collect();
            let expected: Vec<u64> = (after + 1..=3000).take(2).collect();
            assert_eq!(seqs, expected);
            for (seq, payload) in read {
                assert_eq!(payload.as_ref(), format!("event {seq}").as_bytes());
            }
        }
    }
}
