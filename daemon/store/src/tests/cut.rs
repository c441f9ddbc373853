//! A journal cut at every byte of its last records opens with exactly the whole ones; every
//! flipped bit is refused where it is.

use std::fs;
use std::sync::Arc;

use super::kit::{dump, fill, history, last_segment, lines, model, open, try_open, write};
use super::recording::{Image, Recording};
use crate::error::StoreError;
use crate::journal::{FrameBatch, Journal};

const SEGMENT_HEADER: usize = 24;
const RECORD_HEADER: usize = 20;

#[tokio::test(flavor = "multi_thread")]
async fn cut_at_every_byte_of_the_last_two_records() {
    let dir = tempfile::tempdir().unwrap();
    let all = lines(9);
    let (store, _) = open(dir.path());
    fill(&store, &all).await;
    store.close().await;
    drop(store);
    let segment = last_segment(dir.path());
    let whole = fs::read(&segment).unwrap();
    let sizes: Vec<usize> = all.iter().map(|line| line.len() + RECORD_HEADER).collect();
    let (second, last) = (whole.len() - sizes[7] - sizes[8], whole.len() - sizes[8]);
    for cut in second..=whole.len() {
        fs::write(&segment, &whole[..cut]).unwrap();
        let kept = match cut {
            _ if cut == whole.len() => 9,
            _ if cut >= last => 8,
            _ => 7,
        };
        let boundary = [second, last, whole.len()]
            .into_iter()
            .rfind(|&at| at <= cut)
            .unwrap();
        let (store, recovery) = open(dir.path());
        assert_eq!(recovery.last_seq, kept, "cut at {cut}");
        assert_eq!(
            recovery.truncated_bytes,
            (cut - boundary) as u64,
            "cut at {cut}"
        );
        assert_eq!(
            history(&store),
            all[..usize::try_from(kept).unwrap()],
            "cut at {cut}"
        );
        assert_eq!(dump(&store), model(&history(&store)), "cut at {cut}");
        assert_eq!(write(&store, &["inc again"]).await, kept + 1);
        store.close().await;
        drop(store);
        let (store, recovery) = open(dir.path());
        assert_eq!((recovery.last_seq, recovery.truncated_bytes), (kept + 1, 0));
        assert_eq!(history(&store).pop().as_deref(), Some("inc again"));
    }
}

/// Three segments; returns where each record starts: (segment, offset, sequence number).
fn small_journal() -> (Image, Vec<(u64, usize)>) {
    let backend = Arc::new(Recording::new(Image::new()));
    let mut journal = Journal::open(backend.clone(), 120).unwrap().journal;
    let mut starts = Vec::new();
    for (n, text) in ["one", "", "three", "four four", "five", "six", "7", "eight"]
        .iter()
        .enumerate()
    {
        let mut batch = FrameBatch::default();
        batch.push(n as u64 + 1, text.as_bytes(), false);
        journal.commit(&batch).unwrap();
        let image = backend.image();
        let (segment, bytes) = image.last_key_value().unwrap();
        starts.push((*segment, bytes.len() - RECORD_HEADER - text.len()));
    }
    (backend.image(), starts)
}

fn open_image(image: Image) -> Result<u64, StoreError> {
    let opened = Journal::open(Arc::new(Recording::new(image)), 120)?;
    Ok(opened.journal.next_seq() - 1)
}

#[test]
fn every_flipped_bit_is_refused_where_it_is() {
    let (image, starts) = small_journal();
    assert!(image.len() >= 3, "the journal has {} segments", image.len());
    assert_eq!(open_image(image.clone()).unwrap(), 8);
    for (&segment, bytes) in &image {
        for bit in 0..bytes.len() * 8 {
            let mut bad = image.clone();
            bad.get_mut(&segment).unwrap()[bit / 8] ^= 1 << (bit % 8);
            let Err(StoreError::Damaged { damage, .. }) = open_image(bad) else {
                panic!("segment {segment}: flipped bit {bit} was let through");
            };
            let expected = starts
                .iter()
                .filter(|&&(owner, start)| owner == segment && start <= bit / 8)
                .map(|&(_, start)| start)
                .max()
                .unwrap_or(0);
            assert_eq!(damage.segment, format!("{segment:020}.seg"), "bit {bit}");
            assert_eq!(
                damage.offset, expected as u64,
                "segment {segment}, bit {bit}"
            );
        }
    }
}

/// A flipped bit in the length of the last record must not pass for a record cut short.
#[test]
fn a_longer_length_is_no_torn_tail() {
    let (mut image, starts) = small_journal();
    let (segment, start) = *starts.last().unwrap();
    image.get_mut(&segment).unwrap()[start + 1] ^= 1; // 256 bytes longer than the file.
    let error = open_image(image).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
}

#[test]
fn zeros_after_the_last_record_are_a_torn_tail() {
    for zeros in [1, 19, 20, 21, 512, 300_000] {
        let (mut image, _) = small_journal();
        image.last_entry().unwrap().get_mut().extend(vec![0; zeros]);
        let opened = Journal::open(Arc::new(Recording::new(image)), 120).unwrap();
        assert_eq!(opened.truncated_bytes, zeros as u64);
        assert_eq!(opened.journal.next_seq(), 9);
    }
    // One other byte among them, and it is damage.
    let (mut image, _) = small_journal();
    image
        .last_entry()
        .unwrap()
        .get_mut()
        .extend([vec![0; 40], vec![1]].concat());
    assert!(matches!(open_image(image), Err(StoreError::Damaged { .. })));
}

