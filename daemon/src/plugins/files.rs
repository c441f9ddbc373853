//! Components on disk: `plugins/{sha256}.wasm` in the data directory, never
//! changed once they have that name, and uploads beside them until they have one.

use std::collections::BTreeSet;
use std::fmt;
use std::fs::{self, File};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};
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

    /// SHA-256 of every component that lies there, by its name.
    pub(super) fn kept(&self) -> Result<BTreeSet<String>, PluginsError> {
        let names = names_in(&self.dir)?;
        Ok(names.iter().filter_map(|name| hash_of(name)).collect())
    }

    /// Removes a component.
    pub(super) fn remove(&self, sha256: &str) -> Result<(), PluginsError> {
        remove(&self.path(sha256))
    }

    fn remove_uploads(&self) -> Result<(), PluginsError> {
        for name in names_in(&self.dir)? {
            if name.starts_with(UPLOAD_PREFIX) {
                remove(&self.dir.join(name))?;
            }
        }
        Ok(())
    }
}

/// Compares a folder of components with those that are named somewhere. Changes
/// nothing; a folder that is not there holds nothing.
///
/// # Errors
/// When the folder or a file in it cannot be read.
pub fn check(data_dir: &Path, named: &BTreeSet<String>) -> Result<Check, PluginsError> {
    let dir = super::dir(data_dir);
    let names = if dir.exists() {
        names_in(&dir)?
    } else {
        Vec::new()
    };
    let mut check = Check {
        missing: named.clone(),
        ..Check::default()
    };
    for name in names {
        match hash_of(&name) {
            Some(sha256) if named.contains(&sha256) => {
                check.missing.remove(&sha256);
                let path = dir.join(&name);
                let bytes = fs::read(&path).map_err(|source| files_error("read", &path, source))?;
                if hex::encode(Sha256::digest(&bytes)) == sha256 {
                    check.sound += 1;
                } else {
                    check.damaged.insert(sha256);
                }
            }
            Some(_) => check.unneeded.push(name),
            None if name.starts_with(UPLOAD_PREFIX) => check.unneeded.push(name),
            None => {}
        }
    }
    check.unneeded.sort_unstable();
    Ok(check)
}

/// What [`check`] found. `Display` prints it for people.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Check {
    /// Components that are named and are as they were.
    pub sound: usize,
    /// SHA-256 of components that are named and have other bytes.
    pub damaged: BTreeSet<String>,
    /// SHA-256 of components that are named and not there.
    pub missing: BTreeSet<String>,
    /// Files that nothing names; the next start removes them.
    pub unneeded: Vec<String>,
}

impl Check {
    /// Whether every component that is named is there as it was.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.damaged.is_empty() && self.missing.is_empty()
    }
}

impl fmt::Display for Check {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "plugins: {} components as they should be", self.sound)?;
        for sha256 in &self.damaged {
            write!(
                out,
                "\nplugins: {sha256}.wasm is damaged: its bytes have another hash"
            )?;
        }
        for sha256 in &self.missing {
            write!(out, "\nplugins: {sha256}.wasm is missing")?;
        }
        for name in &self.unneeded {
            write!(
                out,
                "\nplugins: {name} is not needed; the next start removes it"
            )?;
        }
        if !self.is_clean() {
            write!(
                out,
                "\nplugins: install a component again, or put its file back from a backup"
            )?;
        }
        Ok(())
    }
}

/// `{sha256}` of `{sha256}.wasm`.
fn hash_of(name: &str) -> Option<String> {
    let sha256 = name.strip_suffix(".wasm")?;
    (digest(sha256).is_some()).then(|| sha256.to_owned())
}

fn names_in(dir: &Path) -> Result<Vec<String>, PluginsError> {
    let failed = |source| files_error("look into", dir, source);
    let mut names = Vec::new();
    for entry in fs::read_dir(dir).map_err(failed)? {
        let name = entry.map_err(failed)?.file_name();
        names.push(name.to_string_lossy().into_owned());
    }
    Ok(names)
}

fn remove(path: &Path) -> Result<(), PluginsError> {
    fs::remove_file(path).map_err(|source| files_error("remove", path, source))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uploads_go_and_components_stay_when_the_folder_is_opened_again() {
        let dir = tempfile::tempdir().unwrap();
        let files = Files::open(dir.path()).unwrap();
        let hash = "ab".repeat(32);
        files.keep(files.upload().unwrap(), &hash).unwrap();
        // As a killed daemon leaves it.
        files.upload().unwrap().keep().unwrap();
        assert_eq!(names_in(&files.dir).unwrap().len(), 2);
        let files = Files::open(dir.path()).unwrap();
        assert_eq!(names_in(&files.dir).unwrap(), [format!("{hash}.wasm")]);
        assert_eq!(files.kept().unwrap(), BTreeSet::from([hash]));
    }

    #[test]
    fn an_upload_that_is_dropped_leaves_nothing() {
        let dir = tempfile::tempdir().unwrap();
        let files = Files::open(dir.path()).unwrap();
        let upload = files.upload().unwrap();
        assert_eq!(names_in(&files.dir).unwrap().len(), 1);
        drop(upload);
        assert_eq!(names_in(&files.dir).unwrap(), Vec::<String>::new());
    }

    #[test]
    fn the_check_tells_damaged_missing_and_unneeded_apart() {
        let dir = tempfile::tempdir().unwrap();
        let none = check(dir.path(), &BTreeSet::new()).unwrap();
        assert!(none.is_clean() && none.sound == 0);
        let files = Files::open(dir.path()).unwrap();
        // FIPS 180-4: SHA-256 of "abc".
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        let [damaged, missing, spare] = ["01", "02", "03"].map(|two| two.repeat(32));
        fs::write(files.path(abc), "abc").unwrap();
        for other in [&damaged, &spare] {
            fs::write(files.path(other), "other bytes").unwrap();
        }
        let named = [abc.to_owned(), damaged.clone(), missing.clone()].into();
        let found = check(dir.path(), &named).unwrap();
        assert_eq!(found.sound, 1);
        assert_eq!(found.damaged, [damaged].into());
        assert_eq!(found.missing, [missing].into());
        assert_eq!(found.unneeded, [format!("{spare}.wasm")]);
        assert!(!found.is_clean());
    }
}
