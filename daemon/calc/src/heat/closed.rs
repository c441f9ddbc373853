//! Closed forms of heat conduction, each for one simple case. They are what the
//! transient panel is held against, and [`super::peak_rise_k`] is put together from them.
//!
//! The formulas (Carslaw and Jaeger, Conduction of Heat in Solids; Incropera, Fundamentals of Heat
//! and Mass Transfer, chapter 5) are from memory; they are held against printed examples.
//! Temperature differences in kelvins; properties and times must be above 0, which is not checked.

use statrs::function::erf::{erfc, erfc_inv};
use std::f64::consts::PI;

/// Effusivity `e = sqrt(k rho c)`, W s^0.5/(m2 K), of a material with conductivity W/(m K), density
/// kg/m3 and specific heat J/(kg K).
#[must_use]
pub fn effusivity(k_w_per_m_k: f64, rho_kg_per_m3: f64, c_j_per_kg_k: f64) -> f64 {
    (k_w_per_m_k * rho_kg_per_m3 * c_j_per_kg_k).sqrt()
}

/// Surface rise, K, of a semi-infinite solid under a constant flux:
/// `2 q sqrt(t/pi)/e`; flux in W/m2, time in s, effusivity in W s^0.5/(m2 K).
#[must_use]
pub fn semi_infinite_rise_k(flux_w_per_m2: f64, seconds: f64, effusivity: f64) -> f64 {
    2.0 * flux_w_per_m2 * (seconds / PI).sqrt() / effusivity
}

/// Rise at a depth, K, of a semi-infinite solid under a constant flux:
/// `(2q/k) sqrt(alpha t/pi) exp(-x^2/(4 alpha t)) - (q x/k) erfc(x/(2 sqrt(alpha t)))`; depth in m,
/// diffusivity in m2/s.
#[must_use]
pub fn semi_infinite_rise_at_depth_k(
    flux_w_per_m2: f64,
    seconds: f64,
    depth_m: f64,
    k_w_per_m_k: f64,
    alpha_m2_per_s: f64,
) -> f64 {
    let spread = alpha_m2_per_s * seconds;
    let near = 2.0 * flux_w_per_m2 / k_w_per_m_k * (spread / PI).sqrt();
    near * (-depth_m * depth_m / (4.0 * spread)).exp()
        - flux_w_per_m2 * depth_m / k_w_per_m_k * erfc(depth_m / (2.0 * spread.sqrt()))
}

/// Depth, m, that a given share (above 0, below 1) of a sudden change of surface temperature has
/// reached in a semi-infinite solid: `x = 2 sqrt(alpha t) erfc^-1(share)`.
#[must_use]
pub fn depth_reached_m(share: f64, seconds: f64, alpha_m2_per_s: f64) -> f64 {
    2.0 * (alpha_m2_per_s * seconds).sqrt() * erfc_inv(share)
}

/// Temperature, Celsius, of the face where two semi-infinite bodies touch:
/// `(e1 T1 + e2 T2)/(e1 + e2)`, effusivities in any one unit.
#[must_use]
pub fn contact_c(effusivity_1: f64, first_c: f64, effusivity_2: f64, second_c: f64) -> f64 {
    (effusivity_1 * first_c + effusivity_2 * second_c) / (effusivity_1 + effusivity_2)
}

/// Share, 0 to 1, of the heat made between two bodies that goes into the first: `e1/(e1 + e2)`, both
/// at one temperature to begin with (from memory).
#[must_use]
pub fn share_of_friction_heat(effusivity_1: f64, effusivity_2: f64) -> f64 {
    effusivity_1 / (effusivity_1 + effusivity_2)
}

/// Biot number `h L/k`: below 0.1 a body may be taken as lumped. Coefficient in W/(m2 K), length in m.
#[must_use]
pub fn biot(h_w_per_m2_k: f64, length_m: f64, k_w_per_m_k: f64) -> f64 {
    h_w_per_m2_k * length_m / k_w_per_m_k
}

/// Time constant, s, of a lumped body: heat capacity per area, J/(m2 K), over the sum of its
/// coefficients, W/(m2 K). Infinite when nothing cools it.
#[must_use]
pub fn lumped_tau_s(capacity_j_per_m2_k: f64, h_w_per_m2_k: f64) -> f64 {
    capacity_j_per_m2_k / h_w_per_m2_k
}

/// Rise, K, of a lumped body under a constant flux: `q/h (1 - exp(-t/tau))`, or `q t/C` when
/// nothing cools it.
#[must_use]
pub fn lumped_rise_k(
    flux_w_per_m2: f64,
    seconds: f64,
    capacity_j_per_m2_k: f64,
    h_w_per_m2_k: f64,
) -> f64 {
    flux_w_per_m2 / capacity_j_per_m2_k * settled(h_w_per_m2_k / capacity_j_per_m2_k, seconds)
}

/// Time, s, for a lumped body to go from one temperature to another in a medium, all in Celsius:
/// `tau ln((T0 - Tm)/(T1 - Tm))`. None when it never gets there.
#[must_use]
pub fn lumped_time_s(tau_s: f64, from_c: f64, to_c: f64, medium_c: f64) -> Option<f64> {
    let ratio = (from_c - medium_c) / (to_c - medium_c);
    (ratio >= 1.0 && ratio.is_finite()).then(|| tau_s * ratio.ln())
}

/// Surface rise, K, of a slab with an insulated back under a constant flux.
///
/// With `Fo = alpha t/L^2`: the semi-infinite form below Fo 0.2, above it
/// `(q L/k) (Fo + 1/3 - 2/pi^2 exp(-pi^2 Fo))`. Where they meet they differ from the full series by 0.02 %.
#[must_use]
pub fn slab_rise_k(
    flux_w_per_m2: f64,
    seconds: f64,
    thickness_m: f64,
    k_w_per_m_k: f64,
    alpha_m2_per_s: f64,
) -> f64 {
    let fourier = alpha_m2_per_s * seconds / (thickness_m * thickness_m);
    let shape = if fourier < 0.2 {
        2.0 * (fourier / PI).sqrt()
    } else {
        fourier + 1.0 / 3.0 - 2.0 / (PI * PI) * (-PI * PI * fourier).exp()
    };
    flux_w_per_m2 * thickness_m / k_w_per_m_k * shape
}

/// `(1 - exp(-rate t))/rate`, s, with its limit `t` for a rate of 0, which must not be negative.
pub(crate) fn settled(rate_per_s: f64, seconds: f64) -> f64 {
    let x = rate_per_s * seconds;
    if x < 1e-12 {
        seconds
    } else {
        -(-x).exp_m1() / rate_per_s
    }
}
