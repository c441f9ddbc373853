//! One pass's rise in closed form, for callers that ask often.

use super::closed::{settled, slab_rise_k};
use super::friction::friction_flux_w_per_m2;
use super::panel::{PAINT, Panel};

/// What makes heat in one pass on a section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassHeat {
    /// Pressure under the pad, kPa.
    pub pressure_kpa: f64,
    /// Mean speed of the pad over the paint, m/s: [`mean_speed_m_per_s`](super::mean_speed_m_per_s).
    pub speed_m_per_s: f64,
    /// Time on the section, s.
    pub seconds: f64,
    /// Pad area over section area, above 0 to 1.
    pub swept_ratio: f64,
}

/// Rise of the worked surface, K, over one pass from a panel at the air's temperature.
///
/// `heat_factor` is friction coefficient times the share of heat that goes into the panel. The slab
/// with an insulated back, its capacity raised by the paint's, less what the air takes in the ratio
/// of the lumped forms with and without cooling, plus `q d/k` across the paint. Within 6 % of the
/// full model for panels of default thickness and passes of 5 to 120 s (measured in this module's tests).
/// Proportional to pressure, speed and `heat_factor`. Ranges are for the caller to check; figures
/// within those of [`HeatInput`](super::HeatInput) give a finite answer.
#[must_use]
pub fn peak_rise_k(panel: &Panel, pass: &PassHeat, heat_factor: f64) -> f64 {
    let flux = friction_flux_w_per_m2(heat_factor, pass.pressure_kpa, pass.speed_m_per_s)
        * pass.swept_ratio;
    if pass.seconds <= 0.0 {
        return 0.0;
    }
    let material = panel.material;
    let thickness_m = panel.thickness_mm * 1e-3;
    let capacity = panel.capacity_j_per_m2_k();
    // The paint's capacity is carried as more sheet of the same material.
    let heavier_m = capacity / (material.rho_kg_per_m3 * material.c_j_per_kg_k);
    let slab = slab_rise_k(
        flux,
        pass.seconds,
        heavier_m.max(thickness_m),
        material.k_w_per_m_k,
        material.alpha_m2_per_s(),
    );
    let kept = settled(panel.h_w_per_m2_k() / capacity, pass.seconds) / pass.seconds;
    let paint_m = panel.paint_um * 1e-6;
    // The paint's own surface cannot lead the sheet by more than paint alone would warm.
    let across = paint_lead_k(flux, pass.seconds, paint_m);
    slab * kept + across
}

/// Temperature across the paint, K: `q d/k` once it has settled, less before.
fn paint_lead_k(flux: f64, seconds: f64, paint_m: f64) -> f64 {
    if paint_m <= 0.0 {
        return 0.0;
    }
    let settles_per_s = PAINT.alpha_m2_per_s() * 2.5 / (paint_m * paint_m);
    flux * paint_m / PAINT.k_w_per_m_k * -(-settles_per_s * seconds).exp_m1()
}
