//! Cure: rates, doses along series and mean kinetic temperature.

use lamella_calc::cure::{
    CoatingData, CureInput, HumidityResponse, Lamp, MilestoneKind, Sample, TemperatureResponse,
    mean_kinetic_c, rate, time_cure,
};

use crate::reference::Reference;
use crate::row::Row;

const SCIPY: &str = "scipy 1.17.1, run here";
/// scipy.integrate.quad, Ea 60 kJ/mol, reference 20 C.
const SCIPY_BEFORE: &str = "scipy 1.17.1, computed before";
const FORMULA: &str = "computed with R = 8.314462618";

pub(crate) fn rows(reference: &Reference) -> Vec<Row> {
    let mut rows = rates();
    rows.extend(published());
    rows.extend(constant());
    rows.extend(profiles(reference));
    rows.extend(known_profiles(reference));
    rows.extend(mean_kinetic(reference));
    rows
}

fn arrhenius(kj: f64) -> TemperatureResponse {
    TemperatureResponse::Arrhenius {
        activation_energy_kj_per_mol: kj,
    }
}

fn coating(response: TemperatureResponse) -> CoatingData {
    CoatingData {
        name: "two-year coating".to_owned(),
        reference_c: 20.0,
        temperature_response: Some(response),
        humidity_response: None,
        wipe: None,
        recoat: None,
        dry_hours: 24.0,
        wash_hours: None,
        full_cure_hours: None,
        min_panel_c: None,
        max_panel_c: None,
        min_relative_humidity_percent: None,
        max_relative_humidity_percent: None,
    }
}

/// Hours to dry.
fn dry_hours(input: &CureInput) -> f64 {
    let found = time_cure(input).expect("the reference asks within the range");
    let dry = |m: &&lamella_calc::cure::Milestone| m.kind == MilestoneKind::Dry;
    found
        .milestones
        .iter()
        .find(dry)
        .expect("dry is always stated")
        .after_hours
}

fn along(coating: CoatingData, samples: Vec<Sample>) -> CureInput {
    CureInput {
        panel_c: None,
        samples,
        ..CureInput::held(coating, 20.0, None)
    }
}

fn rates() -> Vec<Row> {
    let mut rows = Vec::new();
    for (kj, at) in [
        (40.0, [0.5601, 1.3168, 1.7183, 7.1736]),
        (50.0, [0.4846, 1.4106, 1.9674, 11.7401]),
        (60.0, [0.4192, 1.5111, 2.2525, 19.2135]),
        (70.0, [0.3627, 1.6187, 2.5789, 31.4442]),
        (83.144, [0.2998, 1.7719, 3.0810, 60.0807]),
    ] {
        for (panel_c, expected) in [10.0, 25.0, 30.0, 60.0].into_iter().zip(at) {
            rows.push(Row {
                check: format!("rate {kj} kJ/mol at {panel_c} C"),
                source: FORMULA,
                expected,
                got: rate(&coating(arrhenius(kj)), panel_c),
                tolerance: 6e-5,
                unit: "",
            });
        }
    }
    rows
}

