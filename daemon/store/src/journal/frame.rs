//! How segments and records look as bytes. The layout is drawn field by field in `DESIGN.md`.
//!
//! CRC32C is CRC-32/ISCSI (RFC 3720, appendix B.4; RFC 7143, section 13.1). All numbers are little-endian.

use crate::error::DamageKind;

/// First eight bytes of every segment file.
pub(crate) const SEGMENT_MAGIC: [u8; 8] = *b"LAMJRNL\0";
/// The only segment format this program reads and writes.
pub(crate) const FORMAT_VERSION: u16 = 1;
/// Bytes before the first record of a segment.
pub(crate) const SEGMENT_HEADER_LEN: usize = 24;
/// Bytes before each payload.
pub(crate) const RECORD_HEADER_LEN: usize = 20;
/// Largest payload of one record, in bytes (8 MiB).
pub const MAX_PAYLOAD_LEN: usize = 8 * 1024 * 1024;

/// Bit 31 of the length word: more records of the same command follow.
const CONTINUED: u32 = 1 << 31;

/// A decoded record header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct RecordHeader {
    pub(crate) payload_len: usize,
    /// More records of the same command follow; a command is whole or absent.
    pub(crate) continued: bool,
    pub(crate) seq: u64,
    pub(crate) payload_crc: u32,
    /// Covers the three fields above, so it stands for the whole record.
    pub(crate) header_crc: u32,
}

/// Why a segment header is not accepted.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum HeaderFault {
    Damage(DamageKind),
    /// Intact, but of another format version.
    Version(u16),
}

/// The header that opens a segment whose first record is `first_seq`.
pub(crate) fn encode_segment_header(first_seq: u64) -> [u8; SEGMENT_HEADER_LEN] {
    let mut out = [0_u8; SEGMENT_HEADER_LEN];
    out[..8].copy_from_slice(&SEGMENT_MAGIC);
    out[8..10].copy_from_slice(&FORMAT_VERSION.to_le_bytes());
    out[12..20].copy_from_slice(&first_seq.to_le_bytes());
    let crc = crc32c::crc32c(&out[..20]);
    out[20..].copy_from_slice(&crc.to_le_bytes());
    out
}

/// Checks a segment header against the first sequence number in the file's name.
///
/// The checksum is judged before the version: a flipped bit must not pass for a newer format.
pub(crate) fn check_segment_header(
    bytes: &[u8; SEGMENT_HEADER_LEN],
    named_first_seq: u64,
) -> Result<(), HeaderFault> {
    if bytes[..8] != SEGMENT_MAGIC || crc32c::crc32c(&bytes[..20]) != u32_at(bytes, 20) {
        return Err(HeaderFault::Damage(DamageKind::SegmentHeader));
    }
    let found = u16::from_le_bytes([bytes[8], bytes[9]]);
    if found != FORMAT_VERSION {
        return Err(HeaderFault::Version(found));
    }
    let (expected, found) = (named_first_seq, u64_at(bytes, 12));
    if found != expected {
        return Err(HeaderFault::Damage(DamageKind::Sequence {
            expected,
            found,
        }));
    }
    Ok(())
}

/// Appends one framed record to `out` and returns its header checksum.
///
/// The caller has checked that the payload is at most [`MAX_PAYLOAD_LEN`] bytes.
pub(crate) fn encode_record(out: &mut Vec<u8>, seq: u64, payload: &[u8], continued: bool) -> u32 {
    let start = out.len();
    // The limit is far below u32::MAX; saturating keeps the conversion total.
    let mut len_word = u32::try_from(payload.len()).unwrap_or(u32::MAX >> 1);
    if continued {
        len_word |= CONTINUED;
    }
    out.extend_from_slice(&len_word.to_le_bytes());
    out.extend_from_slice(&seq.to_le_bytes());
    out.extend_from_slice(&crc32c::crc32c(payload).to_le_bytes());
    let header_crc = crc32c::crc32c(&out[start..]);
    out.extend_from_slice(&header_crc.to_le_bytes());
    out.extend_from_slice(payload);
    header_crc
}

