//! Whether every photo's file is there and whole: for `lamellad verify`.

use std::collections::BTreeMap;
use std::fmt;
use std::fs;
use std::path::Path;

use lamella_proto::v1;
use prost::Message as _;

use super::error::PhotoError;
use super::files::{PHOTO_DIR, read_checked};
use crate::ledger::keys;

/// The photos that the store names, by the hash of their file.
#[derive(Debug, Default)]
pub struct NamedPhotos {
    by_file: BTreeMap<String, Vec<String>>,
}

/// What a check of the photo files found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PhotoReport {
    /// How many photos the store names.
    pub photos: usize,
    /// How many files they are in.
    pub files: usize,
    /// Files that no photo is in.
    pub left_over: usize,
    /// What is wrong, one line each.
    pub problems: Vec<String>,
}

impl NamedPhotos {
    /// Takes note of an entry of the store, if it is a photo.
    pub fn note(&mut self, key: &[u8], value: &[u8]) {
        if !key.starts_with(keys::PHOTOS) {
            return;
        }
        // What the store replayed a moment ago can be read.
        if let Ok(photo) = v1::Photo::decode(value) {
            self.by_file
                .entry(photo.sha256)
                .or_default()
                .push(photo.name);
        }
    }

    /// Reads every file that is named.
    ///
    /// # Errors
    /// When the folder cannot be read; what is wrong with a file is part of the
    /// report.
    pub fn check(&self, data_dir: &Path) -> Result<PhotoReport, PhotoError> {
        let dir = data_dir.join(PHOTO_DIR);
        let mut report = PhotoReport {
            photos: self.by_file.values().map(Vec::len).sum(),
            files: self.by_file.len(),
            ..PhotoReport::default()
        };
        for (sha256, photos) in &self.by_file {
            match read_checked(&dir, sha256) {
                Ok(_) => {}
                Err(error @ PhotoError::Lost { .. }) => {
                    report
                        .problems
                        .push(format!("{}: {error}", photos.join(", ")));
                }
                Err(error) => return Err(error),
            }
        }
        match fs::read_dir(&dir) {
            Ok(entries) => {
                for entry in entries {
                    let entry = entry.map_err(PhotoError::io("read", &dir))?;
                    let name = entry.file_name().to_string_lossy().into_owned();
                    report.left_over += usize::from(!self.by_file.contains_key(&name));
                }
            }
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
            Err(error) => return Err(PhotoError::io("read", dir)(error)),
        }
        Ok(report)
    }
}

impl fmt::Display for PhotoReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { photos, files, .. } = self;
        write!(f, "photos: {photos} in {files} files")?;
        if self.left_over > 0 {
            write!(f, ", {} files that no photo is in", self.left_over)?;
        }
        for problem in &self.problems {
            write!(f, "\nPHOTO: {problem}")?;
        }
        if self.problems.is_empty() {
            write!(f, ", every one whole")?;
        }
        Ok(())
    }
}
