//! The snapshot file: header, blocks of entries in key order, trailer. See `DESIGN.md`.

use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::path::Path;

use thiserror::Error;

use crate::checksum::Content;
use crate::journal::sync_dir;
use crate::mem::MemBase;

const MAGIC: [u8; 8] = *b"LAMSNAP\0";
const END_MAGIC: [u8; 8] = *b"LAMSEND\0";
const FORMAT_VERSION: u16 = 1;
const HEADER_LEN: usize = 56;
/// Entries go into one block until it holds this many bytes.
const BLOCK_BYTES: usize = 64 * 1024;
/// No block is larger: one entry of two records' size, and some room.
const MAX_BLOCK_LEN: usize = 64 * 1024 * 1024;

/// What a snapshot says of itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct SnapshotHeader {
    /// Last event in it.
    pub(crate) seq: u64,
    /// Projector version that wrote the entries.
    pub(crate) schema: u32,
    /// Header checksum of that event in the journal; 0 if there is none.
    pub(crate) anchor: u32,
    /// Count and checksum of all entries.
    pub(crate) content: Content,
}

/// Why a snapshot file is not used.
#[derive(Debug, Error)]
pub(crate) enum SnapshotFault {
    #[error("cannot be read")]
    Io(#[from] io::Error),
    #[error("header does not match its checksum")]
    Header,
    #[error("format version {found}, this program knows {FORMAT_VERSION}")]
    Version { found: u16 },
    #[error("named {named}, holds sequence {found}")]
    Name { named: u64, found: u64 },
    #[error("block {block} does not match its checksum")]
    Block { block: u64 },
    #[error("trailer does not match the file")]
    Trailer,
    #[error("{entries} entries, or their checksum, differ from the header")]
    Content { entries: u64 },
}

/// Writes a snapshot under a temporary name, makes it durable, then gives it its name.
pub(crate) fn write(
    dir: &Path,
    seq: u64,
    schema: u32,
    anchor: u32,
    state: &MemBase,
) -> io::Result<()> {
    fs::create_dir_all(dir)?;
    let temporary = dir.join(format!("{seq:020}.tmp"));
    let header = SnapshotHeader {
        seq,
        schema,
        anchor,
        content: state.content(),
    };
    let mut out = Checked {
        inner: BufWriter::new(File::create(&temporary)?),
        crc: 0,
    };
    out.write_all(&encode_header(&header))?;
    let mut block = Vec::with_capacity(BLOCK_BYTES * 2);
    let mut blocks = 0_u64;
    for (key, value) in state.entries() {
        for part in [key, value] {
            let len = u32::try_from(part.len()).map_err(io::Error::other)?;
            block.extend_from_slice(&len.to_le_bytes());
        }
        block.extend_from_slice(key);
        block.extend_from_slice(value);
        if block.len() >= BLOCK_BYTES {
            write_block(&mut out, &mut block)?;
            blocks += 1;
        }
    }
    if !block.is_empty() {
        write_block(&mut out, &mut block)?;
        blocks += 1;
    }
    // An empty block ends the list.
    write_block(&mut out, &mut block)?;
    out.write_all(&END_MAGIC)?;
    out.write_all(&blocks.to_le_bytes())?;
    let crc = out.crc;
    out.write_all(&crc.to_le_bytes())?;
    out.inner
        .into_inner()
        .map_err(io::IntoInnerError::into_error)?
        .sync_all()?;
    fs::rename(&temporary, dir.join(snapshot_name(seq)))?;
    sync_dir(dir)
}

/// Reads a snapshot and checks every byte of it.
pub(crate) fn read(dir: &Path, seq: u64) -> Result<(SnapshotHeader, MemBase), SnapshotFault> {
    let file = File::open(dir.join(snapshot_name(seq)))?;
    let mut source = Checked {
        inner: BufReader::new(file),
        crc: 0,
    };
    let header = read_header(&mut source, seq)?;
    let mut state = MemBase::default();
    let mut content = Content::default();
    let mut blocks = 0;
    while let Some(block) = read_block(&mut source, blocks)? {
        let mut rest = block.as_slice();
        while !rest.is_empty() {
            let (key, value) =
                take_entry(&mut rest).ok_or(SnapshotFault::Block { block: blocks })?;
            content.add(&key, &value);
            state.insert(key, value);
        }
        blocks += 1;
    }
    let mut trailer = [0; 16];
    source.read_exact(&mut trailer)?;
    let whole = source.crc;
    let mut stored = [0; 4];
    source.read_exact(&mut stored)?;
    let ends = source.read(&mut [0])? == 0;
    let counted = trailer[8..] == blocks.to_le_bytes();
    if trailer[..8] != END_MAGIC || !counted || stored != whole.to_le_bytes() || !ends {
        return Err(SnapshotFault::Trailer);
    }
    if content != header.content {
        return Err(SnapshotFault::Content {
            entries: content.entries,
        });
    }
    Ok((header, state))
}

/// File name of a snapshot.
pub(crate) fn snapshot_name(seq: u64) -> String {
    format!("{seq:020}.snap")
}

fn encode_header(header: &SnapshotHeader) -> [u8; HEADER_LEN] {
    let mut out = [0; HEADER_LEN];
    out[..8].copy_from_slice(&MAGIC);
    out[8..10].copy_from_slice(&FORMAT_VERSION.to_le_bytes());
    out[12..20].copy_from_slice(&header.seq.to_le_bytes());
    out[20..24].copy_from_slice(&header.schema.to_le_bytes());
    out[24..28].copy_from_slice(&header.anchor.to_le_bytes());
    out[28..36].copy_from_slice(&header.content.entries.to_le_bytes());
    out[36..52].copy_from_slice(&header.content.checksum.to_le_bytes());
    let crc = crc32c::crc32c(&out[..52]);
    out[52..].copy_from_slice(&crc.to_le_bytes());
    out
}

fn read_header(source: &mut impl Read, named: u64) -> Result<SnapshotHeader, SnapshotFault> {
    let mut bytes = [0; HEADER_LEN];
    source.read_exact(&mut bytes)?;
    let crc = crc32c::crc32c(&bytes[..52]).to_le_bytes();
    if bytes[..8] != MAGIC || bytes[52..] != crc {
        return Err(SnapshotFault::Header);
    }
    let found = u16::from_le_bytes([bytes[8], bytes[9]]);
    if found != FORMAT_VERSION {
        return Err(SnapshotFault::Version { found });
    }
    let mut fields = &bytes[12..52];
    let header = SnapshotHeader {
        seq: u64::from_le_bytes(take_array(&mut fields).ok_or(SnapshotFault::Header)?),
        schema: u32::from_le_bytes(take_array(&mut fields).ok_or(SnapshotFault::Header)?),
        anchor: u32::from_le_bytes(take_array(&mut fields).ok_or(SnapshotFault::Header)?),
        content: Content {
            entries: u64::from_le_bytes(take_array(&mut fields).ok_or(SnapshotFault::Header)?),
            checksum: u128::from_le_bytes(take_array(&mut fields).ok_or(SnapshotFault::Header)?),
        },
    };
    if header.seq != named {
        return Err(SnapshotFault::Name {
            named,
            found: header.seq,
        });
    }
    Ok(header)
}

fn write_block(out: &mut impl Write, block: &mut Vec<u8>) -> io::Result<()> {
    let len = u32::try_from(block.len()).map_err(io::Error::other)?;
    out.write_all(&len.to_le_bytes())?;
    out.write_all(&crc32c::crc32c(block).to_le_bytes())?;
    out.write_all(block)?;
    block.clear();
    Ok(())
}

fn read_block(source: &mut impl Read, block: u64) -> Result<Option<Vec<u8>>, SnapshotFault> {
    let mut head = [0; 8];
    source.read_exact(&mut head)?;
    let len = u32::from_le_bytes([head[0], head[1], head[2], head[3]]);
    let len = usize::try_from(len).unwrap_or(usize::MAX);
    if len > MAX_BLOCK_LEN {
        return Err(SnapshotFault::Block { block });
    }
    let mut bytes = vec![0; len];
    source.read_exact(&mut bytes)?;
    if head[4..] != crc32c::crc32c(&bytes).to_le_bytes() {
        return Err(SnapshotFault::Block { block });
    }
    Ok((len > 0).then_some(bytes))
}

fn take_entry(rest: &mut &[u8]) -> Option<(Vec<u8>, Vec<u8>)> {
    let key_len = usize::try_from(u32::from_le_bytes(take_array(rest)?)).ok()?;
    let value_len = usize::try_from(u32::from_le_bytes(take_array(rest)?)).ok()?;
    let (key, after) = rest.split_at_checked(key_len)?;
    let (value, after) = after.split_at_checked(value_len)?;
    *rest = after;
    Some((key.to_vec(), value.to_vec()))
}

fn take_array<const N: usize>(rest: &mut &[u8]) -> Option<[u8; N]> {
    let (array, after) = rest.split_first_chunk::<N>()?;
    *rest = after;
    Some(*array)
}

/// Passes bytes through and keeps their checksum.
struct Checked<T> {
    inner: T,
    crc: u32,
}

impl<T: Write> Write for Checked<T> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let done = self.inner.write(bytes)?;
        self.crc = crc32c::crc32c_append(self.crc, &bytes[..done]);
        Ok(done)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.inner.flush()
    }
}

