//! What the calculator promises, on plain cases. The printed and computed checks are in
//! `tests/tests/calc/heat/`.

use super::modes::Modes;
use super::panel::{DEFAULT_PAINT_UM, default_thickness_mm};
use super::*;
use crate::caution::CautionCode;
use crate::error::CalcError;
use crate::gauge::Substrate;

pub(super) const METALS_AND_MORE: [Substrate; 4] = [
    Substrate::Steel,
    Substrate::Aluminium,
    Substrate::Composite,
    Substrate::Plastic,
];

pub(super) fn work(seconds: f64, pressure_kpa: f64) -> Segment {
    Segment {
        seconds,
        pressure_kpa,
        motion: None,
    }
}

/// A steel panel in a bay at 20 C under a dual-action machine.
pub(super) fn steel() -> HeatInput {
    HeatInput {
        panel: PanelInput {
            substrate: Substrate::Steel,
            ..PanelInput::default()
        },
        edge: false,
        start_c: 20.0,
        air_c: 20.0,
        motion: PadMotion::DualAction {
            orbits_per_min: 4000.0,
            orbit_mm: 15.0,
            turns_per_min: 0.0,
        },
        pad_mm: 125.0,
        area_cm2: None,
        arm_mm_per_s: None,
        friction: None,
        share_to_panel: None,
        segments: vec![work(60.0, 3.0), work(30.0, 0.0), work(60.0, 3.0)],
        observations: Vec::new(),
        reading_sd_k: None,
        target_c: None,
        ceiling_c: None,
    }
}

fn near(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "expected {expected}, got {got}"
    );
}

pub(super) fn has(result: &HeatResult, code: CautionCode) -> bool {
    result.cautions.iter().any(|caution| caution.code == code)
}

fn fields(input: &HeatInput) -> Vec<String> {
    match predict(input) {
        Err(CalcError::Invalid(violations)) => violations
            .into_iter()
            .map(|violation| violation.field)
            .collect(),
        other => panic!("violations are wanted, got {other:?}"),
    }
}

fn reason(input: &HeatInput) -> &'static str {
    match predict(input) {
        Err(CalcError::Infeasible { reason, .. }) => reason,
        other => panic!("no answer is wanted, got {other:?}"),
    }
}

#[test]
fn defaults_are_echoed_and_named_in_cautions() {
    let result = predict(&steel()).unwrap();
    near(
        result.used.panel.thickness_mm,
        default_thickness_mm(Substrate::Steel),
        0.0,
    );
    near(result.used.panel.paint_um, DEFAULT_PAINT_UM, 0.0);
    near(result.used.ceiling_c, 50.0, 0.0);
    near(result.factor.factor, 0.27, 1e-12);
    assert_eq!(result.factor.basis, FactorBasis::Assumed);
    assert!(has(&result, CautionCode::HeatFactorAssumed));
    assert!(has(&result, CautionCode::PanelThicknessAssumed));
    assert!(!has(&result, CautionCode::PredictedOverCeiling));
}

/// By hand: pi * 0.015 m * 4000/60 s is pi m/s; 0.27 * 3 kPa of it is 2545 W/m2 under the pad, and
/// 122.7 cm2 of 1600 make 195.2 W/m2.
#[test]
fn flux_and_speed_are_as_by_hand() {
    let result = predict(&steel()).unwrap();
    let first = result.segments[0];
    near(first.speed_m_per_s, std::f64::consts::PI, 1e-12);
    near(first.pad_flux_w_per_m2, 2544.7, 0.1);
    near(first.flux_w_per_m2, 195.2, 0.1);
    near(result.segments[1].flux_w_per_m2, 0.0, 0.0);
}

#[test]
fn work_warms_a_pause_cools_and_the_curve_follows() {
    let result = predict(&steel()).unwrap();
    let [first, pause, second] = result.segments[..] else {
        panic!("three segments, got {:?}", result.segments);
    };
    assert!(first.end.panel_c > 22.0);
    assert!(pause.end.panel_c < first.end.panel_c);
    assert!(second.end.panel_c > first.end.panel_c);
    near(pause.peak.panel_c, first.end.panel_c, 1e-9);
    assert!(first.under_pad_k > 0.0);
    near(pause.under_pad_k, 0.0, 0.0);
    assert!(
        result
            .curve
            .windows(2)
            .all(|pair| pair[0].after_s < pair[1].after_s)
    );
    near(result.curve[result.curve.len() - 1].after_s, 150.0, 1e-9);
    near(result.curve[0].predicted.panel_c, 20.0, 1e-9);
}

