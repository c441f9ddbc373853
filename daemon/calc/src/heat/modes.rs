//! How the worked surface answers heat: conduction across paint and sheet in finite volumes, solved
//! exactly in time.
//!
//! Nodes lie on the surface, on the border between paint and sheet, and closer together towards the
//! surface; each carries half of the strips beside it. With capacities `C`, conductances `K` (both faces'
//! coefficients included) and the flux `q` into the first node, `C dT/dt = -K T + q` for temperatures
//! above the air. `C^-1/2 K C^-1/2` is symmetric and tridiagonal; its eigenvalues are the
//! rates at which heat spreads and leaves, and of its eigenvectors only the surface's components and
//! the sum over an even start are needed. So a constant flux over any time needs no time steps.
//!
//! Left out: heat that spreads along the panel, properties that change with temperature, a coefficient
//! that changes between work and pause.

use super::panel::{Material, PAINT, Panel};

/// Strips across the panel.
const STRIPS: usize = 24;
const NODES: usize = STRIPS + 1;
/// How many of them are paint, where there is any.
const PAINT_STRIPS: usize = 4;
/// Each strip of the sheet is thicker by this than the one above it.
const GROWTH: f64 = 1.25;

/// A slower rate than this is none in a panel that nothing cools, 1/s: 20 mm of plastic evens out
/// at 3e-3, and rounding leaves some 1e-9.
const LEAST_RATE_PER_S: f64 = 1e-6;

/// One number for each mode.
type PerMode = [f64; NODES];

/// The panel's modes.
#[derive(Debug, Clone)]
pub(crate) struct Modes {
    /// Rates of decay, 1/s, none negative.
    rates: PerMode,
    /// How much of each mode shows at the surface, and how much of it a flux there raises.
    at_surface: PerMode,
    /// Each mode in a panel that is 1 K above the air throughout.
    even: PerMode,
}

/// Temperatures above the air, in modes: what the start left, and what a heat factor of 1 has added.
#[derive(Debug, Clone, Copy)]
pub(crate) struct State {
    start: PerMode,
    added: PerMode,
}

/// What a stretch of time does to each mode.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Span {
    left: PerMode,
    settled_s: PerMode,
}

/// Surface temperature above the air, K, for a heat factor `f`: `start_k + f * added_k`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Surface {
    pub(crate) start_k: f64,
    pub(crate) added_k: f64,
}

impl Modes {
    pub(crate) fn of(panel: &Panel) -> Self {
        let mut capacities = [0.0; NODES];
        let mut conductances = [0.0; STRIPS];
        for (i, (thickness_m, material)) in strips(panel).into_iter().enumerate() {
            let half = material.capacity_j_per_m2_k(thickness_m) / 2.0;
            capacities[i] += half;
            capacities[i + 1] += half;
            conductances[i] = material.k_w_per_m_k / thickness_m;
        }
        let roots = capacities.map(f64::sqrt);
        let mut diagonal = [0.0; NODES];
        let mut beside = [0.0; STRIPS];
        diagonal[0] = panel.front_h_w_per_m2_k;
        diagonal[STRIPS] = panel.back_h_w_per_m2_k;
        for i in 0..STRIPS {
            diagonal[i] += conductances[i];
            diagonal[i + 1] += conductances[i];
            beside[i] = -conductances[i] / (roots[i] * roots[i + 1]);
        }
        for (value, capacity) in diagonal.iter_mut().zip(capacities) {
            *value /= capacity;
        }
        let mut surface = [0.0; NODES];
        surface[0] = 1.0 / roots[0];
        let mut even = roots;
        let cools = panel.h_w_per_m2_k() > 0.0;
        let least = if cools { 0.0 } else { LEAST_RATE_PER_S };
        diagonalise(&mut diagonal, &mut beside, &mut surface, &mut even);
        Self {
            // Rounding may leave the slowest one a hair below 0, or, where nothing cools, above it.
            rates: diagonal.map(|rate| if rate > least { rate } else { 0.0 }),
            at_surface: surface,
            even,
        }
    }

    /// A panel that is `above_air_k` warmer than the air throughout.
    pub(crate) fn start(&self, above_air_k: f64) -> State {
        State {
            start: self.even.map(|part| part * above_air_k),
            added: [0.0; NODES],
        }
    }

    /// What so many seconds do to each mode; worth keeping where steps are even.
    pub(crate) fn span(&self, seconds: f64) -> Span {
        let mut span = Span {
            left: [0.0; NODES],
            settled_s: [0.0; NODES],
        };
        for i in 0..NODES {
            (span.left[i], span.settled_s[i]) = left_and_settled(self.rates[i], seconds);
        }
        span
    }

