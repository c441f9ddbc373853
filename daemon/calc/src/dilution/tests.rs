//! Checks against published and computed values.

use super::*;
use crate::caution::{CautionCode, Severity};
use crate::error::CalcError;

pub(super) fn percent(percent: f64) -> Strength {
    Strength::Percent(percent)
}

pub(super) fn parts(product: f64, water: f64) -> Strength {
    Strength::Parts(Parts { product, water })
}

pub(super) fn label(text: &str) -> Strength {
    Strength::Label(text.to_owned())
}

pub(super) fn input(stock: Strength, target: Strength, total_ml: f64) -> DilutionInput {
    DilutionInput {
        stock,
        target,
        total_ml,
        existing: None,
        injector: None,
        target_at: TargetAt::Panel,
        substance: Substance::Unspecified,
        stock_density_g_per_ml: None,
        hazards: None,
        stock_price: None,
        label: None,
    }
}

pub(super) fn topped_up(
    stock: f64,
    target: f64,
    total_ml: f64,
    volume_ml: f64,
    strength: Strength,
) -> DilutionInput {
    let existing = Some(ExistingMix {
        volume_ml,
        strength,
    });
    DilutionInput {
        existing,
        ..input(percent(stock), percent(target), total_ml)
    }
}

fn through(water_l_per_min: f64, draw_l_per_min: f64, target: Strength) -> DilutionInput {
    let injector = Some(Injector {
        water_l_per_min,
        draw_l_per_min,
    });
    DilutionInput {
        injector,
        ..input(percent(100.0), target, 1000.0)
    }
}

fn close(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{found}, expected {expected}"
    );
}

fn refused(input: &DilutionInput) -> (&'static str, String, String) {
    match dilute(input) {
        Err(CalcError::Infeasible {
            reason,
            field,
            message,
        }) => (reason, field, message),
        other => panic!("{other:?}"),
    }
}

fn codes(input: &DilutionInput) -> Vec<CautionCode> {
    dilute(input)
        .unwrap()
        .cautions
        .iter()
        .map(|caution| caution.code)
        .collect()
}

/// The figures that the daemon is held against; 91 to 35 by C1 V1 = C2 V2.
#[test]
fn percent_and_parts_give_the_stated_amounts() {
    let mix = dilute(&input(percent(91.0), percent(35.0), 1000.0)).unwrap();
    close(mix.concentrate_ml, 384.615, 5e-4);
    close(mix.diluent_ml, 615.385, 5e-4);
    close(mix.strength_percent, 35.0, 1e-9);
    close(mix.water_parts, 1.6, 1e-9);
    for target in [parts(1.0, 10.0), label("1:10"), label("1+10")] {
        let mix = dilute(&input(percent(100.0), target, 1000.0)).unwrap();
        close(mix.concentrate_ml, 90.909, 5e-4);
        close(mix.water_parts, 10.0, 1e-9);
    }
}

/// Alligation, published on teaching pages: pharmacy-tech-study.com, 70 % and
/// water to 25 %, exact 357.143 + 642.857 ml (it prints 360 + 640).
#[test]
fn alligation_with_water_agrees() {
    let mix = dilute(&input(percent(70.0), percent(25.0), 1000.0)).unwrap();
    close(mix.concentrate_ml, 357.143, 5e-4);
    close(mix.diluent_ml, 642.857, 5e-4);
}

/// Alligation of two strengths is a top-up without water. Published: handout
/// (scribd.com 151502467), 95 % and 50 % to 70 % are 20 : 25 parts; its problems
/// and R. Aylor's tutorial II, 70 % and 20 % to 30 % are 10 : 40;
/// pharmacytutor.com, 30 % and 10 % to 20 %, 50 + 50 ml.
#[test]
fn alligation_of_two_strengths_agrees() {
    for (high, low, target, high_ml, low_ml) in [
        (95.0, 50.0, 70.0, 20.0, 25.0),
        (70.0, 20.0, 30.0, 10.0, 40.0),
        (30.0, 10.0, 20.0, 50.0, 50.0),
    ] {
        let total_ml = high_ml + low_ml;
        let mix = dilute(&topped_up(high, target, total_ml, low_ml, percent(low))).unwrap();
        close(mix.concentrate_ml, high_ml, 1e-9);
        close(mix.diluent_ml, 0.0, 1e-9);
        close(mix.strength_percent, target, 1e-9);
    }
}