fn published() -> Vec<Row> {
    let mut rows = Vec::new();
    // Purdue general chemistry review, ch. 22, practice problem 12, and an open
    // two-point calculator; the energies are printed to 0.01 kJ/mol.
    for (check, source, kj, low_k, high_k, ratio) in [
        (
            "ratio of rates, HI decomposition 573 to 873 K",
            "Purdue general chemistry review ch. 22 problem 12",
            183.24,
            573.0,
            873.0,
            1.6 / 2.91e-6,
        ),
        (
            "ratio of rates, 298 to 320 K",
            "calculatorlib.com, two-point calculator",
            82.98,
            298.0,
            320.0,
            10.0,
        ),
    ] {
        let mut data = coating(arrhenius(kj));
        data.reference_c = low_k - 273.15;
        let slack = 0.006e3 / 8.314_462_618 * (1.0 / low_k - 1.0 / high_k);
        rows.push(Row {
            check: check.to_owned(),
            source,
            expected: ratio,
            got: rate(&data, high_k - 273.15),
            tolerance: ratio * slack,
            unit: "",
        });
    }
    let mut data = coating(TemperatureResponse::Q10 { factor: 1.44 });
    data.reference_c = 40.0;
    rows.push(Row {
        check: "Q10 1.44: 8 at 40 C becomes 24 at 70 C".to_owned(),
        source: "slotimports.com how-to",
        expected: 24.0,
        got: 8.0 * rate(&data, 70.0),
        // It prints 1.44 for 3^(1/3) = 1.4422.
        tolerance: 0.12,
        unit: "",
    });
    for (kj, from_c) in [(51.216, 20.0), (52.949, 25.0)] {
        let mut data = coating(arrhenius(kj));
        data.reference_c = from_c;
        rows.push(Row {
            check: format!("{kj} kJ/mol doubles the rate from {from_c} C to 10 K more"),
            source: FORMULA,
            expected: 2.0,
            got: rate(&data, from_c + 10.0),
            tolerance: 1e-4,
            unit: "",
        });
    }
    rows
}

/// Hours at a constant temperature worth 24 h at 20 C.
fn constant() -> Vec<Row> {
    [
        (5.0, 90.520),
        (12.0, 47.879),
        (15.0, 36.789),
        (25.0, 15.883),
        (30.0, 10.655),
        (60.0, 1.249),
    ]
    .into_iter()
    .map(|(panel_c, expected)| Row {
        check: format!("dry after 24 h at 20 C, panel at {panel_c} C"),
        source: SCIPY_BEFORE,
        expected,
        got: dry_hours(&CureInput::held(coating(arrhenius(60.0)), panel_c, None)),
        tolerance: 1e-3,
        unit: "h",
    })
    .collect()
}

/// 20 profiles, three stated doses each; within 0.1 %, as the issue asks.
fn profiles(reference: &Reference) -> Vec<Row> {
    let doses = reference.numbers("cure.doses");
    let profiles = reference.rows("cure.profiles");
    let models = reference.rows("cure.models");
    let times = reference.rows("cure.times");
    assert_eq!((profiles.len(), models.len(), times.len()), (20, 20, 20));
    let mut rows = Vec::new();
    for (index, ((profile, model), times)) in profiles.iter().zip(&models).zip(&times).enumerate() {
        let &[kind, parameter, exponent] = &model[..] else {
            panic!("three numbers are wanted, got {model:?}");
        };
        let response = if kind == 0.0 {
            arrhenius(parameter)
        } else {
            TemperatureResponse::Q10 { factor: parameter }
        };
        let mut data = coating(response);
        if exponent > 0.0 {
            data.humidity_response = Some(HumidityResponse {
                reference_relative_humidity_percent: 50.0,
                exponent,
            });
        }
        let samples: Vec<Sample> = profile
            .chunks_exact(3)
            .map(|knot| Sample {
                at_hours: knot[0],
                panel_c: knot[1],
                relative_humidity_percent: Some(knot[2]),
            })
            .collect();
        for (dose, expected) in doses.iter().zip(times) {
            data.dry_hours = *dose;
            let named = match (kind == 0.0, exponent > 0.0) {
                (true, false) => "Arrhenius",
                (true, true) => "Arrhenius and moisture",
                (false, _) => "Q10",
            };
            rows.push(Row {
                check: format!("profile {:2}, {dose} h at reference, {named}", index + 1),
                source: SCIPY,
                expected: *expected,
                got: dry_hours(&along(data.clone(), samples.clone())),
                tolerance: 1e-3 * expected,
                unit: "h",
            });
        }
    }
    rows
}

