//! One daemon per data directory: an advisory lock (`flock`) on `<data>/lock`. The kernel
//! releases it with the process, however that ends; the file itself stays.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use rustix::fs::{FlockOperation, flock};
use rustix::io::Errno;

use crate::error::StoreError;

/// Name of the lock file inside the data directory.
const LOCK_FILE: &str = "lock";

/// The held lock; dropping it releases it.
#[derive(Debug)]
pub(crate) struct DirLock {
    file: File,
    /// A shared holder leaves the text alone.
    exclusive: bool,
}

impl DirLock {
    /// Takes the lock for writing and notes who holds it.
    pub(crate) fn exclusive(data_dir: &Path, note: &str) -> Result<Self, StoreError> {
        let path = data_dir.join(LOCK_FILE);
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
            .map_err(StoreError::io("open", &path))?;
        let mut lock = Self {
            file,
            exclusive: true,
        };
        lock.take(&path, FlockOperation::NonBlockingLockExclusive)?;
        let text = format!("pid {}\n{}\n", std::process::id(), note.replace('\n', " "));
        lock.file
            .set_len(0)
            .and_then(|()| lock.file.write_all(text.as_bytes()))
            .map_err(StoreError::io("write", &path))?;
        Ok(lock)
    }

    /// Keeps writers out while the directory is looked at. `None` if there is no lock file: then
    /// nobody has ever opened the directory.
    pub(crate) fn shared(data_dir: &Path) -> Result<Option<Self>, StoreError> {
        let path = data_dir.join(LOCK_FILE);
        let file = match File::open(&path) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(StoreError::io("open", path)(error)),
        };
        let mut lock = Self {
            file,
            exclusive: false,
        };
        lock.take(&path, FlockOperation::NonBlockingLockShared)?;
        Ok(Some(lock))
    }

    fn take(&mut self, path: &Path, how: FlockOperation) -> Result<(), StoreError> {
        match flock(&self.file, how) {
            Ok(()) => Ok(()),
            Err(errno) if errno == Errno::WOULDBLOCK => {
                self.exclusive = false;
                Err(StoreError::Locked {
                    path: path.to_owned(),
                    holder: self.holder(),
                })
            }
            Err(errno) => Err(StoreError::io("lock", PathBuf::from(path))(errno.into())),
        }
    }

    fn holder(&mut self) -> Option<u32> {
        let mut text = String::new();
        self.file.read_to_string(&mut text).ok()?;
        text.lines().next()?.strip_prefix("pid ")?.parse().ok()
    }
}

impl Drop for DirLock {
    fn drop(&mut self) {
        // A stale process id would mislead; the lock itself goes with the file handle.
        if self.exclusive
            && let Err(error) = self.file.set_len(0)
        {
            tracing::debug!(%error, "cannot clear the lock file");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_second_is_told_who_holds_it() {
        let dir = tempfile::tempdir().unwrap();
        assert!(DirLock::shared(dir.path()).unwrap().is_none());
        let first = DirLock::exclusive(dir.path(), "started\nnow").unwrap();
        let me = Some(std::process::id());
        for second in [
            DirLock::exclusive(dir.path(), "").err(),
            DirLock::shared(dir.path()).err(),
        ] {
            let Some(StoreError::Locked { holder, .. }) = second else {
                panic!("a held lock was given away");
            };
            assert_eq!(holder, me);
        }
        drop(first);
        let looking = DirLock::shared(dir.path()).unwrap();
        assert!(looking.is_some() && DirLock::shared(dir.path()).is_ok());
        let refused = DirLock::exclusive(dir.path(), "").unwrap_err();
        assert!(matches!(refused, StoreError::Locked { holder: None, .. }));
        drop(looking);
        DirLock::exclusive(dir.path(), "").unwrap();
    }
}
