//! Dilution.

use lamella_calc::dilution::{
    Dilution, DilutionInput, ExistingMix, Injector, Parts, Strength, Substance,
};
use lamella_calc::violation::Checks;
use lamella_jobs::check::join;
use lamella_proto::v1;

use super::super::{caution, required};

pub(crate) fn from_pb(request: &v1::DiluteRequest, checks: &mut Checks) -> DilutionInput {
    let existing = request.existing.as_ref().map(|existing| ExistingMix {
        volume_ml: required(existing.volume_ml, "existing.volume_ml", checks),
        strength: strength_from_pb(existing.strength.as_ref(), "existing.strength", checks),
    });
    let injector = request.injector.map(|injector| Injector {
        water_l_per_min: required(injector.water_l_per_min, "injector.water_l_per_min", checks),
        draw_l_per_min: required(injector.draw_l_per_min, "injector.draw_l_per_min", checks),
    });
    DilutionInput {
        stock: strength_from_pb(request.stock.as_ref(), "stock", checks),
        target: strength_from_pb(request.target.as_ref(), "target", checks),
        total_ml: required(request.total_ml, "total_ml", checks),
        existing,
        injector,
        substance: substance_from_pb(request.substance, checks),
    }
}

fn strength_from_pb(
    strength: Option<&v1::Strength>,
    path: &str,
    checks: &mut Checks,
) -> Strength {
    let form = strength.and_then(|strength| strength.form.as_ref());
    checks.require(form.is_some(), path, || {
        "is required: percent, parts or label".to_owned()
    });
    match form {
        Some(v1::strength::Form::Percent(percent)) => Strength::Percent(*percent),
        Some(v1::strength::Form::Parts(parts)) => {
            Strength::Parts(Parts { product: parts.product, water: parts.water })
        }
        Some(v1::strength::Form::Label(label)) => {
            let length = label.chars().count();
            checks.require(length <= 64, join(path, "label"), || {
                format!("must have at most 64 characters, got {length}")
            });
            Strength::Label(label.clone())
        }
        // Noted above; any sound strength will do.
        None => Strength::Percent(100.0),
    }
}

fn substance_from_pb(value: i32, checks: &mut Checks) -> Substance {
    let known = v1::Substance::try_from(value).ok();
    checks.require(known.is_some(), "substance", || format!("{value} is not a known substance"));
    match known.unwrap_or_default() {
        v1::Substance::Unspecified => Substance::Unspecified,
        v1::Substance::IsopropylAlcohol => Substance::IsopropylAlcohol,
        v1::Substance::Ethanol => Substance::Ethanol,
        v1::Substance::AlkalineCleaner => Substance::AlkalineCleaner,
        v1::Substance::AcidCleaner => Substance::AcidCleaner,
        v1::Substance::Shampoo => Substance::Shampoo,
    }
}

pub(crate) fn to_pb(dilution: &Dilution) -> v1::DiluteResponse {
    v1::DiluteResponse {
        concentrate_ml: microlitre(dilution.concentrate_ml),
        diluent_ml: microlitre(dilution.diluent_ml),
        total_ml: microlitre(dilution.total_ml),
        strength_percent: dilution.strength_percent,
        water_parts: dilution.water_parts,
        readings: dilution
            .readings
            .iter()
            .map(|reading| v1::LabelReading {
                field: reading.field.to_owned(),
                text: reading.text.clone(),
                percent: reading.percent,
                used: reading.used,
            })
            .collect(),
        injector: dilution.injector.as_ref().map(|injector| v1::InjectorResult {
            share_percent: injector.share_percent,
            water_parts: injector.water_parts,
            bottle_percent: injector.bottle_percent,
            outlet_percent: injector.outlet_percent,
            bottle_minutes: injector.bottle_minutes,
        }),
        cautions: caution::all_to_pb(&dilution.cautions),
        model: dilution.model.to_owned(),
    }
}

/// Volumes are answered to the microlitre: finer than any measure in a shop,
/// and free of binary tails.
fn microlitre(ml: f64) -> f64 {
    (ml * 1000.0).round() / 1000.0
}
