//! The folder of photo files. A file is named by the SHA-256 of its bytes, so
//! that the same picture is kept once and every file can be checked. A file is
//! whole and synced before the journal names it, and goes only after no photo
//! names it any more.

use std::fs::{self, File};
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};
use tempfile::NamedTempFile;
use tokio::sync::{Mutex, MutexGuard};

use super::error::PhotoError;

/// Name of the folder within the data directory.
pub const PHOTO_DIR: &str = "photos";
/// How uploads that are not finished begin.
const UPLOAD: &str = "upload-";
/// Bytes in a mebibyte.
const MIB: u64 = 1024 * 1024;

/// The folder of photo files.
#[derive(Debug)]
pub struct PhotoFiles {
    dir: PathBuf,
    max_mib: u64,
    /// Held from the moment a file is put or a photo forgotten until it is settled
    /// whether the file stays; without it an upload could rely on a file that a
    /// deletion is just taking away. It guards no data and is held over awaits.
    settling: Mutex<()>,
}

impl PhotoFiles {
    /// The folder in a data directory; made where it is missing, and freed of
    /// uploads that a stop cut short. `max_mib` is the most that one file may have.
    ///
    /// # Errors
    /// [`PhotoError::Io`].
    pub fn open(data_dir: &Path, max_mib: u64) -> Result<Self, PhotoError> {
        let dir = data_dir.join(PHOTO_DIR);
        fs::create_dir_all(&dir).map_err(PhotoError::io("make", &dir))?;
        for entry in fs::read_dir(&dir).map_err(PhotoError::io("read", &dir))? {
            let entry = entry.map_err(PhotoError::io("read", &dir))?;
            if entry.file_name().to_string_lossy().starts_with(UPLOAD) {
                let path = entry.path();
                fs::remove_file(&path).map_err(PhotoError::io("remove", &path))?;
            }
        }
        Ok(Self {
            dir,
            max_mib,
            settling: Mutex::new(()),
        })
    }

    /// Keeps others from putting and removing files meanwhile.
    pub async fn settling(&self) -> MutexGuard<'_, ()> {
        self.settling.lock().await
    }

    /// A place for an upload.
    ///
    /// # Errors
    /// [`PhotoError::Io`].
    pub fn upload(&self) -> Result<Upload, PhotoError> {
        let file = tempfile::Builder::new()
            .prefix(UPLOAD)
            .tempfile_in(&self.dir)
            .map_err(PhotoError::io("make a file in", &self.dir))?;
        Ok(Upload {
            file,
            hash: Sha256::new(),
            room: self.max_mib * MIB,
            max_mib: self.max_mib,
        })
    }

    /// Stores a file for good; its hash. One that is there already is left as it
    /// is, provided that it is whole.
    ///
    /// # Errors
    /// [`PhotoError::Io`].
    pub fn put(&self, bytes: &[u8]) -> Result<String, PhotoError> {
        let sha256 = hex(&Sha256::digest(bytes));
        let path = self.dir.join(&sha256);
        if self.read(&sha256).is_ok() {
            return Ok(sha256);
        }
        let failed = || PhotoError::io("write", &path);
        let mut file = tempfile::Builder::new()
            .prefix(UPLOAD)
            .tempfile_in(&self.dir)
            .map_err(failed())?;
        file.write_all(bytes).map_err(failed())?;
        file.as_file().sync_all().map_err(failed())?;
        file.persist(&path)
            .map_err(|error| error.error)
            .map_err(failed())?;
        self.sync_dir()?;
        Ok(sha256)
    }

    /// A file's bytes, checked against its hash.
    ///
    /// # Errors
    /// [`PhotoError::Lost`] when it is missing or not what was stored;
    /// [`PhotoError::Io`].
    pub fn read(&self, sha256: &str) -> Result<Vec<u8>, PhotoError> {
        read_checked(&self.dir, sha256)
    }

    /// Removes a file, if it is there.
    ///
    /// # Errors
    /// [`PhotoError::Io`].
    pub fn remove(&self, sha256: &str) -> Result<(), PhotoError> {
        let path = self.dir.join(sha256);
        match fs::remove_file(&path) {
            Ok(()) => self.sync_dir(),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
            Err(error) => Err(PhotoError::io("remove", path)(error)),
        }
    }

    fn sync_dir(&self) -> Result<(), PhotoError> {
        File::open(&self.dir)
            .and_then(|dir| dir.sync_all())
            .map_err(PhotoError::io("sync", &self.dir))
    }
}

