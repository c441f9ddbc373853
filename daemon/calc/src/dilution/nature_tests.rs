//! What a mix is beyond its volumes: sources beside each figure.

use proptest::prelude::*;

use super::tests::{input, label, parts, percent};
use super::*;
use crate::caution::CautionCode;
use crate::error::CalcError;
use crate::mix::cost::StockPrice;
use crate::mix::hazard::{Category, Component, HazardClass, HazardInput};
use crate::mix::label::{LabelInput, MAX_LINE_CHARS};

fn wipe_down() -> DilutionInput {
    DilutionInput {
        substance: Substance::IsopropylAlcohol,
        ..input(percent(91.0), percent(35.0), 1000.0)
    }
}

fn base(percent_by_weight: f64) -> Component {
    Component {
        name: "alkali".to_owned(),
        percent_by_weight,
        categories: vec![Category::SkinCorrosive1],
        ph: None,
        not_additive: false,
    }
}

/// The simple sums stay; the true yield stands beside them (Lebo 1921, scipy PCHIP:
/// see the table of checks for the figures).
#[test]
fn the_true_yield_stands_beside_the_sums() {
    let mix = dilute(&wipe_down()).unwrap();
    assert!((mix.concentrate_ml - 384.615).abs() < 5e-4);
    assert!((mix.diluent_ml - 615.385).abs() < 5e-4);
    let (real, exact) = (mix.nature.real.unwrap(), mix.nature.exact.unwrap());
    assert!(
        real.true_total_ml < 980.0 && real.true_total_ml > 960.0,
        "{real:?}"
    );
    assert!((real.true_strength_percent * real.true_total_ml - 35_000.0).abs() < 1e-6);
    assert!((exact.concentrate_ml - mix.concentrate_ml).abs() < 1e-12);
    assert!(exact.diluent_ml > mix.diluent_ml + 20.0, "{exact:?}");
    // Poured exactly, weights add up to the volume wanted at its density.
    let weights = mix.nature.weights.unwrap();
    let mass_g = weights.concentrate_g + exact.diluent_g;
    let density = crate::mix::Alcohol::TwoPropanol.density_at_volume_percent(35.0);
    assert!((mass_g - 1000.0 * density).abs() < 1e-6, "{mass_g}");
}

/// Published: OIML R 22; 1 l of 96 % to 70 % takes 407.8 ml of water (computed in the
/// check values), and adding volumes would say 371.4 ml.
#[test]
fn ethanol_takes_the_water_that_the_tables_say() {
    let mix = DilutionInput {
        substance: Substance::Ethanol,
        ..input(percent(96.0), percent(70.0), 1000.0 * 96.0 / 70.0)
    };
    let mix = dilute(&mix).unwrap();
    assert!((mix.diluent_ml - 371.4).abs() < 0.06);
    assert!((mix.nature.exact.unwrap().diluent_ml - 407.8).abs() < 0.06);
}

#[test]
fn other_products_are_weighed_by_their_own_density_only() {
    let plain = input(percent(100.0), parts(1.0, 9.0), 1000.0);
    assert_eq!(dilute(&plain).unwrap().nature.weights, None);
    let dense = DilutionInput {
        stock_density_g_per_ml: Some(1.2),
        ..plain
    };
    let weights = dilute(&dense).unwrap().nature.weights.unwrap();
    assert!((weights.concentrate_g - 120.0).abs() < 1e-9);
    assert!((weights.diluent_g - 898.381).abs() < 1e-3);
}

#[test]
fn an_alcohol_brings_its_flash_point_limits_and_class() {
    let nature = dilute(&wipe_down()).unwrap().nature;
    let flash = nature.flash.unwrap();
    assert!(flash.lower_c < 23.0 && flash.lower_c >= 11.7, "{flash:?}");
    let hazard = nature.hazard.unwrap();
    assert!(hazard.has(HazardClass::Flammable2) && hazard.has(HazardClass::EyeIrritation2));
    assert_eq!(nature.exposure_limits.len(), 4);
    // Too weak for a figure: said, and not taken as safe.
    let weak = DilutionInput {
        target: percent(3.0),
        ..wipe_down()
    };
    let mix = dilute(&weak).unwrap();
    assert_eq!(mix.nature.flash, None);
    let text = &mix
        .cautions
        .iter()
        .find(|c| c.code == CautionCode::FlammableLiquid)
        .unwrap()
        .text;
    assert!(text.contains("does not make it safe"), "{text}");
}

/// By weight: 100 ml at 1.25 g/ml in 900 ml of water is 125 / (125 + 898.4) =
/// 12.21 % of stock, so 30 % of a skin 1 base leaves 3.66 %: skin 2, eye 1.
#[test]
fn ingredients_are_reckoned_by_weight() {
    let hazards = HazardInput {
        components: vec![base(30.0)],
        ..HazardInput::default()
    };
    let input = DilutionInput {
        hazards: Some(hazards),
        stock_density_g_per_ml: Some(1.25),
        ..input(percent(100.0), parts(1.0, 9.0), 1000.0)
    };
    let hazard = dilute(&input).unwrap().nature.hazard.unwrap();
    let found: Vec<_> = hazard
        .findings
        .iter()
        .map(|finding| finding.class)
        .collect();
    assert_eq!(
        found,
        [HazardClass::EyeDamage1, HazardClass::SkinIrritation2]
    );
    assert!(
        hazard.findings[0].rule.contains("3.66 %"),
        "{:?}",
        hazard.findings
    );
    let CalcError::Invalid(found) = dilute(&DilutionInput {
        stock_density_g_per_ml: None,
        ..input
    })
    .unwrap_err() else {
        panic!("invalid")
    };
    assert!(
        found
            .to_string()
            .starts_with("stock_density_g_per_ml: is required")
    );
}

