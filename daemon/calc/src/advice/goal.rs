//! What the passes are for, and which pass that asks for, before any stop rule.
//!
//! The pass is the least aggressive that is expected to reach the goal: with an even chance or better,
//! within the passes that a rung has left and the time, and within the removal budget. From one pass to
//! the next at most one factor changes, by one rung; only the first pass may be above the lowest rung.

use super::decide::Wish;
use super::limits::{self, MAX_PASSES_PER_RUNG};
use super::outcome::{Action, AdviceReason};
use super::outlook::Beliefs;
use super::situation::{PassOutcome, Place, Situation};

/// What the passes are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Goal {
    /// Remove a defect by taking off clear coat.
    RemoveDefect,
    /// Warm the panel so that its clear coat levels, taking off as little as can be.
    WarmAndLevel,
}

impl Goal {
    /// Stable text form, in UPPER_SNAKE_CASE.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::RemoveDefect => "REMOVE_DEFECT",
            Self::WarmAndLevel => "WARM_AND_LEVEL",
        }
    }
}

/// The pass that the goal asks for, when enough is known: a depth to remove, or a temperature to start
/// from. Otherwise, and after a pass that cleared or worsened it, the plain rules decide.
pub(crate) fn wish(situation: &Situation, beliefs: &Beliefs) -> Option<Wish> {
    match situation.last_outcome {
        Some(PassOutcome::Cleared | PassOutcome::Worse) => return None,
        Some(PassOutcome::Improved | PassOutcome::Unchanged) | None => {}
    }
    if beliefs.target_c.is_some() {
        warm(situation, beliefs, situation.place?)
    } else if beliefs.depth.is_some() {
        Some(match situation.place {
            Some(place) => remove(situation, beliefs, place),
            None => start(situation, beliefs),
        })
    } else {
        None
    }
}

/// The lowest rung that is expected to clear the defect in its passes. When none is: the highest whose
/// passes fit the budget together, so that it is improved as far as may be.
fn start(situation: &Situation, beliefs: &Beliefs) -> Wish {
    let top = situation.ladder.rungs().len() - 1;
    let top = situation.cap.map_or(top, |cap| cap.rung.min(top));
    let can = |rung: &usize| {
        usable(situation, beliefs, *rung)
            && beliefs
                .outlook(situation, *rung)
                .is_some_and(|outlook| !outlook.over_ceiling)
    };
    // The chance rises from rung to rung, so that the lowest is found by halving. A ladder whose chance
    // does not rise is climbed from below by the passes that follow.
    let mut low = 0;
    let mut high = top + 1;
    while low < high {
        let middle = low.midpoint(high);
        if reaches(situation, beliefs, middle, 0) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    let first = Some(low).filter(|rung| *rung <= top && can(rung));
    let rung = first.unwrap_or_else(|| {
        let fits = |rung: &usize| can(rung) && together_within_budget(situation, beliefs, *rung);
        (0..=low.min(top)).rev().find(fits).unwrap_or(0)
    });
    Wish {
        action: Action::Start,
        rung,
        reason: if rung == 0 {
            AdviceReason::StartLeastAggressive
        } else {
            AdviceReason::LeastExpectedToReachGoal
        },
    }
}

fn remove(situation: &Situation, beliefs: &Beliefs, place: Place) -> Wish {
    let repeat = |reason| Wish {
        action: Action::Repeat,
        rung: place.rung,
        reason,
    };
    let step_up = |reason| Wish {
        action: Action::StepUp,
        rung: place.rung + 1,
        reason,
    };
    let used_up = place.in_a_row >= MAX_PASSES_PER_RUNG;
    if place.outcome == PassOutcome::Unchanged {
        step_up(AdviceReason::UnchangedStepUp)
    } else if used_up {
        step_up(AdviceReason::RepeatsUsedUp)
    } else if reaches(situation, beliefs, place.rung, place.in_a_row) {
        repeat(AdviceReason::LeastExpectedToReachGoal)
    } else if within_cap(situation, place.rung + 1) && usable(situation, beliefs, place.rung + 1) {
        step_up(AdviceReason::NotEnoughAtThisRung)
    } else {
        repeat(AdviceReason::ImprovedRepeat)
    }
}

fn warm(situation: &Situation, beliefs: &Beliefs, place: Place) -> Option<Wish> {
    let panel_c = situation.panel_c?;
    let target_c = beliefs.target_c?;
    let setup = &situation.ladder.rungs().get(place.rung)?.setup;
    let left = beliefs.passes_left(situation, place.rung, place.in_a_row);
    let reached_c = beliefs
        .heat
        .predict(panel_c, f64::from(left) * beliefs.rise_k(setup))
        .expected_c;
    let warm_enough = left > 0 && reached_c >= target_c;
    let can_step = within_cap(situation, place.rung + 1)
        && usable(situation, beliefs, place.rung + 1)
        && beliefs
            .outlook(situation, place.rung + 1)
            .is_some_and(|outlook| !outlook.over_ceiling);
    Some(if warm_enough || (left > 0 && !can_step) {
        Wish {
            action: Action::Repeat,
            rung: place.rung,
            reason: AdviceReason::LeastExpectedToReachGoal,
        }
    } else {
        Wish {
            action: Action::StepUp,
            rung: place.rung + 1,
            reason: if left == 0 {
                AdviceReason::RepeatsUsedUp
            } else {
                AdviceReason::WarmthShort
            },
        }
    })
}

/// Whether the passes that a rung has left are expected to reach the goal.
fn reaches(situation: &Situation, beliefs: &Beliefs, rung: usize, made: usize) -> bool {
    let left = beliefs.passes_left(situation, rung, made);
    left > 0
        && beliefs
            .chance(situation, rung, left)
            .is_some_and(|chance| chance >= 0.5)
}

/// Whether a rung exists and its next pass fits budget and time. Heat is left aside: a panel cools.
fn usable(situation: &Situation, beliefs: &Beliefs, rung: usize) -> bool {
    beliefs
        .outlook(situation, rung)
        .is_some_and(|outlook| !outlook.over_budget && !outlook.out_of_time)
}

fn within_cap(situation: &Situation, rung: usize) -> bool {
    situation.cap.is_none_or(|cap| rung <= cap.rung)
}

fn together_within_budget(situation: &Situation, beliefs: &Beliefs, rung: usize) -> bool {
    let Some(budget_um) = beliefs.budget_um else {
        return true;
    };
    let setup = situation.ladder.rungs().get(rung).map(|rung| &rung.setup);
    let prior_um = setup.map_or(f64::INFINITY, limits::prior_removal_um);
    f64::from(beliefs.passes_left(situation, rung, 0)) * prior_um <= budget_um
}
