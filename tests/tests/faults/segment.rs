//! The journal's format, version 1, as `daemon/store/DESIGN.md` states it, read
//! by other code than the daemon's: what the tests damage is where they think
//! it is, and the format cannot change unseen.

use std::ops::Range;
use std::path::{Path, PathBuf};

/// Bytes of a segment's header.
pub(crate) const HEADER_LEN: usize = 24;
/// Bytes of a record before its payload.
pub(crate) const RECORD_HEADER_LEN: usize = 20;

/// A segment file and where its records are.
#[derive(Debug)]
pub(crate) struct Segment {
    pub(crate) path: PathBuf,
    pub(crate) bytes: Vec<u8>,
    /// The bytes of each record, header and payload.
    pub(crate) records: Vec<Range<usize>>,
}

impl Segment {
    /// Reads and checks a segment.
    pub(crate) fn read(path: &Path) -> Self {
        let bytes = std::fs::read(path).unwrap();
        let name = path.file_stem().unwrap().to_str().unwrap();
        let first_seq: u64 = name.parse().unwrap();
        assert_eq!(name, format!("{first_seq:020}"));
        assert_eq!(
            bytes[..HEADER_LEN],
            header(1, first_seq),
            "the header of {}",
            path.display()
        );
        let mut records = Vec::new();
        let mut at = HEADER_LEN;
        for seq in first_seq.. {
            if at == bytes.len() {
                break;
            }
            let head = &bytes[at..at + RECORD_HEADER_LEN];
            let length = usize::try_from(u32_at(head, 0) & 0x7FFF_FFFF).unwrap();
            let end = at + RECORD_HEADER_LEN + length;
            assert_eq!(head[4..12], seq.to_le_bytes(), "the number at byte {at}");
            let payload = &bytes[at + RECORD_HEADER_LEN..end];
            assert_eq!(
                u32_at(head, 12),
                crc32c(payload),
                "the payload of event {seq}"
            );
            assert_eq!(
                u32_at(head, 16),
                crc32c(&head[..16]),
                "the header of event {seq}"
            );
            records.push(at..end);
            at = end;
        }
        Self {
            path: path.to_owned(),
            bytes,
            records,
        }
    }

    /// The file's name.
    pub(crate) fn name(&self) -> &str {
        self.path.file_name().unwrap().to_str().unwrap()
    }
}

/// The segments of a data directory, oldest first, read and checked.
pub(crate) fn all(data_dir: &Path) -> Vec<Segment> {
    let files = std::fs::read_dir(data_dir.join("journal")).unwrap();
    let mut paths: Vec<PathBuf> = files.map(|file| file.unwrap().path()).collect();
    paths.sort();
    paths.iter().map(|path| Segment::read(path)).collect()
}

/// The only segment of a data directory.
pub(crate) fn only(data_dir: &Path) -> Segment {
    let mut segments = all(data_dir);
    assert_eq!(segments.len(), 1, "{segments:?}");
    segments.remove(0)
}

/// A segment's header.
pub(crate) fn header(version: u16, first_seq: u64) -> [u8; HEADER_LEN] {
    let mut header = [0; HEADER_LEN];
    header[..8].copy_from_slice(b"LAMJRNL\0");
    header[8..10].copy_from_slice(&version.to_le_bytes());
    header[12..20].copy_from_slice(&first_seq.to_le_bytes());
    let crc = crc32c(&header[..20]);
    header[20..].copy_from_slice(&crc.to_le_bytes());
    header
}

/// CRC-32/ISCSI bit by bit: polynomial 0x1EDC6F41, reflected, as in RFC 3720,
/// section 12.1.
fn crc32c(bytes: &[u8]) -> u32 {
    let mut crc = !0_u32;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ if crc & 1 == 1 { 0x82F6_3B78 } else { 0 };
        }
    }
    !crc
}

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap())
}

#[test]
fn the_checksum_is_that_of_rfc_3720() {
    // RFC 3720, appendix B.4: the checksum of 32 zeros, of 32 times 0xFF and of
    // 0x00 to 0x1F, in the order of the wire.
    let up: Vec<u8> = (0..32).collect();
    assert_eq!(crc32c(&[0; 32]).to_le_bytes(), [0xAA, 0x36, 0x91, 0x8A]);
    assert_eq!(crc32c(&[0xFF; 32]).to_le_bytes(), [0x43, 0xAB, 0xA8, 0x62]);
    assert_eq!(crc32c(&up).to_le_bytes(), [0x4E, 0x79, 0xDD, 0x46]);
}
