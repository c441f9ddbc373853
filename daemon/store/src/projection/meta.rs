//! What the projection says of itself, stored in the same atomic batch as the entries.

use crate::checksum::Content;

/// Bytes of an encoded [`Meta`].
const LEN: usize = 44;

/// The projection's own account of its content.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Meta {
    /// Last event applied; 0 for none.
    pub(crate) last_seq: u64,
    /// Projector version that wrote the entries.
    pub(crate) schema: u32,
    /// Header checksum of the last event: binds the projection to this very journal. 0 for none.
    pub(crate) anchor: u32,
    /// Count and checksum of all entries.
    pub(crate) content: Content,
}

impl Meta {
    pub(crate) fn encode(&self) -> Vec<u8> {
        let mut out = Vec::with_capacity(LEN);
        out.extend_from_slice(&self.last_seq.to_le_bytes());
        out.extend_from_slice(&self.schema.to_le_bytes());
        out.extend_from_slice(&self.anchor.to_le_bytes());
        out.extend_from_slice(&self.content.entries.to_le_bytes());
        out.extend_from_slice(&self.content.checksum.to_le_bytes());
        let crc = crc32c::crc32c(&out);
        out.extend_from_slice(&crc.to_le_bytes());
        out
    }

    /// `None` for anything that [`Meta::encode`] did not write.
    pub(crate) fn decode(bytes: &[u8]) -> Option<Self> {
        let (body, crc) = bytes.split_at_checked(LEN - 4)?;
        if crc != crc32c::crc32c(body).to_le_bytes() {
            return None;
        }
        Some(Self {
            last_seq: u64::from_le_bytes(body.get(0..8)?.try_into().ok()?),
            schema: u32::from_le_bytes(body.get(8..12)?.try_into().ok()?),
            anchor: u32::from_le_bytes(body.get(12..16)?.try_into().ok()?),
            content: Content {
                entries: u64::from_le_bytes(body.get(16..24)?.try_into().ok()?),
                checksum: u128::from_le_bytes(body.get(24..40)?.try_into().ok()?),
            },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back_and_no_flipped_bit() {
        let content = Content {
            entries: 3,
            checksum: u128::MAX - 5,
        };
        let meta = Meta {
            last_seq: 9,
            schema: 2,
            anchor: 0xdead_beef,
            content,
        };
        let bytes = meta.encode();
        assert_eq!(bytes.len(), LEN);
        assert_eq!(Meta::decode(&bytes), Some(meta));
        for bit in 0..bytes.len() * 8 {
            let mut flipped = bytes.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(Meta::decode(&flipped), None);
        }
        assert_eq!(Meta::decode(&bytes[..LEN - 1]), None);
    }
}
