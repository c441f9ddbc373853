//! Limits that stop a ladder: temperature ceilings, caps by what is unknown or delicate, the clear
//! coat's floor, and the removal expected of a pass. All figures: common practice, no source.

use super::goal::Goal;
use super::ladder::Ladder;
use super::outcome::AdviceReason;
use super::setup::{Factor, Setup};
use crate::gauge::Substrate;

/// Clear coat that must stay, in um, when the shop states no floor. Common practice, no source.
pub const DEFAULT_FLOOR_UM: f64 = 30.0;
/// Passes on one rung, the first included, while each improves the panel; then the next step is due.
/// Common practice, no source.
pub const MAX_PASSES_PER_RUNG: usize = 3;
/// Standard uncertainty of a stated clear-coat thickness, in um, when there is a goal and none is
/// given. Common practice, no source.
pub const DEFAULT_CLEAR_SD_UM: f64 = 3.0;
/// Confidence that the floor is kept, in percent, when there is a goal and none is given. At 95 some 4 in
/// 1000 simulated panels ended below their floor, at 99 up to 1, at this fewer (`examples/simulate`).
pub const DEFAULT_FLOOR_CONFIDENCE_PERCENT: f64 = 99.5;
/// How far below the ceiling a clear coat levels, in K, when no temperature is given. Common practice,
/// no source.
pub const LEVEL_BELOW_CEILING_K: f64 = 5.0;
/// Taken off the default ceiling at an edge or body line, in K: little metal to carry heat away.
/// Common practice, no source.
pub const EDGE_CEILING_DROP_K: f64 = 5.0;
/// A temperature this near the ceiling is at it, in K; finer than any surface thermometer reads.
pub const CEILING_TOLERANCE_K: f64 = 0.05;

/// Removal of the mildest setup per pass, in um: every level 1, dial 2, 2 kPa, 30 s.
const MILDEST_REMOVAL_UM: f64 = 0.1;
/// Removal grows by this for each level of machine, pad and liquid.
const REMOVAL_PER_LEVEL: f64 = 1.4;

/// The hottest a panel's surface may get, in C, when the shop states no ceiling: 50 on metal, 40 on
/// composite, plastic and what is unknown, 5 K less at an edge. Common practice, no source.
#[must_use]
pub fn default_ceiling_c(substrate: Substrate, edge: bool) -> f64 {
    let flat_c = match substrate {
        Substrate::Steel | Substrate::Aluminium => 50.0,
        Substrate::Composite | Substrate::Plastic | Substrate::Unknown => 40.0,
    };
    if edge {
        flat_c - EDGE_CEILING_DROP_K
    } else {
        flat_c
    }
}

/// The highest rung that may be advised, and why it is the highest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cap {
    /// Highest rung allowed, from 0.
    pub rung: usize,
    /// Why.
    pub reason: AdviceReason,
}

/// The cap that applies, if any. Common practice, no source:
/// - unknown thickness: the last rung before liquid or machine change, and on anything but metal
///   the last before any full step;
/// - edge: the last rung before any full step;
/// - composite, plastic, unknown material: the last rung before the machine changes;
/// - to warm and level: the last rung before any full step, as more cut does not level.
#[must_use]
pub fn cap(
    ladder: &Ladder,
    substrate: Substrate,
    edge: bool,
    thickness_known: bool,
    goal: Option<Goal>,
) -> Option<Cap> {
    const ANY_FULL: &[Factor] = &[Factor::Machine, Factor::Pad, Factor::Liquid];
    let delicate = match substrate {
        Substrate::Steel | Substrate::Aluminium => false,
        Substrate::Composite | Substrate::Plastic | Substrate::Unknown => true,
    };
    let unmeasured = if delicate {
        ANY_FULL
    } else {
        &[Factor::Machine, Factor::Liquid]
    };
    [
        (
            !thickness_known,
            unmeasured,
            AdviceReason::ThicknessUnknownCap,
        ),
        (edge, ANY_FULL, AdviceReason::EdgeCap),
        (delicate, &[Factor::Machine], AdviceReason::SubstrateCap),
        (
            goal == Some(Goal::WarmAndLevel),
            ANY_FULL,
            AdviceReason::GoalCap,
        ),
    ]
    .into_iter()
    .filter(|(applies, _, _)| *applies)
    .map(|(_, factors, reason)| Cap {
        rung: ladder.last_before(factors),
        reason,
    })
    // On a tie the first in the list above, which says most about what to do.
    .min_by_key(|cap| cap.rung)
}

/// Removal expected of one pass before anything was measured, in um.
///
/// Proportional to speed, pressure and time, as Preston's relation has it (dh/dt = k p v); the scale and
/// the factor per level are common practice, no source. It errs high on purpose at the upper end.
#[must_use]
pub fn prior_removal_um(setup: &Setup) -> f64 {
    let levels = [&setup.machine, &setup.pad, &setup.liquid];
    let steps: f64 = levels
        .iter()
        .map(|choice| f64::from(choice.level) - 1.0)
        .sum();
    MILDEST_REMOVAL_UM
        * REMOVAL_PER_LEVEL.powf(steps)
        * (f64::from(setup.speed_level) / 2.0)
        * (setup.pressure_kpa / 2.0)
        * (setup.seconds / 30.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn removal_rises_with_every_rung_in_proportion_to_the_half_steps() {
        let ladder = Ladder::default();
        let removal: Vec<f64> = ladder
            .rungs()
            .iter()
            .map(|r| prior_removal_um(&r.setup))
            .collect();
        assert!(
            removal.windows(2).all(|pair| pair[1] > pair[0]),
            "{removal:?}"
        );
        // Preston 1927 (check values, section 4): dial 2 to 3, 30 to 45 s and 2 to 3 kPa are each
        // half as much again.
        for rung in 0..3 {
            assert!((removal[rung + 1] / removal[rung] - 1.5).abs() < 1e-12);
        }
    }

    #[test]
    fn delicate_panels_and_edges_are_held_tighter() {
        let ladder = Ladder::default();
        let capped = |substrate, edge, known| cap(&ladder, substrate, edge, known, None);
        let at = |rung, reason| Some(Cap { rung, reason });
        assert_eq!(capped(Substrate::Steel, false, true), None);
        assert_eq!(
            capped(Substrate::Steel, false, false),
            at(6, AdviceReason::ThicknessUnknownCap)
        );
        assert_eq!(
            capped(Substrate::Aluminium, true, true),
            at(3, AdviceReason::EdgeCap)
        );
        assert_eq!(
            capped(Substrate::Composite, false, false),
            at(3, AdviceReason::ThicknessUnknownCap)
        );
        assert_eq!(
            capped(Substrate::Plastic, false, true),
            at(11, AdviceReason::SubstrateCap)
        );
        let level = Some(Goal::WarmAndLevel);
        assert_eq!(
            cap(&ladder, Substrate::Steel, false, true, level),
            at(3, AdviceReason::GoalCap)
        );
        let ceiling = default_ceiling_c;
        assert!(ceiling(Substrate::Composite, false) < ceiling(Substrate::Steel, false));
        assert!(ceiling(Substrate::Steel, true) < ceiling(Substrate::Steel, false));
    }
}
