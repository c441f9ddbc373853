//! Hazard classes of a mix from its ingredients, by the additivity and
//! concentration limits of GHS and CLP.
//!
//! What it is for: seeing that a diluted mix keeps, or loses, a class of its
//! stock. It is no classification in the sense of the law: that takes test data,
//! specific limits and judgement, and the safety data sheet carries it.
//!
//! - [`ingredient`]: what is known of an ingredient
//! - [`class`]: the classes, their statements and signal words
//! - [`classify`](mod@classify): the rules, each with its standing

pub mod class;
pub mod classify;
pub mod ingredient;
#[cfg(test)]
mod tests;

pub use class::{HazardClass, SignalWord};
pub use classify::{Finding, HazardResult, MixFacts, Standing, classify};
pub use ingredient::{Category, Component, HazardInput};
