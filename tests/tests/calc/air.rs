//! Moist air: PsychroLib run for this test, and published tables.

use lamella_calc::air::{AirInput, AirResult, dew_point, standard_pressure_pa};

use crate::reference::Reference;
use crate::row::Row;

const PSYCHROLIB: &str = "PsychroLib 2.5.0, run here";
/// Seen in PsychroLib's own tests, not in the book.
const ASHRAE_TABLE_3: &str = "ASHRAE Fundamentals 2017 ch. 1 table 3 (secondary)";
const ASHRAE_TABLE_1: &str = "ASHRAE Fundamentals 2017 ch. 1 table 1 (secondary)";
const ASHRAE_EXAMPLE: &str = "ASHRAE Fundamentals 2017 ch. 1 example 1 (secondary)";

/// What the issue promises, kelvins.
const PROMISED_K: f64 = 0.05;

pub(crate) fn rows(reference: &Reference) -> Vec<Row> {
    let mut rows = points(reference);
    rows.extend(worst_of_grid(reference));
    rows.extend(published());
    rows.extend(heights(reference));
    rows
}

fn air(air_c: f64, humidity: f64, pressure_pa: f64) -> AirResult {
    let input = AirInput {
        air_c,
        relative_humidity_percent: humidity,
        pressure_pa: Some(pressure_pa),
        altitude_m: None,
    };
    dew_point(&input, None).expect("the reference asks within the range")
}

/// A row of the reference: air C, RH %, pressure Pa, dew point C, wet bulb C, W kg/kg.
fn answered(row: &[f64]) -> ([f64; 3], [f64; 3], [f64; 3]) {
    let &[air_c, humidity, pressure_pa, dew, wet, ratio] = row else {
        panic!("six numbers are wanted, got {row:?}");
    };
    let found = air(air_c, humidity, pressure_pa);
    let got = [found.dew_point_c, found.wet_bulb_c, found.humidity_ratio];
    ([air_c, humidity, pressure_pa], [dew, wet, ratio], got)
}

fn points(reference: &Reference) -> Vec<Row> {
    let mut rows = Vec::new();
    for point in reference.rows("air.points") {
        let ([air_c, humidity, _], expected, got) = answered(&point);
        for (index, (what, unit, tolerance)) in [
            ("dew point", "C", PROMISED_K),
            ("wet bulb", "C", PROMISED_K),
            ("humidity ratio", "kg/kg", 5e-6),
        ]
        .into_iter()
        .enumerate()
        {
            rows.push(Row {
                check: format!("{what} {air_c} C {humidity} %"),
                source: PSYCHROLIB,
                expected: expected[index],
                got: got[index],
                tolerance,
                unit,
            });
        }
    }
    rows
}

/// Every 2.5 K and 5 % at two pressures: the point that is furthest off.
fn worst_of_grid(reference: &Reference) -> Vec<Row> {
    let grid = reference.rows("air.grid");
    assert_eq!(grid.len(), 29 * 20 * 2, "the whole grid was answered");
    let answers: Vec<_> = grid.iter().map(|row| answered(row)).collect();
    [("dew point", 0), ("wet bulb", 1)]
        .into_iter()
        .map(|(what, index)| {
            let off = |(_, expected, got): &&([f64; 3], [f64; 3], [f64; 3])| {
                (expected[index] - got[index]).abs()
            };
            let ([air_c, humidity, pressure_pa], expected, got) = answers
                .iter()
                .max_by(|a, b| off(a).total_cmp(&off(b)))
                .expect("a grid");
            Row {
                check: format!(
                    "{what}, worst of {}: {air_c} C {humidity} % {pressure_pa} Pa",
                    answers.len()
                ),
                source: PSYCHROLIB,
                expected: expected[index],
                got: got[index],
                tolerance: PROMISED_K,
                unit: "C",
            }
        })
        .collect()
}

fn published() -> Vec<Row> {
    let mut rows: Vec<Row> = [
        (-20.0, 103.24),
        (-5.0, 401.74),
        (5.0, 872.6),
        (25.0, 3169.7),
        (50.0, 12351.3),
    ]
    .into_iter()
    .map(|(air_c, pa)| Row {
        check: format!("saturation pressure {air_c} C"),
        source: ASHRAE_TABLE_3,
        expected: pa,
        got: air(air_c, 50.0, 101_325.0).saturation_pa,
        // The formula holds within 300 ppm of the table.
        tolerance: 3e-4 * pa,
        unit: "Pa",
    })
    .collect();
    let example = air(40.0, 14.0, 101_325.0);
    // Printed rounded: W 0.0065, wet bulb 20 C, dew point 7 C for 14 %.
    for (what, expected, got, tolerance, unit) in [
        ("dew point", 7.0, example.dew_point_c, 0.5, "C"),
        ("wet bulb", 20.0, example.wet_bulb_c, 0.1, "C"),
        (
            "humidity ratio",
            0.0065,
            example.humidity_ratio,
            1e-4,
            "kg/kg",
        ),
    ] {
        rows.push(Row {
            check: format!("{what} 40 C 14 %"),
            source: ASHRAE_EXAMPLE,
            expected,
            got,
            tolerance,
            unit,
        });
    }
    rows.push(Row {
        check: "dew point 25 C 80 %".to_owned(),
        source: "PsychroLib documentation example",
        expected: 21.3094,
        got: air(25.0, 80.0, 101_325.0).dew_point_c,
        tolerance: 5e-4,
        unit: "C",
    });
    rows.push(Row {
        check: "dew point 25 C 60 %".to_owned(),
        source: "the issue",
        expected: 16.7,
        got: air(25.0, 60.0, 101_325.0).dew_point_c,
        tolerance: 0.1,
        unit: "C",
    });
    // CoolProp 8.0.0 (check values, section 2): another library with another
    // equation of state, so it is allowed 0.05 K too.
    for (air_c, humidity, dew) in [
        (5.0, 80.0, 1.842),
        (20.0, 50.0, 9.274),
        (25.0, 85.0, 22.303),
        (30.0, 40.0, 14.941),
        (35.0, 80.0, 31.027),
        (-5.0, 70.0, -9.109),
    ] {
        rows.push(Row {
            check: format!("dew point {air_c} C {humidity} %"),
            source: "CoolProp 8.0.0, computed before",
            expected: dew,
            got: air(air_c, humidity, 101_325.0).dew_point_c,
            tolerance: PROMISED_K,
            unit: "C",
        });
    }
    let half = air(25.0, 50.0, 101_325.0);
    for (what, expected, got, unit) in [
        ("vapour by weight", 69.2, half.grains_per_lb, "gr/lb"),
        (
            "vapour by volume",
            11.5,
            half.absolute_humidity_g_per_m3,
            "g/m3",
        ),
    ] {
        rows.push(Row {
            check: format!("{what} 25 C 50 %"),
            source: "PsychroLib 2.5.0, computed before",
            expected,
            got,
            tolerance: 0.05,
            unit,
        });
    }
    rows
}

fn heights(reference: &Reference) -> Vec<Row> {
    let library = reference.rows("air.heights");
    let library = library.iter().map(|row| (row[0], row[1], PSYCHROLIB));
    let table = [(500.0, 95_461.0), (1000.0, 89_875.0)];
    let table = table.into_iter().map(|(m, pa)| (m, pa, ASHRAE_TABLE_1));
    library
        .chain(table)
        .map(|(altitude_m, pa, source)| Row {
            check: format!("standard atmosphere at {altitude_m} m"),
            source,
            expected: pa,
            got: standard_pressure_pa(altitude_m),
            tolerance: 1.0,
            unit: "Pa",
        })
        .collect()
}
