//! The decision: which pass the record asks for, which stop rules hold, and what follows.
//!
//! The rules (common practice, no source): start at the lowest rung; never jump over one; while a
//! pass improves the panel stay, up to a stated number of passes; when it changes nothing go up one
//! rung; when it makes things worse stop. A stop rule is passed over only with a reason given.

use super::alternatives::weigh;
use super::cautions::cautions;
use super::explain::explain;
use super::goal;
use super::ladder::Step;
use super::limits::MAX_PASSES_PER_RUNG;
use super::outcome::{Action, Advice, AdviceReason};
use super::outlook::Beliefs;
use super::situation::{AdviceInput, PassOutcome, Situation, check};
use super::words::sentence;
use crate::error::CalcError;

const LEAD_MODEL: &str = "removal: prior in proportion to speed, pressure and time, times the panel's \
                          hardness and the setup's own factor, lognormal, updated by readings and \
                          outcomes; temperature: prior rise linear in flux and time times the panel's \
                          factor, updated by rises seen; floor and ceiling kept with the stated confidence, the ceiling's 95 %";
const MODEL: &str = "temperature: the last rise between two passes is repeated; removal: prior in \
                     proportion to speed, pressure and time, raised to what was measured";

/// The pass that the record asks for, before any stop rule.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wish {
    pub(crate) action: Action,
    /// Rung of the pass; one past the ladder when there is none left.
    pub(crate) rung: usize,
    pub(crate) reason: AdviceReason,
}

/// Advises the next pass.
///
/// Of the stop rules, the ceiling needs a panel temperature and the removal budget a clear-coat
/// thickness; without them a caution says so and, for the thickness, the ladder is capped. A pass
/// with a setup that is not on the ladder counts for heat and removal and may end the work, but does
/// not move the place on the ladder.
///
/// # Errors
/// [`CalcError::Invalid`] with every value out of its stated range (see [`AdviceInput`]), a rung that
/// the ladder does not have, or a blank override reason.
pub fn advise(input: &AdviceInput) -> Result<Advice, CalcError> {
    check(input)?;
    let mut situation = Situation::of(input);
    let beliefs = Beliefs::of(input, &situation);
    situation.skipped &= !started_as_advised(input, &situation);
    let wish = goal::wish(&situation, &beliefs).unwrap_or_else(|| wish(&situation));
    let stops = stops(input, &situation, &beliefs, wish);
    // No reason given can make a rung that is not there.
    let passable = !stops.contains(&AdviceReason::TopOfLadder);
    let overridden = input
        .override_reason
        .clone()
        .filter(|_| passable && !stops.is_empty());
    let (action, reason) = match stops.first() {
        Some(stop) if overridden.is_none() => (Action::Stop, *stop),
        Some(_) | None => (wish.action, wish.reason),
    };
    let next = match action {
        Action::Start | Action::Repeat | Action::StepUp => Some(wish.rung),
        Action::Stop | Action::Done => None,
    };
    let rung = next.and_then(|rung| situation.ladder.rungs().get(rung));
    let step: Option<Step> = match action {
        Action::StepUp => rung.and_then(|rung| rung.step),
        Action::Start | Action::Repeat | Action::Stop | Action::Done => None,
    };
    let mut advice = Advice {
        action,
        rung: next,
        setup: rung.map(|rung| rung.setup.clone()),
        changed: step.map(|step| step.factor),
        step: step.map(|step| step.size),
        reason,
        stops,
        sentence: String::new(),
        cap_rung: situation.cap.map(|cap| cap.rung),
        ceiling_c: situation.ceiling_c,
        panel_c: situation.panel_c,
        headroom_k: situation.headroom_k,
        predicted_panel_c: situation.predicted_c.filter(|_| next.is_some()),
        floor_um: situation.floor_um,
        removed_um: situation.removed_um,
        removed_assumed_um: situation.removed_assumed_um,
        removal_budget_um: situation.budget_um,
        expected_removal_um: situation.expected_removal_um(wish.rung),
        removal_charge_um: None,
        floor_confidence_percent: None,
        goal: input.goal,
        clear_sd_um: beliefs.clear_um.map(|(_, sd_um)| sd_um),
        target_c: beliefs.target_c,
        alternatives: weigh(&situation, &beliefs, wish, next),
        explain: Vec::new(),
        overridden,
        model: MODEL,
        cautions: Vec::new(),
    };
    if beliefs.lead {
        lead(&mut advice, &situation, &beliefs, wish);
    }
    if wish.action == Action::Done {
        advice.expected_removal_um = None;
        advice.removal_charge_um = None;
    }
    advice.explain = explain(input, &situation, &beliefs, &advice.alternatives);
    advice.sentence = sentence(&advice, &situation, wish);
    advice.cautions = cautions(input, &advice, &situation, &beliefs);
    Ok(advice)
}

