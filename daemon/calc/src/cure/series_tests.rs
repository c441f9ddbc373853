//! Cures along a series, under lamps, with doubt, and backwards. The same along 20
//! profiles against scipy: `tests/tests/calc/cure.rs`.

use super::tests::{arrhenius, coating};
use super::*;
use crate::air::AirInput;
use crate::caution::CautionCode;
use crate::error::CalcError;

fn sample(at_hours: f64, panel_c: f64) -> Sample {
    Sample {
        at_hours,
        panel_c,
        relative_humidity_percent: None,
    }
}

pub(super) fn along(samples: &[Sample]) -> CureInput {
    CureInput {
        panel_c: None,
        samples: samples.to_vec(),
        ..CureInput::held(coating(arrhenius(60.0)), 20.0, None)
    }
}

fn of(result: &CureResult, kind: MilestoneKind) -> Milestone {
    *result
        .milestones
        .iter()
        .find(|milestone| milestone.kind == kind)
        .unwrap()
}

pub(super) fn dry(input: &CureInput) -> Milestone {
    of(&time_cure(input).unwrap(), MilestoneKind::Dry)
}

fn has(result: &CureResult, code: CautionCode) -> bool {
    result.cautions.iter().any(|caution| caution.code == code)
}

/// Check values, section 3, profile A (scipy.integrate.quad, Ea 60 kJ/mol): 15 to 35 C in 4 h,
/// 8 h at 35 C, 35 to 10 C in 12 h are worth 6.66573 + 26.51514 + 17.26471 h at 20 C.
#[test]
fn profile_a_agrees_with_scipy() {
    let profile = [
        sample(0.0, 15.0),
        sample(4.0, 35.0),
        sample(12.0, 35.0),
        sample(24.0, 10.0),
    ];
    for (dose, at_hours) in [(6.66573, 4.0), (33.18087, 12.0), (50.44558, 24.0)] {
        let mut input = along(&profile);
        input.coating.dry_hours = dose;
        let found = dry(&input).after_hours;
        // Where the panel is cold, 1e-5 h of dose are 2e-5 h of time.
        assert!((found - at_hours).abs() < 5e-5, "{dose}: {found}");
    }
}

/// Check values, section 3, profile B: 18 + 6 sin(2 pi t / 24) C over 24 h is worth 21.49378 h
/// and has a mean kinetic temperature of 18.6924 C (scipy.integrate.quad, Ea 60 kJ/mol).
#[test]
fn profile_b_and_its_mean_kinetic_temperature_agree_with_scipy() {
    let profile: Vec<Sample> = (0..=480)
        .map(|step| {
            let hours = f64::from(step) / 20.0;
            sample(
                hours,
                18.0 + 6.0 * (std::f64::consts::TAU * hours / 24.0).sin(),
            )
        })
        .collect();
    let mut input = along(&profile);
    input.coating.dry_hours = 21.49378;
    let found = time_cure(&input).unwrap();
    assert!(
        (of(&found, MilestoneKind::Dry).after_hours - 24.0).abs() < 1e-3,
        "{found:?}"
    );
    assert!(
        (found.mean_kinetic_c.unwrap() - 18.6924).abs() < 1e-3,
        "{found:?}"
    );
}

/// Check values, section 3: 2 h at 12 C then 1 h at 60 C are worth 20.2160 h; at 18 C it takes
/// 4.4812 h more to reach 24.
#[test]
fn a_lamp_agrees_with_the_computed_dose() {
    let input = CureInput {
        lamps: vec![Lamp {
            from_hours: 2.0,
            to_hours: 3.0,
            panel_c: 60.0,
        }],
        ..along(&[
            sample(0.0, 12.0),
            sample(2.0, 12.0),
            sample(3.0, 18.0),
            sample(9.0, 18.0),
        ])
    };
    let found = dry(&input).after_hours;
    assert!((found - 7.4812).abs() < 1e-4, "{found}");
    // Inside the lamp's hour: 2 h at 12 C are 1.0025 h, so 18 h are reached within it.
    let mut inside = input;
    inside.coating.dry_hours = 18.0;
    let found = dry(&inside).after_hours;
    assert!(
        (found - (2.0 + (18.0 - 2.0 * 24.0 / 47.879) / 19.2135)).abs() < 1e-4,
        "{found}"
    );
}

#[test]
fn one_sample_held_is_a_constant_temperature() {
    let constant = dry(&CureInput::held(coating(arrhenius(60.0)), 12.0, None));
    let held = dry(&along(&[sample(7.0, 12.0)]));
    assert!((constant.after_hours - held.after_hours).abs() < 1e-9);
    assert!(!constant.rests_on_forecast && held.rests_on_forecast);
}

/// Check values, section 3: 24 h at 20 C take 36.789 h at 15 C and 15.883 h at 25 C.
#[test]
fn doubt_in_temperature_gives_the_times_of_the_temperatures_either_way() {
    let input = CureInput {
        temperature_uncertainty_k: Some(5.0),
        ..CureInput::held(coating(arrhenius(60.0)), 20.0, None)
    };
    let found = dry(&input);
    assert!((found.after_hours - 24.0).abs() < 1e-9, "{found:?}");
    assert!((found.latest_hours - 36.789).abs() < 1e-3, "{found:?}");
    assert!((found.earliest_hours - 15.883).abs() < 1e-3, "{found:?}");
}