#[test]
fn the_last_segments_header_may_be_torn() {
    for cut in 0..SEGMENT_HEADER {
        let (mut image, _) = small_journal();
        let (last, bytes) = image.pop_last().unwrap();
        image.insert(last, bytes[..cut].to_vec());
        assert_eq!(open_image(image.clone()).unwrap(), last - 1, "cut at {cut}");
        image.insert(last, vec![0; SEGMENT_HEADER + cut]);
        assert_eq!(open_image(image).unwrap(), last - 1, "{cut} zeros more");
    }
}

#[test]
fn a_cut_in_an_earlier_segment_is_damage() {
    let (image, _) = small_journal();
    let (&first, bytes) = image.first_key_value().unwrap();
    for cut in 0..bytes.len() {
        let mut bad = image.clone();
        bad.insert(first, bytes[..cut].to_vec());
        assert!(
            matches!(open_image(bad), Err(StoreError::Damaged { .. })),
            "cut at {cut}"
        );
    }
    let mut bad = image.clone();
    let second = *image.keys().nth(1).unwrap();
    bad.remove(&second);
    let Err(StoreError::Damaged { damage, .. }) = open_image(bad) else {
        panic!("a missing segment was let through");
    };
    assert_eq!(damage.offset, 0);
}

/// A command of several events is whole or absent, wherever the cut falls.
#[test]
fn a_command_is_never_half_there() {
    let backend = Arc::new(Recording::new(Image::new()));
    let mut journal = Journal::open(backend.clone(), 4096).unwrap().journal;
    let mut ends = vec![(SEGMENT_HEADER, 0)];
    let mut seq = 0;
    for events in [1, 3, 2] {
        let mut batch = FrameBatch::default();
        for n in 0..events {
            seq += 1;
            batch.push(seq, b"event", n + 1 < events);
        }
        journal.commit(&batch).unwrap();
        ends.push((backend.image()[&1].len(), seq));
    }
    let whole = backend.image()[&1].clone();
    for cut in SEGMENT_HEADER..=whole.len() {
        let image = Image::from([(1, whole[..cut].to_vec())]);
        let expected = ends.iter().rfind(|&&(end, _)| end <= cut).unwrap().1;
        assert_eq!(open_image(image).unwrap(), expected, "cut at {cut}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn damage_says_where_and_how_to_restore() {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = open(dir.path());
    fill(&store, &lines(4)).await;
    assert_eq!(store.snapshot_now().await.unwrap(), 4);
    store.close().await;
    drop(store);
    let segment = last_segment(dir.path());
    let mut bytes = fs::read(&segment).unwrap();
    bytes[SEGMENT_HEADER + RECORD_HEADER] ^= 0x20;
    fs::write(&segment, &bytes).unwrap();
    let text = try_open(dir.path()).err().unwrap().to_string();
    for part in [
        "00000000000000000001.seg",
        "byte 24",
        "lamellad verify",
        "sequence 4",
    ] {
        assert!(text.contains(part), "`{part}` is not in: {text}");
    }
    assert_eq!(
        fs::read(&segment).unwrap(),
        bytes,
        "a refused journal is not changed"
    );
}

/// Format version 1, byte by byte: packed by a Python script from the tables in `DESIGN.md`, with
/// a bitwise CRC32C of its own (polynomial 0x1EDC6F41 reflected; 0xE3069283 for "123456789").
const VERSION_1: [&str; 4] = [
    "4c414d4a524e4c000100000001000000000000002a4500b7",
    "0700000001000000000000004ea461a4341b083d73657420612031",
    "050000800200000000000000f08345a4cfe0836d696e63206e",
    "00000000030000000000000000000000bae6e211",
];

fn version_1() -> Vec<u8> {
    let digits = VERSION_1.concat();
    (0..digits.len() / 2)
        .map(|at| u8::from_str_radix(&digits[2 * at..2 * at + 2], 16).unwrap())
        .collect()
}

#[test]
fn version_1_is_read_and_written_as_designed() {
    let backend = Arc::new(Recording::new(Image::from([(1, version_1())])));
    let journal = Journal::open(backend, 4096).unwrap().journal;
    let read = journal.reader().read_from(0, 9, usize::MAX).unwrap();
    let payloads: Vec<&[u8]> = read.iter().map(|(_, payload)| payload.as_ref()).collect();
    assert_eq!(payloads, [b"set a 1".as_slice(), b"inc n", b""]);

    let backend = Arc::new(Recording::new(Image::new()));
    let mut journal = Journal::open(backend.clone(), 4096).unwrap().journal;
    let mut batch = FrameBatch::default();
    batch.push(1, b"set a 1", false);
    batch.push(2, b"inc n", true);
    batch.push(3, b"", false);
    journal.commit(&batch).unwrap();
    assert_eq!(backend.image(), Image::from([(1, version_1())]));
}

/// A journal of a later version: refused as such, and not a byte of it touched.
#[test]
fn a_newer_version_is_refused_and_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("journal/00000000000000000001.seg");
    fs::create_dir(dir.path().join("journal")).unwrap();
    let mut bytes = version_1();
    bytes[8] = 2;
    let crc = crc32c::crc32c(&bytes[..20]).to_le_bytes();
    bytes[20..24].copy_from_slice(&crc);
    // A torn tail, which version 1 would cut.
    bytes.extend([1, 2, 3]);
    fs::write(&path, &bytes).unwrap();
    let error = try_open(dir.path()).err().unwrap();
    assert!(
        matches!(
            error,
            StoreError::UnknownFormat {
                found: 2,
                supported: 1,
                ..
            }
        ),
        "{error}"
    );
    assert_eq!(fs::read(&path).unwrap(), bytes);
}