/// A file on its way in. It goes when it is dropped.
#[derive(Debug)]
pub struct Upload {
    file: NamedTempFile,
    hash: Sha256,
    room: u64,
    max_mib: u64,
}

impl Upload {
    /// Takes the next piece.
    ///
    /// # Errors
    /// [`PhotoError::TooLarge`], [`PhotoError::Io`].
    pub fn take(&mut self, piece: &[u8]) -> Result<(), PhotoError> {
        self.room = u64::try_from(piece.len())
            .ok()
            .and_then(|length| self.room.checked_sub(length))
            .ok_or(PhotoError::TooLarge {
                max_mib: self.max_mib,
            })?;
        self.hash.update(piece);
        self.file
            .write_all(piece)
            .map_err(PhotoError::io("write", self.file.path()))
    }

    /// The bytes, if they are those that were announced.
    ///
    /// # Errors
    /// [`PhotoError::HashDiffers`], [`PhotoError::Io`].
    pub fn finish(self, announced: &str) -> Result<Vec<u8>, PhotoError> {
        let received = hex(&self.hash.finalize());
        if received != announced {
            return Err(PhotoError::HashDiffers {
                received,
                announced: announced.to_owned(),
            });
        }
        fs::read(self.file.path()).map_err(PhotoError::io("read", self.file.path()))
    }
}

/// See [`PhotoFiles::read`].
pub(super) fn read_checked(dir: &Path, sha256: &str) -> Result<Vec<u8>, PhotoError> {
    let path = dir.join(sha256);
    let lost = |what| PhotoError::Lost {
        sha256: sha256.to_owned(),
        what,
    };
    let mut bytes = Vec::new();
    match File::open(&path) {
        Ok(mut file) => file
            .read_to_end(&mut bytes)
            .map_err(PhotoError::io("read", &path))?,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            return Err(lost("missing"));
        }
        Err(error) => return Err(PhotoError::io("read", path)(error)),
    };
    if hex(&Sha256::digest(&bytes)) == sha256 {
        Ok(bytes)
    } else {
        Err(lost("not what was stored"))
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    // FIPS 180-4, the example of one block: "abc".
    const ABC: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

    fn files() -> (tempfile::TempDir, PhotoFiles) {
        let dir = tempfile::tempdir().unwrap();
        let files = PhotoFiles::open(dir.path(), 1).unwrap();
        (dir, files)
    }

    #[test]
    fn a_file_is_kept_under_its_hash_and_given_only_while_it_is_whole() {
        let (dir, files) = files();
        assert_eq!(files.put(b"abc").unwrap(), ABC);
        assert_eq!(files.put(b"abc").unwrap(), ABC, "once more is no fault");
        assert_eq!(files.read(ABC).unwrap(), b"abc");
        let path = dir.path().join(PHOTO_DIR).join(ABC);
        fs::write(&path, b"abd").unwrap();
        assert!(matches!(
            files.read(ABC),
            Err(PhotoError::Lost {
                what: "not what was stored",
                ..
            })
        ));
        files.put(b"abc").unwrap();
        assert_eq!(files.read(ABC).unwrap(), b"abc", "put again, it is whole");
        files.remove(ABC).unwrap();
        files.remove(ABC).unwrap();
        assert!(matches!(
            files.read(ABC),
            Err(PhotoError::Lost {
                what: "missing",
                ..
            })
        ));
    }

    #[test]
    fn an_upload_is_limited_checked_and_leaves_nothing_behind() {
        let (dir, files) = files();
        let mut upload = files.upload().unwrap();
        upload.take(b"ab").unwrap();
        upload.take(b"c").unwrap();
        assert_eq!(upload.finish(ABC).unwrap(), b"abc");
        let mut upload = files.upload().unwrap();
        upload.take(&vec![0; 1024 * 1024]).unwrap();
        assert!(matches!(
            upload.take(b"!"),
            Err(PhotoError::TooLarge { max_mib: 1 })
        ));
        assert!(matches!(
            upload.finish(ABC),
            Err(PhotoError::HashDiffers { .. })
        ));
        assert_eq!(fs::read_dir(dir.path().join(PHOTO_DIR)).unwrap().count(), 0);
        fs::write(dir.path().join(PHOTO_DIR).join("upload-cut-short"), b"x").unwrap();
        PhotoFiles::open(dir.path(), 1).unwrap();
        assert_eq!(fs::read_dir(dir.path().join(PHOTO_DIR)).unwrap().count(), 0);
    }
}
