//! Where a JPEG file ends (ISO/IEC 10918-1, annex B). Cameras append whole
//! further pictures and films after the end, each with a location of its own, and
//! the library that takes files apart keeps all that follows the first scan.

/// What follows the header of the first scan: compressed data and further scans
/// with their tables, up to the end of the image. `None`: cut short.
///
/// Application data and comments between the scans are left out.
pub(super) fn scans(rest: &[u8]) -> Option<Vec<u8>> {
    const STUFFED: u8 = 0x00;
    const END_OF_IMAGE: u8 = 0xD9;
    const COMMENT: u8 = 0xFE;
    let mut kept = Vec::with_capacity(rest.len());
    let mut at = 0;
    loop {
        // Compressed data up to a marker, the marker's 0xFF not included.
        let length = rest.get(at..)?.iter().position(|byte| *byte == 0xFF)?;
        kept.extend_from_slice(rest.get(at..at + length)?);
        at += length;
        match *rest.get(at + 1)? {
            // A fill byte: the marker's code is still to come.
            0xFF => at += 1,
            STUFFED | 0x01 | 0xD0..=0xD7 => {
                kept.extend_from_slice(rest.get(at..at + 2)?);
                at += 2;
            }
            END_OF_IMAGE => {
                kept.extend_from_slice(&[0xFF, END_OF_IMAGE]);
                return Some(kept);
            }
            marker => {
                let length = rest.get(at + 2..at + 4)?;
                let end = at + 2 + usize::from(u16::from_be_bytes(length.try_into().ok()?));
                let segment = rest.get(at..end)?;
                if segment.len() < 4 {
                    return None;
                }
                if !matches!(marker, 0xE0..=0xEF | COMMENT) {
                    kept.extend_from_slice(segment);
                }
                at = end;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_up_to_the_end_is_kept_except_application_data_and_comments() {
        let scan = b"ab\xFF\x00c\xFF\xD0d";
        let table = b"\xFF\xC4\x00\x04xy";
        let next = b"\xFF\xDA\x00\x03zmore";
        let place = b"\xFF\xE1\x00\x06Exif\xFF\xFE\x00\x04hi";
        let end = b"\xFF\xD9";
        let given = [
            &scan[..],
            place,
            table,
            next,
            b"\xFF",
            end,
            b"a film\xFF\xD9",
        ]
        .concat();
        let wanted = [&scan[..], table, next, end].concat();
        assert_eq!(scans(&given), Some(wanted));
    }

    #[test]
    fn a_file_that_is_cut_short_is_none() {
        for cut in [
            &b""[..],
            b"ab",
            b"ab\xFF",
            b"ab\xFF\xC4\x00",
            b"\xFF\xC4\x00\x09x",
            b"\xFF\xC4\x00\x00\xFF\xD9",
        ] {
            assert_eq!(scans(cut), None, "{cut:?}");
        }
    }

    proptest::proptest! {
        #[test]
        fn no_bytes_make_it_panic_or_grow(bytes: Vec<u8>) {
            if let Some(kept) = scans(&bytes) {
                proptest::prop_assert!(kept.len() <= bytes.len());
            }
        }
    }
}
