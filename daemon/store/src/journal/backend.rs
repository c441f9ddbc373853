//! What a journal needs of its medium, kept narrow: seven calls, so that a test can record and
//! replay each of them and a replicated log can stand in for files later.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// A set of append-only segments, each named by the sequence number of its first record.
pub trait Backend: Send + Sync + 'static {
    /// First sequence numbers of all segments, ascending.
    ///
    /// # Errors
    /// The medium's.
    fn segments(&self) -> io::Result<Vec<u64>>;

    /// Creates a segment holding `header`. On return name and bytes are durable.
    ///
    /// # Errors
    /// `AlreadyExists`, or the medium's.
    fn create(&self, first_seq: u64, header: &[u8]) -> io::Result<()>;

    /// Length of a segment in bytes.
    ///
    /// # Errors
    /// `NotFound`, or the medium's.
    fn len(&self, first_seq: u64) -> io::Result<u64>;

    /// Reads at `offset` (bytes from the start of the segment) into `buf`; returns the bytes
    /// read, fewer than asked only at the end.
    ///
    /// # Errors
    /// `NotFound`, or the medium's.
    fn read(&self, first_seq: u64, offset: u64, buf: &mut [u8]) -> io::Result<usize>;

    /// Appends to the end of a segment. Durable only after [`Backend::sync`].
    ///
    /// # Errors
    /// The medium's; part of the bytes may then be there.
    fn append(&self, first_seq: u64, bytes: &[u8]) -> io::Result<()>;

    /// Cuts a segment to `len` bytes. Durable only after [`Backend::sync`].
    ///
    /// # Errors
    /// The medium's.
    fn truncate(&self, first_seq: u64, len: u64) -> io::Result<()>;

    /// Makes all earlier appends and cuts of a segment durable. Never retried after a failure:
    /// the kernel may have dropped the unwritten pages.
    ///
    /// # Errors
    /// The medium's.
    fn sync(&self, first_seq: u64) -> io::Result<()>;
}

/// File name of a segment: twenty digits, so that names sort as numbers do.
#[must_use]
pub fn segment_name(first_seq: u64) -> String {
    format!("{first_seq:020}.seg")
}

/// Segments as files of one directory.
#[derive(Debug)]
pub struct FileBackend {
    dir: PathBuf,
    /// The segment last written to: its number and handle. Guards only this cache.
    tail: Mutex<Option<(u64, Arc<File>)>>,
}

impl FileBackend {
    /// Opens the directory, creating it (and making its name durable) if needed.
    ///
    /// # Errors
    /// The file system's.
    pub fn try_new(dir: &Path) -> io::Result<Self> {
        fs::create_dir_all(dir)?;
        if let Some(parent) = dir.parent() {
            sync_dir(parent)?;
        }
        // A crash may have left a segment's name written but not durable.
        sync_dir(dir)?;
        Ok(Self {
            dir: dir.to_owned(),
            tail: Mutex::new(None),
        })
    }

    /// A backend over a directory that is only looked at: nothing is created.
    #[must_use]
    pub fn read_only(dir: &Path) -> Self {
        Self {
            dir: dir.to_owned(),
            tail: Mutex::new(None),
        }
    }

    fn path(&self, first_seq: u64) -> PathBuf {
        self.dir.join(segment_name(first_seq))
    }

    fn writable(&self, first_seq: u64) -> io::Result<Arc<File>> {
        let mut tail = self.tail.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((seq, file)) = tail.as_ref()
            && *seq == first_seq
        {
            return Ok(Arc::clone(file));
        }
        let file = Arc::new(OpenOptions::new().append(true).open(self.path(first_seq))?);
        *tail = Some((first_seq, Arc::clone(&file)));
        Ok(file)
    }
}

impl Backend for FileBackend {
    fn segments(&self) -> io::Result<Vec<u64>> {
        let mut seqs = Vec::new();
        for entry in fs::read_dir(&self.dir)? {
            let name = entry?.file_name();
            let seq = name
                .to_str()
                .and_then(|name| name.strip_suffix(".seg")?.parse().ok());
            if let Some(seq) = seq
                && name.to_str() == Some(segment_name(seq).as_str())
            {
                seqs.push(seq);
            }
        }
        seqs.sort_unstable();
        Ok(seqs)
    }

    fn create(&self, first_seq: u64, header: &[u8]) -> io::Result<()> {
        let mut file = OpenOptions::new()
            .append(true)
            .create_new(true)
            .open(self.path(first_seq))?;
        file.write_all(header)?;
        file.sync_all()?;
        sync_dir(&self.dir)
    }

    fn len(&self, first_seq: u64) -> io::Result<u64> {
        Ok(fs::metadata(self.path(first_seq))?.len())
    }

    fn read(&self, first_seq: u64, offset: u64, buf: &mut [u8]) -> io::Result<usize> {
        let file = File::open(self.path(first_seq))?;
        let mut done = 0;
        while done < buf.len() {
            match file.read_at(&mut buf[done..], offset + done as u64) {
                Ok(0) => break,
                Ok(n) => done += n,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(done)
    }

    fn append(&self, first_seq: u64, bytes: &[u8]) -> io::Result<()> {
        self.writable(first_seq)?.as_ref().write_all(bytes)
    }

    fn truncate(&self, first_seq: u64, len: u64) -> io::Result<()> {
        self.writable(first_seq)?.set_len(len)
    }

    fn sync(&self, first_seq: u64) -> io::Result<()> {
        self.writable(first_seq)?.sync_data()
    }
}

/// Makes the names in a directory durable.
pub(crate) fn sync_dir(dir: &Path) -> io::Result<()> {
    // A bare relative name has the empty path as its parent.
    let dir = if dir.as_os_str().is_empty() {
        Path::new(".")
    } else {
        dir
    };
    File::open(dir)?.sync_all()
}
