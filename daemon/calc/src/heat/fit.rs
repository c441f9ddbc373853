//! The heat factor (friction coefficient times the share of heat that the panel takes): assumed, or
//! fitted to readings.
//!
//! The surface is `air + start + f * added`, linear in the factor, so least squares has one step:
//! `f = sum(g y)/sum(g^2)` with `g` the rise for a factor of 1 and `y` what was read less air and start;
//! standard error `s/sqrt(sum g^2)`. Where the thermometer's standard deviation is given, `s` is that and
//! the interval is normal; otherwise `s` comes from the residuals, with Student's t at n - 1 degrees
//! of freedom.

use super::friction::DEFAULT_FACTOR_SPREAD;
use super::modes::Surface;
use super::schedule::Timeline;
use crate::error::CalcError;

/// A temperature that was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// When, s after the schedule began, from 0 to its end.
    pub after_s: f64,
    /// What was read on the worked surface, Celsius, -20 to 150.
    pub panel_c: f64,
}

/// What is believed of the heat factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatFactor {
    /// Friction coefficient times the share of heat that the panel takes.
    pub factor: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
    /// What it rests on.
    pub basis: FactorBasis,
}

/// What a heat factor rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FactorBasis {
    /// Stated friction and share, or their defaults.
    Assumed,
    /// Fitted to readings.
    Fitted(Fit),
}

/// A fit in figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Standard error of the factor.
    pub standard_error: f64,
    /// Standard deviation of one reading that the interval rests on, K.
    pub reading_sd_k: f64,
    /// Standard deviation of the readings about the fit, K; absent for a single reading.
    pub residual_sd_k: Option<f64>,
    /// Half width of a 95 % interval in standard deviations.
    pub coverage: f64,
}

/// A temperature with its 95 % interval, Celsius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Predicted {
    /// Expected.
    pub panel_c: f64,
    /// Lower end.
    pub low_c: f64,
    /// Upper end.
    pub high_c: f64,
}

/// 0.975 quantile of the normal distribution.
const NORMAL_95: f64 = 1.959_963_984_540_054;
/// Least sensitivity that a fit may rest on, K for a factor of 1: below it the readings say nothing
/// of heat.
const LEAST_SENSITIVITY_K: f64 = 1e-6;

impl HeatFactor {
    /// The stated factor, within [`DEFAULT_FACTOR_SPREAD`] either way.
    pub(crate) fn assumed(factor: f64) -> Self {
        Self {
            factor,
            low: factor / DEFAULT_FACTOR_SPREAD,
            high: factor * DEFAULT_FACTOR_SPREAD,
            basis: FactorBasis::Assumed,
        }
    }

    /// Fits the factor. Without `reading_sd_k` two observations are needed, which the caller checks.
    ///
    /// # Errors
    /// [`CalcError::Infeasible`]: `OBSERVATIONS_BEFORE_HEAT` when no reading comes after any work,
    /// `OBSERVATIONS_SHOW_NO_HEAT` when they fit only a panel that work cools.
    pub(crate) fn fitted(
        timeline: &Timeline<'_>,
        air_c: f64,
        observations: &[Observation],
        reading_sd_k: Option<f64>,
    ) -> Result<Self, CalcError> {
        let rows: Vec<(f64, f64)> = observations
            .iter()
            .map(|seen| {
                let at = timeline.at(seen.after_s);
                (at.added_k, seen.panel_c - air_c - at.start_k)
            })
            .collect();
        let squares: f64 = rows.iter().map(|(g, _)| g * g).sum();
        if squares.sqrt() < LEAST_SENSITIVITY_K {
            return Err(infeasible(
                "OBSERVATIONS_BEFORE_HEAT",
                "no reading comes after any work, so they say nothing of how much heat it makes; \
                 read during or after a segment with pressure"
                    .to_owned(),
            ));
        }
        let factor = rows.iter().map(|(g, y)| g * y).sum::<f64>() / squares;
        if factor <= 0.0 {
            return Err(infeasible(
                "OBSERVATIONS_SHOW_NO_HEAT",
                format!(
                    "the readings fit a heat factor of {factor:.3}, but work can only warm a panel; \
                     check times, start and air temperature"
                ),
            ));
        }
        let freedom = rows.len().saturating_sub(1);
        let missed: f64 = rows.iter().map(|(g, y)| (y - factor * g).powi(2)).sum();
        let residual_sd_k = (freedom > 0).then(|| (missed / freedom as f64).sqrt());
        let (sd_k, coverage) = match reading_sd_k {
            Some(sd_k) => (sd_k, NORMAL_95),
            None => (residual_sd_k.unwrap_or(f64::INFINITY), student_95(freedom)),
        };
        let standard_error = sd_k / squares.sqrt();
        Ok(Self {
            factor,
            low: (factor - coverage * standard_error).max(0.0),
            high: factor + coverage * standard_error,
            basis: FactorBasis::Fitted(Fit {
                standard_error,
                reading_sd_k: sd_k,
                residual_sd_k,
                coverage,
            }),
        })
    }

    /// Temperature at a state of the surface. After a fit the interval is that of the next reading:
    /// it holds the factor's error and a reading's.
    pub(crate) fn at(&self, air_c: f64, surface: Surface) -> Predicted {
        let rest_c = air_c + surface.start_k;
        let panel_c = rest_c + self.factor * surface.added_k;
        match self.basis {
            FactorBasis::Assumed => Predicted {
                panel_c,
                low_c: rest_c + self.low * surface.added_k,
                high_c: rest_c + self.high * surface.added_k,
            },
            FactorBasis::Fitted(fit) => {
                let sd_k = (fit.standard_error * surface.added_k).hypot(fit.reading_sd_k);
                Predicted {
                    panel_c,
                    low_c: panel_c - fit.coverage * sd_k,
                    high_c: panel_c + fit.coverage * sd_k,
                }
            }
        }
    }
}

fn infeasible(reason: &'static str, message: String) -> CalcError {
    CalcError::Infeasible {
        reason,
        field: "observations".to_owned(),
        message,
    }
}

/// 0.975 quantile of Student's t: tabled up to 10 degrees of freedom, beyond by Abramowitz and Stegun,
/// 26.7.5 (from memory), within 2e-4. Both are held against a library in this module's tests, which is too slow to ask.
fn student_95(freedom: usize) -> f64 {
    const TABLE: [f64; 10] = [
        12.706_205, 4.302_653, 3.182_446, 2.776_445, 2.570_582, 2.446_912, 2.364_624, 2.306_004,
        2.262_157, 2.228_139,
    ];
    if let Some(tabled) = freedom.checked_sub(1).and_then(|at| TABLE.get(at)) {
        return *tabled;
    }
    let (n, z) = (freedom as f64, NORMAL_95);
    z + (z.powi(3) + z) / (4.0 * n)
        + (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / (96.0 * n * n)
        + (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / (384.0 * n.powi(3))
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{ContinuousCDF as _, StudentsT};

    #[test]
    fn quantiles_agree_with_the_library() {
        for freedom in 1..200 {
            let expected = StudentsT::new(0.0, 1.0, freedom as f64)
                .unwrap()
                .inverse_cdf(0.975);
            let got = student_95(freedom);
            assert!(
                (got - expected).abs() < 2e-4,
                "{freedom}: {got} for {expected}"
            );
        }
    }
}
