//! The answer as one plain sentence, with numbers and units; temperatures in C and F, and rungs
//! counted from 1, as people and the API do.

use super::decide::Wish;
use super::limits::MAX_PASSES_PER_RUNG;
use super::outcome::{Action, Advice, AdviceReason};
use super::setup::{Factor, Setup};
use super::situation::{PassOutcome, Situation};

/// The whole sentence: what to do, why, and how near the limits are.
pub(crate) fn sentence(advice: &Advice, situation: &Situation, wish: Wish) -> String {
    let mut parts = vec![match advice.action {
        Action::Start => start(advice, situation),
        Action::Repeat => repeat(wish, situation),
        Action::StepUp => step_up(advice, wish, situation),
        Action::Stop => format!("stop: {}", why_stop(advice.reason, advice, situation)),
        Action::Done => "done: the last pass cleared the defect".to_owned(),
    }];
    if let Some(reason) = &advice.overridden {
        let passed: Vec<&str> = advice.stops.iter().map(|stop| stop.as_str()).collect();
        parts.push(format!(
            "stop rule {} passed over because: {reason}",
            passed.join(", ")
        ));
    }
    if let Action::Start | Action::Repeat | Action::StepUp = advice.action {
        parts.extend(heat(advice));
        parts.extend(removal(advice));
    }
    parts.join("; ")
}

/// A temperature in both units.
pub(crate) fn both_units(celsius: f64) -> String {
    format!("{celsius:.1} C ({:.1} F)", celsius * 1.8 + 32.0)
}

/// Why a stop rule holds, with its figures.
pub(crate) fn why_stop(reason: AdviceReason, advice: &Advice, situation: &Situation) -> String {
    let cap_rung = advice.cap_rung.map_or(0, from_one);
    match reason {
        AdviceReason::WorseAfterPass => {
            "the last pass made it worse; find out why before another".to_owned()
        }
        AdviceReason::CeilingReached => format!(
            "the panel is at {}, its ceiling is {}; let it cool and measure again",
            both_units(advice.panel_c.unwrap_or(advice.ceiling_c)),
            both_units(advice.ceiling_c)
        ),
        AdviceReason::CeilingPredicted => format!(
            "the panel is at {} and the next pass may pass its ceiling of {}; let it cool and measure \
             again, or choose a milder setup",
            both_units(advice.panel_c.unwrap_or(advice.ceiling_c)),
            both_units(advice.ceiling_c)
        ),
        AdviceReason::RemovalBudget if advice.removal_charge_um.is_some() => format!(
            "with {} % confidence {:.1} um of clear coat may still come off above the floor of {:.1} um, \
             and the next pass is charged {:.1} um",
            advice.floor_confidence_percent.unwrap_or_default(),
            advice.removal_budget_um.unwrap_or_default().max(0.0),
            advice.floor_um,
            advice.removal_charge_um.unwrap_or_default()
        ),
        AdviceReason::RemovalBudget => format!(
            "{:.1} um of clear coat may still come off above the floor of {:.1} um, and the next \
             pass is expected to take {:.1} um",
            advice.removal_budget_um.unwrap_or_default().max(0.0),
            advice.floor_um,
            advice.expected_removal_um.unwrap_or_default()
        ),
        AdviceReason::ThicknessUnknownCap => format!(
            "the clear coat's thickness is unknown, so rung {cap_rung} is the last; measure it first"
        ),
        AdviceReason::EdgeCap => {
            format!("at an edge, where paint is thin, rung {cap_rung} is the last")
        }
        AdviceReason::SubstrateCap => {
            format!("on this material, which holds heat, rung {cap_rung} is the last")
        }
        AdviceReason::GoalCap => {
            format!("rung {cap_rung} is the last that adds warmth and no cut")
        }
        AdviceReason::TimeShort => "the next pass takes more time than is left".to_owned(),
        AdviceReason::TopOfLadder => {
            format!(
                "rung {} is the top of the ladder",
                situation.ladder.rungs().len()
            )
        }
        AdviceReason::StartLeastAggressive
        | AdviceReason::ImprovedRepeat
        | AdviceReason::RepeatsUsedUp
        | AdviceReason::UnchangedStepUp
        | AdviceReason::LeastExpectedToReachGoal
        | AdviceReason::NotEnoughAtThisRung
        | AdviceReason::WarmthShort
        | AdviceReason::DefectCleared => "no stop rule holds".to_owned(),
    }
}

/// The number of a rung for people.
fn from_one(rung: usize) -> usize {
    rung + 1
}

