//! Weights over the natural logarithm of a factor, -2.4 to 2.4 in steps of 0.1: a factor of a ninth
//! to eleven. Sums over such a grid are good to better than 1 % for spreads of half a step and to
//! eight digits for spreads of a step (trapezoid rule on a smooth bell).

/// Cells on either side of the middle.
pub(super) const HALF: usize = 24;
/// Cells in all.
pub(super) const CELLS: usize = 2 * HALF + 1;
/// Width of a cell.
pub(super) const STEP: f64 = 0.1;
/// Cells that a smearing bell reaches on either side: five standard deviations of 0.2.
const REACH: usize = 10;
/// Least weight of a message relative to its greatest. What was recorded may be contradictory, but
/// must not leave a belief of nothing.
const LEAST_WEIGHT: f64 = 1e-12;

/// One weight for each cell, not normalised.
pub(super) type Weights = [f64; CELLS];

/// The logarithm at a cell.
#[expect(
    clippy::cast_precision_loss,
    reason = "cells are counted in tens, far below 2^52"
)]
pub(super) fn log_at(cell: usize) -> f64 {
    (cell as f64 - HALF as f64) * STEP
}

/// Bell of standard deviation `sd` around 0.
pub(super) fn bell(sd: f64) -> Weights {
    std::array::from_fn(|cell| (-0.5 * (log_at(cell) / sd).powi(2)).exp())
}

/// The weights smeared by `kernel`, a bell of standard deviation up to 0.2; cells outside the grid count
/// as empty.
pub(super) fn smear(weights: &Weights, kernel: &Weights) -> Weights {
    std::array::from_fn(|to| {
        let from = to.saturating_sub(REACH)..(to + REACH + 1).min(CELLS);
        weights[from.clone()]
            .iter()
            .zip(from)
            .map(|(weight, from)| weight * kernel[to + HALF - from])
            .sum()
    })
}

/// Multiplies `into` by `message` and scales the result to a greatest weight of 1.
pub(super) fn multiply(into: &mut Weights, message: &Weights) {
    let greatest = message.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    for (weight, factor) in into.iter_mut().zip(message) {
        *weight *= (factor / greatest).max(LEAST_WEIGHT);
    }
    let greatest = into.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    for weight in into {
        *weight /= greatest;
    }
}

/// Mean and variance of the logarithm.
pub(super) fn moments(weights: &Weights) -> (f64, f64) {
    let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
    for (cell, weight) in weights.iter().enumerate() {
        let log = log_at(cell);
        sum += weight;
        first += weight * log;
        second += weight * log * log;
    }
    let mean = first / sum;
    (mean, (second / sum - mean * mean).max(0.0))
}
