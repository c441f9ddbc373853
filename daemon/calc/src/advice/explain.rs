//! The sums behind the answer, one plain line each; rungs counted from 1, temperatures in C and F.

use super::alternatives::Alternative;
use super::outlook::Beliefs;
use super::situation::{AdviceInput, Situation};
use super::words::both_units;

/// The lines: what is believed, what is left, and each pass that was weighed.
pub(crate) fn explain(
    input: &AdviceInput,
    situation: &Situation,
    beliefs: &Beliefs,
    weighed: &[Alternative],
) -> Vec<String> {
    let mut lines = vec![goal(input, beliefs)];
    lines.push(hardness(input, beliefs));
    lines.extend(budget(situation, beliefs));
    lines.extend(depth(beliefs, input));
    lines.push(heat(situation, beliefs));
    lines.extend(
        beliefs
            .time_left_s
            .map(|left_s| format!("time: {left_s:.0} s left")),
    );
    lines.extend(weighed.iter().map(line));
    lines
}

fn goal(input: &AdviceInput, beliefs: &Beliefs) -> String {
    match (input.goal, beliefs.target_c) {
        (Some(goal), Some(target_c)) => format!(
            "goal: {}; the clear coat is taken to level from {}",
            goal.as_str(),
            both_units(target_c)
        ),
        (Some(goal), None) if beliefs.depth.is_none() => format!(
            "goal: {}; no depth was estimated, so the plain rules choose the rung",
            goal.as_str()
        ),
        (Some(goal), None) => format!("goal: {}", goal.as_str()),
        (None, _) => "goal: none given; the plain rules choose the rung".to_owned(),
    }
}

fn hardness(input: &AdviceInput, beliefs: &Beliefs) -> String {
    let read = (input.passes.iter())
        .filter(|pass| pass.removal_um.is_some())
        .count();
    let (factor, log_sd) = beliefs.removal.hardness();
    format!(
        "removal: this panel gives {factor:.2} times the prior (times or over {:.2}), from {} passes, {read} \
         of them measured",
        log_sd.exp(),
        input.passes.len()
    )
}

fn budget(situation: &Situation, beliefs: &Beliefs) -> Option<String> {
    let (clear_um, clear_sd_um) = beliefs.clear_um?;
    let (removed_um, removed_sd_um) = beliefs.removed_um;
    let budget_um = beliefs.budget_um?;
    let used = if beliefs.lead {
        ""
    } else {
        " (shown only: no goal and no uncertainty were given)"
    };
    Some(format!(
        "budget: {clear_um:.1} clear coat - {:.1} floor - {removed_um:.2} removed - {:.3} x \
         root({clear_sd_um:.1}^2 + {removed_sd_um:.2}^2) = {budget_um:.2} um with {} % confidence{used}",
        situation.floor_um, beliefs.floor_quantile, beliefs.floor_confidence_percent
    ))
}

fn depth(beliefs: &Beliefs, input: &AdviceInput) -> Option<String> {
    Some(format!(
        "defect: {:.2} um estimated at first; about {:.2} um still to go",
        input.defect_um?,
        beliefs.depth_left_um()?
    ))
}

fn heat(situation: &Situation, beliefs: &Beliefs) -> String {
    let belief = format!(
        "heat: this panel warms {:.2} +- {:.2} times the prior",
        beliefs.heat.factor, beliefs.heat.factor_sd
    );
    match situation.panel_c {
        Some(panel_c) => format!("{belief}; it is at {}", both_units(panel_c)),
        None => format!("{belief}; its temperature is not known"),
    }
}

fn line(pass: &Alternative) -> String {
    let mut parts = vec![format!(
        "takes {:.2} um ({:.2} to {:.2})",
        pass.removal_um, pass.removal_90_um.0, pass.removal_90_um.1
    )];
    if let Some(charge_um) = pass.charge_um {
        parts.push(format!("charges the budget {charge_um:.2} um"));
    }
    if let Some((panel_c, (low_c, high_c))) = pass.panel_c.zip(pass.panel_90_c) {
        parts.push(format!(
            "ends at {} ({low_c:.1} to {high_c:.1} C)",
            both_units(panel_c)
        ));
    }
    if let Some(chance) = pass.chance {
        parts.push(format!(
            "{:.0} % to reach the goal in {} passes",
            chance * 100.0,
            pass.passes_left
        ));
    }
    if let Some(expected) = pass.expected_passes {
        parts.push(format!("{expected} passes expected"));
    }
    let reasons: Vec<&str> = pass.reasons.iter().map(|reason| reason.as_str()).collect();
    format!(
        "rung {}: {}; {:.0} s; {}",
        pass.rung + 1,
        parts.join(", "),
        pass.seconds,
        reasons.join(", ")
    )
}
