//! What holds for any numbers: no panic, times in order, promises kept.

use proptest::prelude::*;

use super::series_tests::{along, dry};
use super::tests::{arrhenius, coating};
use super::*;
use crate::error::CalcError;

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        -50.0..120.0f64,
        Just(0.0),
        Just(f64::NAN),
        Just(f64::INFINITY),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn no_number_makes_it_panic(
        all in prop::collection::vec((any_number(), any_number(), proptest::option::of(any_number())), 0..6),
        lamps in prop::collection::vec((any_number(), any_number(), any_number()), 0..3),
        times in prop::array::uniform5(proptest::option::of(any_number())),
        table in prop::collection::vec((any_number(), any_number()), 0..4),
        moist in any_number(),
    ) {
        let mut data = coating(Some(TemperatureResponse::Table {
            points: table.iter().map(|&(panel_c, rate)| RatePoint { panel_c, rate }).collect(),
        }));
        data.humidity_response =
            Some(HumidityResponse { reference_relative_humidity_percent: moist, exponent: 1.0 });
        let [panel_c, start_hours, forecast_from_hours, temperature_uncertainty_k, by_hours] = times;
        let input = CureInput {
            coating: data,
            panel_c,
            air: None,
            samples: all
                .iter()
                .map(|&(at_hours, panel_c, relative_humidity_percent)| {
                    Sample { at_hours, panel_c, relative_humidity_percent }
                })
                .collect(),
            lamps: lamps
                .iter()
                .map(|&(from_hours, to_hours, panel_c)| Lamp { from_hours, to_hours, panel_c })
                .collect(),
            start_hours,
            forecast_from_hours,
            temperature_uncertainty_k,
            rate_uncertainty_percent: moist.is_finite().then_some(moist),
            release: by_hours
                .map(|by_hours| Release { milestone: MilestoneKind::Dry, by_hours }),
        };
        let _ = time_cure(&input);
    }
}

proptest! {
    #[test]
    fn times_are_in_order_and_a_start_found_backwards_keeps_the_promise(
        temperatures in prop::collection::vec((0.2..30.0f64, -10.0..45.0f64, 20.0..95.0f64), 1..12),
        kj in 20.0..120.0f64,
        moist in proptest::option::of(0.2..2.0f64),
        lamp in proptest::option::of((0.0..5.0f64, 0.1..5.0f64, 30.0..80.0f64)),
        doubt_k in 0.0..5.0f64,
        share in 0.0..1.0f64,
    ) {
        let mut at_hours = 0.0;
        let samples: Vec<Sample> = temperatures
            .iter()
            .map(|&(step, panel_c, humidity)| {
                at_hours += step;
                Sample { at_hours, panel_c, relative_humidity_percent: Some(humidity) }
            })
            .collect();
        let mut data = coating(arrhenius(kj));
        data.humidity_response = moist.map(|exponent| HumidityResponse {
            reference_relative_humidity_percent: 50.0,
            exponent,
        });
        let input = CureInput {
            coating: data,
            lamps: lamp
                .map(|(from_hours, on, panel_c)| Lamp { from_hours, to_hours: from_hours + on, panel_c })
                .into_iter()
                .collect(),
            start_hours: Some(samples[0].at_hours + share * (at_hours - samples[0].at_hours)),
            temperature_uncertainty_k: Some(doubt_k),
            release: Some(Release { milestone: MilestoneKind::Dry, by_hours: at_hours + 60.0 }),
            ..along(&samples)
        };
        let found = match time_cure(&input) {
            // Cold and dry for good: refused, as it should be.
            Err(CalcError::Infeasible { .. }) => return Ok(()),
            found => found.unwrap(),
        };
        for pair in found.milestones.windows(2) {
            prop_assert!(pair[0].after_hours <= pair[1].after_hours + 1e-9);
        }
        for milestone in &found.milestones {
            prop_assert!(milestone.earliest_hours <= milestone.after_hours);
            prop_assert!(milestone.after_hours <= milestone.latest_hours);
            prop_assert!(milestone.earliest_hours >= 0.0);
        }
        if let Some(start) = found.latest_start_hours {
            let mut forwards = CureInput { start_hours: Some(start), ..input };
            // From there, what comes after dry may take for ever.
            forwards.coating.wash_hours = None;
            forwards.coating.full_cure_hours = None;
            let end = start + dry(&forwards).latest_hours;
            prop_assert!(end <= at_hours + 60.0 + 1e-6, "{} after {}", end, at_hours + 60.0);
        }
    }
}
