//! A component on its way to the server: read whole, hashed here, sent in
//! pieces.

use std::path::Path;

use lamella_proto::v1;
use sha2::{Digest as _, Sha256};

use crate::errors::CliError;

/// Bytes of a piece; the server takes up to twice as much.
const CHUNK_BYTES: usize = 1024 * 1024;

/// A component's bytes and their hash.
#[derive(Debug)]
pub(crate) struct Upload {
    bytes: Vec<u8>,
    /// SHA-256, 64 lower-case hexadecimal digits.
    pub(crate) sha256: String,
}

/// Which WASI a plugin is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Wasi {
    /// None: its arguments and a log, nothing else.
    None,
    /// One with nothing in it, for languages whose runtime asks for one.
    Empty,
}

impl Upload {
    /// Reads a file.
    ///
    /// # Errors
    /// [`CliError::Read`] with its path.
    pub(crate) fn read(path: &Path) -> Result<Self, CliError> {
        let bytes = std::fs::read(path).map_err(|source| CliError::Read {
            what: path.display().to_string(),
            source,
        })?;
        let sha256 = hex::encode(Sha256::digest(&bytes));
        Ok(Self { bytes, sha256 })
    }

    /// The pieces, in order.
    pub(crate) fn chunks(self) -> impl Iterator<Item = Vec<u8>> + Send + 'static {
        let count = self.bytes.len().div_ceil(CHUNK_BYTES);
        (0..count).map(move |index| {
            let rest = self.bytes.get(index * CHUNK_BYTES..).unwrap_or_default();
            rest.chunks(CHUNK_BYTES).next().unwrap_or_default().to_vec()
        })
    }
}

impl From<Wasi> for i32 {
    fn from(wasi: Wasi) -> Self {
        match wasi {
            Wasi::None => v1::PluginWasi::None.into(),
            Wasi::Empty => v1::PluginWasi::Empty.into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // FIPS 180-2, appendix B: "abc", and a million times "a".
    #[test]
    fn hashes_of_the_standard() {
        let dir = tempfile::tempdir().unwrap();
        let sha256 = |bytes: &[u8]| {
            let path = dir.path().join("component");
            std::fs::write(&path, bytes).unwrap();
            Upload::read(&path).unwrap().sha256
        };
        assert_eq!(
            sha256(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        assert_eq!(
            sha256(&[b'a'; 1_000_000]),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"
        );
    }

    #[test]
    fn pieces_are_whole_and_in_order() {
        let sizes = |length: usize| {
            let bytes: Vec<u8> = (0..length)
                .map(|n| u8::try_from(n % 251).unwrap())
                .collect();
            let upload = Upload {
                bytes: bytes.clone(),
                sha256: String::new(),
            };
            let chunks: Vec<Vec<u8>> = upload.chunks().collect();
            assert_eq!(chunks.concat(), bytes);
            chunks.iter().map(Vec::len).collect::<Vec<_>>()
        };
        assert_eq!(sizes(0), Vec::<usize>::new());
        assert_eq!(sizes(CHUNK_BYTES), [CHUNK_BYTES]);
        assert_eq!(sizes(2 * CHUNK_BYTES + 1), [CHUNK_BYTES, CHUNK_BYTES, 1]);
    }
}
