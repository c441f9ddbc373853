//! What each setup takes off this panel, in um.
//!
//! Removal of pass i with setup s = prior(s) exp(h + d(s) + e(i)): h the panel's hardness, shared by
//! all setups, d what the setup does otherwise than its prior says, e what differs from pass to pass;
//! all normal around 0. A reading is that removal with the gauge's normal noise; a reading of 0 also
//! stands for one below 0, which a gauge's noise yields and nobody writes down.
//!
//! h and d are weighed on a grid. One pass with one setup teaches d of that setup and h, and through h
//! it teaches about every other setup (a star of beliefs with h in the middle, solved exactly by
//! passing messages). The spreads are common practice, no source.

use super::grid::{CELLS, Weights, bell, log_at, moments, multiply, smear};
use super::{Z_95, normal_cdf};

/// Standard deviation of a panel's hardness: the logarithm of removal over its prior, the same for
/// every setup. Common practice, no source.
pub const HARDNESS_SD: f64 = 0.35;
/// Standard deviation of what one setup does otherwise than its prior says, as a logarithm. Common
/// practice, no source.
pub const SETUP_SD: f64 = 0.20;
/// Standard deviation from pass to pass with one setup, as a logarithm. Common practice, no source.
pub const PASS_SD: f64 = 0.15;
/// Standard uncertainty of a measured removal, in um, when none is given: the difference of two means
/// of five readings, their common error cancelled. Common practice, no source.
pub const DEFAULT_GAUGE_SD_UM: f64 = 0.8;

/// A pass as the belief sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeenPass {
    /// Number of the setup; the same number is the same setup.
    pub setup: usize,
    /// Removal that the prior expects of it, in um, above 0.
    pub prior_um: f64,
    /// Removal as measured, in um, 0 or more.
    pub reading_um: Option<f64>,
}

/// A removal with its spread, lognormal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Removal {
    /// Median, in um.
    pub median_um: f64,
    /// Standard deviation of the logarithm.
    pub log_sd: f64,
}

/// The belief after some passes.
#[derive(Debug, Clone)]
pub struct RemovalBelief {
    arms: Vec<Arm>,
    /// Weights of h: the prior, and what passes other than by their readings told.
    hardness: Weights,
    kernel: Weights,
}

/// What was seen of one setup.
#[derive(Debug, Clone)]
struct Arm {
    setup: usize,
    prior_sum_um: f64,
    prior_square_sum_um2: f64,
    unread_prior_um: f64,
    /// What the readings say of h + d, and of h; absent without a reading.
    told: Option<Told>,
    /// Mean of d by the readings.
    offset: f64,
}

#[derive(Debug, Clone)]
struct Told {
    of_setup: Weights,
    of_hardness: Weights,
}

impl Removal {
    /// Mean of the lognormal, `median exp(log_sd^2 / 2)`, in um.
    #[must_use]
    pub fn mean_um(&self) -> f64 {
        self.median_um * (0.5 * self.log_sd * self.log_sd).exp()
    }

    /// Standard deviation of the lognormal, `mean sqrt(exp(log_sd^2) - 1)`, in um.
    #[must_use]
    pub fn sd_um(&self) -> f64 {
        self.mean_um() * (self.log_sd * self.log_sd).exp_m1().sqrt()
    }

    /// The middle 90 %: `median exp(-+1.645 log_sd)`, in um.
    #[must_use]
    pub fn interval_90_um(&self) -> (f64, f64) {
        let factor = (Z_95 * self.log_sd).exp();
        (self.median_um / factor, self.median_um * factor)
    }
}

impl RemovalBelief {
    /// The belief after `passes`, read with a gauge whose measured removal has the standard
    /// uncertainty `gauge_sd_um`, above 0.
    #[must_use]
    pub fn after(passes: &[SeenPass], gauge_sd_um: f64) -> Self {
        let kernel = bell(SETUP_SD);
        let mut arms: Vec<Arm> = Vec::new();
        let mut logs: Vec<Option<Weights>> = Vec::new();
        for pass in passes {
            let known = arms.iter().position(|arm| arm.setup == pass.setup);
            let index = known.unwrap_or_else(|| {
                arms.push(Arm::new(pass.setup));
                logs.push(None);
                arms.len() - 1
            });
            let (arm, log) = (&mut arms[index], &mut logs[index]);
            arm.prior_sum_um += pass.prior_um;
            arm.prior_square_sum_um2 += pass.prior_um * pass.prior_um;
            match pass.reading_um {
                Some(reading_um) => add_reading(
                    log.get_or_insert([0.0; CELLS]),
                    pass.prior_um,
                    reading_um,
                    gauge_sd_um,
                ),
                None => arm.unread_prior_um += pass.prior_um,
            }
        }
        for (arm, log) in arms.iter_mut().zip(logs) {
            arm.told = log.map(|log| Told::from_log(&log, &kernel));
        }
        let mut belief = Self {
            arms,
            hardness: bell(HARDNESS_SD),
            kernel,
        };
        belief.set_offsets();
        belief
    }

    /// Removal expected of one more pass with this setup.
    #[must_use]
    pub fn predict(&self, setup: usize, prior_um: f64) -> Removal {
        let (mean, variance) = moments(&self.setup_weights(setup));
        Removal {
            median_um: prior_um * mean.exp(),
            log_sd: (variance + PASS_SD * PASS_SD).sqrt(),
        }
    }

