//! One pass's rise in closed form, for callers that ask often.

use super::closed::{settled, slab_rise_k};
use super::friction::friction_flux_w_per_m2;
use super::panel::{PAINT, Panel};
use statrs::function::erf::erfc;
use std::f64::consts::{FRAC_PI_2, PI};

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
/// with an insulated back, thicker by the paint's heat capacity; less what the air takes, in the
/// ratio of the closed forms with and without cooling, lumped or semi-infinite, whichever loses more; plus `q d/k` for what the paint resists more than
/// that much sheet. Errs on the hot side: at most 6 % above the full model for panels of default
/// thickness and passes of 5 to 120 s (held by this module's tests), 7 % for plastic at 300 s.
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
    // The paint is carried as more sheet of the same heat capacity, and what it resists beyond that
    // sheet as a lead of its surface.
    let paint_m = panel.paint_um * 1e-6;
    let paint_as_sheet_m =
        PAINT.capacity_j_per_m2_k(paint_m) / (material.rho_kg_per_m3 * material.c_j_per_kg_k);
    let slab = slab_rise_k(
        flux,
        pass.seconds,
        thickness_m + paint_as_sheet_m,
        material.k_w_per_m_k,
        material.alpha_m2_per_s(),
    );
    let resists_more = paint_m / PAINT.k_w_per_m_k - paint_as_sheet_m / material.k_w_per_m_k;
    let lumped = settled(panel.h_w_per_m2_k() / capacity, pass.seconds) / pass.seconds;
    let front_h = panel.front_h_w_per_m2_k;
    let kept = lumped.min(semi_infinite_kept(
        front_h * pass.seconds.sqrt() / material.effusivity(),
    ));
    slab * kept + flux * resists_more.max(0.0) * settled_share(paint_m, pass.seconds)
}

/// Surface rise of a semi-infinite body with a cooled face over that without, for
/// `x = h sqrt(t)/e`: `(1 - exp(x^2) erfc(x)) sqrt(pi)/(2x)` (Carslaw and Jaeger, from memory).
fn semi_infinite_kept(x: f64) -> f64 {
    if x < 1e-6 {
        return 1.0;
    }
    // Past 5 the product is 1/(x sqrt(pi)) within 2 %, and never overflows.
    let scaled = if x < 5.0 {
        (x * x).exp() * erfc(x)
    } else {
        1.0 / (x * PI.sqrt())
    };
    (1.0 - scaled) * PI.sqrt() / (2.0 * x)
}

/// How far, 0 to 1, the temperature across the paint has settled: its slowest rate, with a
/// surface that is heated and a base that is held, is `alpha (pi/2)^2/d^2`.
fn settled_share(paint_m: f64, seconds: f64) -> f64 {
    if paint_m <= 0.0 {
        return 0.0;
    }
    let rate_per_s = PAINT.alpha_m2_per_s() * (FRAC_PI_2 / paint_m).powi(2);
    -(-rate_per_s * seconds).exp_m1()
}