/// Readings made with a known factor give it back, with almost no scatter.
#[test]
fn a_known_factor_is_found_again() {
    let truth = predict(&HeatInput {
        friction: Some(0.5),
        share_to_panel: Some(0.9),
        ..steel()
    });
    let observations: Vec<Observation> = truth
        .unwrap()
        .curve
        .iter()
        .step_by(7)
        .map(|point| Observation {
            after_s: point.after_s,
            panel_c: point.predicted.panel_c,
        })
        .collect();
    let result = predict(&HeatInput {
        observations,
        ..steel()
    })
    .unwrap();
    near(result.factor.factor, 0.45, 1e-9);
    assert!(!has(&result, CautionCode::HeatFactorAssumed));
    let FactorBasis::Fitted(fit) = result.factor.basis else {
        panic!("fitted, got {:?}", result.factor);
    };
    assert!(fit.standard_error < 1e-9);
}

/// One reading with a stated deviation: the normal interval, 1.96 deviations either way.
#[test]
fn one_reading_needs_its_deviation() {
    let seen = vec![Observation {
        after_s: 60.0,
        panel_c: 27.0,
    }];
    let one = HeatInput {
        observations: seen,
        ..steel()
    };
    assert_eq!(fields(&one), ["observations"]);
    let result = predict(&HeatInput {
        reading_sd_k: Some(0.5),
        ..one
    })
    .unwrap();
    let end = result.segments[0].end;
    near(end.panel_c, 27.0, 1e-9);
    // The factor's error and a reading's, both 0.5 K at that point.
    near(end.high_c - end.panel_c, 1.96 * 0.5 * 2_f64.sqrt(), 1e-3);
}

/// Asking again with the answer reaches the target, both ways.
#[test]
fn longer_and_harder_reach_the_target() {
    let input = HeatInput {
        target_c: Some(29.0),
        ..steel()
    };
    let target = predict(&input).unwrap().target.unwrap();
    assert_eq!(target.segment, 2);
    near(target.below_ceiling_k, 21.0, 1e-12);
    let longer = target.longer.unwrap();
    let mut again = input.clone();
    again.segments[2].seconds = longer.seconds;
    near(predict(&again).unwrap().segments[2].end.panel_c, 29.0, 1e-6);
    near(longer.extra_s, longer.seconds - 60.0, 1e-9);
    let harder = target.harder.unwrap();
    let mut again = input.clone();
    again.segments[2].pressure_kpa = harder.pressure_kpa;
    near(predict(&again).unwrap().segments[2].end.panel_c, 29.0, 1e-6);
    near(harder.times * 3.0, harder.pressure_kpa, 1e-9);
    near(
        harder.high_below_ceiling_k,
        50.0 - harder.then.high_c,
        1e-12,
    );
}

#[test]
fn what_cannot_be_reached_is_absent() {
    let feeble = HeatInput {
        segments: vec![work(1.0, 0.01)],
        target_c: Some(45.0),
        ..steel()
    };
    let target = predict(&feeble).unwrap().target.unwrap();
    assert_eq!((target.longer, target.harder), (None, None));
    // Warmer than the target before it begins: no time is needed, and no pressure is low enough.
    let warm = HeatInput {
        start_c: 40.0,
        target_c: Some(25.0),
        ..steel()
    };
    let target = predict(&warm).unwrap().target.unwrap();
    near(target.longer.unwrap().seconds, 0.0, 0.0);
    assert_eq!(target.harder, None);
}

#[test]
fn heat_stays_in_what_does_not_carry_it_away() {
    let peak = |substrate| {
        let panel = PanelInput {
            substrate,
            ..PanelInput::default()
        };
        let result = predict(&HeatInput { panel, ..steel() }).unwrap();
        assert_eq!(
            has(&result, CautionCode::HeatStaysInPanel),
            matches!(substrate, Substrate::Composite | Substrate::Plastic)
        );
        result.segments[2].peak.panel_c + result.segments[2].under_pad_k
    };
    assert!(peak(Substrate::Plastic) > peak(Substrate::Steel));
    assert!(peak(Substrate::Composite) > peak(Substrate::Steel));
    let result = predict(&HeatInput {
        panel: PanelInput::default(),
        ..steel()
    })
    .unwrap();
    assert!(has(&result, CautionCode::SubstrateUnknown));
}

