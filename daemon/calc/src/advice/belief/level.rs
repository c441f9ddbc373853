//! Whether a pass that warms the panel enough levels its clear coat.
//!
//! The chance that a warm pass reaches the goal has a Beta(1, 2) belief: one in three before any pass
//! (common practice, no source). Each warm pass that left work to do counts as a failure, in closed form.

use super::normal_cdf;

/// Successes and failures that the prior counts for.
pub const PRIOR: (f64, f64) = (1.0, 2.0);

/// The belief after some passes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LevelBelief {
    /// Warm passes so far that left work to do.
    pub short: u32,
}

impl LevelBelief {
    /// The chance, 0 to 1, that `passes` warm passes reach the goal: 1 - B(a, b + k) / B(a, b).
    #[must_use]
    pub fn chance_warm(&self, passes: u32) -> f64 {
        let failures = PRIOR.1 + f64::from(self.short);
        1.0 - failures / (failures + f64::from(passes))
    }

    /// The chance when pass j, of expected temperature and standard deviation `warmths[j]` in C and K,
    /// is warm only if it reaches `target_c`. Passes are taken to be warm independently of each other.
    #[must_use]
    pub fn chance(&self, warmths: &[(f64, f64)], target_c: f64) -> f64 {
        let (a, b) = (PRIOR.0, PRIOR.1 + f64::from(self.short));
        let mut missed = 1.0;
        let mut tried = 0.0;
        for (expected_c, sd_k) in warmths {
            let warm = normal_cdf((expected_c - target_c) / sd_k);
            missed *= 1.0 - warm * a / (a + b + tried);
            tried += warm;
        }
        1.0 - missed
    }
}