/// Common practice for wipe-downs, no source: both are about 35 %.
#[test]
fn the_two_usual_wipe_downs_agree() {
    let strength = |stock, target| {
        dilute(&input(percent(stock), target, 1000.0))
            .unwrap()
            .strength_percent
    };
    let (first, second) = (
        strength(91.0, parts(40.0, 60.0)),
        strength(70.0, parts(1.0, 1.0)),
    );
    close(first, 36.4, 1e-9);
    close(second, 35.0, 1e-9);
    close(first, second, 1.5);
}

/// Computed in the check values from share = draw / (draw + water); its first
/// figure is the flow at the outlet, which is water + draw.
#[test]
fn injectors_agree_with_the_computed_values() {
    for (outlet, draw, share, water_parts) in [(8.0, 0.5, 6.25, 15.0), (7.6, 0.3, 3.947, 24.33)] {
        let mix = dilute(&through(outlet - draw, draw, percent(1.25))).unwrap();
        let injector = mix.injector.unwrap();
        close(injector.share_percent, share, 5e-4);
        close(injector.water_parts, water_parts, 5e-3);
        close(injector.outlet_percent, 1.25, 1e-9);
    }
    let mix = dilute(&through(7.5, 0.5, percent(1.25))).unwrap();
    let injector = mix.injector.unwrap();
    close(injector.bottle_percent, 20.0, 1e-9);
    close(injector.bottle_minutes, 2.0, 1e-12);
    close(mix.concentrate_ml, 200.0, 1e-9);
    close(mix.strength_percent, 20.0, 1e-9);
}

/// Published: ICS Magazine, "The Dilution Solution", 5 Feb 2010: an injector that
/// adds 8 parts of water turns a 5 qt jug into 45 qt. So a jug of stock as it is
/// leaves at 1 + 8.
#[test]
fn the_published_jug_leaves_at_one_to_eight() {
    let mix = dilute(&through(8.0, 1.0, parts(1.0, 8.0))).unwrap();
    let injector = mix.injector.unwrap();
    close(injector.water_parts, 8.0, 1e-12);
    close(5.0 * (1.0 + injector.water_parts), 45.0, 1e-12);
    close(mix.diluent_ml, 0.0, 1e-9);
}

#[test]
fn stock_parts_are_a_premix_and_target_parts_a_recipe() {
    let mix = dilute(&input(parts(1.0, 1.0), parts(1.0, 4.0), 1000.0)).unwrap();
    close(mix.concentrate_ml, 200.0, 1e-9);
    close(mix.strength_percent, 10.0, 1e-9);
    let words: Vec<&str> = mix
        .readings
        .iter()
        .map(|reading| reading.text.as_str())
        .collect();
    assert_eq!(
        words,
        [
            "1 part of product + 1 part of water",
            "1 part of the stock as it is + 4 parts of water"
        ]
    );
    let fields: Vec<&str> = mix.readings.iter().map(|reading| reading.field).collect();
    assert_eq!(fields, ["stock", "target"]);
}

/// Whatever the stock, a bottle mixed 1+10 and refilled at 1+10 takes 1+10.
#[test]
fn a_recipe_is_topped_up_by_the_same_recipe() {
    let existing = Some(ExistingMix {
        volume_ml: 340.0,
        strength: label("1:10"),
    });
    let mix = DilutionInput {
        existing,
        ..input(percent(91.0), label("1:10"), 1000.0)
    };
    let mix = dilute(&mix).unwrap();
    close(mix.concentrate_ml, 60.0, 1e-9);
    close(mix.diluent_ml, 600.0, 1e-9);
    close(mix.existing_ml, 340.0, 0.0);
    close(mix.water_parts, 10.0, 1e-9);
}

