//! Paint thickness as text.

use std::fmt::Write as _;

use lamella_proto::v1::{self, RemovalVerdict};

use crate::names::clean;
use crate::text::{self, View};

/// Panels, judged.
pub(crate) fn assessed(answer: &v1::AssessPaintResponse, view: &View) -> String {
    let mut out = String::new();
    for (index, panel) in answer.panels.iter().enumerate() {
        if index > 0 {
            out.push('\n');
        }
        out.push_str(&assessment(panel, answer.floor_um, view));
    }
    out + &text::model(&answer.model)
}

/// A removal.
pub(crate) fn removed(answer: &v1::MeasureRemovalResponse, view: &View) -> String {
    let um = |um: f64| view.units.thickness(um);
    let headline = match answer.verdict() {
        RemovalVerdict::CannotTell => {
            format!("cannot tell; at most {} came off", um(answer.high_um))
        }
        RemovalVerdict::Removed | RemovalVerdict::Thicker | RemovalVerdict::Unspecified => {
            difference(
                answer.verdict(),
                answer.removal_um,
                answer.uncertainty.as_ref(),
                view,
            )
        }
    };
    let mut out = format!("{}\n", text::strong(&headline));
    let rows: Vec<[String; 4]> = answer
        .spots
        .iter()
        .map(|spot| {
            [
                format!("  {}", spot_name(&spot.spot)),
                format!("before {}", um(spot.before_um)),
                format!("after {}", um(spot.after_um)),
                format!("off {}", um(spot.removal_um)),
            ]
        })
        .collect();
    out.push_str(&text::table(&rows));
    if !answer.unpaired.is_empty() {
        let names: Vec<String> = answer.unpaired.iter().map(|spot| spot_name(spot)).collect();
        let _ = writeln!(out, "not paired: {}", names.join(", "));
    }
    out + &text::cautions(&answer.cautions) + &text::model(&answer.model)
}

fn assessment(panel: &v1::PanelAssessment, floor_um: f64, view: &View) -> String {
    let mut out = String::new();
    let name = clean(&panel.panel);
    let clear = panel.clear.as_ref();
    let _ = writeln!(
        out,
        "{}",
        text::strong(&budget(&name, panel.budget_um, floor_um, view))
    );
    if let Some(clear) = clear {
        let _ = writeln!(
            out,
            "  clear      {} at {}",
            interval(clear, view),
            spot_name(&panel.governing_spot)
        );
    }
    if let (Some(mean_um), Some(u)) = (panel.mean_um, &panel.uncertainty) {
        let _ = writeln!(
            out,
            "  total      {} ± {}",
            view.units.thickness(mean_um),
            view.units.thickness(u.expanded_um)
        );
    }
    let suspicion = panel.suspicion();
    if suspicion != v1::PaintSuspicion::Unspecified {
        let words = match suspicion {
            v1::PaintSuspicion::None => "no sign of earlier work",
            v1::PaintSuspicion::Thin => "thin",
            v1::PaintSuspicion::LocalRepair => "looks like a local repair",
            v1::PaintSuspicion::Refinished => "looks refinished",
            v1::PaintSuspicion::Filler => "looks like filler",
            v1::PaintSuspicion::Unspecified => "not judged",
        };
        let _ = writeln!(out, "  signs      {words}");
    }
    for sign in &panel.signs {
        let place = if sign.spot.is_empty() {
            String::new()
        } else {
            format!(" at {}", clean(&sign.spot))
        };
        let _ = writeln!(
            out,
            "             {}{place}: {} against {}",
            text::words("", &sign.code),
            view.units.thickness(sign.seen_um),
            view.units.thickness(sign.limit_um)
        );
    }
    if let Some(acceptance) = &panel.acceptance {
        let verdict = if acceptance.accepted {
            "accepted"
        } else {
            "not accepted"
        };
        let few = if acceptance.complete {
            ""
        } else {
            "; fewer than 5 spots of 3 readings"
        };
        let _ = writeln!(
            out,
            "  target     {verdict}: spots {} to {}{few}",
            view.units.thickness(acceptance.spot_min_um),
            view.units.thickness(acceptance.spot_max_um)
        );
    }
    let rows: Vec<[String; 4]> = panel
        .spots
        .iter()
        .map(|spot| spot_row(spot, view))
        .collect();
    out + &text::table(&rows) + &text::cautions(&panel.cautions)
}

fn spot_row(spot: &v1::SpotAssessment, view: &View) -> [String; 4] {
    let u = spot.uncertainty.as_ref().map_or(0.0, |u| u.expanded_um);
    let odd = spot.odd.len();
    let mut notes = Vec::new();
    if odd > 0 {
        notes.push(format!("{odd} odd"));
    }
    match spot.verdict() {
        v1::ThicknessVerdict::TooThin => notes.push("below the target".to_owned()),
        v1::ThicknessVerdict::TooThick => notes.push("above the target".to_owned()),
        v1::ThicknessVerdict::Unspecified | v1::ThicknessVerdict::Within => {}
    }
    [
        format!("    {}", spot_name(&spot.spot)),
        format!("{} of {}", view.units.thickness(spot.mean_um), spot.count),
        format!("± {}", view.units.thickness(u)),
        notes.join(", "),
    ]
}