    /// The state a span later, under a flux, W/m2, that a heat factor of 1 would make.
    pub(crate) fn after(&self, from: &State, flux_w_per_m2: f64, span: &Span) -> State {
        let mut to = *from;
        for i in 0..NODES {
            to.start[i] *= span.left[i];
            to.added[i] =
                to.added[i] * span.left[i] + self.at_surface[i] * flux_w_per_m2 * span.settled_s[i];
        }
        to
    }

    /// The surface in this state.
    pub(crate) fn surface(&self, state: &State) -> Surface {
        let shown = |modes: &PerMode| modes.iter().zip(&self.at_surface).map(|(a, b)| a * b).sum();
        Surface {
            start_k: shown(&state.start),
            added_k: shown(&state.added),
        }
    }

    /// Rise of the surface, K m2/W, over a constant flux of so many seconds.
    pub(crate) fn rise_per_flux(&self, seconds: f64) -> f64 {
        let part = |(rate, shown): (&f64, &f64)| shown * shown * left_and_settled(*rate, seconds).1;
        self.rates.iter().zip(&self.at_surface).map(part).sum()
    }
}

/// `exp(-rate t)` and `(1 - exp(-rate t))/rate`, s, from one exponential.
fn left_and_settled(rate_per_s: f64, seconds: f64) -> (f64, f64) {
    let x = rate_per_s * seconds;
    let left = (-x).exp();
    // The difference loses what a short series keeps.
    let settled_s = if x > 1e-4 {
        (1.0 - left) / rate_per_s
    } else {
        seconds * (1.0 - x / 2.0 + x * x / 6.0)
    };
    (left, settled_s)
}

/// Thickness, m, and material of each strip, from the surface down.
fn strips(panel: &Panel) -> [(f64, Material); STRIPS] {
    let paint_m = panel.paint_um * 1e-6;
    let of_paint = if paint_m > 0.0 { PAINT_STRIPS } else { 0 };
    let of_sheet = STRIPS - of_paint;
    let total: f64 = growing().take(of_sheet).sum();
    let mut strips = [(paint_m / PAINT_STRIPS as f64, PAINT); STRIPS];
    for (strip, part) in strips[of_paint..].iter_mut().zip(growing()) {
        *strip = (panel.thickness_mm * 1e-3 * part / total, panel.material);
    }
    strips
}

/// 1 and then each larger by [`GROWTH`].
fn growing() -> impl Iterator<Item = f64> {
    std::iter::successors(Some(1.0), |part| Some(part * GROWTH))
}

/// Eigenvalues of a symmetric tridiagonal matrix, into `diagonal`, and the products of two row
/// vectors with its eigenvectors.
///
/// Implicit QR steps with Wilkinson's shift (Golub and Van Loan, Matrix Computations, section 8.3).
/// Some 2 steps for each eigenvalue suffice; the bound only makes sure that it ends.
fn diagonalise(
    diagonal: &mut PerMode,
    beside: &mut [f64; STRIPS],
    one: &mut PerMode,
    other: &mut PerMode,
) {
    let mut last = STRIPS;
    for _ in 0..60 * NODES {
        while last > 0 && negligible(diagonal, beside, last - 1) {
            last -= 1;
        }
        if last == 0 {
            return;
        }
        let mut first = last - 1;
        while first > 0 && !negligible(diagonal, beside, first - 1) {
            first -= 1;
        }
        let half = (diagonal[last - 1] - diagonal[last]) / 2.0;
        let edge = beside[last - 1];
        let shift = diagonal[last]
            - edge * edge / (half + (half * half + edge * edge).sqrt().copysign(half));
        let (mut kept, mut chased) = (diagonal[first] - shift, beside[first]);
        for k in first..last {
            let length = (kept * kept + chased * chased).sqrt();
            if length <= 0.0 {
                break;
            }
            let (cos, sin) = (kept / length, chased / length);
            if k > first {
                beside[k - 1] = length;
            }
            let (a, b, d) = (diagonal[k], beside[k], diagonal[k + 1]);
            let cross = 2.0 * cos * sin * b;
            diagonal[k] = cos * cos * a + cross + sin * sin * d;
            diagonal[k + 1] = sin * sin * a - cross + cos * cos * d;
            beside[k] = cos * sin * (d - a) + (cos * cos - sin * sin) * b;
            kept = beside[k];
            if k + 1 < last {
                chased = sin * beside[k + 1];
                beside[k + 1] *= cos;
            }
            for row in [&mut *one, &mut *other] {
                let (x, y) = (row[k], row[k + 1]);
                row[k] = cos * x + sin * y;
                row[k + 1] = cos * y - sin * x;
            }
        }
    }
}

/// Whether the entry beside the diagonal no longer counts.
fn negligible(diagonal: &PerMode, beside: &[f64; STRIPS], at: usize) -> bool {
    beside[at].abs() <= f64::EPSILON * (diagonal[at].abs() + diagonal[at + 1].abs())
}
