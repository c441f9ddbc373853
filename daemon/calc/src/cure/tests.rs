//! Held against computed tables and published examples; the source stands beside
//! each.

use proptest::prelude::*;

use super::timing::MilestoneBasis;
use super::*;
use crate::air::AirInput;
use crate::caution::{CautionCode, Severity};
use crate::error::CalcError;

pub(super) fn coating(response: Option<TemperatureResponse>) -> CoatingData {
    CoatingData {
        name: "two-layer coating".to_owned(),
        reference_c: 20.0,
        temperature_response: response,
        humidity_response: None,
        wipe: Some(WipeWindow {
            earliest_minutes: 2.0,
            latest_minutes: 6.0,
        }),
        recoat: Some(RecoatWindow {
            open_hours: 1.0,
            close_hours: 24.0,
        }),
        dry_hours: 24.0,
        wash_hours: Some(168.0),
        full_cure_hours: Some(336.0),
        min_panel_c: Some(10.0),
        max_panel_c: Some(30.0),
        min_relative_humidity_percent: None,
        max_relative_humidity_percent: Some(70.0),
    }
}

pub(super) fn arrhenius(kj: f64) -> Option<TemperatureResponse> {
    Some(TemperatureResponse::Arrhenius {
        activation_energy_kj_per_mol: kj,
    })
}

/// Same section: hours at a constant temperature worth 24 h at 20 C, Ea 60 kJ/mol, computed
/// with scipy.
#[test]
fn hours_worth_a_day_agree_with_scipy() {
    for (panel_c, expected) in [
        (5.0, 90.520),
        (12.0, 47.879),
        (15.0, 36.789),
        (25.0, 15.883),
        (30.0, 10.655),
        (60.0, 1.249),
    ] {
        let input = CureInput::held(coating(arrhenius(60.0)), panel_c, None);
        let result = time_cure(&input).unwrap();
        let dry = result
            .milestones
            .iter()
            .find(|m| m.kind == MilestoneKind::Dry)
            .unwrap();
        assert!(
            (dry.after_hours - expected).abs() < 1e-3,
            "{panel_c} C: {dry:?}"
        );
    }
}

#[test]
fn milestones_come_in_order_of_time_and_all_of_them() {
    let input = CureInput::held(coating(arrhenius(50.0)), 18.0, None);
    let kinds: Vec<MilestoneKind> = time_cure(&input)
        .unwrap()
        .milestones
        .iter()
        .map(|m| m.kind)
        .collect();
    use MilestoneKind::*;
    assert_eq!(
        kinds,
        [
            WipeOpen,
            WipeClose,
            RecoatOpen,
            RecoatClose,
            Dry,
            Wash,
            FullCure
        ]
    );
}

#[test]
fn conditions_outside_the_product_data_are_cautioned() {
    let air = Some(AirInput {
        air_c: 8.0,
        relative_humidity_percent: 90.0,
        pressure_pa: None,
        altitude_m: None,
    });
    let input = CureInput::held(coating(None), 8.0, air);
    let codes: Vec<CautionCode> = time_cure(&input)
        .unwrap()
        .cautions
        .iter()
        .map(|c| c.code)
        .collect();
    for code in [
        CautionCode::PanelOutOfProductRange,
        CautionCode::HumidityOutOfProductRange,
        CautionCode::CureNotScaled,
        CautionCode::DewPointNear,
        CautionCode::SafetyDataSheet,
    ] {
        assert!(codes.contains(&code), "{code:?} in {codes:?}");
    }
}

