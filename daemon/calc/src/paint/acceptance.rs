//! Acceptance of thickness against a range: every spot from 80 % of the minimum
//! to 120 % of the maximum, the mean of the panel within the range itself; single
//! readings are free. SSPC-PA 2 (secondary source; that this is its level 3, the
//! default, is from memory).

use super::readings::LEAST_READINGS;
use crate::violation::Checks;

/// The range asked for, um, each above 0 and up to 5000.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Target {
    /// Least thickness, um.
    pub min_um: f64,
    /// Greatest thickness, um; not below `min_um`.
    pub max_um: f64,
}

/// How a thickness stands against its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// Within.
    Within,
    /// Below.
    TooThin,
    /// Above.
    TooThick,
}

/// How a panel stands against a range.
#[derive(Debug, Clone, PartialEq)]
pub struct Acceptance {
    /// Least spot mean allowed, um: 80 % of the minimum.
    pub spot_min_um: f64,
    /// Greatest spot mean allowed, um: 120 % of the maximum.
    pub spot_max_um: f64,
    /// Verdict on each spot, in the panel's order.
    pub spots: Vec<Verdict>,
    /// Verdict on the mean of the spots against the range itself.
    pub mean: Verdict,
    /// Whether the panel is accepted.
    pub accepted: bool,
    /// Whether there were five spots of three readings each, as the rule asks for.
    pub complete: bool,
}

/// Spots that the rule asks for in one area.
pub const SPOTS_PER_AREA: usize = 5;

impl Target {
    /// Judges spot means with their counts of readings. At least one spot.
    pub(crate) fn judge(self, spots: &[(f64, usize)], mean_um: f64) -> Acceptance {
        let (spot_min_um, spot_max_um) = (0.8 * self.min_um, 1.2 * self.max_um);
        let verdicts: Vec<Verdict> = spots
            .iter()
            .map(|(um, _)| verdict(*um, spot_min_um, spot_max_um))
            .collect();
        let mean = verdict(mean_um, self.min_um, self.max_um);
        Acceptance {
            spot_min_um,
            spot_max_um,
            accepted: mean == Verdict::Within
                && verdicts.iter().all(|spot| *spot == Verdict::Within),
            complete: spots.len() >= SPOTS_PER_AREA
                && spots.iter().all(|(_, count)| *count >= LEAST_READINGS),
            spots: verdicts,
            mean,
        }
    }

    pub(crate) fn check(self, checks: &mut Checks) {
        checks.above("target_min_um", self.min_um, 0.0, 5000.0, "um");
        checks.above("target_max_um", self.max_um, 0.0, 5000.0, "um");
        // NaN is named above.
        let turned = self.max_um < self.min_um;
        checks.require(!turned, "target_max_um", || {
            format!(
                "must not be below target_min_um {}, got {}",
                self.min_um, self.max_um
            )
        });
    }
}

/// A thickness on a limit is within; a rounding error of a limit such as 0.8 x 203.2 is not held
/// against it.
fn verdict(um: f64, low_um: f64, high_um: f64) -> Verdict {
    const ROUNDING_UM: f64 = 1e-9;
    if um < low_um - ROUNDING_UM {
        Verdict::TooThin
    } else if um > high_um + ROUNDING_UM {
        Verdict::TooThick
    } else {
        Verdict::Within
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published example (a slide set on SSPC-PA 2): 8 to 12 mil asks for spots of 6.4 to 14.4 mil.
    #[test]
    fn spots_of_the_published_example() {
        let target = Target {
            min_um: 8.0 * 25.4,
            max_um: 12.0 * 25.4,
        };
        let judged = target.judge(&[(6.4 * 25.4, 3), (14.4 * 25.4, 3)], 10.4 * 25.4);
        assert!((judged.spot_min_um / 25.4 - 6.4).abs() < 1e-12);
        assert!((judged.spot_max_um / 25.4 - 14.4).abs() < 1e-12);
        assert!(judged.accepted && !judged.complete);
        let judged = target.judge(&[(6.3 * 25.4, 3), (14.5 * 25.4, 3)], 10.4 * 25.4);
        assert_eq!(judged.spots, [Verdict::TooThin, Verdict::TooThick]);
        assert!(!judged.accepted);
        // The mean answers to the range itself, without the 20 %.
        assert_eq!(
            target.judge(&[(7.9 * 25.4, 3)], 7.9 * 25.4).mean,
            Verdict::TooThin
        );
    }
}