#[test]
fn one_to_ten_is_shown_beside_one_in_ten() {
    let mix = dilute(&input(percent(100.0), label("1:10"), 1000.0)).unwrap();
    let [parts, share] = mix.readings.as_slice() else {
        panic!("{:?}", mix.readings)
    };
    assert!(parts.used && !share.used);
    close(parts.percent, 100.0 / 11.0, 1e-12);
    close(share.percent, 10.0, 1e-12);
    let caution = mix
        .cautions
        .iter()
        .find(|c| c.code == CautionCode::LabelReadOneWay)
        .unwrap();
    assert!(
        caution.text.contains("9.09 %") && caution.text.contains("10 %"),
        "{}",
        caution.text
    );
}

#[test]
fn a_target_above_the_stock_is_refused_and_one_equal_to_it_is_not() {
    let (reason, field, message) = refused(&input(percent(35.0), percent(91.0), 1000.0));
    assert_eq!(
        (reason, field.as_str()),
        ("TARGET_ABOVE_STOCK", "target.percent")
    );
    assert_eq!(message, "91 % is wanted, stronger than the stock at 35 %");
    let mix = dilute(&input(percent(35.0), percent(35.0), 1000.0)).unwrap();
    close(mix.concentrate_ml, 1000.0, 1e-9);
    close(mix.diluent_ml, 0.0, 0.0);
}

/// Each refusal names a total or volume; at that figure it works, a little beyond not.
#[test]
fn a_refused_top_up_says_what_would_work() {
    let strong = |total_ml| topped_up(100.0, 10.0, total_ml, 600.0, percent(20.0));
    let (reason, field, message) = refused(&strong(1000.0));
    assert_eq!(
        (reason, field.as_str()),
        ("EXISTING_TOO_STRONG", "total_ml")
    );
    assert!(
        message.ends_with("the smallest total that works is 1200 ml"),
        "{message}"
    );
    close(dilute(&strong(1200.0)).unwrap().diluent_ml, 600.0, 1e-9);

    let weak = |total_ml, kept_ml| topped_up(50.0, 40.0, total_ml, kept_ml, percent(10.0));
    let (reason, field, message) = refused(&weak(1000.0, 500.0));
    assert_eq!(
        (reason, field.as_str()),
        ("EXISTING_TOO_WEAK", "existing.volume_ml")
    );
    assert!(message.contains("reach 30 %, not 40 %"), "{message}");
    assert!(message.ends_with("works is 2000 ml, or keep only 250 ml of what is there"));
    close(dilute(&weak(2000.0, 500.0)).unwrap().diluent_ml, 0.0, 1e-9);
    close(dilute(&weak(1000.0, 250.0)).unwrap().diluent_ml, 0.0, 1e-9);
    assert_eq!(refused(&weak(1990.0, 500.0)).0, "EXISTING_TOO_WEAK");

    // The bottle is stronger than the stock: stock takes the part of water.
    let odd = |total_ml| topped_up(50.0, 60.0, total_ml, 100.0, percent(90.0));
    let (reason, _, message) = refused(&odd(500.0));
    assert_eq!(reason, "EXISTING_TOO_WEAK");
    assert!(
        message.ends_with("the largest total that works is 400 ml"),
        "{message}"
    );
    close(dilute(&odd(400.0)).unwrap().concentrate_ml, 300.0, 1e-9);

    let full = topped_up(100.0, 10.0, 500.0, 600.0, percent(10.0));
    let (reason, field, _) = refused(&full);
    assert_eq!(
        (reason, field.as_str()),
        ("EXISTING_ABOVE_TOTAL", "existing.volume_ml")
    );
    let never = topped_up(50.0, 50.0, 1000.0, 100.0, percent(10.0));
    assert!(
        refused(&never)
            .2
            .ends_with("empty the bottle and fill it with stock")
    );
}

