//! How deep the defect is, and the chance to clear it.
//!
//! It is cleared when what came off reaches its depth. The depth is lognormal around the estimate. Two
//! things are learnt from passes: while the defect is still there, less came off than its depth; and
//! a pass that improves it took off a share of the depth that the eye can see. Both depend on depth over
//! hardness alone, so one row of weights over its logarithm holds the belief, and the same evidence
//! teaches about the panel's hardness. Spreads: common practice, no source.

use super::grid::{CELLS, HALF, STEP};
use super::normal_cdf;
use super::removal::{PASS_SD, RemovalBelief, SETUP_SD};

/// Standard deviation of the logarithm of an estimated depth. Common practice, no source.
pub const DEPTH_SD: f64 = 0.40;
/// Share of the depth that one pass must take for the eye to see an improvement, half of the time.
/// Common practice, no source.
pub const VISIBLE_SHARE: f64 = 0.10;
/// How sharp that threshold is: the logistic scale of its logarithm. Common practice, no source.
const VISIBLE_SCALE: f64 = 0.25;

/// Cells of depth over hardness: every pair of one from each grid.
const WIDE: usize = 2 * CELLS - 1;

/// What a pass did, as far as the depth is concerned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Sight {
    pub(crate) setup: usize,
    pub(crate) prior_um: f64,
    /// Whether it was seen to improve the defect; absent when it says neither.
    pub(crate) improved: Option<bool>,
}

/// The belief in the depth after some passes, the last of which left the defect there.
#[derive(Debug, Clone)]
pub struct DepthBelief {
    estimate_um: f64,
    /// Summed weights of depth over hardness, ending at 1.
    summed: [f64; WIDE],
    /// Medians at hardness 1 of what came off so far, in um, and the variance of its logarithm
    /// times its square.
    so_far_um: f64,
    so_far_variance_um2: f64,
}

impl DepthBelief {
    /// The belief from an estimated depth in um, above 0, and the passes made; it also weighs the
    /// hardness in `removal` by what was seen.
    pub(crate) fn after(estimate_um: f64, sights: &[Sight], removal: &mut RemovalBelief) -> Self {
        let (so_far_um, so_far_variance_um2) =
            removal
                .used()
                .fold((0.0, 0.0), |(sum, variance), (setup, prior_um, square)| {
                    let factor = removal.setup_offset(setup).exp();
                    let setup_sd = SETUP_SD * prior_um * factor;
                    let pass_variance = (PASS_SD * factor).powi(2) * square;
                    (
                        sum + prior_um * factor,
                        variance + setup_sd * setup_sd + pass_variance,
                    )
                });
        let likelihood = likelihood(estimate_um, sights, removal, so_far_um, so_far_variance_um2);
        let depth = super::grid::bell(DEPTH_SD);
        let hardness = removal.hardness_weights();

        let mut weights = [0.0; WIDE];
        let mut message = [0.0; CELLS];
        for (h, told) in message.iter_mut().enumerate() {
            for (d, depth) in depth.iter().enumerate() {
                let z = d + (CELLS - 1) - h;
                weights[z] += hardness[h] * depth * likelihood[z];
                *told += depth * likelihood[z];
            }
        }
        if !sights.is_empty() {
            removal.weigh_hardness(&message);
        }
        let total: f64 = weights.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        let mut sum = 0.0;
        let summed = weights.map(|weight| {
            sum += weight / total;
            sum
        });
        Self {
            estimate_um,
            summed,
            so_far_um,
            so_far_variance_um2,
        }
    }

    /// The chance, 0 to 1, that `passes` more with a setup clear the defect: that what came off then
    /// reaches the depth. `prior_um` is the prior removal of one.
    #[must_use]
    pub fn chance(&self, removal: &RemovalBelief, setup: usize, prior_um: f64, passes: u32) -> f64 {
        self.chance_at(removal.setup_offset(setup).exp() * prior_um, passes)
    }

