//! What a mix is in: ingredients, hazard classes, occupational limits, label.

use lamella_calc::mix::exposure::{ExposureLimit, LimitKind};
use lamella_calc::mix::hazard::{
    Category, Component, Finding, HazardClass, HazardInput, HazardResult, Standing,
};
use lamella_calc::mix::label::LabelInput;
use lamella_calc::violation::Checks;
use lamella_proto::v1;

use super::super::required;

/// What was said of the ingredients; `None` if nothing was.
pub(crate) fn hazards_from_pb(
    request: &v1::DiluteRequest,
    checks: &mut Checks,
) -> Option<HazardInput> {
    let (stock_ph, mix_ph) = (request.stock_ph, request.mix_ph);
    if request.components.is_empty() && stock_ph.is_none() && mix_ph.is_none() {
        return None;
    }
    let component = |(index, component): (usize, &v1::MixComponent)| {
        let path = format!("components[{index}]");
        let percent_path = format!("{path}.percent_by_weight");
        Component {
            name: component.name.clone(),
            percent_by_weight: required(component.percent_by_weight, &percent_path, checks),
            categories: component
                .categories
                .iter()
                .enumerate()
                .filter_map(|(at, &value)| {
                    category_from_pb(value, &format!("{path}.categories[{at}]"), checks)
                })
                .collect(),
            ph: component.ph,
            not_additive: component.not_additive,
        }
    };
    let components = request
        .components
        .iter()
        .enumerate()
        .map(component)
        .collect();
    Some(HazardInput {
        components,
        stock_ph,
        mix_ph,
    })
}

fn category_from_pb(value: i32, path: &str, checks: &mut Checks) -> Option<Category> {
    let category = match v1::HazardCategory::try_from(value).unwrap_or_default() {
        v1::HazardCategory::Unspecified => None,
        v1::HazardCategory::SkinCorrosive1 => Some(Category::SkinCorrosive1),
        v1::HazardCategory::SkinIrritant2 => Some(Category::SkinIrritant2),
        v1::HazardCategory::EyeDamaging1 => Some(Category::EyeDamaging1),
        v1::HazardCategory::EyeIrritant2 => Some(Category::EyeIrritant2),
        v1::HazardCategory::AirwayIrritant3 => Some(Category::AirwayIrritant3),
        v1::HazardCategory::Narcotic3 => Some(Category::Narcotic3),
        v1::HazardCategory::Flammable => Some(Category::Flammable),
    };
    checks.require(category.is_some(), path, || {
        format!("{value} is not a known category")
    });
    category
}

/// The label; a date that no calendar has is named here, its form by the
/// calculator.
pub(crate) fn label_from_pb(label: &v1::BottleLabel, checks: &mut Checks) -> LabelInput {
    let date = label.mixed_date.parse::<jiff::civil::Date>();
    // jiff reads other forms too, which the calculator then refuses.
    checks.require(date.is_ok(), "label.mixed_date", || {
        let shown: String = label.mixed_date.chars().take(20).collect();
        format!("must be a date as YYYY-MM-DD, got {shown:?}")
    });
    LabelInput {
        what: label.what.clone(),
        mixed_date: label.mixed_date.clone(),
    }
}

/// The classes, and what was not judged.
pub(crate) fn hazards_to_pb(hazard: Option<&HazardResult>) -> (Vec<v1::MixHazard>, Vec<String>) {
    hazard.map_or_else(Default::default, |hazard| {
        (
            hazard.findings.iter().map(finding_to_pb).collect(),
            hazard.not_judged.clone(),
        )
    })
}

fn finding_to_pb(finding: &Finding) -> v1::MixHazard {
    let standing = match finding.standing {
        Standing::Published => v1::RuleStanding::Published,
        Standing::Secondary => v1::RuleStanding::Secondary,
        Standing::FromMemory => v1::RuleStanding::FromMemory,
    };
    let class = match finding.class {
        HazardClass::Flammable2 => v1::MixHazardClass::Flammable2,
        HazardClass::Flammable3 => v1::MixHazardClass::Flammable3,
        HazardClass::Flammable4 => v1::MixHazardClass::Flammable4,
        HazardClass::SkinCorrosion1 => v1::MixHazardClass::SkinCorrosion1,
        HazardClass::SkinIrritation2 => v1::MixHazardClass::SkinIrritation2,
        HazardClass::EyeDamage1 => v1::MixHazardClass::EyeDamage1,
        HazardClass::EyeIrritation2 => v1::MixHazardClass::EyeIrritation2,
        HazardClass::AirwayIrritation3 => v1::MixHazardClass::AirwayIrritation3,
        HazardClass::Drowsiness3 => v1::MixHazardClass::Drowsiness3,
    };
    v1::MixHazard {
        hazard_class: class.into(),
        statement_code: finding.class.statement().to_owned(),
        text: finding.class.text().to_owned(),
        rule: finding.rule.clone(),
        standing: standing.into(),
    }
}

pub(crate) fn limit_to_pb(limit: &ExposureLimit) -> v1::ExposureLimit {
    let kind = match limit.kind {
        LimitKind::ShiftMean => v1::ExposureLimitKind::ShiftMean,
        LimitKind::ShortTerm => v1::ExposureLimitKind::ShortTerm,
        LimitKind::ImmediatelyDangerous => v1::ExposureLimitKind::ImmediatelyDangerous,
    };
    v1::ExposureLimit {
        kind: kind.into(),
        authority: limit.authority.to_owned(),
        ppm: limit.ppm,
        mg_per_m3: limit.mg_per_m3,
        basis: limit.basis.to_owned(),
    }
}
