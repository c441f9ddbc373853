//! Friction under the pad: how fast it slides, and how much heat that makes.
//!
//! Flux under the pad `q = mu p v` (from memory). Over a section that the pad keeps passing over it
//! is spread in the ratio of the pad's area to the section's.

use crate::violation::Checks;
use std::f64::consts::PI;

/// Friction coefficient of a wet polishing pad on paint where nothing was observed (from memory; no
/// source for paint was found).
pub const DEFAULT_FRICTION: f64 = 0.3;
/// Share of the heat that goes into the panel where nothing was observed: the effusivity of paint
/// (576) against a foam pad's (about 60, from memory) gives 0.9.
pub const DEFAULT_SHARE_TO_PANEL: f64 = 0.9;
/// The true heat factor lies within this factor of the default (common practice, no source).
pub const DEFAULT_FACTOR_SPREAD: f64 = 2.0;

/// How the pad moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PadMotion {
    /// Turns about its own middle.
    Rotary {
        /// Turns per minute, 0 to 6000.
        turns_per_min: f64,
    },
    /// Orbits without turning, or turns slowly besides.
    DualAction {
        /// Orbits per minute, 0 to 15 000.
        orbits_per_min: f64,
        /// Diameter of the orbit (twice its throw from the middle), mm, 0 to 50.
        orbit_mm: f64,
        /// Turns per minute about its own middle, 0 to 2000.
        turns_per_min: f64,
    },
}

impl PadMotion {
    pub(crate) fn check(&self, at: &str, checks: &mut Checks) {
        let mut range = |name: &str, value, high, unit| {
            checks.in_range(format!("{at}.{name}"), value, 0.0, high, unit);
        };
        match *self {
            Self::Rotary { turns_per_min } => {
                range("rotary.turns_per_min", turns_per_min, 6000.0, "1/min");
            }
            Self::DualAction {
                orbits_per_min,
                orbit_mm,
                turns_per_min,
            } => {
                range(
                    "dual_action.orbits_per_min",
                    orbits_per_min,
                    15_000.0,
                    "1/min",
                );
                range("dual_action.orbit_mm", orbit_mm, 50.0, "mm");
                range("dual_action.turns_per_min", turns_per_min, 2000.0, "1/min");
            }
        }
    }
}

/// Mean speed of the pad over the paint, m/s, for a pad of this diameter in mm, pressed evenly.
///
/// Rotary: `2/3 omega R`, the mean of `omega r` over a disc. Dual action: every point runs round a
/// circle at `pi d n`; a turn of the pad adds `omega r` in a direction that goes round, so the mean is
/// that of `|a + b exp(i phi)|` over the turn, `(2/pi)(a + b) E(4ab/(a + b)^2)` with the complete
/// elliptic integral of the second kind, averaged over the disc. The hand's own movement, some cm/s, is left out.
#[must_use]
pub fn mean_speed_m_per_s(motion: PadMotion, pad_mm: f64) -> f64 {
    let rim = |turns_per_min: f64| PI * pad_mm * 1e-3 * turns_per_min / 60.0;
    match motion {
        PadMotion::Rotary { turns_per_min } => rim(turns_per_min) * 2.0 / 3.0,
        PadMotion::DualAction {
            orbits_per_min,
            orbit_mm,
            turns_per_min,
        } => {
            let orbit = PI * orbit_mm * 1e-3 * orbits_per_min / 60.0;
            over_disc(|share| mean_of_turning_sum(orbit, rim(turns_per_min) * share))
        }
    }
}

/// Flux made under the pad, W/m2: `mu p v` with pressure in kPa and speed in m/s.
#[must_use]
pub fn friction_flux_w_per_m2(friction: f64, pressure_kpa: f64, speed_m_per_s: f64) -> f64 {
    friction * pressure_kpa * 1e3 * speed_m_per_s
}

/// Area of a round pad, cm2, diameter in mm.
#[must_use]
pub fn pad_area_cm2(pad_mm: f64) -> f64 {
    PI / 4.0 * (pad_mm / 10.0) * (pad_mm / 10.0)
}

/// Mean over a disc of a function of radius over outer radius: the integral of `f(s) 2 s ds`, by
/// Simpson's rule on 16 strips.
fn over_disc(f: impl Fn(f64) -> f64) -> f64 {
    const STRIPS: u32 = 16;
    let term = |i: u32| {
        let share = f64::from(i) / f64::from(STRIPS);
        let weight = match i {
            0 | STRIPS => 1.0,
            i if i % 2 == 1 => 4.0,
            _ => 2.0,
        };
        weight * f(share) * 2.0 * share
    };
    (0..=STRIPS).map(term).sum::<f64>() / (3.0 * f64::from(STRIPS))
}

/// Mean length of two vectors' sum, one of which turns evenly.
fn mean_of_turning_sum(a: f64, b: f64) -> f64 {
    let sum = a + b;
    if sum <= 0.0 {
        return 0.0;
    }
    // E(m) by the arithmetic-geometric mean, with the complementary modulus (a - b)/(a + b).
    let (mut x, mut y) = (1.0, (a - b).abs() / sum);
    if y < 1e-9 {
        return 2.0 / PI * sum;
    }
    let mut lost = 1.0 - (1.0 - y * y) / 2.0;
    let mut power = 0.5;
    for _ in 0..12 {
        let half_difference = (x - y) / 2.0;
        (x, y) = (f64::midpoint(x, y), (x * y).sqrt());
        power *= 2.0;
        lost -= power * half_difference * half_difference;
        if half_difference.abs() < 1e-9 {
            break;
        }
    }
    // E = K lost, K = pi/(2 x).
    sum * lost / x
}