    /// As [`chance`](Self::chance), for a pass that removes `pass_um` at hardness 1.
    pub(crate) fn chance_at(&self, pass_um: f64, passes: u32) -> f64 {
        let n = f64::from(passes);
        let sum_um = self.so_far_um + n * pass_um;
        if sum_um <= 0.0 {
            return 0.0;
        }
        let variance = self.so_far_variance_um2
            + pass_um.powi(2) * (SETUP_SD.powi(2) * n * n + PASS_SD.powi(2) * n);
        let sd = variance.sqrt() / sum_um;
        self.below((sum_um / self.estimate_um).ln(), sd)
    }

    /// Fewest more passes, up to `most`, that have an even chance or better to clear it.
    pub(crate) fn expected_passes(&self, pass_um: f64, most: u32) -> Option<u32> {
        // The chance rises with every pass, so that the fewest are found by halving.
        let (mut low, mut high) = (1, most + 1);
        while low < high {
            let middle = low.midpoint(high);
            if self.chance_at(pass_um, middle) >= 0.5 {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        (low <= most).then_some(low)
    }

    /// Median of what must still come off at hardness 1, in um: depth over hardness less what did.
    #[must_use]
    pub fn left_at_hardness_1_um(&self) -> f64 {
        let middle = self.summed.iter().position(|sum| *sum >= 0.5);
        let needed_um = self.estimate_um * wide_log_at(middle.unwrap_or(CELLS)).exp();
        (needed_um - self.so_far_um).max(0.0)
    }

    /// Chance that the logarithm of depth over hardness, less a normal error, is below `log`.
    fn below(&self, log: f64, sd: f64) -> f64 {
        // Beyond four standard deviations a cell counts in full or not at all.
        let mut chance = 0.0;
        let mut before = 0.0;
        for (cell, sum) in self.summed.iter().enumerate() {
            let distance = (log - wide_log_at(cell)) / sd;
            if distance > 4.0 {
                chance = *sum;
            } else if distance < -4.0 {
                break;
            } else {
                chance += (sum - before) * normal_cdf(distance);
            }
            before = *sum;
        }
        chance.clamp(0.0, 1.0)
    }
}

/// The logarithm at a cell of depth over hardness, relative to the estimated depth.
#[expect(
    clippy::cast_precision_loss,
    reason = "cells are counted in tens, far below 2^52"
)]
fn wide_log_at(cell: usize) -> f64 {
    (cell as f64 - 2.0 * HALF as f64) * STEP
}

/// How likely what was seen is, at each cell of depth over hardness.
fn likelihood(
    estimate_um: f64,
    sights: &[Sight],
    removal: &RemovalBelief,
    so_far_um: f64,
    so_far_variance_um2: f64,
) -> [f64; WIDE] {
    let mut likelihood = [1.0; WIDE];
    if sights.is_empty() {
        return likelihood;
    }
    let sd = (so_far_variance_um2.sqrt() / so_far_um).max(0.01);
    let reached = (so_far_um / estimate_um).ln();
    for (cell, value) in likelihood.iter_mut().enumerate() {
        *value = normal_cdf((wide_log_at(cell) - reached) / sd);
    }
    for sight in sights {
        let Some(improved) = sight.improved else {
            continue;
        };
        let offset = removal.setup_offset(sight.setup);
        let share = (sight.prior_um / estimate_um / VISIBLE_SHARE).ln() + offset;
        for (cell, value) in likelihood.iter_mut().enumerate() {
            let seen = 1.0 / (1.0 + ((wide_log_at(cell) - share) / VISIBLE_SCALE).exp());
            *value *= if improved { seen } else { 1.0 - seen };
        }
        // The grid holds what was seen, however unlikely.
        let greatest = likelihood.iter().copied().fold(0.0, f64::max);
        for value in &mut likelihood {
            *value = (*value / greatest.max(f64::MIN_POSITIVE)).max(1e-12);
        }
    }
    likelihood
}
