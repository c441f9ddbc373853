//! A panel whose true state is hidden, and what a pass does to it.

use lamella_calc::advice::belief::heat::prior_rise_k;
use lamella_calc::advice::limits::prior_removal_um;
use lamella_calc::advice::{Ladder, PassOutcome};
use lamella_calc::gauge::Substrate;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, Gamma, StandardNormal, StandardUniform};

/// Clear coats in the trade: mean and standard deviation in um. Common practice, no source.
const CLEAR_UM: (f64, f64) = (44.0, 7.0);
/// Time constant of 0.7 mm steel in still air, in s: check values, section 4, lumped form.
const COOLING_S: f64 = 158.6;

/// How far panels and readings scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spreads {
    /// Multiplies every spread below that the advice has a belief of.
    scale: f64,
}

impl Spreads {
    pub(crate) const USUAL: Self = Self { scale: 1.0 };
    pub(crate) const WIDE: Self = Self { scale: 1.5 };
}

/// A panel, as it is and as the shop sees it.
#[derive(Debug, Clone)]
pub(crate) struct Panel {
    pub(crate) ladder: Ladder,
    pub(crate) substrate: Substrate,
    pub(crate) edge: bool,
    /// What the shop's layer model says, in um: mean and standard uncertainty.
    pub(crate) clear_estimate_um: (f64, f64),
    /// What the shop takes the defect's depth to be, in um.
    pub(crate) depth_estimate_um: f64,
    pub(crate) panel_c: f64,
    pub(crate) ambient_c: f64,
    /// Hidden: clear coat left, in um.
    pub(crate) clear_um: f64,
    /// Hidden: depth still to go, in um.
    pub(crate) depth_um: f64,
    /// Hidden: removal over prior, for each rung, pass to pass variation aside.
    factors: Vec<f64>,
    heat: f64,
    first_depth_um: f64,
    gauge_sd_um: f64,
    visible_share: f64,
    spreads: Spreads,
    draws: ChaCha8Rng,
}

/// What the shop sees of a pass, and what it was.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Seen {
    pub(crate) start_c: f64,
    pub(crate) panel_c: f64,
    pub(crate) removal_um: f64,
    pub(crate) outcome: PassOutcome,
    /// Hidden: what came off, in um.
    pub(crate) true_removal_um: f64,
    /// Hidden: temperature at the end, in C.
    pub(crate) true_c: f64,
}

impl Panel {
    /// Panel `number` of the simulation; the seed is shared, the number picks the stream of draws.
    pub(crate) fn draw(seed: u64, number: u64, spreads: &Spreads) -> Self {
        let mut draws = ChaCha8Rng::seed_from_u64(seed);
        draws.set_stream(number);
        let draw = &mut draws;
        let ladder = Ladder::default();
        let substrate = match uniform(draw, 0.0, 1.0) {
            x if x < 0.65 => Substrate::Steel,
            x if x < 0.85 => Substrate::Aluminium,
            x if x < 0.95 => Substrate::Plastic,
            _ => Substrate::Composite,
        };
        let edge = uniform(draw, 0.0, 1.0) < 0.15;

        let clear_um = (CLEAR_UM.0 + CLEAR_UM.1 * normal(draw)).clamp(20.0, 75.0);
        let reading_sd_um = uniform(draw, 2.0, 5.0);
        let reading_um = clear_um + reading_sd_um * normal(draw);
        // What the layer model answers: the trade's spread weighed with the reading.
        let weight = CLEAR_UM.1.powi(2) / (CLEAR_UM.1.powi(2) + reading_sd_um.powi(2));
        let clear_estimate_um = (
            CLEAR_UM.0 + weight * (reading_um - CLEAR_UM.0),
            reading_sd_um * weight.sqrt(),
        );

        // Most clear coats are alike, some are hard, a few are soft: not one bell.
        let hardness = match uniform(draw, 0.0, 1.0) {
            x if x < 0.80 => 0.28 * normal(draw),
            x if x < 0.92 => -0.50 + 0.20 * normal(draw),
            _ => 0.45 + 0.20 * normal(draw),
        } * spreads.scale;
        let setup_cv = 0.20 * spreads.scale;
        let factors = (0..ladder.rungs().len())
            .map(|_| hardness.exp() * scatter(draw, setup_cv))
            .collect();
        let depth_um = (1.2 * (0.6 * normal(draw)).exp()).clamp(0.2, 6.0);
        let ambient_c = uniform(draw, 15.0, 28.0);
        Self {
            ladder,
            substrate,
            edge,
            clear_estimate_um,
            depth_estimate_um: depth_um * (0.40 * spreads.scale * normal(draw)).exp(),
            panel_c: ambient_c,
            ambient_c,
            clear_um,
            depth_um,
            factors,
            heat: scatter(draw, 0.35 * spreads.scale),
            first_depth_um: depth_um,
            gauge_sd_um: uniform(draw, 0.5, 1.1) * spreads.scale,
            visible_share: 0.10 * (0.3 * normal(draw)).exp(),
            spreads: *spreads,
            draws,
        }
    }

