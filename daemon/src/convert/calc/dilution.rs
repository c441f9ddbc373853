//! Dilution.

use lamella_calc::dilution::{
    Dilution, DilutionInput, ExistingMix, Injector, Nature, Parts, Strength, Substance, TargetAt,
};
use lamella_calc::mix::cost::StockPrice;
use lamella_calc::violation::Checks;
use lamella_jobs::check::join;
use lamella_jobs::job::Money;
use lamella_proto::v1;

use super::mix;

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
        target_at: place_from_pb(request.target_place, checks),
        substance: substance_from_pb(request.substance, checks),
        stock_density_g_per_ml: request.stock_density_g_per_ml,
        hazards: mix::hazards_from_pb(request, checks),
        stock_price: price_from_pb(request, checks),
        label: request
            .label
            .as_ref()
            .map(|label| mix::label_from_pb(label, checks)),
    }
}

fn place_from_pb(value: i32, checks: &mut Checks) -> TargetAt {
    let known = v1::TargetPlace::try_from(value).ok();
    checks.require(known.is_some(), "target_place", || {
        format!("{value} is not a known place")
    });
    match known.unwrap_or_default() {
        v1::TargetPlace::Unspecified | v1::TargetPlace::Panel => TargetAt::Panel,
        v1::TargetPlace::Bottle => TargetAt::Bottle,
    }
}

/// The price without its currency, which [`to_pb`] takes from the request again.
fn price_from_pb(request: &v1::DiluteRequest, checks: &mut Checks) -> Option<StockPrice> {
    let (price, volume) = (request.stock_price.as_ref(), request.stock_price_volume_ml);
    let Some(price) = price else {
        checks.require(volume.is_none(), "stock_price", || {
            "is required with stock_price_volume_ml".to_owned()
        });
        return None;
    };
    let minor_units = price.minor_units;
    Money {
        currency_code: price.currency_code.clone(),
        minor_units,
    }
    .check(checks, "stock_price");
    let volume_ml = required(volume, "stock_price_volume_ml", checks);
    Some(StockPrice {
        minor_units,
        volume_ml,
    })
}

fn strength_from_pb(strength: Option<&v1::Strength>, path: &str, checks: &mut Checks) -> Strength {
    let form = strength.and_then(|strength| strength.form.as_ref());
    checks.require(form.is_some(), path, || {
        "is required: percent, parts or label".to_owned()
    });
    match form {
        Some(v1::strength::Form::Percent(percent)) => Strength::Percent(*percent),
        Some(v1::strength::Form::Parts(parts)) => Strength::Parts(Parts {
            product: parts.product,
            water: parts.water,
        }),
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

pub(crate) fn substance_from_pb(value: i32, checks: &mut Checks) -> Substance {
    let known = v1::Substance::try_from(value).ok();
    checks.require(known.is_some(), "substance", || {
        format!("{value} is not a known substance")
    });
    match known.unwrap_or_default() {
        v1::Substance::Unspecified => Substance::Unspecified,
        v1::Substance::IsopropylAlcohol => Substance::IsopropylAlcohol,
        v1::Substance::Ethanol => Substance::Ethanol,
        v1::Substance::AlkalineCleaner => Substance::AlkalineCleaner,
        v1::Substance::AcidCleaner => Substance::AcidCleaner,
        v1::Substance::Shampoo => Substance::Shampoo,
    }
}

/// The answer; costs are in the currency of the `request`.
pub(crate) fn to_pb(dilution: &Dilution, request: &v1::DiluteRequest) -> v1::DiluteResponse {
    let Nature {
        weights,
        real,
        exact,
        flash,
        hazard,
        exposure_limits,
        cost,
        label_lines,
    } = &dilution.nature;
    let money = |minor_units| v1::Money {
        currency_code: request
            .stock_price
            .as_ref()
            .map_or_else(String::new, |price| price.currency_code.clone()),
        minor_units,
    };
    let (hazards, hazards_not_judged) = mix::hazards_to_pb(hazard.as_ref());
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
        injector: dilution
            .injector
            .as_ref()
            .map(|injector| v1::InjectorResult {
                share_percent: injector.share_percent,
                water_parts: injector.water_parts,
                bottle_percent: injector.bottle_percent,
                outlet_percent: injector.outlet_percent,
                bottle_minutes: injector.bottle_minutes,
            }),
        cautions: caution::all_to_pb(&dilution.cautions),
        model: dilution.model.to_owned(),
        true_total_ml: real.as_ref().map(|real| microlitre(real.true_total_ml)),
        true_total_uncertainty_ml: real.as_ref().map(|real| real.true_total_uncertainty_ml),
        true_strength_percent: real.as_ref().map(|real| real.true_strength_percent),
        exact_concentrate_ml: exact.map(|exact| microlitre(exact.concentrate_ml)),
        exact_diluent_ml: exact.map(|exact| microlitre(exact.diluent_ml)),
        exact_diluent_g: exact.map(|exact| exact.diluent_g),
        concentrate_g: weights.map(|weights| weights.concentrate_g),
        diluent_g: weights.map(|weights| weights.diluent_g),
        stock_density_g_per_ml: weights.map(|weights| weights.stock_density_g_per_ml),
        flash_point_c: flash.map(|flash| flash.lower_c),
        flash_point_estimate_c: flash.map(|flash| flash.estimate_c),
        flash_point_basis: flash_basis(dilution).to_owned(),
        hazards,
        hazards_not_judged,
        exposure_limits: exposure_limits.iter().map(mix::limit_to_pb).collect(),
        pour_cost: cost.map(|cost| money(cost.pour_minor_units)),
        cost_per_litre: cost.map(|cost| money(cost.per_litre_minor_units)),
        cost_per_litre_at_panel: cost
            .and_then(|cost| cost.at_panel_per_litre_minor_units)
            .map(money),
        label_lines: label_lines.clone(),
    }
}

/// Why there is a flash point, or none.
fn flash_basis(dilution: &Dilution) -> &'static str {
    let Nature { flash, real, .. } = &dilution.nature;
    match (flash, real) {
        (Some(flash), _) => flash.basis,
        (None, Some(_)) => "no figure for a mix this weak, which is no clearance",
        (None, None) => "not known for this substance: see its safety data sheet",
    }
}