/// Profiles A and B of the check values, and a lamp.
fn known_profiles(reference: &Reference) -> Vec<Row> {
    let sample = |at_hours, panel_c| Sample {
        at_hours,
        panel_c,
        relative_humidity_percent: None,
    };
    let mut rows = Vec::new();
    let mut row = |check: &str, source, expected: f64, got: f64, tolerance| {
        rows.push(Row {
            check: check.to_owned(),
            source,
            expected,
            got,
            tolerance,
            unit: "h",
        });
    };
    let profile_a = vec![
        sample(0.0, 15.0),
        sample(4.0, 35.0),
        sample(12.0, 35.0),
        sample(24.0, 10.0),
    ];
    for (dose, hours) in [(6.66573, 4.0), (33.18087, 12.0), (50.44558, 24.0)] {
        let mut data = coating(arrhenius(60.0));
        data.dry_hours = dose;
        let got = dry_hours(&along(data, profile_a.clone()));
        let check = format!("profile A, {dose} h at 20 C");
        row(&check, SCIPY_BEFORE, hours, got, 1e-4);
    }
    let sine: Vec<Sample> = (0..=96)
        .map(|quarter| {
            let hours = f64::from(quarter) / 4.0;
            let turn = std::f64::consts::TAU * hours / 24.0;
            sample(hours, 18.0 + 6.0 * turn.sin())
        })
        .collect();
    for (source, dose) in [
        (SCIPY_BEFORE, 21.49378),
        (SCIPY, reference.number("cure.sine_dose")),
    ] {
        let mut data = coating(arrhenius(60.0));
        data.dry_hours = dose;
        let got = dry_hours(&along(data, sine.clone()));
        // Straight lines over a quarter of an hour are not quite a sine.
        let check = "profile B, a day of sine by quarter hours";
        row(check, source, 24.0, got, 0.024);
    }
    let lamp = CureInput {
        lamps: vec![Lamp {
            from_hours: 2.0,
            to_hours: 3.0,
            panel_c: 60.0,
        }],
        ..along(
            coating(arrhenius(60.0)),
            vec![
                sample(0.0, 12.0),
                sample(2.0, 12.0),
                sample(3.0, 18.0),
                sample(9.0, 18.0),
            ],
        )
    };
    row(
        "2 h at 12 C, 1 h of lamp at 60 C, then 18 C",
        SCIPY_BEFORE,
        7.4812,
        dry_hours(&lamp),
        1e-4,
    );
    rows
}

fn mean_kinetic(reference: &Reference) -> Vec<Row> {
    let year = [
        20.0, 22.0, 24.0, 26.0, 28.0, 30.0, 32.0, 30.0, 28.0, 26.0, 24.0, 22.0,
    ];
    let cases: [(&str, &[f64]); 4] = [
        ("steps", &[20.0, 25.0, 30.0]),
        ("excursion", &[15.0, 15.0, 15.0, 40.0]),
        ("cold", &[4.0, 4.0, 4.0, 4.0, 16.0]),
        ("year", &year),
    ];
    let mut rows: Vec<Row> = cases
        .into_iter()
        .map(|(name, temperatures)| Row {
            check: format!("mean kinetic temperature, {name}"),
            source: "numpy 2.4.6, formula of USP 29 <1160>, run here",
            expected: reference.number(&format!("cure.mean_kinetic_{name}")),
            got: mean_kinetic_c(temperatures, 83.144).expect("within range"),
            tolerance: 1e-6,
            unit: "C",
        })
        .collect();
    let of_series = |samples: Vec<Sample>| {
        time_cure(&along(coating(arrhenius(60.0)), samples))
            .expect("within range")
            .mean_kinetic_c
            .expect("an Arrhenius response has one")
    };
    let sine = (0..=480).map(|step| {
        let hours = f64::from(step) / 20.0;
        let turn = std::f64::consts::TAU * hours / 24.0;
        Sample {
            at_hours: hours,
            panel_c: 18.0 + 6.0 * turn.sin(),
            relative_humidity_percent: None,
        }
    });
    rows.push(Row {
        check: "mean kinetic temperature of profile B".to_owned(),
        source: SCIPY_BEFORE,
        expected: 18.6924,
        got: of_series(sine.collect()),
        tolerance: 1e-3,
        unit: "C",
    });
    rows
}
