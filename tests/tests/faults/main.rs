//! Faults: what the daemon makes of kills, of a damaged projection and of a
//! damaged journal. What it acknowledged must be there, and it must never guess.
//!
//! - `kills`: SIGKILL under 32 writers, and while the daemon opens its store
//! - `projection`: the sled folder deleted, scribbled over, cut, replaced
//! - `journal`: flipped bits, torn tails, a newer format
//! - `segments`: a journal of two segments, and its snapshot
//! - `fixture`: a store of format version 1, kept in `tests/fixtures`
//!
//! A SIGKILL ends the process, not the machine: what it wrote stays in the
//! page cache. Losing power at every sync is tried in `daemon/store`, on a
//! recorded disk.
//!
//! Helpers: `writers` (clients that never give up), `store` (a filled store,
//! copies of it, verify), `segment` (the journal's format, read by other code
//! than the daemon's), `random`.

mod fixture;
mod journal;
mod kills;
mod projection;
mod random;
mod segment;
mod segments;
mod store;
mod writers;