/// What a difference of readings says, in words.
pub(super) fn difference(
    verdict: RemovalVerdict,
    removal_um: f64,
    uncertainty: Option<&v1::ThicknessUncertainty>,
    view: &View,
) -> String {
    let um = |um: f64| view.units.thickness(um);
    let within = um(uncertainty.map_or(0.0, |u| u.expanded_um));
    match verdict {
        RemovalVerdict::Removed => format!("{} ± {within} came off", um(removal_um)),
        RemovalVerdict::CannotTell => {
            format!(
                "cannot tell: {} is inside the noise of {within}",
                um(removal_um)
            )
        }
        RemovalVerdict::Thicker => format!("thicker by {} ± {within}", um(-removal_um)),
        RemovalVerdict::Unspecified => format!("{} ± {within}", um(removal_um)),
    }
}

/// The line that answers the question.
pub(super) fn budget(name: &str, budget_um: Option<f64>, floor_um: f64, view: &View) -> String {
    let floor = view.units.thickness(floor_um);
    match budget_um {
        None => format!("{name}: how much may be removed cannot be told"),
        Some(budget_um) if budget_um > 0.0 => {
            // Rounded down: what is shown may be taken at its word.
            let budget_um = (budget_um * 10.0).floor() / 10.0;
            format!(
                "{name}: up to {} may be removed, {floor} stays",
                view.units.thickness(budget_um)
            )
        }
        Some(_) => format!("{name}: nothing may be removed if {floor} is to stay"),
    }
}

pub(super) fn interval(clear: &v1::ClearCoat, view: &View) -> String {
    let um = |um: f64| view.units.thickness(um);
    format!(
        "{}, 95 % within {} to {}",
        um(clear.mean_um),
        um(clear.low_um),
        um(clear.high_um)
    )
}

pub(super) fn spot_name(spot: &str) -> String {
    if spot.is_empty() {
        "the panel".to_owned()
    } else {
        clean(spot)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{caution, plain, view};
    use crate::units::System;

    fn clear() -> v1::ClearCoat {
        v1::ClearCoat {
            mean_um: 38.14,
            sd_um: 3.35,
            low_um: 31.59,
            high_um: 44.7,
            at_least_um: 32.64,
            surprise: 0.3,
        }
    }

    fn u(expanded_um: f64) -> Option<v1::ThicknessUncertainty> {
        Some(v1::ThicknessUncertainty {
            expanded_um,
            ..Default::default()
        })
    }

    #[test]
    fn a_panel_with_a_budget_and_one_that_no_gauge_at_hand_reads() {
        let hood = v1::PanelAssessment {
            panel: "hood".to_owned(),
            spots: vec![v1::SpotAssessment {
                spot: "front".to_owned(),
                count: 5,
                mean_um: 109.6,
                uncertainty: u(4.13),
                verdict: v1::ThicknessVerdict::TooThick.into(),
                odd: vec![v1::OddReading::default()],
                ..Default::default()
            }],
            mean_um: Some(109.6),
            uncertainty: u(4.13),
            acceptance: Some(v1::ThicknessAcceptance {
                spot_min_um: 72.0,
                spot_max_um: 108.0,
                ..Default::default()
            }),
            suspicion: v1::PaintSuspicion::LocalRepair.into(),
            signs: vec![v1::PaintSign {
                code: "SPOT_THICKER".to_owned(),
                spot: "front".to_owned(),
                seen_um: 109.6,
                limit_um: 100.0,
            }],
            clear: Some(clear()),
            governing_spot: "front".to_owned(),
            budget_um: Some(2.64),
            ..Default::default()
        };
        let roof = v1::PanelAssessment {
            panel: "roof".to_owned(),
            cautions: vec![caution(
                v1::Severity::Warning,
                "ULTRASONIC_ONLY",
                "Ultrasonic only.",
            )],
            ..Default::default()
        };
        let answer = v1::AssessPaintResponse {
            panels: vec![hood, roof],
            floor_um: 30.0,
            ..Default::default()
        };
        insta::assert_snapshot!(plain(&assessed(&answer, &view(System::Metric))));
    }

    #[test]
    fn a_difference_that_cannot_be_told_says_so() {
        let answer = v1::MeasureRemovalResponse {
            removal_um: 0.67,
            uncertainty: u(1.82),
            high_um: 2.49,
            verdict: RemovalVerdict::CannotTell.into(),
            spots: vec![v1::SpotRemoval {
                spot: String::new(),
                before_um: 112.0,
                after_um: 111.33,
                removal_um: 0.67,
            }],
            unpaired: vec!["rear".to_owned()],
            ..Default::default()
        };
        insta::assert_snapshot!(plain(&removed(&answer, &view(System::Us))));
    }
}