/// Computed in the check values, 1.3: a bottle premixed to 20 % leaves a lance with
/// 0.5 l/min drawn into 8 l/min at the outlet at 1.25 %; a litre lasts 2 minutes.
#[test]
fn a_given_bottle_says_what_arrives() {
    let lance = DilutionInput {
        target_at: TargetAt::Bottle,
        injector: Some(Injector {
            water_l_per_min: 7.5,
            draw_l_per_min: 0.5,
        }),
        stock_price: Some(StockPrice {
            minor_units: 1000,
            volume_ml: 1000.0,
        }),
        ..input(percent(100.0), percent(20.0), 1000.0)
    };
    let mix = dilute(&lance).unwrap();
    let injector = mix.injector.unwrap();
    assert!((mix.concentrate_ml - 200.0).abs() < 1e-9);
    assert!((injector.outlet_percent - 1.25).abs() < 1e-12);
    assert!((injector.bottle_minutes - 2.0).abs() < 1e-12);
    // 10.00 a litre: 2.00 at a fifth, 0.125 at a sixteenth of that, half to even.
    let cost = mix.nature.cost.unwrap();
    assert_eq!(cost.per_litre_minor_units, 200);
    assert_eq!(cost.at_panel_per_litre_minor_units, Some(12));
    // Stronger than the stock, there is still no bottle.
    let strong = DilutionInput {
        stock: percent(10.0),
        ..lance
    };
    assert!(matches!(
        dilute(&strong),
        Err(CalcError::Infeasible {
            reason: "BOTTLE_ABOVE_STOCK",
            ..
        })
    ));
}

#[test]
fn a_label_says_what_how_strong_when_and_which_hazard() {
    let label = LabelInput {
        what: "Wipe-down".to_owned(),
        mixed_date: "2025-03-01".to_owned(),
    };
    let mix = DilutionInput {
        label: Some(label),
        ..wipe_down()
    };
    let lines = dilute(&mix).unwrap().nature.label_lines;
    assert_eq!(
        lines,
        [
            "Wipe-down",
            "35 % by volume, 1 + 1.6 water",
            "mixed 2025-03-01, 1000 ml",
            "DANGER",
            "H225 Liquid and vapour catch fire very",
            "easily.",
            "H319 Irritates the eyes badly.",
            "H336 Vapour makes drowsy and dizzy.",
            "See safety data sheet.",
        ]
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn garbage_never_panics(
        (a, b, c, d, e) in any::<(f64, f64, f64, f64, f64)>(),
        units in any::<i64>(),
        text in ".{0,90}",
        alcohol in any::<bool>(),
        at_bottle in any::<bool>(),
    ) {
        let odd = DilutionInput {
            target_at: if at_bottle { TargetAt::Bottle } else { TargetAt::Panel },
            substance: if alcohol { Substance::IsopropylAlcohol } else { Substance::Ethanol },
            stock_density_g_per_ml: Some(c),
            hazards: Some(HazardInput {
                components: vec![base(d)],
                stock_ph: Some(e),
                mix_ph: None,
            }),
            stock_price: Some(StockPrice { minor_units: units, volume_ml: d }),
            label: Some(LabelInput { what: text.clone(), mixed_date: text }),
            existing: Some(ExistingMix { volume_ml: d, strength: label("1:10") }),
            injector: Some(Injector { water_l_per_min: a, draw_l_per_min: b }),
            ..input(percent(a), percent(b), c)
        };
        let _ = dilute(&odd);
    }

    #[test]
    fn sound_input_has_a_finite_answer(
        stock in 5.0..100.0f64,
        part in 0.01..1.0f64,
        total_ml in 0.1..1e7f64,
        filled in 0.0..0.9f64,
        price in 0..1_000_000_000_000i64,
        bought in 0.001..1e7f64,
        kind in 0..3usize,
    ) {
        let kinds = [Substance::IsopropylAlcohol, Substance::Ethanol, Substance::Shampoo];
        let volume_ml = total_ml * filled;
        let existing = (volume_ml > 0.0).then(|| ExistingMix {
            volume_ml,
            strength: percent(stock * part),
        });
        let sound = DilutionInput {
            substance: kinds[kind],
            existing,
            stock_price: Some(StockPrice { minor_units: price, volume_ml: bought }),
            label: Some(LabelInput { what: "x".to_owned(), mixed_date: "2025-01-31".to_owned() }),
            ..input(percent(stock), percent(stock * part), total_ml)
        };
        let nature = dilute(&sound).unwrap().nature;
        if let Some(real) = nature.real {
            prop_assert!(real.true_total_ml.is_finite() && real.true_total_ml > 0.0);
            // Weak alcohol swells a little when thinned: both density curves turn there.
            prop_assert!(real.contraction_percent > -0.25 && real.contraction_percent < 4.0);
        }
        prop_assert!(nature.cost.unwrap().per_litre_minor_units >= 0);
        let short = |line: &String| line.chars().count() <= MAX_LINE_CHARS;
        prop_assert!(nature.label_lines.iter().all(short));
    }
}