/// GUM (JCGM 100:2008) 5.1.2: independent effects add in squares. 5 K are ln(36.789/24) on the
/// slow side (as above), 50 % of rate are ln 1.5.
#[test]
fn doubts_add_in_squares_on_the_logarithm() {
    let rate_only = CureInput {
        rate_uncertainty_percent: Some(50.0),
        ..CureInput::held(coating(arrhenius(60.0)), 20.0, None)
    };
    let found = dry(&rate_only);
    assert!((found.latest_hours - 36.0).abs() < 1e-9 && (found.earliest_hours - 16.0).abs() < 1e-9);
    let both = CureInput {
        temperature_uncertainty_k: Some(5.0),
        ..rate_only
    };
    let expected = 24.0 * f64::hypot((36.789f64 / 24.0).ln(), 1.5f64.ln()).exp();
    assert!(
        (dry(&both).latest_hours - expected).abs() < 2e-3,
        "{:?}",
        dry(&both)
    );
}

#[test]
fn what_rests_on_a_forecast_says_so() {
    let day: Vec<Sample> = (0..60).map(|hour| sample(f64::from(hour), 20.0)).collect();
    let input = CureInput {
        forecast_from_hours: Some(10.0),
        ..along(&day)
    };
    let found = time_cure(&input).unwrap();
    assert!(!of(&found, MilestoneKind::RecoatOpen).rests_on_forecast);
    assert!(of(&found, MilestoneKind::Dry).rests_on_forecast);
    assert!(has(&found, CautionCode::RestsOnForecast));
    // All logged: dry after 24 h is known, washing after 168 h lies beyond the last sample.
    let logged = time_cure(&along(&day)).unwrap();
    assert!(!of(&logged, MilestoneKind::Dry).rests_on_forecast);
    assert!(of(&logged, MilestoneKind::Wash).rests_on_forecast);
}

#[test]
fn a_promise_runs_backwards_to_the_latest_start() {
    let profile = [
        sample(0.0, 15.0),
        sample(30.0, 25.0),
        sample(60.0, 10.0),
        sample(90.0, 20.0),
    ];
    for lamps in [
        vec![],
        vec![Lamp {
            from_hours: 1.0,
            to_hours: 1.5,
            panel_c: 50.0,
        }],
    ] {
        let input = CureInput {
            lamps,
            temperature_uncertainty_k: Some(2.0),
            release: Some(Release {
                milestone: MilestoneKind::Dry,
                by_hours: 80.0,
            }),
            ..along(&profile)
        };
        let start = time_cure(&input).unwrap().latest_start_hours.unwrap();
        let forwards = CureInput {
            start_hours: Some(start),
            ..input.clone()
        };
        let kept = start + dry(&forwards).latest_hours;
        assert!((kept - 80.0).abs() < 1e-6, "{start}: {kept}");
        let later = CureInput {
            start_hours: Some(start + 0.1),
            ..input
        };
        let found = time_cure(&later).unwrap();
        assert!(start + 0.1 + of(&found, MilestoneKind::Dry).latest_hours > 80.0);
        assert!(
            has(&found, CautionCode::ReleaseMissed),
            "{:?}",
            found.cautions
        );
    }
}

/// 24 h at 20 C are 47.879 h at 12 C: check values, section 3.
#[test]
fn a_promise_at_a_held_temperature_needs_no_series() {
    let input = CureInput {
        release: Some(Release {
            milestone: MilestoneKind::Dry,
            by_hours: 0.0,
        }),
        ..CureInput::held(coating(arrhenius(60.0)), 12.0, None)
    };
    let start = time_cure(&input).unwrap().latest_start_hours.unwrap();
    assert!((start + 47.879).abs() < 1e-3, "{start}");
    let lamp = Lamp {
        from_hours: 0.0,
        to_hours: 1.3,
        panel_c: 60.0,
    };
    let under_lamp = CureInput {
        lamps: vec![lamp],
        ..input
    };
    let start = time_cure(&under_lamp).unwrap().latest_start_hours.unwrap();
    assert!((start + 1.249).abs() < 1e-3, "{start}");
}

#[test]
fn a_promise_that_no_start_keeps_is_said_to_be_out_of_reach() {
    let input = CureInput {
        release: Some(Release {
            milestone: MilestoneKind::Wash,
            by_hours: 20.0,
        }),
        ..along(&[sample(0.0, 15.0), sample(30.0, 25.0)])
    };
    let found = time_cure(&input).unwrap();
    assert_eq!(found.latest_start_hours, None);
    assert!(has(&found, CautionCode::ReleaseOutOfReach));
}

