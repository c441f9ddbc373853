//! The files of an export in their folder: first under names of their own, then,
//! when all are there, under their real ones; last the manifest. A reader that
//! finds the manifest and its hashes right has a whole export.

use std::fs::File;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use lamella_proto::v1;
use serde::Serialize;
use sha2::{Digest as _, Sha256};
use tempfile::{Builder, NamedTempFile, TempPath};

use crate::errors::CliError;
use crate::names::clean;

/// The folder.
#[derive(Debug)]
pub(crate) struct Folder {
    path: PathBuf,
}

/// A file that is coming in. Dropped, it is gone.
#[derive(Debug)]
pub(crate) struct Coming {
    file: NamedTempFile,
    hash: Sha256,
    bytes: i64,
    is: v1::ExportFile,
}

/// A whole file that waits for the others. Dropped, it is gone.
#[derive(Debug)]
pub(crate) struct Waiting {
    path: TempPath,
    entry: Entry,
}

/// What `manifest.json` holds. Nothing in it tells when it was written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(crate) struct Manifest {
    /// Version of this form.
    manifest_version: u32,
    /// First day.
    pub(crate) from_date: String,
    /// Last day.
    pub(crate) to_date: String,
    /// The zone whose days these are.
    pub(crate) time_zone: String,
    /// When the first day begins, RFC 3339 in UTC.
    from_time: String,
    /// When the last day ends.
    before_time: String,
    /// Version of the daemon that wrote the files.
    daemon_version: String,
    /// The files.
    pub(crate) files: Vec<Entry>,
}

/// One file in the manifest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(crate) struct Entry {
    /// Its name in the folder.
    pub(crate) file: String,
    /// What it holds.
    dataset: String,
    /// How it is written.
    format: String,
    /// Rows, a header not counted.
    pub(crate) rows: i64,
    /// Size.
    size_bytes: i64,
    /// SHA-256 in hexadecimal digits.
    sha256: String,
}

impl Folder {
    /// The folder, made if it is not there.
    ///
    /// # Errors
    /// [`CliError::Write`].
    pub(crate) fn open(path: &Path) -> Result<Self, CliError> {
        std::fs::create_dir_all(path).map_err(failed(path))?;
        Ok(Self {
            path: path.to_owned(),
        })
    }

    /// Begins a file.
    ///
    /// # Errors
    /// [`CliError::Write`]; [`CliError::Incomplete`] for a name that leaves the
    /// folder or is the manifest's.
    pub(crate) fn begin(&self, is: &v1::ExportFile) -> Result<Coming, CliError> {
        let plain = |c: char| c.is_ascii_alphanumeric() || "._-".contains(c);
        let name = &is.file_name;
        let good = name.chars().all(plain) && name.starts_with(|c: char| c.is_ascii_alphanumeric());
        if !good || name == Manifest::FILE {
            return Err(CliError::Incomplete {
                what: format!("a file with the name `{}`", clean(name)),
            });
        }
        Ok(Coming {
            file: self.temporary()?,
            hash: Sha256::new(),
            bytes: 0,
            is: is.clone(),
        })
    }

    /// Gives every file its real name, and writes the manifest.
    ///
    /// # Errors
    /// [`CliError::Write`].
    pub(crate) fn keep(&self, files: Vec<Waiting>, manifest: &Manifest) -> Result<(), CliError> {
        let mut last = self.temporary()?;
        let path = self.path.join(Manifest::FILE);
        let write = last.write_all(manifest.json().as_bytes());
        write
            .and_then(|()| last.as_file().sync_all())
            .map_err(failed(&path))?;
        for Waiting { path, entry } in files {
            let to = self.path.join(&entry.file);
            path.persist(&to)
                .map_err(|error| failed(&to)(error.error))?;
        }
        self.sync()?;
        last.into_temp_path()
            .persist(&path)
            .map_err(|error| failed(&path)(error.error))?;
        self.sync()
    }

    /// A file beside the others, so that renaming it does not copy it, as readable
    /// as any other file.
    fn temporary(&self) -> Result<NamedTempFile, CliError> {
        use std::os::unix::fs::PermissionsExt as _;
        Builder::new()
            .prefix(".lamella-")
            .suffix(".part")
            .permissions(std::fs::Permissions::from_mode(0o666))
            .tempfile_in(&self.path)
            .map_err(failed(&self.path))
    }

    /// Makes the new names durable.
    fn sync(&self) -> Result<(), CliError> {
        File::open(&self.path)
            .and_then(|folder| folder.sync_all())
            .map_err(failed(&self.path))
    }
}

impl Coming {
    /// Adds bytes.
    ///
    /// # Errors
    /// [`CliError::Write`].
    pub(crate) fn write(&mut self, bytes: &[u8]) -> Result<(), CliError> {
        self.hash.update(bytes);
        self.bytes += i64::try_from(bytes.len()).unwrap_or(i64::MAX);
        self.file.write_all(bytes).map_err(failed(self.file.path()))
    }

