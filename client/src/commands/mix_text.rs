//! What a mix is beyond its volumes, as text.

use std::fmt::Write as _;

use lamella_proto::v1;

use crate::money;
use crate::names::clean;
use crate::text::{self, View};
use crate::units::number;

/// True yield, weights, flash point, hazard, limits, cost, label: what there is
/// of them.
pub(crate) fn nature(answer: &v1::DiluteResponse, view: &View) -> String {
    yields(answer, view) + &hazard(answer, view) + &cost(answer) + &label(&answer.label_lines)
}

fn yields(answer: &v1::DiluteResponse, view: &View) -> String {
    let mut out = String::new();
    if let (Some(total_ml), Some(percent)) = (answer.true_total_ml, answer.true_strength_percent) {
        let total = view.units.volume(total_ml);
        let _ = writeln!(out, "truly  {total} at {} % (20 °C)", number(percent));
    }
    if let (Some(stock_ml), Some(water_ml)) = (answer.exact_concentrate_ml, answer.exact_diluent_ml)
    {
        let _ = writeln!(
            out,
            "for exactly {}: {} stock + {} water",
            view.units.volume(answer.total_ml),
            view.units.volume(stock_ml),
            view.units.volume(water_ml)
        );
    }
    if let (Some(stock_g), Some(water_g)) = (answer.concentrate_g, answer.diluent_g) {
        let (stock, water) = (view.units.mass(stock_g), view.units.mass(water_g));
        let _ = writeln!(out, "weighs {stock} stock + {water} water");
    }
    out
}

fn hazard(answer: &v1::DiluteResponse, view: &View) -> String {
    let mut out = String::new();
    if let Some(flash_c) = answer.flash_point_c {
        let flash = view.units.temperature(flash_c);
        let _ = writeln!(out, "flash  from {flash}, closed cup; never a clearance");
    }
    for hazard in &answer.hazards {
        let (code, words) = (clean(&hazard.statement_code), clean(&hazard.text));
        let rule = text::faint(&format!("[{}; {}]", clean(&hazard.rule), standing(hazard)));
        let _ = writeln!(out, "hazard {code} {words} {rule}");
    }
    if answer.hazards.is_empty() && !answer.hazards_not_judged.is_empty() {
        let _ = writeln!(
            out,
            "hazard none found by these rules, which is no clearance"
        );
    }
    for gap in &answer.hazards_not_judged {
        let _ = writeln!(out, "not judged: {}", clean(gap));
    }
    for limit in &answer.exposure_limits {
        let _ = writeln!(
            out,
            "limit  {} ppm, {} mg/m³: {} {}",
            number(limit.ppm),
            number(limit.mg_per_m3),
            clean(&limit.authority),
            kind(limit)
        );
    }
    out
}

fn standing(hazard: &v1::MixHazard) -> &'static str {
    match hazard.standing() {
        v1::RuleStanding::Published => "published rule",
        v1::RuleStanding::Secondary => "rule as reported",
        v1::RuleStanding::FromMemory => "rule from memory",
        v1::RuleStanding::Unspecified => "rule of unknown standing",
    }
}

fn kind(limit: &v1::ExposureLimit) -> &'static str {
    match limit.kind() {
        v1::ExposureLimitKind::ShiftMean => "over a shift",
        v1::ExposureLimitKind::ShortTerm => "over 15 minutes",
        v1::ExposureLimitKind::ImmediatelyDangerous => "(immediately dangerous)",
        v1::ExposureLimitKind::Unspecified => "",
    }
}

fn cost(answer: &v1::DiluteResponse) -> String {
    let mut out = String::new();
    if let (Some(pour), Some(litre)) = (&answer.pour_cost, &answer.cost_per_litre) {
        let (pour, litre) = (money::shown(pour), money::shown(litre));
        let _ = writeln!(out, "costs  {litre} a litre ready to use; this pour {pour}");
    }
    if let Some(panel) = &answer.cost_per_litre_at_panel {
        let _ = writeln!(out, "       {} a litre at the panel", money::shown(panel));
    }
    out
}

fn label(lines: &[String]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let mut out = String::from("\n");
    for line in lines {
        let _ = writeln!(out, "  | {}", clean(line));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    // 24.99 EUR for 5 l at 384.6 ml in a litre: 1.92 EUR. Limits: NIOSH Pocket
    // Guide, npgd0359. The other figures are only there to be shown.
    #[test]
    fn what_there_is_is_shown() {
        let money = |minor_units| {
            Some(v1::Money {
                currency_code: "EUR".to_owned(),
                minor_units,
            })
        };
        let answer = v1::DiluteResponse {
            total_ml: 1_000.0,
            true_total_ml: Some(971.5),
            true_strength_percent: Some(36.03),
            exact_concentrate_ml: Some(384.615),
            exact_diluent_ml: Some(643.2),
            concentrate_g: Some(312.4),
            diluent_g: Some(614.2),
            flash_point_c: Some(16.6),
            hazards: vec![v1::MixHazard {
                hazard_class: v1::MixHazardClass::EyeIrritation2.into(),
                statement_code: "H319".to_owned(),
                text: "Irritates the eyes badly.".to_owned(),
                rule: "eye 2: 29.5 % >= 10 %".to_owned(),
                standing: v1::RuleStanding::Secondary.into(),
            }],
            exposure_limits: vec![v1::ExposureLimit {
                kind: v1::ExposureLimitKind::ShiftMean.into(),
                authority: "NIOSH REL".to_owned(),
                ppm: 400.0,
                mg_per_m3: 980.0,
                basis: String::new(),
            }],
            pour_cost: money(192),
            cost_per_litre: money(192),
            label_lines: vec!["Wipe-down".to_owned(), "DANGER".to_owned()],
            ..v1::DiluteResponse::default()
        };
        insta::assert_snapshot!(plain(&nature(&answer, &view(System::Metric))), @"
        truly  971.5 ml (32.85 fl oz) at 36.03 % (20 °C)
        for exactly 1 l (33.81 fl oz): 384.6 ml (13.01 fl oz) stock + 643.2 ml (21.75 fl oz) water
        weighs 312.4 g (11.02 oz) stock + 614.2 g (1.354 lb) water
        flash  from 16.6 °C (61.9 °F), closed cup; never a clearance
        hazard H319 Irritates the eyes badly. [eye 2: 29.5 % >= 10 %; rule as reported]
        limit  400 ppm, 980 mg/m³: NIOSH REL over a shift
        costs  1.92 EUR a litre ready to use; this pour 1.92 EUR

          | Wipe-down
          | DANGER
        ");
    }
}