/// Decodes and checks a record header that must carry `expected_seq`.
pub(crate) fn decode_record_header(
    bytes: &[u8; RECORD_HEADER_LEN],
    expected_seq: u64,
) -> Result<RecordHeader, DamageKind> {
    let header_crc = u32_at(bytes, 16);
    if crc32c::crc32c(&bytes[..16]) != header_crc {
        return Err(DamageKind::RecordHeader);
    }
    let len_word = u32_at(bytes, 0);
    let payload_len = usize::try_from(len_word & !CONTINUED).unwrap_or(usize::MAX);
    if payload_len > MAX_PAYLOAD_LEN {
        return Err(DamageKind::Length {
            found: payload_len,
            max: MAX_PAYLOAD_LEN,
        });
    }
    let found = u64_at(bytes, 4);
    if found != expected_seq {
        return Err(DamageKind::Sequence {
            expected: expected_seq,
            found,
        });
    }
    Ok(RecordHeader {
        payload_len,
        continued: len_word & CONTINUED != 0,
        seq: found,
        payload_crc: u32_at(bytes, 12),
        header_crc,
    })
}

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    let mut word = [0_u8; 4];
    word.copy_from_slice(&bytes[at..at + 4]);
    u32::from_le_bytes(word)
}

fn u64_at(bytes: &[u8], at: usize) -> u64 {
    let mut word = [0_u8; 8];
    word.copy_from_slice(&bytes[at..at + 8]);
    u64::from_le_bytes(word)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 3720, appendix B.4 ("CRC Examples"): the checksum of 32 zero bytes, 32 bytes of ones,
    /// 32 incrementing bytes, 32 decrementing bytes, as the bytes on the wire.
    #[test]
    fn crc32c_agrees_with_rfc_3720() {
        let up: Vec<u8> = (0..32).collect();
        let down: Vec<u8> = (0..32).rev().collect();
        assert_eq!(
            crc32c::crc32c(&[0; 32]).to_le_bytes(),
            [0xaa, 0x36, 0x91, 0x8a]
        );
        assert_eq!(
            crc32c::crc32c(&[0xff; 32]).to_le_bytes(),
            [0x43, 0xab, 0xa8, 0x62]
        );
        assert_eq!(crc32c::crc32c(&up).to_le_bytes(), [0x4e, 0x79, 0xdd, 0x46]);
        assert_eq!(
            crc32c::crc32c(&down).to_le_bytes(),
            [0x5c, 0xdb, 0x3f, 0x11]
        );
    }

    #[test]
    fn a_record_is_laid_out_as_the_design_says() {
        let mut out = Vec::new();
        let crc = encode_record(&mut out, 7, b"123456789", true);
        assert_eq!(out[..4], [9, 0, 0, 0x80]);
        assert_eq!(out[4..12], [7, 0, 0, 0, 0, 0, 0, 0]);
        // CRC-32/ISCSI check value for "123456789": 0xE3069283 (RFC 3720 polynomial; the value is
        // the `check` of that algorithm in the CRC RevEng catalogue).
        assert_eq!(out[12..16], 0xE306_9283_u32.to_le_bytes());
        assert_eq!(&out[20..], b"123456789");
        let mut head = [0; RECORD_HEADER_LEN];
        head.copy_from_slice(&out[..20]);
        let header = decode_record_header(&head, 7).unwrap();
        assert_eq!(
            (header.payload_len, header.continued, header.header_crc),
            (9, true, crc)
        );
        assert_eq!(
            decode_record_header(&head, 8),
            Err(DamageKind::Sequence {
                expected: 8,
                found: 7
            })
        );
    }

    #[test]
    fn a_newer_format_is_told_from_a_flipped_bit() {
        let mut newer = encode_segment_header(1);
        newer[8] = 2;
        assert_eq!(
            check_segment_header(&newer, 1),
            Err(HeaderFault::Damage(DamageKind::SegmentHeader))
        );
        let crc = crc32c::crc32c(&newer[..20]);
        newer[20..].copy_from_slice(&crc.to_le_bytes());
        assert_eq!(
            check_segment_header(&newer, 1),
            Err(HeaderFault::Version(2))
        );
    }
}
