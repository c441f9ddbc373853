//! Uncertainty of a thickness, after the GUM (JCGM 100:2008).
//!
//! Type A is the spread of repeated readings, `s / sqrt(n)` (4.2.3). Type B are
//! the gauge's limit of error, taken as rectangular, `(a + b mean) / sqrt 3`
//! (4.3.7), and its resolution, `r / sqrt 12` (F.2.2.1). They add in squares
//! (5.1.2); the coverage factor is Student's t for 95 % at the effective degrees
//! of freedom of Welch and Satterthwaite (G.4.1). Clause numbers from memory.

use statrs::distribution::{ContinuousCDF as _, StudentsT};

use crate::gauge::GaugePrinciple;

/// What a gauge's data sheet says of it.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugeSpec {
    /// Fixed part of the limit of error, um, 0 to 1000.
    pub limit_um: f64,
    /// Part of the limit that grows with the reading, percent, 0 to 100.
    pub limit_percent: f64,
    /// Smallest step of the display, um, 0 to 100.
    pub resolution_um: f64,
    /// How it senses. Empty: not stated; metal is then taken to be readable,
    /// composite and plastic are not.
    pub principles: Vec<GaugePrinciple>,
}

impl Default for GaugeSpec {
    /// 2 um + 3 %, in steps of 1 um: the wide side of what combined gauges for
    /// metal state. Common practice, no source.
    fn default() -> Self {
        Self {
            limit_um: 2.0,
            limit_percent: 3.0,
            resolution_um: 1.0,
            principles: Vec::new(),
        }
    }
}

/// The uncertainty of one thickness and what it is made of, all um.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertainty {
    /// From the spread of the readings; absent where one reading shows none.
    pub type_a_um: Option<f64>,
    /// From the gauge's limit of error.
    pub limit_um: f64,
    /// From the gauge's resolution.
    pub resolution_um: f64,
    /// Combined standard uncertainty.
    pub standard_um: f64,
    /// Effective degrees of freedom; absent: without limit.
    pub degrees_of_freedom: Option<f64>,
    /// Coverage factor for 95 %.
    pub coverage_factor: f64,
    /// `coverage_factor` times `standard_um`.
    pub expanded_um: f64,
}

/// A part of an uncertainty, in any one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    /// Standard uncertainty of this part, 0 or more.
    pub standard: f64,
    /// Its degrees of freedom, 1 or more; absent: without limit.
    pub degrees_of_freedom: Option<f64>,
}

/// Quantile of the normal distribution for a two-sided 95 %.
pub const NORMAL_TWO_SIDED_95: f64 = 1.959_963_984_540_054;
/// Quantile of the normal distribution for a one-sided 95 %.
pub const NORMAL_ONE_SIDED_95: f64 = 1.644_853_626_951_472_6;

impl GaugeSpec {
    /// Standard uncertainty from the limit of error at a thickness, um.
    #[must_use]
    pub fn limit_standard_um(&self, thickness_um: f64) -> f64 {
        (self.limit_um + self.limit_percent / 100.0 * thickness_um.abs()) / 3.0_f64.sqrt()
    }

    /// Standard uncertainty from the resolution, um.
    #[must_use]
    pub fn resolution_standard_um(&self) -> f64 {
        self.resolution_um / 12.0_f64.sqrt()
    }

    /// Uncertainty of a mean thickness, um, whose type A part is given.
    #[must_use]
    pub fn uncertainty(&self, mean_um: f64, type_a: Option<Component>) -> Uncertainty {
        let limit_um = self.limit_standard_um(mean_um);
        let resolution_um = self.resolution_standard_um();
        let endless = |standard| Component {
            standard,
            degrees_of_freedom: None,
        };
        let mut parts = vec![endless(limit_um), endless(resolution_um)];
        parts.extend(type_a);
        Uncertainty::of(
            type_a.map(|part| part.standard),
            limit_um,
            resolution_um,
            combine(&parts),
        )
    }
}

impl Uncertainty {
    pub(crate) fn of(
        type_a_um: Option<f64>,
        limit_um: f64,
        resolution_um: f64,
        combined: Component,
    ) -> Self {
        let coverage_factor = coverage_factor(combined.degrees_of_freedom);
        Self {
            type_a_um,
            limit_um,
            resolution_um,
            standard_um: combined.standard,
            degrees_of_freedom: combined.degrees_of_freedom,
            coverage_factor,
            expanded_um: coverage_factor * combined.standard,
        }
    }
}