    /// Mean and standard deviation of all that came off so far, in um. Setups are taken to err in the
    /// same direction, which makes the standard deviation too large rather than too small.
    #[must_use]
    pub fn total_um(&self) -> (f64, f64) {
        let (mean_um, sd_um, pass_variance) =
            self.arms.iter().fold((0.0, 0.0, 0.0), |sums, arm| {
                let total = self.sum_of(arm, arm.prior_sum_um);
                let pass_sd = PASS_SD * total.median_um / arm.prior_sum_um;
                (
                    sums.0 + total.mean_um(),
                    sums.1 + total.sd_um(),
                    sums.2 + pass_sd * pass_sd * arm.prior_square_sum_um2,
                )
            });
        (mean_um, sd_um.hypot(pass_variance.sqrt()))
    }

    /// Mean of what came off in passes without a reading, in um.
    #[must_use]
    pub fn unread_um(&self) -> f64 {
        let of = |arm: &Arm| self.sum_of(arm, arm.unread_prior_um).mean_um();
        self.arms
            .iter()
            .filter(|arm| arm.unread_prior_um > 0.0)
            .map(of)
            // The sum of no number is -0.
            .fold(0.0, |sum, um| sum + um)
    }

    /// Median factor between the panel's removal and the prior, and the standard deviation of its
    /// logarithm: below 1 a hard clear coat, above 1 a soft one.
    #[must_use]
    pub fn hardness(&self) -> (f64, f64) {
        let (mean, variance) = moments(&self.hardness_weights());
        (mean.exp(), variance.sqrt())
    }

    /// Weights of h from readings and all else.
    pub(super) fn hardness_weights(&self) -> Weights {
        self.hardness_without(None)
    }

    /// Takes in what else is known of h.
    pub(super) fn weigh_hardness(&mut self, message: &Weights) {
        multiply(&mut self.hardness, message);
    }

    /// Mean of d of a setup by its readings: by how much its logarithm departs from the panel's.
    pub(crate) fn setup_offset(&self, setup: usize) -> f64 {
        let arm = self.arms.iter().find(|arm| arm.setup == setup);
        arm.map_or(0.0, |arm| arm.offset)
    }

    fn set_offsets(&mut self) {
        let panel = moments(&self.hardness_weights()).0;
        let offset = |arm: &Arm| match arm.told {
            Some(_) => moments(&self.setup_weights(arm.setup)).0 - panel,
            None => 0.0,
        };
        let offsets: Vec<f64> = self.arms.iter().map(offset).collect();
        for (arm, offset) in self.arms.iter_mut().zip(offsets) {
            arm.offset = offset;
        }
    }

    /// For each setup used: its number, the sum of its passes' priors in um, and of their squares.
    pub(super) fn used(&self) -> impl Iterator<Item = (usize, f64, f64)> {
        let sums = |arm: &Arm| (arm.setup, arm.prior_sum_um, arm.prior_square_sum_um2);
        self.arms.iter().map(sums)
    }

    fn told(&self, setup: usize) -> Option<&Told> {
        let arm = self.arms.iter().find(|arm| arm.setup == setup)?;
        arm.told.as_ref()
    }

    fn sum_of(&self, arm: &Arm, prior_um: f64) -> Removal {
        let (mean, variance) = moments(&self.setup_weights(arm.setup));
        Removal {
            median_um: prior_um * mean.exp(),
            log_sd: variance.sqrt(),
        }
    }

    /// Weights of h + d of a setup, used before or not.
    fn setup_weights(&self, setup: usize) -> Weights {
        let mut weights = smear(&self.hardness_without(Some(setup)), &self.kernel);
        if let Some(told) = self.told(setup) {
            multiply(&mut weights, &told.of_setup);
        }
        weights
    }

    fn hardness_without(&self, setup: Option<usize>) -> Weights {
        let mut weights = self.hardness;
        let others = self.arms.iter().filter(|arm| Some(arm.setup) != setup);
        for told in others.filter_map(|arm| arm.told.as_ref()) {
            multiply(&mut weights, &told.of_hardness);
        }
        weights
    }
}

impl Arm {
    fn new(setup: usize) -> Self {
        Self {
            setup,
            prior_sum_um: 0.0,
            prior_square_sum_um2: 0.0,
            unread_prior_um: 0.0,
            told: None,
            offset: 0.0,
        }
    }
}

impl Told {
    fn from_log(log: &Weights, kernel: &Weights) -> Self {
        let greatest = log.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let of_setup = log.map(|log| (log - greatest).exp());
        Self {
            of_hardness: smear(&of_setup, kernel),
            of_setup,
        }
    }
}

/// Adds the logarithm of a reading's likelihood at each cell of h + d.
fn add_reading(log: &mut Weights, prior_um: f64, reading_um: f64, gauge_sd_um: f64) {
    for (cell, log) in log.iter_mut().enumerate() {
        let expected_um = prior_um * log_at(cell).exp();
        let variance = gauge_sd_um.powi(2) + (PASS_SD * expected_um).powi(2);
        *log += if reading_um > 0.0 {
            -0.5 * ((reading_um - expected_um).powi(2) / variance + variance.ln())
        } else {
            normal_cdf(-expected_um / variance.sqrt())
                .max(f64::MIN_POSITIVE)
                .ln()
        };
    }
}
