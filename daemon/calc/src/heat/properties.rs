//! Heat over random schedules: what must hold whatever is asked.

use super::tests::{METALS_AND_MORE, steel};
use super::*;
use crate::gauge::Substrate;
use proptest::prelude::*;

fn substrates() -> impl Strategy<Value = Substrate> {
    (0..METALS_AND_MORE.len()).prop_map(|i| METALS_AND_MORE[i])
}

prop_compose! {
    fn sound()(
        substrate in substrates(),
        thickness_mm in prop::option::of(0.3..20.0f64),
        paint_um in prop::option::of(prop_oneof![Just(0.0), Just(1e-80), 0.0..3000.0f64]),
        front in prop::option::of(0.0..200.0f64),
        back in prop::option::of(0.0..200.0f64),
        start_c in -20.0..100.0f64,
        air_c in -20.0..60.0f64,
        turns_per_min in 0.0..2000.0f64,
        orbits_per_min in 0.0..15_000.0f64,
        segments in prop::collection::vec((0.01..3600.0f64, 0.0..20.0f64, any::<bool>()), 1..8),
    ) -> HeatInput {
        HeatInput {
            panel: PanelInput {
                substrate, thickness_mm, paint_um,
                front_h_w_per_m2_k: front,
                back_h_w_per_m2_k: back,
            },
            start_c,
            air_c,
            motion: PadMotion::DualAction { orbits_per_min, orbit_mm: 15.0, turns_per_min },
            segments: segments
                .into_iter()
                .map(|(seconds, pressure_kpa, pause)| Segment {
                    seconds,
                    pressure_kpa: if pause { 0.0 } else { pressure_kpa },
                    motion: None,
                })
                .collect(),
            ..steel()
        }
    }
}

/// Any number there is, most of them none that makes sense.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        3 => any::<f64>(),
        1 => -50.0..150.0f64,
        1 => 0.0..10.0f64,
        1 => (-320..0i32).prop_map(|power| 10_f64.powi(power)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn temperatures_are_numbers_and_intervals_hold_them(input in sound()) {
        let result = predict(&input).unwrap();
        for point in &result.curve {
            let Predicted { panel_c, low_c, high_c } = point.predicted;
            prop_assert!(panel_c.is_finite() && low_c <= panel_c && panel_c <= high_c, "{point:?}");
            // Work only warms: never colder than both start and air, but for rounding.
            prop_assert!(panel_c > input.start_c.min(input.air_c) - 1e-3, "{point:?}");
        }
        for segment in &result.segments {
            prop_assert!(segment.peak.panel_c >= segment.end.panel_c);
            prop_assert!(segment.under_pad_k >= 0.0);
        }
    }

    /// With no cooling, all the heat stays: at rest the panel is warmer by flux times time over capacity.
    #[test]
    fn heat_is_kept(input in sound(), seconds in 1.0..600.0f64) {
        let mut input = input;
        input.panel.front_h_w_per_m2_k = Some(0.0);
        input.panel.back_h_w_per_m2_k = Some(0.0);
        input.segments = vec![
            Segment { seconds, pressure_kpa: 3.0, motion: None },
            Segment { seconds: 3600.0, pressure_kpa: 0.0, motion: None },
            Segment { seconds: 3600.0, pressure_kpa: 0.0, motion: None },
        ];
        // Thick plastic takes longer than that to even out.
        input.panel.thickness_mm = input.panel.thickness_mm.map(|mm| mm.min(8.0));
        let result = predict(&input).unwrap();
        let expected_k = result.segments[0].flux_w_per_m2 * seconds
            / result.used.panel.capacity_j_per_m2_k();
        let got_k = result.segments[2].end.panel_c - input.start_c;
        prop_assert!((got_k - expected_k).abs() <= 1e-6 * expected_k.max(1.0), "{got_k} {expected_k}");
    }

    #[test]
    fn more_pressure_is_never_cooler(input in sound(), times in 1.0..3.0f64) {
        let harder = HeatInput {
            segments: input
                .segments
                .iter()
                .map(|segment| Segment { pressure_kpa: segment.pressure_kpa * times, ..*segment })
                .collect(),
            ..input.clone()
        };
        let (soft, hard) = (predict(&input).unwrap(), predict(&harder).unwrap());
        for (soft, hard) in soft.segments.iter().zip(&hard.segments) {
            prop_assert!(hard.end.panel_c >= soft.end.panel_c - 1e-9);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn any_number_is_refused_or_answered(
        numbers in prop::array::uniform32(any_number()),
        given in prop::array::uniform16(any::<bool>()),
        observations in prop::collection::vec((any_number(), any_number()), 0..4),
        rotary: bool, edge: bool,
    ) {
        let n = numbers;
        let some = |i: usize| given[i].then_some(n[i]);
        let motion = if rotary {
            PadMotion::Rotary { turns_per_min: n[16] }
        } else {
            PadMotion::DualAction { orbits_per_min: n[16], orbit_mm: n[17], turns_per_min: n[18] }
        };
        // Every other case is sound but for what is given, so that some get past the checks.
        let or = |i: usize, sound: f64| if given[i % 16] { n[i] } else { sound };
        let input = HeatInput {
            panel: PanelInput {
                substrate: Substrate::Unknown,
                thickness_mm: some(0), paint_um: some(1),
                front_h_w_per_m2_k: some(2), back_h_w_per_m2_k: some(3),
            },
            edge,
            start_c: or(20, 20.0),
            air_c: or(21, 20.0),
            motion: if given[4] { motion } else { steel().motion },
            pad_mm: or(22, 125.0),
            area_cm2: some(5),
            arm_mm_per_s: some(6),
            friction: some(7),
            share_to_panel: some(8),
            segments: vec![
                Segment { seconds: or(23, 30.0), pressure_kpa: or(24, 3.0), motion: None },
                Segment { seconds: or(25, 30.0), pressure_kpa: or(26, 0.0), motion: given[9].then_some(motion) },
            ],
            observations: observations
                .into_iter()
                .map(|(after_s, panel_c)| Observation { after_s, panel_c })
                .collect(),
            reading_sd_k: some(10),
            target_c: some(11),
            ceiling_c: some(12),
        };
        if let Ok(result) = predict(&input) {
            prop_assert!(result.curve.iter().all(|point| point.predicted.panel_c.is_finite()));
        }
    }

    #[test]
    fn the_cheap_rise_is_a_number_that_grows_with_time(
        substrate in substrates(), pressure_kpa in 0.0..100.0f64, speed in 0.0..50.0f64,
        seconds in 0.0..600.0f64, swept_ratio in 0.001..1.0f64, factor in 0.0..2.0f64,
    ) {
        let panel = PanelInput { substrate, ..PanelInput::default() }.resolve();
        let pass = PassHeat { pressure_kpa, speed_m_per_s: speed, seconds, swept_ratio };
        let rise_k = peak_rise_k(&panel, &pass, factor);
        prop_assert!(rise_k.is_finite() && rise_k >= 0.0);
        let longer = PassHeat { seconds: seconds * 1.1, ..pass };
        prop_assert!(peak_rise_k(&panel, &longer, factor) >= rise_k * (1.0 - 1e-3));
    }
}
