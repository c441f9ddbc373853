//! Cure: rates, doses and mean kinetic temperature.

use lamella_calc::cure::{CoatingData, TemperatureResponse, rate};

use crate::reference::Reference;
use crate::row::Row;

pub(crate) fn rows(_reference: &Reference) -> Vec<Row> {
    rates()
}

fn coating(response: TemperatureResponse) -> CoatingData {
    CoatingData {
        name: "two-year coating".to_owned(),
        reference_c: 20.0,
        temperature_response: Some(response),
        wipe: None,
        recoat: None,
        dry_hours: 24.0,
        wash_hours: None,
        full_cure_hours: None,
        min_panel_c: None,
        max_panel_c: None,
        max_relative_humidity_percent: None,
    }
}

fn rates() -> Vec<Row> {
    let mut rows = Vec::new();
    for (kj, at) in [
        (40.0, [0.5601, 1.3168, 1.7183, 7.1736]),
        (60.0, [0.4192, 1.5111, 2.2525, 19.2135]),
        (83.144, [0.2998, 1.7719, 3.0810, 60.0807]),
    ] {
        let data = coating(TemperatureResponse::Arrhenius {
            activation_energy_kj_per_mol: kj,
        });
        for (panel_c, expected) in [10.0, 25.0, 30.0, 60.0].into_iter().zip(at) {
            rows.push(Row {
                check: format!("rate {kj} kJ/mol at {panel_c} C"),
                source: "computed with R = 8.314462618",
                expected,
                got: rate(&data, panel_c),
                tolerance: 6e-5,
                unit: "",
            });
        }
    }
    rows
}