    /// Hidden: mean removal of a pass at a rung, in um.
    pub(crate) fn mean_removal_um(&self, rung: usize) -> f64 {
        self.prior_um(rung) * self.factors.get(rung).copied().unwrap_or(1.0)
    }

    /// Hidden: mean temperature at the end of a pass at a rung on a cool panel, in C.
    pub(crate) fn mean_end_c(&self, rung: usize) -> f64 {
        self.ambient_c + self.heat * self.prior_rise_k(rung)
    }

    /// Makes a pass, and lets the panel cool while it is wiped, looked at and measured.
    pub(crate) fn pass(&mut self, rung: usize) -> Seen {
        let start_c = self.panel_c;
        let true_removal_um =
            self.mean_removal_um(rung) * scatter(&mut self.draws, 0.15 * self.spreads.scale);
        self.clear_um -= true_removal_um;
        self.depth_um -= true_removal_um;
        let rise_k = self.heat * self.prior_rise_k(rung) * scatter(&mut self.draws, 0.10);
        let true_c = start_c + rise_k;
        let pause_s = uniform(&mut self.draws, 60.0, 180.0);
        self.panel_c = self.ambient_c + (true_c - self.ambient_c) * (-pause_s / COOLING_S).exp();

        let read_um = true_removal_um + self.gauge_sd_um * normal(&mut self.draws);
        let share = true_removal_um / self.first_depth_um;
        Seen {
            start_c: start_c + 0.5 * normal(&mut self.draws),
            panel_c: true_c + 0.5 * normal(&mut self.draws),
            // A gauge shows tenths, and nobody writes down a negative removal.
            removal_um: ((read_um * 10.0).round() / 10.0).max(0.0),
            outcome: if self.depth_um <= 0.0 {
                PassOutcome::Cleared
            } else if share >= self.visible_share {
                PassOutcome::Improved
            } else {
                PassOutcome::Unchanged
            },
            true_removal_um,
            true_c,
        }
    }

    /// Waits until the panel has cooled.
    pub(crate) fn cool(&mut self) {
        self.panel_c = self.ambient_c + 0.5;
    }

    fn prior_um(&self, rung: usize) -> f64 {
        let rung = self.ladder.rungs().get(rung);
        rung.map_or(0.0, |rung| prior_removal_um(&rung.setup))
    }

    fn prior_rise_k(&self, rung: usize) -> f64 {
        let rung = self.ladder.rungs().get(rung);
        rung.map_or(0.0, |rung| {
            prior_rise_k(&rung.setup, self.substrate, self.edge)
        })
    }
}

fn uniform(draws: &mut ChaCha8Rng, low: f64, high: f64) -> f64 {
    let share: f64 = StandardUniform.sample(draws);
    low + (high - low) * share
}

fn normal(draws: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(draws)
}

/// A gamma-distributed factor of mean 1 and this coefficient of variation.
fn scatter(draws: &mut ChaCha8Rng, cv: f64) -> f64 {
    // The parameters are constants above 0, for which the constructor does not fail.
    Gamma::new(1.0 / (cv * cv), cv * cv).map_or(1.0, |gamma| gamma.sample(draws))
}