#[test]
fn every_bad_value_is_named_under_its_api_path() {
    let mut data = coating(arrhenius(5.0));
    data.dry_hours = -1.0;
    data.recoat = Some(RecoatWindow {
        open_hours: 5.0,
        close_hours: 2.0,
    });
    let air = Some(AirInput {
        air_c: 20.0,
        relative_humidity_percent: 0.0,
        pressure_pa: None,
        altitude_m: None,
    });
    let input = CureInput::held(data, f64::NAN, air);
    let CalcError::Invalid(found) = time_cure(&input).unwrap_err() else {
        panic!("invalid")
    };
    let fields: Vec<&str> = found.iter().map(|v| v.field.as_str()).collect();
    assert_eq!(
        fields,
        [
            "coating.activation_energy_kj_per_mol",
            "coating.recoat_close_hours",
            "coating.dry_hours",
            "panel_c",
            "air.relative_humidity_percent",
        ]
    );
}

#[test]
fn without_a_response_times_stand_as_stated_and_that_is_said() {
    let input = CureInput::held(coating(None), 12.0, None);
    let found = time_cure(&input).unwrap();
    assert!((found.rate - 1.0).abs() < 1e-15);
    let dry = found
        .milestones
        .iter()
        .find(|m| m.kind == MilestoneKind::Dry)
        .unwrap();
    assert!((dry.after_hours - 24.0).abs() < 1e-12);
    assert_eq!(dry.basis, MilestoneBasis::ProductData);
    let severity = |panel_c| {
        let input = CureInput {
            panel_c: Some(panel_c),
            ..input.clone()
        };
        let cautions = time_cure(&input).unwrap().cautions;
        cautions
            .into_iter()
            .find(|c| c.code == CautionCode::CureNotScaled)
            .unwrap()
            .severity
    };
    assert_eq!(severity(12.0), Severity::Caution);
    assert_eq!(severity(20.0), Severity::Info);
    let scaled = CureInput {
        coating: coating(arrhenius(60.0)),
        ..input
    };
    let milestones = time_cure(&scaled).unwrap().milestones;
    assert!(
        milestones
            .iter()
            .all(|m| m.basis == MilestoneBasis::ProductDataScaled)
    );
}

#[test]
fn the_margin_to_the_dew_point_is_given_and_cautioned_under_3_kelvins() {
    // PsychroLib 2.5.0: dew point of 20 C, 65 % is 13.227 C.
    let air = Some(AirInput {
        air_c: 20.0,
        relative_humidity_percent: 65.0,
        pressure_pa: None,
        altitude_m: None,
    });
    let at = |panel_c| {
        let input = CureInput::held(coating(arrhenius(60.0)), panel_c, air);
        time_cure(&input).unwrap()
    };
    let near = at(16.0);
    assert!((near.dew_point_c.unwrap() - 13.227).abs() < 0.05);
    assert!((near.dew_margin_k.unwrap() - 2.773).abs() < 0.05);
    assert!(
        near.cautions
            .iter()
            .any(|c| c.code == CautionCode::DewPointNear)
    );
    assert!(
        at(16.5)
            .cautions
            .iter()
            .all(|c| c.code != CautionCode::DewPointNear)
    );
}

#[test]
fn air_that_was_not_measured_is_said_to_be_unknown() {
    let input = CureInput::held(coating(arrhenius(60.0)), 20.0, None);
    let found = time_cure(&input).unwrap();
    assert_eq!((found.dew_point_c, found.dew_margin_k), (None, None));
    assert!(
        found
            .cautions
            .iter()
            .any(|c| c.code == CautionCode::AirUnknown)
    );
}

#[test]
fn a_products_own_humidity_limit_stands_in_for_the_general_one() {
    let air = Some(AirInput {
        air_c: 20.0,
        relative_humidity_percent: 88.0,
        pressure_pa: None,
        altitude_m: None,
    });
    let humid = |limit| {
        let mut data = coating(arrhenius(60.0));
        data.max_relative_humidity_percent = limit;
        let input = CureInput::held(data, 25.0, air);
        let cautions = time_cure(&input).unwrap().cautions;
        let of_humidity = [
            CautionCode::HumidityHigh,
            CautionCode::HumidityOutOfProductRange,
        ];
        let codes: Vec<CautionCode> = cautions
            .iter()
            .map(|c| c.code)
            .filter(|code| of_humidity.contains(code))
            .collect();
        codes
    };
    assert_eq!(humid(None), [CautionCode::HumidityHigh]);
    assert_eq!(humid(Some(90.0)), []);
    assert_eq!(humid(Some(70.0)), [CautionCode::HumidityOutOfProductRange]);
}