    /// The whole file, durable.
    ///
    /// # Errors
    /// [`CliError::Write`]; [`CliError::Incomplete`] when it is not what the
    /// server says it sent.
    pub(crate) fn end(self, ended: &v1::ExportFileEnded) -> Result<Waiting, CliError> {
        let sha256 = format!("{:x}", self.hash.finalize());
        if (self.bytes, &sha256) != (ended.size_bytes, &ended.sha256) {
            return Err(CliError::Incomplete {
                what: self.is.file_name,
            });
        }
        self.file
            .as_file()
            .sync_all()
            .map_err(failed(self.file.path()))?;
        Ok(Waiting {
            path: self.file.into_temp_path(),
            entry: Entry {
                dataset: dataset_word(self.is.dataset()),
                format: format_word(self.is.format()).to_owned(),
                file: self.is.file_name,
                rows: ended.row_count,
                size_bytes: self.bytes,
                sha256,
            },
        })
    }
}

impl Manifest {
    /// Its name in the folder.
    pub(crate) const FILE: &'static str = "manifest.json";

    /// Of files that all are there.
    pub(crate) fn new(started: &v1::ExportStarted, files: &[Waiting]) -> Self {
        let instant = |time: Option<&prost_types::Timestamp>| {
            time.and_then(crate::times::from_proto)
                .map(|instant| instant.to_string())
                .unwrap_or_default()
        };
        Self {
            manifest_version: 1,
            from_date: clean(&started.from_date),
            to_date: clean(&started.to_date),
            time_zone: clean(&started.time_zone),
            from_time: instant(started.from_time.as_ref()),
            before_time: instant(started.before_time.as_ref()),
            daemon_version: clean(&started.daemon_version),
            files: files.iter().map(|file| file.entry.clone()).collect(),
        }
    }

    /// Its text.
    pub(crate) fn json(&self) -> String {
        // Strings and numbers cannot fail to be JSON.
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }
}

/// For example "stage_changes".
fn dataset_word(dataset: v1::ExportDataset) -> String {
    let name = dataset.as_str_name();
    name.trim_start_matches("EXPORT_DATASET_").to_lowercase()
}

/// As `--format` has it.
fn format_word(format: v1::ExportFormat) -> &'static str {
    match format {
        v1::ExportFormat::Unspecified => "unspecified",
        v1::ExportFormat::Csv => "csv",
        v1::ExportFormat::JsonLines => "jsonl",
        v1::ExportFormat::Parquet => "parquet",
    }
}

fn failed(path: &Path) -> impl Fn(std::io::Error) -> CliError + '_ {
    |source| CliError::Write {
        path: path.to_owned(),
        source,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str) -> v1::ExportFile {
        v1::ExportFile {
            dataset: v1::ExportDataset::Labour.into(),
            format: v1::ExportFormat::Csv.into(),
            file_name: name.to_owned(),
        }
    }

    // SHA-256 of "abc": FIPS 180-4, example in its companion test vectors.
    fn ended() -> v1::ExportFileEnded {
        v1::ExportFileEnded {
            row_count: 1,
            size_bytes: 3,
            sha256: "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad".to_owned(),
        }
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = std::fs::read_dir(folder).unwrap();
        let name = |entry: std::io::Result<std::fs::DirEntry>| {
            entry.unwrap().file_name().to_string_lossy().into_owned()
        };
        let mut names: Vec<String> = entries.map(name).collect();
        names.sort();
        names
    }

    #[test]
    fn files_appear_all_together_with_the_manifest() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::open(&dir.path().join("a/b")).unwrap();
        let mut coming = folder.begin(&file("labour.csv")).unwrap();
        coming.write(b"ab").unwrap();
        coming.write(b"c").unwrap();
        let waiting = vec![coming.end(&ended()).unwrap()];
        assert!(!folder.path.join("labour.csv").exists());
        let manifest = Manifest::new(&v1::ExportStarted::default(), &waiting);
        folder.keep(waiting, &manifest).unwrap();
        assert_eq!(names(&folder.path), ["labour.csv", "manifest.json"]);
        assert_eq!(
            std::fs::read(folder.path.join("labour.csv")).unwrap(),
            b"abc"
        );
        let manifest = std::fs::read_to_string(folder.path.join("manifest.json")).unwrap();
        assert!(manifest.contains("\"dataset\": \"labour\""), "{manifest}");
    }

    #[test]
    fn what_did_not_come_whole_leaves_nothing_behind() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::open(dir.path()).unwrap();
        let mut coming = folder.begin(&file("labour.csv")).unwrap();
        coming.write(b"abd").unwrap();
        let error = coming.end(&ended()).unwrap_err();
        assert!(matches!(error, CliError::Incomplete { .. }), "{error}");
        drop(folder.begin(&file("labour.csv")).unwrap());
        assert!(names(dir.path()).is_empty());
    }

    #[test]
    fn names_that_leave_the_folder_are_refused() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::open(dir.path()).unwrap();
        for name in [
            "../a.csv",
            "/a.csv",
            "a/b.csv",
            "",
            ".hidden",
            "manifest.json",
        ] {
            assert!(folder.begin(&file(name)).is_err(), "{name}");
        }
    }
}