/// Volumes are answered to the microlitre: finer than any measure in a shop,
/// and free of binary tails.
fn microlitre(ml: f64) -> f64 {
    (ml * 1000.0).round() / 1000.0
}

#[cfg(test)]
mod tests {
    use lamella_calc::dilution::dilute;

    use super::*;

    fn percent(percent: f64) -> Option<v1::Strength> {
        Some(v1::Strength {
            form: Some(v1::strength::Form::Percent(percent)),
        })
    }

    fn wipe_down() -> v1::DiluteRequest {
        v1::DiluteRequest {
            stock: percent(91.0),
            target: percent(35.0),
            total_ml: Some(1000.0),
            substance: v1::Substance::IsopropylAlcohol.into(),
            ..v1::DiluteRequest::default()
        }
    }

    fn answered(request: &v1::DiluteRequest) -> v1::DiluteResponse {
        let mut checks = Checks::new();
        let input = from_pb(request, &mut checks);
        checks.finish().unwrap();
        to_pb(&dilute(&input).unwrap(), request)
    }

    /// 24.99 for 5 l, 384.615 ml of it in the litre: 1.92 (by hand).
    #[test]
    fn everything_asked_for_is_answered() {
        let request = v1::DiluteRequest {
            stock_price: Some(v1::Money {
                currency_code: "EUR".to_owned(),
                minor_units: 2499,
            }),
            stock_price_volume_ml: Some(5000.0),
            label: Some(v1::BottleLabel {
                what: "Wipe-down".to_owned(),
                mixed_date: "2025-03-01".to_owned(),
            }),
            ..wipe_down()
        };
        let mix = answered(&request);
        let cost = mix.cost_per_litre.unwrap();
        assert_eq!(
            (cost.currency_code.as_str(), cost.minor_units),
            ("EUR", 192)
        );
        assert!(mix.true_total_ml.unwrap() < mix.total_ml);
        assert!(mix.exact_diluent_ml.unwrap() > mix.diluent_ml);
        assert!(mix.flash_point_c.unwrap() < mix.flash_point_estimate_c.unwrap());
        assert_eq!(mix.hazards[0].statement_code, "H225");
        assert_eq!(mix.exposure_limits.len(), 4);
        assert_eq!(mix.label_lines[0], "Wipe-down");
    }

    #[test]
    fn what_is_not_known_is_unset() {
        let mix = answered(&v1::DiluteRequest {
            substance: 0,
            ..wipe_down()
        });
        assert_eq!(
            (
                mix.true_total_ml,
                mix.concentrate_g,
                mix.flash_point_c,
                mix.cost_per_litre
            ),
            (None, None, None, None)
        );
        assert!(mix.hazards.is_empty() && mix.label_lines.is_empty());
        assert!(
            mix.flash_point_basis.contains("safety data sheet"),
            "{}",
            mix.flash_point_basis
        );
    }

    #[test]
    fn what_only_the_edge_can_see_is_named() {
        let request = v1::DiluteRequest {
            target_place: 7,
            components: vec![v1::MixComponent {
                categories: vec![0, 99],
                ..Default::default()
            }],
            stock_price: Some(v1::Money {
                currency_code: "eur".to_owned(),
                minor_units: 5,
            }),
            label: Some(v1::BottleLabel {
                what: "x".to_owned(),
                mixed_date: "2025-02-30".to_owned(),
            }),
            ..wipe_down()
        };
        let mut checks = Checks::new();
        from_pb(&request, &mut checks);
        let text = checks.finish().unwrap_err().to_string();
        for field in [
            "target_place",
            "components[0].percent_by_weight",
            "components[0].categories[0]",
            "components[0].categories[1]",
            "stock_price.currency_code",
            "stock_price_volume_ml",
            "label.mixed_date",
        ] {
            assert!(text.contains(field), "{field}: {text}");
        }
    }
}
