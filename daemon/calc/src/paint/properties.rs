//! Garbage never panics, and what holds for all readings.

use proptest::prelude::*;

use super::*;
use crate::error::CalcError;
use crate::gauge::{GaugePrinciple, Substrate};

fn any_readings() -> impl Strategy<Value = Readings> {
    let list = || {
        let reading = prop_oneof![9 => 0.0..300.0_f64, 1 => any::<f64>()];
        prop::collection::vec(reading, 0..6)
    };
    prop_oneof![5 => list().prop_map(Readings::Um), 1 => list().prop_map(Readings::Mil)]
}

fn any_spots() -> impl Strategy<Value = Vec<SpotReadings>> {
    let spot =
        ("[a-c]{0,1}", any_readings()).prop_map(|(spot, readings)| SpotReadings { spot, readings });
    prop::collection::vec(spot, 0..4)
}

/// Readings that are sound, in um.
fn sound_spots() -> impl Strategy<Value = Vec<SpotReadings>> {
    let list = prop::collection::vec(0.0..1000.0_f64, 1..8);
    prop::collection::vec(list, 1..6).prop_map(|spots| {
        (0..)
            .zip(spots)
            .map(|(index, um)| SpotReadings {
                spot: format!("{index}"),
                readings: Readings::Um(um),
            })
            .collect()
    })
}

fn any_substrate() -> impl Strategy<Value = Substrate> {
    prop::sample::select(vec![
        Substrate::Unknown,
        Substrate::Steel,
        Substrate::Aluminium,
        Substrate::Composite,
        Substrate::Plastic,
    ])
}

fn any_gauge() -> impl Strategy<Value = GaugeSpec> {
    let number = || prop_oneof![5 => 0.0..10.0_f64, 1 => any::<f64>()];
    (number(), number(), number(), any::<bool>()).prop_map(
        |(limit_um, limit_percent, resolution_um, ultrasonic)| GaugeSpec {
            limit_um,
            limit_percent,
            resolution_um,
            principles: ultrasonic
                .then_some(GaugePrinciple::Ultrasonic)
                .into_iter()
                .collect(),
        },
    )
}

fn any_layers() -> impl Strategy<Value = Vec<Layer>> {
    let kind = prop::sample::select(vec![LayerKind::Clear, LayerKind::Base]);
    let layer = (kind, any::<f64>(), any::<f64>()).prop_map(|(kind, mean_um, sd_um)| Layer {
        kind,
        mean_um,
        sd_um,
    });
    prop::collection::vec(layer, 0..4)
}

fn any_event() -> impl Strategy<Value = PanelEvent> {
    let list = prop::collection::vec(prop_oneof![9 => 0.0..400.0_f64, 1 => any::<f64>()], 0..4);
    prop_oneof![
        Just(PanelEvent::Visit),
        Just(PanelEvent::Film),
        ("[ab]", "[xy]", list).prop_map(|(spot, gauge, readings_um)| PanelEvent::Read {
            spot,
            gauge,
            readings_um
        }),
        (any::<Option<f64>>(), 0.0..20.0_f64).prop_map(|(removal_um, expected_um)| {
            PanelEvent::Pass {
                removal_um,
                expected_um,
            }
        }),
        (prop::option::of(0.0..20.0_f64), 0.0..20.0_f64).prop_map(|(removal_um, expected_um)| {
            PanelEvent::Pass {
                removal_um,
                expected_um,
            }
        }),
    ]
}

