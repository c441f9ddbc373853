//! Components on disk: `plugins/{sha256}.wasm` in the data directory, never
//! changed once they have that name, and uploads beside them until they have one.

use std::fs::{self, File};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::PluginsError;

/// What an upload's file begins with until it is kept.
const UPLOAD_PREFIX: &str = "upload-";

/// The folder of components.
pub(super) struct Files {
    dir: PathBuf,
}

impl Files {
    /// Makes the folder and removes what interrupted uploads left.
    pub(super) fn open(data_dir: &Path) -> Result<Self, PluginsError> {
        let dir = super::dir(data_dir);
        let failed = |source| files_error("make", &dir, source);
        fs::create_dir_all(&dir).map_err(failed)?;
        // The engine's cache takes absolute paths only.
        let dir = fs::canonicalize(&dir).map_err(failed)?;
        let files = Self { dir };
        files.remove_uploads()?;
        Ok(files)
    }

    /// Where compiled code is kept; it can be removed at any time.
    pub(super) fn cache_dir(&self) -> PathBuf {
        self.dir.join("compiled")
    }

    /// A file for an upload; it is removed when it is dropped without being kept.
    pub(super) fn upload(&self) -> Result<NamedTempFile, PluginsError> {
        tempfile::Builder::new()
            .prefix(UPLOAD_PREFIX)
            .tempfile_in(&self.dir)
            .map_err(|source| files_error("make an upload in", &self.dir, source))
    }

    /// Gives an upload its name, durably: it is there after a power cut.
    pub(super) fn keep(&self, upload: NamedTempFile, sha256: &str) -> Result<(), PluginsError> {
        let path = self.path(sha256);
        let failed = |source| files_error("keep", &path, source);
        upload.as_file().sync_all().map_err(failed)?;
        upload.persist(&path).map_err(|error| failed(error.error))?;
        File::open(&self.dir)
            .and_then(|dir| dir.sync_all())
            .map_err(failed)
    }

    /// A component's bytes, as they lie there.
    pub(super) fn read(&self, sha256: &str) -> Result<Vec<u8>, PluginsError> {
        let path = self.path(sha256);
        fs::read(&path).map_err(|source| {
            if source.kind() == ErrorKind::NotFound {
                PluginsError::NotKept {
                    sha256: sha256.to_owned(),
                }
            } else {
                files_error("read", &path, source)
            }
        })
    }

    fn path(&self, sha256: &str) -> PathBuf {
        self.dir.join(format!("{sha256}.wasm"))
    }

    fn remove_uploads(&self) -> Result<(), PluginsError> {
        let failed = |source| files_error("look into", &self.dir, source);
        for entry in fs::read_dir(&self.dir).map_err(failed)? {
            let entry = entry.map_err(failed)?;
            if entry
                .file_name()
                .to_string_lossy()
                .starts_with(UPLOAD_PREFIX)
            {
                let path = entry.path();
                fs::remove_file(&path).map_err(|source| files_error("remove", &path, source))?;
            }
        }
        Ok(())
    }
}

/// The 32 bytes that 64 hexadecimal digits stand for.
pub(super) fn digest(sha256: &str) -> Option<[u8; 32]> {
    hex::decode(sha256).ok()?.try_into().ok()
}

pub(super) fn files_error(what: &'static str, path: &Path, source: io::Error) -> PluginsError {
    PluginsError::Files {
        what,
        path: path.to_owned(),
        source,
    }
}
