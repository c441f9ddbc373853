//! Why a photo's file was not taken or cannot be given.

use std::path::PathBuf;

/// Why a photo's file was not taken or cannot be given.
#[derive(Debug, thiserror::Error)]
pub enum PhotoError {
    /// Larger than is taken.
    #[error("the photo is larger than {max_mib} MiB, which is the most that is taken here")]
    TooLarge {
        /// The most, mebibytes.
        max_mib: u64,
    },
    /// Not the bytes that were announced.
    #[error("the file received has SHA-256 {received}, the header says {announced}; send it again")]
    HashDiffers {
        /// Of what came.
        received: String,
        /// In the header.
        announced: String,
    },
    /// No file of a kind that is taken.
    #[error("the file is neither JPEG, PNG, WebP nor HEIC, going by its bytes")]
    UnknownType,
    /// Of a kind that is taken, but broken.
    #[error("the {kind} file cannot be read: {reason}")]
    Broken {
        /// Which kind.
        kind: &'static str,
        /// What is wrong with it.
        reason: String,
    },
    /// The file is no longer what was stored.
    #[error("the stored file {sha256} is {what}; restore it from a backup")]
    Lost {
        /// Its hash.
        sha256: String,
        /// "missing" or "not what was stored".
        what: &'static str,
    },
    /// The folder failed.
    #[error("cannot {doing} {}", path.display())]
    Io {
        /// What was tried.
        doing: &'static str,
        /// Where.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
}

impl PhotoError {
    /// For `map_err`: what was tried, and where.
    pub(crate) fn io(
        doing: &'static str,
        path: impl Into<PathBuf>,
    ) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.into();
        move |source| Self::Io {
            doing,
            path,
            source,
        }
    }
}
