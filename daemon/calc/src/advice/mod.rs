//! The next polishing pass on a panel: the least aggressive one that may still do the job.
//!
//! - [`advise`]: the decision, its input and its result
//! - [`setup`]: what is set for a pass; [`ladder`]: setups in rising order, one factor per rung
//! - [`limits`]: ceilings, caps, floor and the removal prior, all common practice and marked so
//! - `situation`: what the recorded passes add up to
//! - `words`: the plain sentence
//! - `cautions`: what to keep in mind, as data

mod cautions;
mod decide;
pub mod ladder;
pub mod limits;
mod outcome;
#[cfg(test)]
mod properties;
pub mod setup;
mod situation;
#[cfg(test)]
mod tests;
mod words;

pub use decide::advise;
pub use ladder::{Ladder, Rung, Step};
pub use outcome::{Action, Advice, AdviceReason};
pub use setup::{Choice, Factor, Setup, StepSize};
pub use situation::{AdviceInput, MAX_PASSES, MAX_REASON_CHARS, PassDone, PassOutcome, PassSetup};
