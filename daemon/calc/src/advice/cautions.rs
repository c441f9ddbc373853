//! What to keep in mind with the next pass, as data.

use super::limits;
use super::outcome::{Action, Advice};
use super::outlook::Beliefs;
use super::situation::{AdviceInput, Situation};
use super::words::{both_units, why_stop};
use crate::caution::{COMMON_PRACTICE, Caution, CautionCode, Severity};
use crate::gauge::Substrate;

/// The cautions for this answer, gravest first.
pub(crate) fn cautions(
    input: &AdviceInput,
    advice: &Advice,
    at: &Situation,
    beliefs: &Beliefs,
) -> Vec<Caution> {
    let mut cautions = Vec::new();
    let mut say = |code, severity, text: String| {
        cautions.push(Caution {
            code,
            severity,
            text,
            basis: COMMON_PRACTICE,
        });
    };
    if advice.overridden.is_some() {
        for &stop in &advice.stops {
            let text = format!(
                "{} passed over: {}",
                stop.as_str(),
                why_stop(stop, advice, at)
            );
            say(CautionCode::StopOverridden, Severity::Stop, text);
        }
    }
    if at.at_ceiling() {
        let text = format!(
            "the panel is at its ceiling of {}: paint softens and burns through quickly, and hot \
             metal burns skin",
            both_units(advice.ceiling_c)
        );
        say(CautionCode::PanelHot, Severity::Warning, text);
    }
    if advice
        .predicted_panel_c
        .is_some_and(|predicted_c| predicted_c >= advice.ceiling_c)
    {
        let text = "the next pass is expected to reach the ceiling: cool down first, or measure \
                    during the pass and break off";
        say(
            CautionCode::PredictedOverCeiling,
            Severity::Warning,
            text.to_owned(),
        );
    }
    about_the_panel(input, at, &mut say);
    about_the_record(input, advice, at, &mut say);
    about_the_goal(input, advice, beliefs, &mut say);
    if advice.action == Action::Start {
        let text = "prove the setup on a small spot and look at it under good light first";
        say(CautionCode::TestSpotFirst, Severity::Info, text.to_owned());
    }
    match advice.action {
        Action::Start | Action::Repeat | Action::StepUp => {
            let text = "wear eye protection and a dust mask, keep cord and sleeves clear of the pad, \
                        and heed the machine's and the liquid's own instructions";
            say(
                CautionCode::EyeAndDustProtection,
                Severity::Info,
                text.to_owned(),
            );
        }
        Action::Stop | Action::Done => {}
    }
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.severity));
    cautions
}

fn about_the_panel(
    input: &AdviceInput,
    at: &Situation,
    say: &mut impl FnMut(CautionCode, Severity, String),
) {
    if input.clear_um.is_none() {
        let text = "the clear coat's thickness is unknown: the ladder is capped, and no removal \
                    budget can be kept";
        say(
            CautionCode::ThicknessUnknown,
            Severity::Warning,
            text.to_owned(),
        );
    }
    if input.edge {
        let text = "paint is thin at edges and body lines and heats faster there: tape them, or \
                    stay off them";
        say(
            CautionCode::EdgeThinPaint,
            Severity::Warning,
            text.to_owned(),
        );
    }
    match input.substrate {
        Substrate::Composite | Substrate::Plastic => {
            let text = format!(
                "{} does not carry heat away: the surface heats faster and cools slower than metal",
                input.substrate.word()
            );
            say(CautionCode::HeatStaysInPanel, Severity::Caution, text);
        }
        Substrate::Unknown => {
            let text = "the panel's material is not stated: it is treated as the most delicate";
            say(
                CautionCode::SubstrateUnknown,
                Severity::Caution,
                text.to_owned(),
            );
        }
        Substrate::Steel | Substrate::Aluminium => {}
    }
    let default_c = limits::default_ceiling_c(input.substrate, input.edge);
    if at.ceiling_c > default_c {
        let text = format!(
            "the ceiling given, {}, is above the usual {}",
            both_units(at.ceiling_c),
            both_units(default_c)
        );
        say(CautionCode::CeilingAboveDefault, Severity::Warning, text);
    }
}

fn about_the_goal(
    input: &AdviceInput,
    advice: &Advice,
    beliefs: &Beliefs,
    say: &mut impl FnMut(CautionCode, Severity, String),
) {
    if advice.action == Action::Done {
        return;
    }
    let left_um = beliefs.depth_left_um();
    if let Some((left_um, budget_um)) = left_um.zip(beliefs.budget_um)
        && left_um > budget_um
    {
        let text = format!(
            "about {left_um:.1} um must come off to clear the defect and {:.1} um may: agree on improving \
             it rather than removing it",
            budget_um.max(0.0)
        );
        say(CautionCode::GoalBeyondBudget, Severity::Caution, text);
    }
    if let Some((_, sd_um)) = beliefs.clear_um
        && input.goal.is_some()
        && input.clear_sd_um.is_none()
    {
        let text = format!(
            "the clear coat's thickness is taken to be known to {sd_um:.1} um (standard uncertainty): \
             state how well it is known"
        );
        say(
            CautionCode::ClearUncertaintyAssumed,
            Severity::Caution,
            text,
        );
    }
}

fn about_the_record(
    input: &AdviceInput,
    advice: &Advice,
    at: &Situation,
    say: &mut impl FnMut(CautionCode, Severity, String),
) {
    if advice.panel_c.is_none() && advice.action != Action::Done {
        let text = "no panel temperature was measured, so the ceiling cannot be watched: measure \
                    before and after each pass";
        say(
            CautionCode::PanelTemperatureUnknown,
            Severity::Warning,
            text.to_owned(),
        );
    }
    if at.skipped {
        let text = "a recorded pass jumped over a rung: a milder setup might have done";
        say(CautionCode::RungSkipped, Severity::Caution, text.to_owned());
    }
    if at.off_ladder {
        let text = "a recorded pass used a setup that is not on the ladder: it counts for heat and \
                    removal, not for the place on the ladder";
        say(
            CautionCode::PassOffLadder,
            Severity::Caution,
            text.to_owned(),
        );
    }
    if input.clear_um.is_some() && advice.removed_assumed_um > 0.0 {
        let text = format!(
            "{:.1} um of the removal is assumed, not measured: take a reading",
            advice.removed_assumed_um
        );
        say(CautionCode::RemovalAssumed, Severity::Caution, text);
    }
}
