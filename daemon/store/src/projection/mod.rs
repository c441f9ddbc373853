//! The projection: the current state in sled, for reading. Never trusted without a check.
//!
//! | file | idea |
//! |---|---|
//! | `engine` | the only place that knows sled |
//! | `meta` | what the projection says of itself |
//! | `recover` | open, catch up, or set aside and rebuild |

mod engine;
mod meta;
mod recover;

pub use recover::{ProjectionRecovery, RebuildReason};

pub(crate) use engine::{Engine, EngineConfig, Found};
pub(crate) use recover::{PROJECTION_DIR, Recoverer};
