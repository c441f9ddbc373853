//! A component on its way in: into a file as it comes, never more than is taken.

use lamella_plugin_host::{LoadOptions, Plugin, PluginHost, Wasi};
use tempfile::NamedTempFile;

use super::files::{digest, files_error};
use super::{Plugins, PluginsError, blocking};

/// An upload that goes on. Dropping it, as a caller who hangs up does, removes
/// its file.
pub(crate) struct Upload {
    file: NamedTempFile,
    size_bytes: usize,
    limit_bytes: usize,
}

/// An upload that is complete.
pub(crate) struct Received {
    pub(super) file: NamedTempFile,
    /// How much came.
    pub(crate) size_bytes: usize,
}

impl Plugins {
    /// Begins an upload.
    ///
    /// # Errors
    /// When no file can be made for it.
    pub(crate) async fn begin_upload(&self) -> Result<Upload, PluginsError> {
        let inner = std::sync::Arc::clone(&self.inner);
        blocking(move || {
            Ok::<_, PluginsError>(Upload {
                file: inner.files.upload()?,
                size_bytes: 0,
                limit_bytes: inner.host.config().component_bytes,
            })
        })
        .await
    }
}

impl Upload {
    /// Takes the next bytes.
    ///
    /// # Errors
    /// [`PluginsError::UploadTooLarge`] as soon as it is, or when the file cannot be
    /// written.
    pub(crate) async fn push(mut self, chunk: Vec<u8>) -> Result<Self, PluginsError> {
        let size_bytes = self.size_bytes.saturating_add(chunk.len());
        if size_bytes > self.limit_bytes {
            return Err(PluginsError::UploadTooLarge {
                limit_bytes: self.limit_bytes,
            });
        }
        blocking(move || {
            self.size_bytes = size_bytes;
            let written = std::io::Write::write_all(self.file.as_file_mut(), &chunk);
            written.map_err(|source| files_error("write", self.file.path(), source))?;
            Ok(self)
        })
        .await
    }

    /// Ends it.
    pub(crate) fn finish(self) -> Received {
        Received {
            file: self.file,
            size_bytes: self.size_bytes,
        }
    }
}

impl Received {
    /// Loads it, which checks that it has the hash that was announced. Blocks.
    pub(super) fn load(
        &self,
        host: &PluginHost,
        wasi: Wasi,
        expected_sha256: &str,
    ) -> Result<Plugin, PluginsError> {
        let path = self.file.path();
        let bytes = std::fs::read(path).map_err(|source| files_error("read", path, source))?;
        let options = LoadOptions {
            wasi,
            expected_sha256: digest(expected_sha256),
        };
        Ok(host.load(&bytes, &options)?)
    }
}

impl Plugins {
    /// Loads an upload without installing it.
    ///
    /// # Errors
    /// Where it has another hash than was announced, or is no plugin.
    pub(crate) async fn load_upload(
        &self,
        received: Received,
        wasi: lamella_proto::v1::PluginWasi,
        expected_sha256: String,
    ) -> Result<Plugin, PluginsError> {
        let inner = std::sync::Arc::clone(&self.inner);
        blocking(move || received.load(&inner.host, super::wasi_of(wasi), &expected_sha256)).await
    }
}
