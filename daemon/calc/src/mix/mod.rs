//! What a mix really is: its true volume and weight, when it catches fire, how
//! it is classed, what it costs, and how two strengths are blended.
//!
//! - [`blend`]: alligation, two or more strengths into one
//! - [`alcohol`]: density of 2-propanol and ethanol in water, by weight and by volume
//! - [`contraction`]: what alcohol and water yield when poured together
//! - [`flash`]: a lower bound of the flash point
//! - [`hazard`]: hazard classes of a mix from its ingredients
//! - [`exposure`]: occupational limits, ppm and mg/m3
//! - [`cost`]: cost per litre ready to use
//! - [`label`]: the label for the bottle
//! - `pchip`: interpolation that keeps a table's rises and falls

pub mod alcohol;
pub mod blend;
#[cfg(test)]
mod blend_tests;
pub mod contraction;
pub mod cost;
pub mod exposure;
pub mod flash;
pub mod hazard;
pub mod label;
mod pchip;

pub use alcohol::Alcohol;
