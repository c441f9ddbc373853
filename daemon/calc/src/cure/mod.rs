//! Cure: when a coating may be wiped, recoated, driven and washed.
//!
//! - [`timing`]: the calculator, its input and result
//! - [`coating`]: what a product says of its own cure
//! - [`series`]: logged and forecast conditions, and lamps
//! - [`rate`](mod@rate): how fast it cures in given conditions, and the dose that adds up
//! - [`kinetic`]: the one temperature that does as much as many
//! - `dose`: the dose along a series and under lamps
//! - `curve`: a rate's running integral along a series
//! - `speed`: the rate with its doubt
//! - `backwards`: from a promise to the latest start
//! - `cautions`: what to look out for, as data

mod backwards;
mod cautions;
pub mod coating;
mod curve;
mod dose;
pub mod kinetic;
#[cfg(test)]
mod properties;
pub mod rate;
pub mod series;
#[cfg(test)]
mod series_tests;
mod speed;
#[cfg(test)]
mod tests;
pub mod timing;

pub use cautions::MISSED_RECOAT_WINDOW;
pub use coating::{
    CoatingData, HumidityResponse, RatePoint, RecoatWindow, TemperatureResponse, WipeWindow,
};
pub use kinetic::mean_kinetic_c;
pub use rate::{GAS_CONSTANT, dose_hours, humidity_rate, rate};
pub use series::{Lamp, Sample};
pub use timing::{CureInput, CureResult, Milestone, MilestoneKind, Release, time_cure};
