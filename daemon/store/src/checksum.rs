//! A checksum over a set of entries that can be kept up to date without reading the set.
//!
//! Each entry is hashed (SHA-256, FIPS 180-4, first 128 bits; the key's length comes first so
//! that key and value cannot slide into each other) and the hashes are added modulo 2^128. The
//! sum does not depend on the order of entries, and a put or delete changes it by a difference.
//! It guards against accidents, not against forgery.

use sha2::{Digest, Sha256};

/// Size and checksum of a whole key-value state.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Content {
    /// Number of entries.
    pub entries: u64,
    /// Sum of the entries' 128-bit hashes, modulo 2^128.
    pub checksum: u128,
}

impl Content {
    /// Accounts for an entry that is now there.
    pub(crate) fn add(&mut self, key: &[u8], value: &[u8]) {
        self.entries = self.entries.wrapping_add(1);
        self.checksum = self.checksum.wrapping_add(entry_hash(key, value));
    }

    /// Accounts for an entry that is gone.
    pub(crate) fn remove(&mut self, key: &[u8], value: &[u8]) {
        self.entries = self.entries.wrapping_sub(1);
        self.checksum = self.checksum.wrapping_sub(entry_hash(key, value));
    }
}

fn entry_hash(key: &[u8], value: &[u8]) -> u128 {
    let mut hasher = Sha256::new();
    hasher.update((key.len() as u64).to_le_bytes());
    hasher.update(key);
    hasher.update(value);
    let digest = hasher.finalize();
    let mut first = [0_u8; 16];
    first.copy_from_slice(&digest[..16]);
    u128::from_le_bytes(first)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// SHA-256 of eight zero bytes (an empty key and value): first 16 bytes of
    /// `head -c 8 /dev/zero | sha256sum` (GNU coreutils).
    #[test]
    fn the_hash_is_sha_256() {
        let expected = 0xaf55_70f5_a181_0b7a_f78c_af4b_c70a_660f_u128.swap_bytes();
        assert_eq!(entry_hash(b"", b""), expected);
    }

    #[test]
    fn key_and_value_do_not_slide() {
        assert_ne!(entry_hash(b"ab", b"c"), entry_hash(b"a", b"bc"));
    }

    proptest! {
        #[test]
        fn differences_agree_with_a_fresh_sum(
            ops in prop::collection::vec((0_u8..20, prop::option::of(any::<[u8; 3]>())), 0..100)
        ) {
            let mut map = std::collections::BTreeMap::new();
            let mut kept = Content::default();
            for (key, value) in ops {
                let key = vec![key];
                let old = match value {
                    Some(value) => map.insert(key.clone(), value.to_vec()),
                    None => map.remove(&key),
                };
                if let Some(old) = old {
                    kept.remove(&key, &old);
                }
                if let Some(value) = value {
                    kept.add(&key, &value);
                }
            }
            let mut fresh = Content::default();
            for (key, value) in &map {
                fresh.add(key, value);
            }
            prop_assert_eq!(kept, fresh);
        }
    }
}