#[test]
fn an_injector_that_cannot_reach_the_target_says_how_far_it_goes() {
    let (reason, field, message) = refused(&through(7.5, 0.5, percent(10.0)));
    assert_eq!(
        (reason, field.as_str()),
        ("BOTTLE_ABOVE_STOCK", "target.percent")
    );
    assert!(message.contains("160 % in the bottle"), "{message}");
    assert!(
        message.ends_with("the strongest reachable at the panel is 6.25 %"),
        "{message}"
    );
    let mix = dilute(&through(7.5, 0.5, percent(6.25))).unwrap();
    close(mix.diluent_ml, 0.0, 1e-9);
}

#[test]
fn what_cannot_be_measured_out_is_refused() {
    let (reason, field, _) = refused(&input(percent(50.0), percent(1e-9), 1000.0));
    assert_eq!(
        (reason, field.as_str()),
        ("STRENGTH_TOO_LOW", "target.percent")
    );
    let (reason, field, _) = refused(&input(percent(1e-9), label("1:10"), 1000.0));
    assert_eq!(
        (reason, field.as_str()),
        ("STRENGTH_TOO_LOW", "stock.percent")
    );
}

#[test]
fn every_bad_value_is_named_under_its_api_path() {
    let bad = DilutionInput {
        stock: parts(0.0, f64::NAN),
        target: label("40:60"),
        total_ml: f64::INFINITY,
        existing: Some(ExistingMix {
            volume_ml: -1.0,
            strength: percent(140.0),
        }),
        injector: Some(Injector {
            water_l_per_min: 0.0,
            draw_l_per_min: 1e9,
        }),
        ..input(percent(1.0), percent(1.0), 1.0)
    };
    let CalcError::Invalid(found) = dilute(&bad).unwrap_err() else {
        panic!("invalid")
    };
    let fields: Vec<&str> = found
        .iter()
        .map(|violation| violation.field.as_str())
        .collect();
    assert_eq!(
        fields,
        [
            "stock.parts.product",
            "stock.parts.water",
            "target.label",
            "total_ml",
            "existing.volume_ml",
            "existing.strength.percent",
            "injector.water_l_per_min",
            "injector.draw_l_per_min",
        ]
    );
    let text = found.to_string();
    assert!(text.contains("40 %") && text.contains("60 %"), "{text}");
    assert!(
        text.contains("must be above 0 and up to 100 percent, got 140"),
        "{text}"
    );
}

#[test]
fn cautions_follow_the_substance_and_always_name_the_data_sheet() {
    use CautionCode::*;
    let of = |substance| {
        codes(&DilutionInput {
            substance,
            ..input(percent(91.0), percent(35.0), 1000.0)
        })
    };
    assert_eq!(of(Substance::Unspecified), [SafetyDataSheet]);
    assert_eq!(of(Substance::Shampoo), [SafetyDataSheet]);
    for alcohol in [Substance::IsopropylAlcohol, Substance::Ethanol] {
        assert_eq!(
            of(alcohol),
            [
                FlammableLiquid,
                MixClassified,
                SafetyDataSheet,
                VolumesAssumedToAdd
            ]
        );
    }
    assert_eq!(
        of(Substance::AlkalineCleaner),
        [CorrosiveSplash, SafetyDataSheet]
    );
    assert_eq!(
        of(Substance::AcidCleaner),
        [CorrosiveSplash, AcidIntoWater, SafetyDataSheet]
    );
    let top_up = topped_up(100.0, 10.0, 1000.0, 100.0, percent(10.0));
    assert_eq!(codes(&top_up), [TopUpSameProduct, SafetyDataSheet]);
    let lance = through(7.5, 0.5, percent(1.0));
    assert_eq!(codes(&lance), [InjectorRatioDrifts, SafetyDataSheet]);
    let solvent = DilutionInput {
        substance: Substance::Ethanol,
        ..lance
    };
    assert_eq!(
        dilute(&solvent).unwrap().cautions[0].severity,
        Severity::Warning
    );
}