/// Root of the sum of squares, with the effective degrees of freedom
/// `u^4 / sum (u_i^4 / nu_i)` (JCGM 100:2008, G.2b).
#[must_use]
pub fn combine(parts: &[Component]) -> Component {
    let standard = parts
        .iter()
        .map(|part| part.standard.powi(2))
        .sum::<f64>()
        .sqrt();
    // As shares of the whole, so that no fourth power leaves the range of f64.
    let sum: f64 = parts
        .iter()
        .filter_map(|part| Some((part.standard / standard).powi(4) / part.degrees_of_freedom?))
        .sum();
    let degrees_of_freedom = (sum > 0.0).then(|| 1.0 / sum);
    Component {
        standard,
        degrees_of_freedom,
    }
}

/// Coverage factor for a two-sided 95 %: Student's t at these degrees of
/// freedom (1 or more), the normal quantile where there is no limit to them.
#[must_use]
pub fn coverage_factor(degrees_of_freedom: Option<f64>) -> f64 {
    match degrees_of_freedom {
        None => NORMAL_TWO_SIDED_95,
        Some(nu) if nu >= MANY => near_normal(nu),
        Some(nu) => {
            StudentsT::new(0.0, 1.0, nu).map_or(NORMAL_TWO_SIDED_95, |t| t.inverse_cdf(0.975))
        }
    }
}

/// Degrees of freedom from which the expansion around the normal quantile is
/// within 1e-8 of t, and a good deal faster than its inverse: a history asks for
/// it at every reading.
const MANY: f64 = 50.0;

/// Student's t around the normal quantile (Abramowitz and Stegun 26.7.5, from
/// memory; held against scipy).
fn near_normal(nu: f64) -> f64 {
    let z = NORMAL_TWO_SIDED_95;
    let square = z * z;
    let g1 = z * (square + 1.0) / 4.0;
    let g2 = z * ((5.0 * square + 16.0) * square + 3.0) / 96.0;
    let g3 = z * (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) / 384.0;
    let g4 = z * ((((79.0 * square + 776.0) * square + 1482.0) * square - 1920.0) * square - 945.0)
        / 92_160.0;
    z + (g1 + (g2 + (g3 + g4 / nu) / nu) / nu) / nu
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(standard: f64, degrees_of_freedom: f64) -> Component {
        Component {
            standard,
            degrees_of_freedom: Some(degrees_of_freedom),
        }
    }

    /// Check values, section 5 (computed with the `uncertainties` package): readings 108, 111, 107,
    /// 112, 110 um, limit 1 um + 2 %, resolution 1 um.
    #[test]
    fn gauge_example() {
        let gauge = GaugeSpec {
            limit_um: 1.0,
            limit_percent: 2.0,
            ..GaugeSpec::default()
        };
        let u = gauge.uncertainty(109.6, Some(part(2.073_644_135 / 5.0_f64.sqrt(), 4.0)));
        assert!((u.type_a_um.unwrap() - 0.9274).abs() < 5e-5);
        assert!((u.limit_um - 1.8429).abs() < 5e-5);
        assert!((u.resolution_um - 0.2887).abs() < 5e-5);
        assert!((u.standard_um - 2.0832).abs() < 5e-5);
    }

    /// JCGM 100:2008, example H.1: parts in nm and their degrees of freedom; effective degrees of
    /// freedom 16 (truncated), printed u_c 32 nm. Degrees of freedom from memory.
    #[test]
    fn end_gauge_example() {
        let parts = [
            part(25.0, 18.0),
            part(9.68, 25.6),
            part(2.89, 50.0),
            part(16.60, 2.0),
        ];
        let combined = combine(&parts);
        assert!((combined.standard - 31.66).abs() < 0.01, "{combined:?}");
        assert_eq!(
            combined.degrees_of_freedom.unwrap().floor().to_string(),
            "16"
        );
    }

    /// JCGM 100:2008, table G.2, 95 % column (from memory).
    #[test]
    fn coverage_factors_of_the_table() {
        for (nu, t) in [
            (1.0, 12.71),
            (2.0, 4.30),
            (4.0, 2.78),
            (10.0, 2.23),
            (50.0, 2.01),
        ] {
            assert!((coverage_factor(Some(nu)) - t).abs() < 0.006, "{nu}");
        }
        assert!((coverage_factor(None) - 1.960).abs() < 5e-4);
        assert!((coverage_factor(Some(9e5)) - coverage_factor(None)).abs() < 1e-5);
        assert!((coverage_factor(Some(f64::INFINITY)) - coverage_factor(None)).abs() < 1e-12);
        // The two ways meet.
        let inverse = StudentsT::new(0.0, 1.0, MANY).unwrap().inverse_cdf(0.975);
        assert!(
            (near_normal(MANY) - inverse).abs() < 1e-8,
            "{}",
            near_normal(MANY) - inverse
        );
    }
}