/// Check values, section 2 (psychrolib): 25 C, 50 % holds 11.5 g/m3. A reference of 20 C, 50 %
/// holds, with the saturation pressure there (2338.80 Pa), 0.5 x 2338.80 / (461.5 x 293.15)
/// = 8.644 g/m3. The 11.5 is printed to 0.05, which is what the tolerances allow.
#[test]
fn a_moisture_cure_follows_absolute_humidity() {
    let mut data = coating(None);
    let response = HumidityResponse {
        reference_relative_humidity_percent: 50.0,
        exponent: 1.0,
    };
    data.humidity_response = Some(response);
    let air = AirInput {
        air_c: 25.0,
        relative_humidity_percent: 50.0,
        pressure_pa: None,
        altitude_m: None,
    };
    let found = dry(&CureInput::held(data.clone(), 30.0, Some(air)));
    assert!(
        (found.after_hours - 24.0 * 8.644 / 11.5).abs() < 0.08,
        "{found:?}"
    );
    assert!((humidity_rate(&data, 25.0, 50.0) - 11.5 / 8.644).abs() < 0.006);
    data.humidity_response = Some(HumidityResponse {
        exponent: 2.0,
        ..response
    });
    assert!((humidity_rate(&data, 25.0, 50.0) - (11.5f64 / 8.644).powi(2)).abs() < 0.016);
    let unknown = time_cure(&CureInput::held(data, 30.0, None)).unwrap();
    assert!(has(&unknown, CautionCode::HumidityNotScaled));
}

#[test]
fn a_table_passes_through_its_points_and_promises_no_more_beyond_them() {
    let points = [(10.0, 0.5), (20.0, 2.0), (30.0, 4.0)];
    let mut data = coating(Some(TemperatureResponse::Table {
        points: points
            .iter()
            .map(|&(panel_c, rate)| RatePoint { panel_c, rate })
            .collect(),
    }));
    // Scaled to 1 at the reference.
    for (panel_c, expected) in [
        (10.0, 0.25),
        (20.0, 1.0),
        (30.0, 2.0),
        (25.0, 2f64.sqrt()),
        (60.0, 2.0),
        (0.0, 0.0625),
    ] {
        let found = rate(&data, panel_c);
        assert!((found - expected).abs() < 1e-12, "{panel_c} C: {found}");
    }
    data.reference_c = 40.0;
    let error = time_cure(&CureInput::held(data, 20.0, None))
        .unwrap_err()
        .to_string();
    assert!(
        error.starts_with("coating.reference_c: must lie within the table"),
        "{error}"
    );
}

#[test]
fn every_bad_sample_lamp_and_time_is_named() {
    let humid = Sample {
        relative_humidity_percent: Some(200.0),
        ..sample(3.0, 20.0)
    };
    let input = CureInput {
        panel_c: Some(20.0),
        lamps: vec![
            Lamp {
                from_hours: 2.0,
                to_hours: 1.0,
                panel_c: 60.0,
            },
            Lamp {
                from_hours: 0.5,
                to_hours: 3.0,
                panel_c: f64::NAN,
            },
        ],
        start_hours: Some(-1.0),
        temperature_uncertainty_k: Some(-1.0),
        rate_uncertainty_percent: Some(f64::INFINITY),
        ..along(&[
            sample(0.0, 20.0),
            sample(5.0, f64::NAN),
            sample(5.0, 20.0),
            humid,
        ])
    };
    let CalcError::Invalid(found) = time_cure(&input).unwrap_err() else {
        panic!("invalid")
    };
    let fields: Vec<&str> = found
        .iter()
        .map(|violation| violation.field.as_str())
        .collect();
    assert_eq!(
        fields,
        [
            "panel_c",
            "samples[1].panel_c",
            "samples[2].time",
            "samples[3].time",
            "samples[3].relative_humidity_percent",
            "lamps[0].to_hours",
            "lamps[1].panel_c",
            "lamps[1].from_hours",
            "applied_time",
            "temperature_uncertainty_k",
            "rate_uncertainty_percent",
        ]
    );
}

#[test]
fn a_long_bad_series_is_refused_in_short() {
    let bad: Vec<Sample> = (0..20_000).map(|_| sample(f64::NAN, -300.0)).collect();
    let CalcError::Invalid(found) = time_cure(&along(&bad)).unwrap_err() else {
        panic!("invalid")
    };
    assert_eq!(found.iter().count(), 41);
    let last = found.iter().last().unwrap();
    assert_eq!(
        last.message,
        "has 20000 bad entries; the first 20 are named"
    );
}

/// A bay swings by some kelvins an hour; this series is damaged, and following
/// each of its swings would take long.
#[test]
fn a_series_that_jumps_from_end_to_end_is_refused() {
    let wild: Vec<Sample> = (0..20_000)
        .map(|step| sample(f64::from(step), if step % 2 == 0 { -20.0 } else { 100.0 }))
        .collect();
    let mut input = along(&wild);
    input.coating.temperature_response = arrhenius(200.0);
    match time_cure(&input) {
        Err(CalcError::Infeasible { reason, field, .. }) => {
            assert_eq!((reason, field.as_str()), ("SERIES_TOO_ROUGH", "samples"));
        }
        other => panic!("{other:?}"),
    }
    input.samples.truncate(2_000);
    assert!(time_cure(&input).is_ok());
}