/// Puts what is believed in the place of what the plain rules count.
fn lead(advice: &mut Advice, situation: &Situation, beliefs: &Beliefs, wish: Wish) {
    let outlook = beliefs.outlook(situation, wish.rung);
    advice.model = LEAD_MODEL;
    advice.removed_um = beliefs.removed_um.0;
    advice.removed_assumed_um = beliefs.removal.unread_um();
    advice.removal_budget_um = beliefs.budget_um;
    advice.expected_removal_um = outlook.map(|outlook| outlook.removal.mean_um());
    advice.floor_confidence_percent = (beliefs.clear_um).map(|_| beliefs.floor_confidence_percent);
    advice.removal_charge_um = outlook.and_then(|outlook| outlook.charge_um);
    if advice.rung.is_some() {
        let after = outlook.and_then(|outlook| outlook.temperature);
        advice.predicted_panel_c = after.map(|after| after.expected_c);
    }
}

/// Whether a first pass above the lowest rung was where the goal asks to start, and every pass after it
/// went up rung by rung.
fn started_as_advised(input: &AdviceInput, situation: &Situation) -> bool {
    if !situation.skipped || input.goal.is_none() {
        return false;
    }
    let start = AdviceInput {
        passes: Vec::new(),
        panel_now_c: input.passes.first().and_then(|pass| pass.start_c),
        ..input.clone()
    };
    let unstarted = Situation::of(&start);
    let beliefs = Beliefs::of(&start, &unstarted);
    goal::wish(&unstarted, &beliefs).is_some_and(|wish| !situation.skips_from(wish.rung))
}

fn wish(situation: &Situation) -> Wish {
    if situation.last_outcome == Some(PassOutcome::Cleared) {
        return Wish {
            action: Action::Done,
            rung: situation.place.map_or(0, |place| place.rung),
            reason: AdviceReason::DefectCleared,
        };
    }
    let Some(place) = situation.place else {
        return Wish {
            action: Action::Start,
            rung: 0,
            reason: AdviceReason::StartLeastAggressive,
        };
    };
    let repeat = Wish {
        action: Action::Repeat,
        rung: place.rung,
        reason: AdviceReason::ImprovedRepeat,
    };
    let step_up = |reason| Wish {
        action: Action::StepUp,
        rung: place.rung + 1,
        reason,
    };
    if situation.last_outcome == Some(PassOutcome::Worse) {
        // Only reached with an override: then no harder than before.
        return Wish {
            reason: AdviceReason::WorseAfterPass,
            ..repeat
        };
    }
    match place.outcome {
        PassOutcome::Improved if place.in_a_row >= MAX_PASSES_PER_RUNG => {
            step_up(AdviceReason::RepeatsUsedUp)
        }
        // Cleared or worse, and then a pass off the ladder: what it left is not known to need more.
        PassOutcome::Improved | PassOutcome::Cleared | PassOutcome::Worse => repeat,
        PassOutcome::Unchanged => step_up(AdviceReason::UnchangedStepUp),
    }
}

/// Every stop rule that holds, most pressing first.
fn stops(
    input: &AdviceInput,
    situation: &Situation,
    beliefs: &Beliefs,
    wish: Wish,
) -> Vec<AdviceReason> {
    if wish.action == Action::Done {
        return Vec::new();
    }
    let outlook = beliefs.outlook(situation, wish.rung);
    let over_budget = if beliefs.lead {
        outlook.map_or_else(
            || beliefs.budget_um.is_some_and(|budget_um| budget_um <= 0.0),
            |outlook| outlook.over_budget,
        )
    } else {
        situation.budget_um.is_some_and(|budget_um| {
            budget_um <= 0.0
                || situation
                    .expected_removal_um(wish.rung)
                    .is_some_and(|next_um| next_um > budget_um)
        })
    };
    let beyond_cap = situation.cap.filter(|cap| wish.rung > cap.rung);
    let too_hot = input.goal.is_some() && outlook.is_some_and(|outlook| outlook.over_ceiling);
    let rungs = situation.ladder.rungs().len();
    [
        (situation.last_outcome == Some(PassOutcome::Worse))
            .then_some(AdviceReason::WorseAfterPass),
        situation
            .at_ceiling()
            .then_some(AdviceReason::CeilingReached),
        over_budget.then_some(AdviceReason::RemovalBudget),
        beyond_cap.map(|cap| cap.reason),
        (too_hot && !situation.at_ceiling()).then_some(AdviceReason::CeilingPredicted),
        outlook
            .is_some_and(|outlook| outlook.out_of_time)
            .then_some(AdviceReason::TimeShort),
        (wish.rung >= rungs).then_some(AdviceReason::TopOfLadder),
    ]
    .into_iter()
    .flatten()
    .collect()
}