impl<T: Read> Read for Checked<T> {
    fn read(&mut self, bytes: &mut [u8]) -> io::Result<usize> {
        let done = self.inner.read(bytes)?;
        self.crc = crc32c::crc32c_append(self.crc, &bytes[..done]);
        Ok(done)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back_and_every_damaged_byte_is_noticed() {
        let dir = tempfile::tempdir().unwrap();
        let mut state = MemBase::default();
        for n in 0..40_u8 {
            state.insert(vec![n, n], vec![n; usize::from(n)]);
        }
        write(dir.path(), 9, 3, 77, &state).unwrap();
        let (header, back) = read(dir.path(), 9).unwrap();
        assert_eq!((header.seq, header.schema, header.anchor), (9, 3, 77));
        assert_eq!(back, state);
        let path = dir.path().join(snapshot_name(9));
        let good = fs::read(&path).unwrap();
        for at in 0..good.len() {
            let mut bad = good.clone();
            bad[at] ^= 0x10;
            fs::write(&path, &bad).unwrap();
            assert!(read(dir.path(), 9).is_err(), "byte {at} changed");
            fs::write(&path, &good[..at]).unwrap();
            assert!(read(dir.path(), 9).is_err(), "cut at byte {at}");
        }
        let longer = [good.as_slice(), &[0]].concat();
        fs::write(&path, longer).unwrap();
        assert!(matches!(read(dir.path(), 9), Err(SnapshotFault::Trailer)));
    }

    #[test]
    fn many_blocks_and_none() {
        let dir = tempfile::tempdir().unwrap();
        let mut state = MemBase::default();
        write(dir.path(), 0, 1, 0, &state).unwrap();
        assert_eq!(read(dir.path(), 0).unwrap().1, state);
        for n in 0..5000_u32 {
            state.insert(n.to_be_bytes().to_vec(), vec![7; 100]);
        }
        write(dir.path(), 1, 1, 0, &state).unwrap();
        assert_eq!(read(dir.path(), 1).unwrap().1, state);
    }
}