fn start(advice: &Advice, situation: &Situation) -> String {
    let setup = advice.setup.as_ref().map(in_full).unwrap_or_default();
    let top = situation.ladder.rungs().len();
    match advice.rung {
        Some(rung) if rung > 0 => format!(
            "start at rung {} of {top}, the least aggressive that is expected to do: {setup}",
            from_one(rung)
        ),
        Some(_) | None => format!("start at rung 1 of {top}, the least aggressive: {setup}"),
    }
}

fn repeat(wish: Wish, situation: &Situation) -> String {
    let improving = situation
        .place
        .filter(|place| place.outcome == PassOutcome::Improved);
    let why = match improving {
        Some(_) | None if wish.reason == AdviceReason::LeastExpectedToReachGoal => {
            "the passes that it has left are expected to do".to_owned()
        }
        Some(place) if wish.reason == AdviceReason::ImprovedRepeat => format!(
            "it improves the panel, pass {} of {MAX_PASSES_PER_RUNG} here",
            place.in_a_row + 1
        ),
        Some(_) | None => "no harder than what was done last".to_owned(),
    };
    format!("repeat rung {}: {why}", from_one(wish.rung))
}

fn step_up(advice: &Advice, wish: Wish, situation: &Situation) -> String {
    let rungs = situation.ladder.rungs();
    let from = wish.rung.checked_sub(1).and_then(|below| rungs.get(below));
    let change = match (advice.changed, from, &advice.setup) {
        (Some(factor), Some(from), Some(to)) => format!(
            "{} from {} to {}, all else as before",
            factor.word(),
            value(&from.setup, factor),
            value(to, factor)
        ),
        (Some(_) | None, Some(_) | None, Some(_) | None) => String::new(),
    };
    let size = advice.step.map_or("", |step| step.word());
    let why = match wish.reason {
        AdviceReason::RepeatsUsedUp => {
            format!("after {MAX_PASSES_PER_RUNG} passes or more on the rung below")
        }
        AdviceReason::NotEnoughAtThisRung => {
            "as more passes on the rung below are not expected to do".to_owned()
        }
        AdviceReason::WarmthShort => {
            "as more passes on the rung below are not expected to warm the panel enough".to_owned()
        }
        AdviceReason::StartLeastAggressive
        | AdviceReason::ImprovedRepeat
        | AdviceReason::UnchangedStepUp
        | AdviceReason::DefectCleared
        | AdviceReason::LeastExpectedToReachGoal
        | AdviceReason::WorseAfterPass
        | AdviceReason::CeilingReached
        | AdviceReason::CeilingPredicted
        | AdviceReason::RemovalBudget
        | AdviceReason::ThicknessUnknownCap
        | AdviceReason::EdgeCap
        | AdviceReason::SubstrateCap
        | AdviceReason::GoalCap
        | AdviceReason::TimeShort
        | AdviceReason::TopOfLadder => "as the last pass changed nothing".to_owned(),
    };
    format!(
        "step up one {size} step to rung {} {why}: {change}",
        from_one(wish.rung)
    )
}

fn heat(advice: &Advice) -> Option<String> {
    let (panel_c, headroom_k) = advice.panel_c.zip(advice.headroom_k)?;
    let side = if headroom_k < 0.0 { "above" } else { "below" };
    let by_k = headroom_k.abs();
    let mut text = format!(
        "panel at {}, {by_k:.1} K ({:.1} F) {side} the ceiling of {}",
        both_units(panel_c),
        by_k * 1.8,
        both_units(advice.ceiling_c)
    );
    if let Some(predicted_c) = advice.predicted_panel_c {
        text.push_str(&format!(
            ", {} expected after the pass",
            both_units(predicted_c)
        ));
    }
    Some(text)
}

fn removal(advice: &Advice) -> Option<String> {
    let budget_um = advice.removal_budget_um?;
    let next_um = advice.expected_removal_um?;
    Some(format!(
        "{budget_um:.1} um of clear coat may still come off, about {next_um:.1} um expected of the pass"
    ))
}

fn in_full(setup: &Setup) -> String {
    [Factor::Machine, Factor::Pad, Factor::Liquid]
        .map(|factor| value(setup, factor))
        .into_iter()
        .chain([format!("speed {}", setup.speed_level)])
        .chain([Factor::Pressure, Factor::Time].map(|factor| value(setup, factor)))
        .collect::<Vec<_>>()
        .join(", ")
}

fn value(setup: &Setup, factor: Factor) -> String {
    match factor {
        Factor::Machine => setup.machine.name.clone(),
        Factor::Pad => setup.pad.name.clone(),
        Factor::Liquid => setup.liquid.name.clone(),
        Factor::Speed => setup.speed_level.to_string(),
        Factor::Pressure => format!("{} kPa", setup.pressure_kpa),
        Factor::Time => format!("{} s", setup.seconds),
    }
}
