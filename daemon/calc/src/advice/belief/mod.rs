//! What is believed of a panel, and how recorded passes change it. Closed forms and small grids: the
//! same input always gives the same answer, in some microseconds.
//!
//! - [`removal`]: what each setup takes off, with a hardness that all setups on the panel share
//! - [`depth`]: how deep the defect is, and the chance to clear it
//! - [`heat`]: how warm a pass makes the panel
//! - [`level`]: whether a warm pass levels the clear coat
//! - `grid`: weights over the natural logarithm of a factor

pub mod depth;
mod grid;
pub mod heat;
pub mod level;
pub mod removal;

pub use depth::DepthBelief;
pub use heat::HeatBelief;
pub use level::LevelBelief;
pub use removal::{Removal, RemovalBelief, SeenPass};

use statrs::function::erf::{erfc, erfc_inv};

/// Standard normal quantile of 95 %: one-sided 95 %, two-sided 90 %. 1.644854 in any table.
pub const Z_95: f64 = 1.644_853_626_951_472_6;

/// Standard normal quantile of a `share` between 0 and 1, `-sqrt 2 erfc^-1(2 share)`.
#[must_use]
pub fn normal_quantile(share: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erfc_inv(2.0 * share)
}

/// Standard normal distribution function, `erfc(-x / sqrt 2) / 2`.
#[must_use]
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * erfc(-x / std::f64::consts::SQRT_2)
}
