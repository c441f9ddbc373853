//! The passes that were weighed, each with what it is expected to do and why it was or was not taken.

use super::decide::Wish;
use super::outcome::Action;
use super::outlook::{Beliefs, Outlook};
use super::setup::{Factor, Setup, StepSize};
use super::situation::Situation;
use std::cmp::Ordering;

/// One pass that was weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct Alternative {
    /// Rung, from 0.
    pub rung: usize,
    /// What is set.
    pub setup: Setup,
    /// The one factor that changes against the pass before; absent for a repeat or a first pass.
    pub changed: Option<Factor>,
    /// How big that change is.
    pub step: Option<StepSize>,
    /// Mean of its removal, in um.
    pub removal_um: f64,
    /// The removal's middle 90 %, in um.
    pub removal_90_um: (f64, f64),
    /// What the removal budget is charged with, in um; absent when the thickness is unknown.
    pub charge_um: Option<f64>,
    /// Panel temperature expected at its end, in C; absent when none was measured.
    pub panel_c: Option<f64>,
    /// Its middle 90 %, in C.
    pub panel_90_c: Option<(f64, f64)>,
    /// Time that it takes on one section, in s.
    pub seconds: f64,
    /// Fewest passes with an even chance or better to reach the goal, up to 12; absent when more, or
    /// when nothing is known that it could rest on.
    pub expected_passes: Option<u32>,
    /// Passes that the rung has left, for which `chance` is stated.
    pub passes_left: u32,
    /// Chance, 0 to 1, that those reach the goal; absent when nothing is known that it could rest on.
    pub chance: Option<f64>,
    /// Why it was taken or not, never empty.
    pub reasons: Vec<AlternativeReason>,
}

/// What speaks for or against a pass. The text form is stable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AlternativeReason {
    /// It is the advised one.
    Advised,
    /// It is what the goal or the rules ask for, and a stop rule holds.
    AskedForAndStopped,
    /// The passes that it has left are expected to reach the goal.
    ReachesGoal,
    /// They are not.
    FallsShort,
    /// A milder one does, or is due first.
    MilderFirst,
    /// It is milder than the pass before, which did not do.
    MilderThanBefore,
    /// It is not sure to keep the clear coat's floor.
    OverRemovalBudget,
    /// It may pass the ceiling.
    OverCeiling,
    /// It does not fit the time left.
    OutOfTime,
    /// A cap keeps the ladder below it.
    AboveCap,
}

impl AlternativeReason {
    /// Stable text form, in UPPER_SNAKE_CASE.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Advised => "ADVISED",
            Self::AskedForAndStopped => "ASKED_FOR_AND_STOPPED",
            Self::ReachesGoal => "REACHES_GOAL",
            Self::FallsShort => "FALLS_SHORT",
            Self::MilderFirst => "MILDER_FIRST",
            Self::MilderThanBefore => "MILDER_THAN_BEFORE",
            Self::OverRemovalBudget => "OVER_REMOVAL_BUDGET",
            Self::OverCeiling => "OVER_CEILING",
            Self::OutOfTime => "OUT_OF_TIME",
            Self::AboveCap => "ABOVE_CAP",
        }
    }
}

/// The rung asked for and its neighbours, ranked. None when the work is done.
pub(crate) fn weigh(
    situation: &Situation,
    beliefs: &Beliefs,
    wish: Wish,
    advised: Option<usize>,
) -> Vec<Alternative> {
    if wish.action == Action::Done {
        return Vec::new();
    }
    let weighing = Weighing {
        situation,
        beliefs,
        wish,
        advised,
    };
    let around = situation.place.map_or(wish.rung, |place| place.rung);
    let mut weighed: Vec<Alternative> = (around.saturating_sub(1)..=around + 1)
        .filter_map(|rung| weighing.one(rung))
        .collect();
    weighed.sort_by_key(|alternative| {
        let ruled_out = alternative.reasons.iter().any(|reason| reason.rules_out());
        (
            advised != Some(alternative.rung),
            ruled_out,
            alternative.rung,
        )
    });
    weighed
}

/// What every pass is weighed by.
struct Weighing<'a> {
    situation: &'a Situation,
    beliefs: &'a Beliefs,
    wish: Wish,
    advised: Option<usize>,
}

impl AlternativeReason {
    fn rules_out(self) -> bool {
        match self {
            Self::OverRemovalBudget | Self::OverCeiling | Self::OutOfTime | Self::AboveCap => true,
            Self::Advised
            | Self::AskedForAndStopped
            | Self::ReachesGoal
            | Self::FallsShort
            | Self::MilderFirst
            | Self::MilderThanBefore => false,
        }
    }
}

impl Weighing<'_> {
    /// One more pass at a rung; `None` above the ladder.
    fn one(&self, rung: usize) -> Option<Alternative> {
        let (situation, beliefs) = (self.situation, self.beliefs);
        let outlook = beliefs.outlook(situation, rung)?;
        let at = situation.ladder.rungs().get(rung)?;
        let place = situation.place;
        let made = place.filter(|place| place.rung == rung);
        let made = made.map_or(0, |place| place.in_a_row);
        let passes_left = beliefs.passes_left(situation, rung, made);
        let chance = beliefs.chance(situation, rung, passes_left);
        // Against the pass before: up by this rung's step, down by that of the rung above.
        let step = place.and_then(|place| match rung.cmp(&place.rung) {
            Ordering::Greater => at.step,
            Ordering::Less => situation.ladder.rungs().get(rung + 1)?.step,
            Ordering::Equal => None,
        });
        Some(Alternative {
            rung,
            setup: at.setup.clone(),
            changed: step.map(|step| step.factor),
            step: step.map(|step| step.size),
            removal_um: outlook.removal.mean_um(),
            removal_90_um: outlook.removal.interval_90_um(),
            charge_um: outlook.charge_um,
            panel_c: outlook.temperature.map(|after| after.expected_c),
            panel_90_c: outlook.temperature.map(|after| after.interval_90_c()),
            seconds: outlook.seconds,
            expected_passes: beliefs.expected_passes(situation, rung),
            passes_left,
            chance,
            reasons: self.reasons(rung, &outlook, chance),
        })
    }

    fn reasons(
        &self,
        rung: usize,
        outlook: &Outlook,
        chance: Option<f64>,
    ) -> Vec<AlternativeReason> {
        let asked_for = rung == self.wish.rung;
        let above_cap = self.situation.cap.is_some_and(|cap| rung > cap.rung);
        let milder = self.situation.place.is_some() && rung < self.wish.rung;
        [
            (self.advised == Some(rung), AlternativeReason::Advised),
            (
                asked_for && self.advised.is_none(),
                AlternativeReason::AskedForAndStopped,
            ),
            (outlook.over_budget, AlternativeReason::OverRemovalBudget),
            (outlook.over_ceiling, AlternativeReason::OverCeiling),
            (outlook.out_of_time, AlternativeReason::OutOfTime),
            (above_cap, AlternativeReason::AboveCap),
            (
                chance.is_some_and(|chance| chance >= 0.5),
                AlternativeReason::ReachesGoal,
            ),
            (
                chance.is_some_and(|chance| chance < 0.5),
                AlternativeReason::FallsShort,
            ),
            (rung > self.wish.rung, AlternativeReason::MilderFirst),
            (milder, AlternativeReason::MilderThanBefore),
        ]
        .into_iter()
        .filter_map(|(holds, reason)| holds.then_some(reason))
        .collect()
    }
}
