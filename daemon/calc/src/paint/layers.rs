//! The layers under a reading, and the clear coat that the reading leaves room for.
//!
//! Each layer is normal with a mean and a spread, independent of the others; the
//! reading is their sum, less what was removed, plus the gauge's error. With
//! C the clear coat, V the variance of all layers, M their sum and u the gauge's
//! standard uncertainty, a reading T leaves
//! `E = m_C + v_C (T - M) / (V + u^2)` and `var = v_C - v_C^2 / (V + u^2)`.
//! Removal R with its uncertainty counts into the clear coat before it is
//! conditioned: `m_C - R`, `v_C + u_R^2`.
//!
//! Standing of the default layers. Means: primer surfacer 35 to 40, base coat 10
//! to 15, clear coat 35 to 40 um are published (Polymers 2021, 13, 3933, its
//! introduction); e-coat 15 to 25 um is from memory. The spread joins the range
//! of those nominal values, half its width over sqrt 3, with 10 % of the mean for
//! the scatter on one car (common practice, no source).

use super::uncertainty::{NORMAL_ONE_SIDED_95, NORMAL_TWO_SIDED_95};
use crate::gauge::Substrate;

/// A layer of paint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LayerKind {
    /// Electro-dipped primer, on metal only.
    ECoat,
    /// Primer surfacer.
    Primer,
    /// Base coat, the colour.
    Base,
    /// Clear coat, the layer that is polished.
    Clear,
}

/// What is believed of a layer before a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// Which.
    pub kind: LayerKind,
    /// Mean, um, above 0 and up to 2000.
    pub mean_um: f64,
    /// Standard deviation, um, above 0 and up to 500.
    pub sd_um: f64,
}

/// Clear coat that is known to be gone from the layers as they were made.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Removed {
    /// How much, um, 0 to 500.
    pub removed_um: f64,
    /// Its standard uncertainty, um, 0 to 500.
    pub standard_um: f64,
}

/// Clear coat as it stands, um.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClearEstimate {
    /// Mean.
    pub mean_um: f64,
    /// Standard deviation.
    pub sd_um: f64,
    /// Lower end of the two-sided 95 % interval; never below 0.
    pub low_um: f64,
    /// Upper end of the same.
    pub high_um: f64,
    /// What 95 % of such panels have at least: the one-sided limit, never below 0.
    pub at_least_um: f64,
    /// How far the reading lies from what the layers lead to expect, in standard deviations.
    pub surprise: f64,
}

/// A reading further than this from the layers' sum, in standard deviations, is not explained by
/// them, and no clear coat is computed from it. Common practice, no source.
pub const MOST_SURPRISE: f64 = 3.0;

/// Scatter of a layer on one car, as part of its mean. Common practice, no source.
const SCATTER: f64 = 0.1;

/// The layers of a car as made, when the shop states none: all four on metal and on what is unknown,
/// no e-coat on composite and plastic (that they have none is from memory).
#[must_use]
pub fn default_layers(substrate: Substrate) -> Vec<Layer> {
    let dipped = match substrate {
        Substrate::Steel | Substrate::Aluminium | Substrate::Unknown => true,
        Substrate::Composite | Substrate::Plastic => false,
    };
    [
        (LayerKind::ECoat, 15.0, 25.0),
        (LayerKind::Primer, 35.0, 40.0),
        (LayerKind::Base, 10.0, 15.0),
        (LayerKind::Clear, 35.0, 40.0),
    ]
    .into_iter()
    .filter(|(kind, _, _)| dipped || *kind != LayerKind::ECoat)
    .map(|(kind, low_um, high_um)| Layer::of_range(kind, low_um, high_um))
    .collect()
}

/// The clear coat that a total reading leaves room for; `standard_um` is the reading's standard
/// uncertainty. Layers hold exactly one clear coat (without one it is taken to be nothing).
#[must_use]
pub fn clear_given(
    layers: &[Layer],
    total_um: f64,
    standard_um: f64,
    removed: Removed,
) -> ClearEstimate {
    let clear = layers.iter().find(|layer| layer.kind == LayerKind::Clear);
    let spread = removed.standard_um.powi(2);
    let mean_um = clear.map_or(0.0, |clear| clear.mean_um) - removed.removed_um;
    let variance = clear.map_or(0.0, |clear| clear.sd_um.powi(2)) + spread;
    let expected_um = layers.iter().map(|layer| layer.mean_um).sum::<f64>() - removed.removed_um;
    let seen =
        layers.iter().map(|layer| layer.sd_um.powi(2)).sum::<f64>() + spread + standard_um.powi(2);
    let gain = if seen > 0.0 { variance / seen } else { 0.0 };
    let surprise = if seen > 0.0 {
        (total_um - expected_um) / seen.sqrt()
    } else {
        0.0
    };
    ClearEstimate::of(
        mean_um + gain * (total_um - expected_um),
        (variance - gain * variance).max(0.0).sqrt(),
        surprise,
    )
}

impl Layer {
    /// A layer from the range of its nominal thickness.
    fn of_range(kind: LayerKind, low_um: f64, high_um: f64) -> Self {
        let mean_um = f64::midpoint(low_um, high_um);
        let between = (high_um - low_um) / 2.0 / 3.0_f64.sqrt();
        Self {
            kind,
            mean_um,
            sd_um: between.hypot(SCATTER * mean_um),
        }
    }
}

impl ClearEstimate {
    pub(crate) fn of(mean_um: f64, sd_um: f64, surprise: f64) -> Self {
        Self {
            mean_um: mean_um.max(0.0),
            sd_um,
            low_um: (mean_um - NORMAL_TWO_SIDED_95 * sd_um).max(0.0),
            high_um: (mean_um + NORMAL_TWO_SIDED_95 * sd_um).max(0.0),
            at_least_um: (mean_um - NORMAL_ONE_SIDED_95 * sd_um).max(0.0),
            surprise,
        }
    }

    /// What may be removed so that `floor_um` stays with 95 % confidence, um.
    #[must_use]
    pub fn budget_um(&self, floor_um: f64) -> f64 {
        (self.at_least_um - floor_um).max(0.0)
    }

    /// Whether the layers explain the reading; if not, the estimate is not to be used.
    #[must_use]
    pub fn is_explained(&self) -> bool {
        self.surprise.abs() <= MOST_SURPRISE
    }
}
