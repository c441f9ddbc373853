//! A Gaussian belief about a spot: mean and covariance of clear coat, the layers
//! below, removal, and the fixed error of each gauge. Small and dense.

/// Where each quantity stands in the state.
const CLEAR: usize = 0;
const BELOW: usize = 1;
const REMOVED: usize = 2;
/// The first gauge's error.
const FIRST_GAUGE: usize = 3;

/// What is believed of one spot, um throughout.
#[derive(Debug, Clone)]
pub(crate) struct Belief {
    mean_um: Vec<f64>,
    covariance: Vec<Vec<f64>>,
}

/// What a reading would be expected to be.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Expected {
    pub(crate) total_um: f64,
    /// Standard deviation of reading less expectation.
    pub(crate) sd_um: f64,
}

impl Belief {
    /// Clear coat and the rest as (mean, standard deviation), and `gauges` gauges whose fixed errors
    /// have the standard deviation `gauge_um`.
    pub(crate) fn new(clear: (f64, f64), below: (f64, f64), gauges: usize, gauge_um: f64) -> Self {
        let mut mean_um = vec![clear.0, below.0, 0.0];
        let mut sd_um = vec![clear.1, below.1, 0.0];
        mean_um.resize(FIRST_GAUGE + gauges, 0.0);
        sd_um.resize(FIRST_GAUGE + gauges, gauge_um);
        let row = |index: usize, sd: &f64| {
            let mut row = vec![0.0; sd_um.len()];
            if let Some(diagonal) = row.get_mut(index) {
                *diagonal = sd * sd;
            }
            row
        };
        Self {
            mean_um,
            covariance: (0..)
                .zip(&sd_um)
                .map(|(index, sd)| row(index, sd))
                .collect(),
        }
    }

    /// Takes `removal_um` off the clear coat, with its standard uncertainty.
    pub(crate) fn remove(&mut self, removal_um: f64, standard_um: f64) {
        let variance = standard_um * standard_um;
        for (index, sign) in [(CLEAR, -1.0), (REMOVED, 1.0)] {
            if let Some(mean) = self.mean_um.get_mut(index) {
                *mean += sign * removal_um;
            }
            for (other, other_sign) in [(CLEAR, -1.0), (REMOVED, 1.0)] {
                if let Some(cell) = self
                    .covariance
                    .get_mut(index)
                    .and_then(|row| row.get_mut(other))
                {
                    *cell += sign * other_sign * variance;
                }
            }
        }
    }

    /// What a reading with the gauge in place `gauge` and the random error `noise_um` would show.
    pub(crate) fn expected(&self, gauge: Option<usize>, noise_um: f64) -> Expected {
        let seen = seen(gauge);
        let total_um = seen.iter().map(|index| self.at(*index)).sum();
        let along = self.along(&seen);
        let variance: f64 = seen.iter().filter_map(|index| along.get(*index)).sum();
        Expected {
            total_um,
            sd_um: (variance + noise_um * noise_um).sqrt(),
        }
    }

    /// Conditions everything on a reading.
    pub(crate) fn observe(&mut self, gauge: Option<usize>, total_um: f64, noise_um: f64) {
        let seen = seen(gauge);
        let expected = self.expected(gauge, noise_um);
        let variance = expected.sd_um.powi(2);
        if variance <= 0.0 {
            return;
        }
        let along = self.along(&seen);
        let innovation = (total_um - expected.total_um) / variance;
        for (mean, gain) in self.mean_um.iter_mut().zip(&along) {
            *mean += gain * innovation;
        }
        for (row, gain) in self.covariance.iter_mut().zip(&along) {
            for (cell, other) in row.iter_mut().zip(&along) {
                *cell -= gain * other / variance;
            }
        }
    }

    /// Clear coat: mean and standard deviation.
    pub(crate) fn clear_um(&self) -> (f64, f64) {
        (self.at(CLEAR), self.sd_um(CLEAR))
    }

    /// Removal in all: mean and standard deviation.
    pub(crate) fn removed_um(&self) -> (f64, f64) {
        (self.at(REMOVED), self.sd_um(REMOVED))
    }

    fn at(&self, index: usize) -> f64 {
        self.mean_um.get(index).copied().unwrap_or_default()
    }

    fn sd_um(&self, index: usize) -> f64 {
        let variance = self.covariance.get(index).and_then(|row| row.get(index));
        variance.copied().unwrap_or_default().max(0.0).sqrt()
    }

    /// Covariance of each quantity with the sum of those that a reading sees.
    fn along(&self, seen: &[usize]) -> Vec<f64> {
        self.covariance
            .iter()
            .map(|row| seen.iter().filter_map(|index| row.get(*index)).sum())
            .collect()
    }
}

/// What a reading is the sum of.
fn seen(gauge: Option<usize>) -> Vec<usize> {
    let mut seen = vec![CLEAR, BELOW];
    seen.extend(gauge.map(|gauge| FIRST_GAUGE + gauge));
    seen
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paint::layers::{Removed, clear_given, default_layers};

    /// One reading of one gauge is the closed form of `layers`.
    #[test]
    fn one_reading_agrees_with_the_closed_form() {
        let layers = default_layers(crate::gauge::Substrate::Steel);
        let clear = layers[3];
        let below: f64 = layers[..3].iter().map(|layer| layer.mean_um).sum();
        let below_sd = layers[..3]
            .iter()
            .map(|layer| layer.sd_um.powi(2))
            .sum::<f64>()
            .sqrt();
        let mut belief = Belief::new((clear.mean_um, clear.sd_um), (below, below_sd), 1, 1.8);
        belief.remove(4.0, 1.5);
        belief.observe(Some(0), 118.0, 0.9);
        let closed = clear_given(
            &layers,
            118.0,
            1.8_f64.hypot(0.9),
            Removed {
                removed_um: 4.0,
                standard_um: 1.5,
            },
        );
        let (mean, sd) = belief.clear_um();
        assert!((mean - closed.mean_um).abs() < 1e-9 && (sd - closed.sd_um).abs() < 1e-9);
    }

    /// With everything else certain, a difference of readings is the removal, and the gauge's fixed
    /// error cancels: JCGM 100:2008, 5.2 (correlated inputs), clause from memory.
    #[test]
    fn a_gauge_error_cancels_between_its_own_readings() {
        let mut belief = Belief::new((40.0, 5.0), (70.0, 8.0), 1, 50.0);
        belief.observe(Some(0), 130.0, 0.5);
        belief.remove(3.0, 100.0);
        belief.observe(Some(0), 124.0, 0.5);
        let (mean, sd) = belief.removed_um();
        assert!((mean - 6.0).abs() < 0.01, "{mean}");
        assert!((sd - 0.5 * 2.0_f64.sqrt()).abs() < 0.01, "{sd}");
    }
}
