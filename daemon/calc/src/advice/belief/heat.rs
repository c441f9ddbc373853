//! How warm a pass makes the panel, in C.
//!
//! Rise of a pass = f x prior rise, the prior linear in the friction flux (pressure times speed) and in
//! time; f is normal around 1. Each rise that was seen updates f in closed form (a normal mean with
//! known variances). Figures: common practice, no source.

use super::Z_95;
use crate::advice::setup::Setup;
use crate::gauge::Substrate;

/// Rise of the mildest setup on metal, in K: dial 2, 2 kPa, 30 s. Common practice, no source.
const MILDEST_RISE_K: f64 = 2.0;
/// Rise on composite, plastic and unknown material over that on metal. Common practice, no source.
const HEAT_STAYS: f64 = 1.4;
/// Rise at an edge over that on the flat. Common practice, no source.
const EDGE: f64 = 1.2;
/// Standard deviation of f before a rise was seen. Common practice, no source.
pub const FACTOR_SD: f64 = 0.40;
/// Standard deviation from pass to pass, as a share of the rise. Common practice, no source.
pub const PASS_SHARE_SD: f64 = 0.10;
/// Standard uncertainty of a rise as measured, in K. Common practice, no source.
pub const READING_SD_K: f64 = 1.0;

/// Rise expected of one pass before any was seen, in K; linear in pressure, speed and time.
/// Common practice, no source.
#[must_use]
pub fn prior_rise_k(setup: &Setup, substrate: Substrate, edge: bool) -> f64 {
    let material = match substrate {
        Substrate::Steel | Substrate::Aluminium => 1.0,
        Substrate::Composite | Substrate::Plastic | Substrate::Unknown => HEAT_STAYS,
    };
    let flux = f64::from(setup.speed_level) / 2.0 * setup.pressure_kpa / 2.0;
    MILDEST_RISE_K * material * if edge { EDGE } else { 1.0 } * flux * setup.seconds / 30.0
}

/// The belief in f.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatBelief {
    /// Mean of f.
    pub factor: f64,
    /// Its standard deviation.
    pub factor_sd: f64,
}

/// A temperature with its middle 90 %, in C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Temperature {
    /// Expected, in C.
    pub expected_c: f64,
    /// Standard deviation, in K.
    pub sd_k: f64,
}

impl HeatBelief {
    /// The belief after rises: pairs of the prior's rise and the rise seen, in K. With precision 1/v of
    /// each, mean = (1/0.4^2 + sum r y / v) / (1/0.4^2 + sum r^2 / v).
    #[must_use]
    pub fn after(rises_k: &[(f64, f64)]) -> Self {
        let mut precision = 1.0 / (FACTOR_SD * FACTOR_SD);
        let mut weighted = precision;
        for (prior_k, seen_k) in rises_k {
            let variance = READING_SD_K.powi(2) + (PASS_SHARE_SD * prior_k).powi(2);
            precision += prior_k * prior_k / variance;
            weighted += prior_k * seen_k / variance;
        }
        Self {
            factor: (weighted / precision).max(0.0),
            factor_sd: precision.sqrt().recip(),
        }
    }

    /// Temperature after a rise of `prior_k` by the prior, from `start_c`.
    #[must_use]
    pub fn predict(&self, start_c: f64, prior_k: f64) -> Temperature {
        let variance =
            (self.factor_sd.powi(2) + (PASS_SHARE_SD * self.factor).powi(2)) * prior_k * prior_k
                + READING_SD_K.powi(2);
        Temperature {
            expected_c: start_c + self.factor * prior_k,
            sd_k: variance.sqrt(),
        }
    }
}

impl Temperature {
    /// The middle 90 %, in C.
    #[must_use]
    pub fn interval_90_c(&self) -> (f64, f64) {
        let half_k = Z_95 * self.sd_k;
        (self.expected_c - half_k, self.expected_c + half_k)
    }
}
