//! The journal: the truth. Segments of checksummed records behind a narrow [`Backend`].
//!
//! | file | idea |
//! |---|---|
//! | `frame` | bytes of headers and records |
//! | `backend` | what a journal needs of a disk, and the file implementation |
//! | `scan` | open: what is whole, what is a torn tail, what is damage |
//! | `append` | the writer's end |
//! | `reader` | replay from any sequence number |

mod append;
mod backend;
mod frame;
mod reader;
mod scan;

pub(crate) use backend::sync_dir;
pub use backend::{Backend, FileBackend, segment_name};
pub use frame::MAX_PAYLOAD_LEN;

pub(crate) use append::{FrameBatch, Journal, Opened};
pub(crate) use reader::JournalReader;
pub(crate) use scan::{Scan, scan_into};
