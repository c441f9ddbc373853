//! Dilution: how much stock and how much water, for a fresh bottle, a part-used
//! one, or one that a lance dilutes once more.
//!
//! - [`mix`]: the calculator, its input and its result
//! - [`strength`]: percent, parts, or what a label says
//! - [`label`]: how a label is read, and when it is refused
//! - [`nature`]: weights, true volume, flash point, hazard, cost, label
//! - `number`: numbers as printed and as shown
//! - `pour`: the balance of product and volume, and why it may not close
//! - `cautions`: what to keep in mind, as data

mod cautions;
pub mod label;
pub mod mix;
pub mod nature;
#[cfg(test)]
mod nature_tests;
mod number;
mod pour;
#[cfg(test)]
mod properties;
pub mod strength;
#[cfg(test)]
mod tests;

pub use mix::{
    Dilution, DilutionInput, ExistingMix, Injector, InjectorResult, Reading, Substance, TargetAt,
    dilute,
};
pub use nature::{ExactPour, Nature, Weights};
pub use strength::{Parts, Strength};