#[test]
fn the_recoat_window_is_spelled_out_or_said_to_be_unknown() {
    let caution = |recoat| {
        let mut data = coating(arrhenius(60.0));
        data.recoat = recoat;
        let input = CureInput::held(data, 12.0, None);
        let of_recoat = [
            CautionCode::RecoatWindowCloses,
            CautionCode::RecoatWindowUnknown,
        ];
        let cautions = time_cure(&input).unwrap().cautions;
        cautions
            .into_iter()
            .find(|c| of_recoat.contains(&c.code))
            .unwrap()
    };
    assert_eq!(caution(None).code, CautionCode::RecoatWindowUnknown);
    // 24 h at 20 C are 47.879 h at 12 C (check values, section 3), so 1 h is 1.995 h.
    let window = caution(Some(RecoatWindow {
        open_hours: 1.0,
        close_hours: 24.0,
    }));
    assert_eq!(window.code, CautionCode::RecoatWindowCloses);
    assert!(
        window.text.contains("between 2.0 and 47.9 hours"),
        "{}",
        window.text
    );
}

#[test]
fn only_a_baked_film_is_spared_the_caution_on_full_cure() {
    let cautioned = |panel_c| {
        let input = CureInput::held(coating(arrhenius(60.0)), panel_c, None);
        let cautions = time_cure(&input).unwrap().cautions;
        cautions
            .iter()
            .any(|c| c.code == CautionCode::FullCureIsEarliest)
    };
    assert!(cautioned(20.0) && cautioned(35.0));
    assert!(!cautioned(80.0));
}

#[test]
fn a_cure_that_would_outlast_the_calendar_is_refused() {
    let mut data = coating(arrhenius(200.0));
    data.reference_c = 60.0;
    let input = CureInput::held(data, -20.0, None);
    match time_cure(&input) {
        Err(CalcError::Infeasible {
            reason,
            field,
            message,
        }) => {
            assert_eq!((reason, field.as_str()), ("CURE_TOO_SLOW", "panel_c"));
            assert!(message.contains("-20 C"), "{message}");
        }
        other => panic!("{other:?}"),
    }
}

proptest! {
    #[test]
    fn no_number_makes_it_panic(a: f64, b: f64, c: f64, d: f64, panel_c: f64) {
        let mut data = coating(Some(TemperatureResponse::Q10 { factor: a }));
        data.dry_hours = b;
        data.wash_hours = Some(c);
        data.reference_c = d;
        let _ = time_cure(&CureInput::held(data, panel_c, None));
    }

    #[test]
    fn milestones_keep_their_order_and_stay_finite(
        kj in 10.0..200.0f64,
        reference_c in 0.0..100.0f64,
        panel_c in -20.0..100.0f64,
    ) {
        let mut data = coating(arrhenius(kj));
        data.reference_c = reference_c;
        let reference = time_cure(&CureInput::held(data.clone(), reference_c, None));
        let stated = reference.unwrap().milestones;
        match time_cure(&CureInput::held(data, panel_c, None)) {
            Ok(found) => {
                prop_assert_eq!(found.milestones.len(), stated.len());
                for (found_at, stated_at) in found.milestones.iter().zip(&stated) {
                    prop_assert_eq!(found_at.kind, stated_at.kind);
                    prop_assert!((0.0..=1e6).contains(&found_at.after_hours));
                    prop_assert!(
                        (found_at.after_hours * found.rate - stated_at.after_hours).abs()
                            <= 1e-9 * stated_at.after_hours
                    );
                }
            }
            Err(CalcError::Infeasible { .. }) => prop_assert!(panel_c < reference_c),
            Err(error) => prop_assert!(false, "{}", error),
        }
    }
}