/// Every number of an answer that a caller may see is one.
fn finite(panel: &PanelAssessment) -> bool {
    let clear = panel.clear.is_none_or(|clear| {
        [
            clear.mean_um,
            clear.sd_um,
            clear.low_um,
            clear.high_um,
            clear.at_least_um,
        ]
        .iter()
        .all(|um| um.is_finite() && *um >= 0.0)
    });
    let total = panel
        .total
        .is_none_or(|total| total.mean_um.is_finite() && total.uncertainty.expanded_um.is_finite());
    clear && total && panel.budget_um.is_none_or(|um| um.is_finite() && um >= 0.0)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn any_panel_is_refused_by_field_or_judged_in_numbers(
        spots in any_spots(),
        substrate in any_substrate(),
        gauge in prop::option::of(any_gauge()),
        layers in prop::option::of(any_layers()),
        target in prop::option::of((any::<f64>(), any::<f64>())),
        floor_um: Option<f64>,
        removed: (f64, f64),
    ) {
        let input = AssessInput {
            panels: vec![PanelReadings {
                panel: "p".to_owned(),
                substrate,
                topcoat: Topcoat::Clear,
                spots,
                removed: Removed { removed_um: removed.0, standard_um: removed.1 },
            }],
            gauge,
            target: target.map(|(min_um, max_um)| Target { min_um, max_um }),
            layers,
            floor_um,
        };
        match assess(&input) {
            Ok(result) => prop_assert!(result.panels.iter().all(finite)),
            Err(CalcError::Invalid(found)) => {
                prop_assert!(found.iter().all(|v| !v.field.is_empty() && !v.message.is_empty()));
            }
            Err(CalcError::Infeasible { .. }) => prop_assert!(false, "there is always an answer"),
        }
    }

    #[test]
    fn any_removal_is_refused_or_lies_in_its_interval(
        before in any_spots(), after in any_spots(), gauge in prop::option::of(any_gauge()),
        two_gauges: bool,
    ) {
        let input = RemovalInput { before, after, gauge, two_gauges };
        if let Ok(result) = measure_removal(&input) {
            prop_assert!(result.uncertainty.expanded_um.is_finite());
            prop_assert!(result.low_um <= result.high_um);
        }
    }

    #[test]
    fn any_history_is_refused_or_worked_out(events in prop::collection::vec(any_event(), 0..30)) {
        let history = PanelHistory {
            substrate: Substrate::Steel,
            events,
            ..PanelHistory::default()
        };
        if let Ok(result) = trace(&history) {
            prop_assert_eq!(result.steps.len(), history.events.len());
            prop_assert!(result.left.is_none_or(|left| left.mean_um.is_finite()
                && left.sd_um >= 0.0 && left.low_um <= left.high_um));
        }
    }
}

proptest! {
    #[test]
    fn the_budget_never_reaches_below_the_floor(spots in sound_spots(), floor_um in 0.0..60.0_f64) {
        let input = AssessInput {
            panels: vec![PanelReadings {
                panel: "p".to_owned(),
                substrate: Substrate::Steel,
                spots,
                ..PanelReadings::default()
            }],
            floor_um: Some(floor_um),
            ..AssessInput::default()
        };
        let panel = assess(&input).unwrap().panels.remove(0);
        if let (Some(budget_um), Some(clear)) = (panel.budget_um, panel.clear) {
            prop_assert!(budget_um <= (clear.at_least_um - floor_um).max(0.0) + 1e-9);
            // The thinnest spot governs.
            let thinnest = panel.spots.iter().filter_map(|spot| spot.clear);
            let thinnest = thinnest.map(|clear| clear.at_least_um).fold(f64::INFINITY, f64::min);
            prop_assert!((thinnest - clear.at_least_um).abs() < 1e-9);
        }
    }

    #[test]
    fn a_common_shift_of_the_gauge_leaves_the_removal(spots in sound_spots(), shift in 0.0..50.0_f64) {
        let moved = |by: f64| -> Vec<SpotReadings> {
            spots.iter().map(|spot| SpotReadings {
                spot: spot.spot.clone(),
                readings: Readings::Um(spot.readings.to_um().iter().map(|um| um + by).collect()),
            }).collect()
        };
        let of = |before, after| measure_removal(&RemovalInput {
            before, after, ..RemovalInput::default()
        }).unwrap().removal_um;
        prop_assert!((of(moved(10.0), moved(5.0)) - 5.0).abs() < 1e-6);
        prop_assert!((of(moved(10.0 + shift), moved(5.0 + shift)) - 5.0).abs() < 1e-6);
    }
}
