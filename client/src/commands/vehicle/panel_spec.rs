//! A panel as typed: `hood:steel:clear-coat:moderate:1.6m2`.

use std::str::FromStr;

use clap::ValueEnum;
use lamella_proto::v1;

use crate::commands::choices::{Finish, PanelCondition, Substrate};
use crate::commands::setup::{SpecError, word};
use crate::units::AreaM2;

/// How a panel is written, for help and for messages.
pub(crate) const FORM: &str = "ID[:SUBSTRATE][:FINISH][:CONDITION][:AREA]";

/// A panel with what is known of it. After its id each part is recognised by
/// what it says, so that any may be left out and their order does not matter.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PanelSpec(pub(crate) v1::Panel);

impl PanelSpec {
    /// Changes a panel of the same id. What is not said stays as it is; so do
    /// its name for people and its note.
    pub(crate) fn change(self, panel: &mut v1::Panel) {
        for (field, change) in [
            (&mut panel.substrate, self.0.substrate),
            (&mut panel.finish, self.0.finish),
            (&mut panel.condition, self.0.condition),
        ] {
            if change != 0 {
                *field = change;
            }
        }
        panel.area_m2 = self.0.area_m2.or(panel.area_m2);
    }
}

impl FromStr for PanelSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: "ID[:SUBSTRATE][:FINISH][:CONDITION][:AREA], for example \
                   hood:steel:clear-coat:moderate:1.6m2",
        };
        let mut parts = text.split(':').map(str::trim);
        let panel_id = parts.next().unwrap_or_default().to_owned();
        if panel_id.is_empty() {
            return Err(form());
        }
        let mut panel = v1::Panel {
            panel_id,
            ..Default::default()
        };
        for part in parts.filter(|part| !part.is_empty()) {
            let said_twice = if is_quantity(part) {
                let area_m2 = part.parse::<AreaM2>()?.0;
                panel.area_m2.replace(area_m2).is_some()
            } else {
                let (field, value) = match recognised(part)? {
                    Part::Substrate(substrate) => (&mut panel.substrate, substrate.into()),
                    Part::Finish(finish) => (&mut panel.finish, finish.into()),
                    Part::Condition(condition) => (&mut panel.condition, condition.into()),
                };
                std::mem::replace(field, value) != 0
            };
            if said_twice {
                return Err(form());
            }
        }
        Ok(Self(panel))
    }
}

enum Part {
    Substrate(Substrate),
    Finish(Finish),
    Condition(PanelCondition),
}

fn is_quantity(part: &str) -> bool {
    part.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '+' | '-'))
}

fn recognised(part: &str) -> Result<Part, SpecError> {
    if let Ok(substrate) = word(part) {
        return Ok(Part::Substrate(substrate));
    }
    if let Ok(finish) = word(part) {
        return Ok(Part::Finish(finish));
    }
    if let Ok(condition) = word(part) {
        return Ok(Part::Condition(condition));
    }
    let known = [
        names::<Substrate>(),
        names::<Finish>(),
        names::<PanelCondition>(),
        vec!["an area such as 1.6m2 or 17sqft".to_owned()],
    ];
    Err(SpecError::Word {
        given: part.to_owned(),
        known: known.concat().join(", "),
    })
}

fn names<C: ValueEnum>() -> Vec<String> {
    C::value_variants()
        .iter()
        .filter_map(|value| Some(value.to_possible_value()?.get_name().to_owned()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn panel(text: &str) -> Result<v1::Panel, SpecError> {
        text.parse::<PanelSpec>().map(|panel| panel.0)
    }

    #[test]
    fn panels_as_typed() {
        let hood = panel("hood:steel:clear-coat").unwrap();
        assert_eq!(hood.substrate(), v1::Substrate::Steel);
        assert_eq!(hood.finish(), v1::Finish::ClearCoat);
        assert_eq!((hood.area_m2, hood.condition), (None, 0));
        assert_eq!(
            panel("trim::unpainted").unwrap().substrate(),
            v1::Substrate::Unspecified
        );
        assert_eq!(panel("roof").unwrap().panel_id, "roof");
        let wrong = [
            ":steel",
            "hood:iron",
            "a:steel:aluminium",
            "a:1m2:2m2",
            "a:1.6",
            "a:6ft",
        ]
        .map(|text| panel(text).unwrap_err().to_string());
        insta::assert_snapshot!(wrong.join("\n"), @"
        `:steel` is not of the form ID[:SUBSTRATE][:FINISH][:CONDITION][:AREA], for example hood:steel:clear-coat:moderate:1.6m2
        `iron` is none of: steel, aluminium, composite, plastic, clear-coat, single-stage, matt, unpainted, good, light, moderate, severe, an area such as 1.6m2 or 17sqft
        `a:steel:aluminium` is not of the form ID[:SUBSTRATE][:FINISH][:CONDITION][:AREA], for example hood:steel:clear-coat:moderate:1.6m2
        `a:1m2:2m2` is not of the form ID[:SUBSTRATE][:FINISH][:CONDITION][:AREA], for example hood:steel:clear-coat:moderate:1.6m2
        `1.6` has no unit; write 1.6m2 or 1.6sqft
        `ft` in `6ft` is not a unit that fits here; accepted: m2, cm2, sqft, sqin
        ");
    }

    #[test]
    fn condition_and_area_in_any_order_and_either_system() {
        let hood = panel("hood:steel:clear-coat:moderate:1.6m2").unwrap();
        assert_eq!(hood.condition(), v1::PanelCondition::Moderate);
        assert_eq!(hood.area_m2, Some(1.6));
        assert_eq!(panel("hood:1.6m2:Moderate:clear-coat:steel"), Ok(hood));
        // A square foot is 0.09290304 m2 (international foot of 1959).
        assert_eq!(panel("roof:20sqft").unwrap().area_m2, Some(1.858_060_8));
    }

    #[test]
    fn a_change_keeps_what_it_does_not_say() {
        let mut hood = panel("hood:steel:matt:good:1m2").unwrap();
        hood.note = "repainted".to_owned();
        let change: PanelSpec = "hood:severe".parse().unwrap();
        change.change(&mut hood);
        assert_eq!(hood.condition(), v1::PanelCondition::Severe);
        assert_eq!(hood.substrate(), v1::Substrate::Steel);
        assert_eq!((hood.area_m2, hood.note.as_str()), (Some(1.0), "repainted"));
    }
}