#[test]
fn a_hot_panel_is_warned_of() {
    let hard = HeatInput {
        segments: vec![work(300.0, 8.0)],
        edge: true,
        ..steel()
    };
    let result = predict(&hard).unwrap();
    assert!(result.segments[0].headroom_k < 0.0);
    near(result.used.ceiling_c, 45.0, 0.0);
    for code in [
        CautionCode::PredictedOverCeiling,
        CautionCode::PanelHot,
        CautionCode::ClearCoatSoftens,
        CautionCode::EdgeThinPaint,
    ] {
        assert!(has(&result, code), "{code:?}");
    }
    let above = HeatInput {
        ceiling_c: Some(60.0),
        ..steel()
    };
    assert!(has(
        &predict(&above).unwrap(),
        CautionCode::CeilingAboveDefault
    ));
}

#[test]
fn readings_that_tell_nothing_are_refused() {
    let seen = |after_s, panel_c| Observation { after_s, panel_c };
    let before = HeatInput {
        segments: vec![work(60.0, 0.0), work(60.0, 3.0)],
        observations: vec![seen(10.0, 20.1), seen(50.0, 19.9)],
        ..steel()
    };
    assert_eq!(reason(&before), "OBSERVATIONS_BEFORE_HEAT");
    let cooled = HeatInput {
        observations: vec![seen(30.0, 18.0), seen(60.0, 16.0)],
        ..steel()
    };
    assert_eq!(reason(&cooled), "OBSERVATIONS_SHOW_NO_HEAT");
    let wild = HeatInput {
        observations: vec![seen(20.0, 26.0), seen(40.0, 21.0), seen(60.0, 45.0)],
        reading_sd_k: Some(0.5),
        ..steel()
    };
    assert!(has(&predict(&wild).unwrap(), CautionCode::ReadingsScatter));
}

#[test]
fn every_violation_is_named_at_once() {
    let mut input = steel();
    input.panel.thickness_mm = Some(-1.0);
    input.panel.paint_um = Some(f64::NAN);
    input.start_c = f64::INFINITY;
    input.air_c = -90.0;
    input.motion = PadMotion::Rotary {
        turns_per_min: -5.0,
    };
    input.pad_mm = 0.0;
    input.friction = Some(0.0);
    input.share_to_panel = Some(2.0);
    input.segments[1].seconds = 0.0;
    input.segments[2].pressure_kpa = 200.0;
    input.observations = vec![
        Observation {
            after_s: 20.0,
            panel_c: 25.0,
        },
        Observation {
            after_s: 10.0,
            panel_c: 999.0,
        },
    ];
    input.target_c = Some(60.0);
    assert_eq!(
        fields(&input),
        [
            "panel.thickness_mm",
            "panel.paint_um",
            "start_c",
            "air_c",
            "motion.rotary.turns_per_min",
            "pad_mm",
            "friction",
            "share_to_panel",
            "segments[1].seconds",
            "segments[2].pressure_kpa",
            "observations[1].after_s",
            "observations[1].panel_c",
            "target_c",
        ]
    );
    let small = HeatInput {
        area_cm2: Some(50.0),
        ..steel()
    };
    assert_eq!(fields(&small), ["area_cm2"]);
    assert_eq!(
        fields(&HeatInput {
            segments: Vec::new(),
            ..steel()
        }),
        ["segments"]
    );
    let idle = HeatInput {
        segments: vec![work(9.0, 0.0)],
        target_c: Some(30.0),
        ..steel()
    };
    assert_eq!(fields(&idle), ["target_c"]);
}

/// 1e-80 um of paint once overflowed; it is none, and a layer that only just counts hardly differs.
#[test]
fn almost_no_paint_is_none() {
    let end = |paint_um| {
        let mut input = steel();
        input.panel.paint_um = Some(paint_um);
        predict(&input).unwrap().segments[2].end.panel_c
    };
    near(end(1e-80), end(0.0), 0.0);
    near(end(1.0), end(0.0), 0.01);
}

/// The cheap form against the full model, for the worst of panels and times.
#[test]
fn the_cheap_rise_stays_near_the_full_one() {
    for substrate in METALS_AND_MORE {
        let panel = PanelInput {
            substrate,
            ..PanelInput::default()
        }
        .resolve();
        let modes = Modes::of(&panel);
        for seconds in [5.0, 10.0, 20.0, 45.0, 90.0, 120.0] {
            let pass = PassHeat {
                pressure_kpa: 1.0,
                speed_m_per_s: 1.0,
                seconds,
                swept_ratio: 0.5,
            };
            let full = 0.3 * 500.0 * modes.rise_per_flux(seconds);
            let ratio = peak_rise_k(&panel, &pass, 0.3) / full;
            assert!(
                (0.99..1.06).contains(&ratio),
                "{substrate:?} {seconds} s: {ratio:.4}"
            );
        }
    }
}
