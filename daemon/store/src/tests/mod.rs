//! Tests of the whole store, through its public face where that suffices.
//!
//! | file | idea |
//! |---|---|
//! | `kit` | a small projector, a model of it, helpers |
//! | `recording` | a disk in memory whose every crash can be replayed, and which fails on demand |
//! | `cut` | a journal cut at every byte, every bit flipped |
//! | `crash` | a crash at every byte and every sync |
//! | `model` | random work beside a plain vector |
//! | `commit` | group commit: exactly once, shared syncs, failures |
//! | `scribble` | a projection deleted, overwritten, swapped |
//! | `snapshots` | built, kept, passed over |
//! | `watching` | no gap, no repeat |
//! | `verifying` | the report, and that looking changes nothing |

mod commit;
mod crash;
mod cut;
mod kit;
mod model;
mod recording;
mod scribble;
mod snapshots;
mod verifying;
mod watching;
