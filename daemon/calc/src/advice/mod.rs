//! The next polishing pass on a panel: the least aggressive one that may still do the job.
//!
//! - [`advise`]: the decision, its input and its result
//! - [`setup`]: what is set for a pass; [`ladder`]: setups in rising order, one factor per rung
//! - [`limits`]: ceilings, caps, floor and the removal prior, all common practice and marked so
//! - `situation`: what the recorded passes add up to
//! - [`belief`]: what is believed of the panel, updated by each pass
//! - [`Goal`]: what the passes are for, and which pass it asks for
//! - `outlook`: what one more pass at a rung would do, by those beliefs
//! - `alternatives`, `explain`: the passes that were weighed, and the sums
//! - `words`: the plain sentence
//! - `cautions`: what to keep in mind, as data

mod alternatives;
pub mod belief;
mod cautions;
mod decide;
mod explain;
mod goal;
#[cfg(test)]
mod goal_tests;
pub mod ladder;
pub mod limits;
mod outcome;
mod outlook;
#[cfg(test)]
mod properties;
pub mod setup;
mod situation;
#[cfg(test)]
mod tests;
mod words;

pub use alternatives::{Alternative, AlternativeReason};
pub use decide::advise;
pub use goal::Goal;
pub use ladder::{Ladder, Rung, Step};
pub use outcome::{Action, Advice, AdviceReason};
pub use setup::{Choice, Factor, Setup, StepSize};
pub use situation::{AdviceInput, MAX_PASSES, MAX_REASON_CHARS, PassDone, PassOutcome, PassSetup};
