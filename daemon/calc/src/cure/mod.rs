//! Cure: when a coating may be wiped, recoated, driven and washed.
//!
//! - [`timing`]: the calculator for constant conditions, its input and result
//! - [`coating`]: what a product says of its own cure
//! - [`rate`](mod@rate): how fast it cures at a temperature, and the dose that adds up
//! - `cautions`: what to look out for, as data

mod cautions;
pub mod coating;
pub mod rate;
#[cfg(test)]
mod tests;
pub mod timing;

pub use coating::{CoatingData, RecoatWindow, TemperatureResponse, WipeWindow};
pub use rate::{GAS_CONSTANT, dose_hours, rate};
pub use timing::{CureInput, CureResult, Milestone, MilestoneKind, time_cure};
