//! Paint thickness: statistics, uncertainty and layer model against numpy, scipy and
//! `uncertainties`; published figures for the rules.

use lamella_calc::gauge::{GaugePrinciple, Substrate, readable_by};
use lamella_calc::paint::layers::{clear_given, default_layers};
use lamella_calc::paint::uncertainty::{Component, combine, coverage_factor};
use lamella_calc::paint::{
    AssessInput, AssessResult, GaugeSpec, LayerKind, PanelEvent, PanelHistory, PanelReadings,
    Readings, RemovalInput, Removed, SpotReadings, Target, assess, measure_removal, trace,
};

use crate::reference::Reference;
use crate::row::Row;

const NUMPY: &str = "numpy 2.4.6, run here";
const SCIPY: &str = "scipy 1.17.1, run here";
const UNCERTAINTIES: &str = "uncertainties 3.2.3, run here";
const JOINT: &str = "numpy, whole joint distribution, run here";
const SIMULATED: &str = "numpy, 500 000 simulated cars, run here";
const H_1: &str = "JCGM 100:2008 example H.1 (from memory)";
const H_1_CODE: &str = "JCGM 100:2008 example H.1, METAS code (secondary)";
const GAUGE: &str = "check values 5, uncertainties 3.2.3";
const PA_2: &str = "slide set on SSPC-PA 2 (secondary)";
const LAYERS: &str = "Polymers 2021, 13, 3933, introduction";
const MEMORY: &str = "from memory";
const HANDBOOK_44: &str = "inch of 1959, exact";
const GAUGES: &str = "scopes of ISO 2178 and ISO 2360";

pub(crate) fn rows(reference: &Reference) -> Vec<Row> {
    let mut rows = spots(reference);
    rows.extend(gauge_example());
    rows.extend(end_gauge(reference));
    rows.extend(coverage(reference));
    rows.extend(removal(reference));
    rows.extend(layers(reference));
    rows.extend(history(reference));
    rows.extend(rules());
    rows
}

fn row(
    check: impl Into<String>,
    source: &'static str,
    (expected, got, tolerance): (f64, f64, f64),
    unit: &'static str,
) -> Row {
    Row {
        check: check.into(),
        source,
        expected,
        got,
        tolerance,
        unit,
    }
}

fn gauge(limit_um: f64, limit_percent: f64, resolution_um: f64) -> GaugeSpec {
    GaugeSpec {
        limit_um,
        limit_percent,
        resolution_um,
        principles: Vec::new(),
    }
}

fn um(spot: &str, readings: &[f64]) -> SpotReadings {
    SpotReadings {
        spot: spot.to_owned(),
        readings: Readings::Um(readings.to_vec()),
    }
}

/// One steel panel of one spot.
fn panel(gauge: GaugeSpec, spots: Vec<SpotReadings>) -> AssessResult {
    let input = AssessInput {
        panels: vec![PanelReadings {
            panel: "hood".to_owned(),
            substrate: Substrate::Steel,
            spots,
            ..PanelReadings::default()
        }],
        gauge: Some(gauge),
        ..AssessInput::default()
    };
    assess(&input).expect("the reference asks within the range")
}

fn spots(reference: &Reference) -> Vec<Row> {
    let mut rows = Vec::new();
    for (index, answer) in reference.rows("paint.spots").iter().enumerate() {
        let ([limit, percent, resolution, mean, sd, mad, u, nu, k], readings) = answer
            .split_first_chunk::<9>()
            .expect("nine numbers, then the readings");
        let found = panel(
            gauge(*limit, *percent, *resolution),
            vec![um("a", readings)],
        );
        let spot = &found.panels[0].spots[0];
        let of = |what: &str| format!("spot {} of {} readings, {what}", index + 1, readings.len());
        let (stats, uncertainty) = (&spot.stats, &spot.uncertainty);
        for (what, source, expected, got, unit) in [
            ("mean", NUMPY, mean, Some(stats.mean_um), "um"),
            ("sd", NUMPY, sd, stats.sample_sd_um, "um"),
            ("robust sd", SCIPY, mad, stats.robust_sd_um, "um"),
            ("u_c", UNCERTAINTIES, u, Some(uncertainty.standard_um), "um"),
            (
                "degrees of freedom",
                UNCERTAINTIES,
                nu,
                uncertainty.degrees_of_freedom,
                "1",
            ),
            (
                "coverage factor",
                SCIPY,
                k,
                Some(uncertainty.coverage_factor),
                "1",
            ),
        ] {
            let got = got.unwrap_or(f64::NAN);
            rows.push(row(
                of(what),
                source,
                (*expected, got, 1e-6 * expected.abs().max(1.0)),
                unit,
            ));
        }
    }
    rows
}

/// Section 5 of the check values: the figures as written there.
fn gauge_example() -> Vec<Row> {
    let found = panel(
        gauge(1.0, 2.0, 1.0),
        vec![um("a", &[108.0, 111.0, 107.0, 112.0, 110.0])],
    );
    let u = found.panels[0].spots[0].uncertainty;
    [
        ("type A", 0.9274, u.type_a_um.unwrap_or(f64::NAN)),
        ("limit of error", 1.8429, u.limit_um),
        ("resolution", 0.2887, u.resolution_um),
        ("u_c", 2.0832, u.standard_um),
        ("U, k = 2", 4.166, 2.0 * u.standard_um),
    ]
    .into_iter()
    .map(|(what, expected, got)| {
        row(
            format!("gauge example, {what}"),
            GAUGE,
            (expected, got, 5e-4),
            "um",
        )
    })
    .collect()
}

fn end_gauge(reference: &Reference) -> Vec<Row> {
    let part = |standard, degrees_of_freedom| Component {
        standard,
        degrees_of_freedom,
    };
    let parts = reference.numbers("paint.h1_parts");
    let live = combine(&parts.iter().map(|u| part(*u, None)).collect::<Vec<_>>());
    let printed = combine(&[
        part(25.0, Some(18.0)),
        part(9.68, Some(25.6)),
        part(2.89, Some(50.0)),
        part(16.60, Some(2.0)),
    ]);
    let nu = printed.degrees_of_freedom.unwrap_or(f64::NAN);
    vec![
        row(
            "end gauge, u_c from its parts",
            UNCERTAINTIES,
            (reference.number("paint.h1_standard"), live.standard, 1e-6),
            "nm",
        ),
        row(
            "end gauge, u_c",
            H_1_CODE,
            (31.66, printed.standard, 0.01),
            "nm",
        ),
        row(
            "end gauge, u_c as printed",
            H_1,
            (32.0, printed.standard, 0.5),
            "nm",
        ),
        row(
            "end gauge, degrees of freedom",
            H_1,
            (16.0, nu.floor(), 0.0),
            "1",
        ),
    ]
}

fn coverage(reference: &Reference) -> Vec<Row> {
    let mut rows: Vec<Row> = reference
        .rows("paint.factors")
        .iter()
        .map(|answer| {
            let (nu, expected) = (answer[0], answer[1]);
            let got = coverage_factor(Some(nu));
            row(
                format!("t for 95 %, {nu} degrees"),
                SCIPY,
                (expected, got, 1e-7),
                "1",
            )
        })
        .collect();
    let endless = coverage_factor(None);
    rows.push(row(
        "t for 95 %, without limit",
        H_1,
        (1.960, endless, 5e-4),
        "1",
    ));
    rows
}

fn removal(reference: &Reference) -> Vec<Row> {
    let input = RemovalInput {
        before: vec![
            um("a", &[112.0, 113.0, 111.0]),
            um("b", &[118.0, 117.0, 119.0, 118.0]),
        ],
        after: vec![
            um("a", &[106.0, 107.0, 106.0]),
            um("b", &[113.0, 112.0, 113.0]),
        ],
        gauge: Some(gauge(1.0, 2.0, 1.0)),
        two_gauges: false,
    };
    let found = measure_removal(&input).expect("the spots are in common");
    let u = found.uncertainty;
    let answers = reference.numbers("paint.removal");
    let got = [
        ("mean", found.removal_um, "um"),
        ("u_c", u.standard_um, "um"),
        (
            "degrees of freedom",
            u.degrees_of_freedom.unwrap_or(f64::NAN),
            "1",
        ),
        ("U for 95 %", u.expanded_um, "um"),
    ];
    assert_eq!(
        answers.len(),
        got.len(),
        "every figure of the removal was answered"
    );
    answers
        .into_iter()
        .zip(got)
        .map(|(expected, (what, got, unit))| {
            // The gauge's fixed error of 100 um leaves some rounding in the reference.
            row(
                format!("removal, {what}"),
                UNCERTAINTIES,
                (expected, got, 1e-6 * expected),
                unit,
            )
        })
        .collect()
}

fn layers(reference: &Reference) -> Vec<Row> {
    let steel = default_layers(Substrate::Steel);
    let clear = |answer: &[f64]| {
        let removed = Removed {
            removed_um: answer[2],
            standard_um: answer[3],
        };
        clear_given(&steel, answer[0], answer[1], removed)
    };
    let mut rows = Vec::new();
    for answer in reference.rows("paint.conditioned") {
        let (found, total) = (clear(&answer), answer[0]);
        let of = |what: &str| format!("clear coat under {total} um, {what}");
        rows.push(row(
            of("mean"),
            JOINT,
            (answer[4], found.mean_um, 1e-9),
            "um",
        ));
        rows.push(row(of("sd"), JOINT, (answer[5], found.sd_um, 1e-9), "um"));
    }
    for answer in reference.rows("paint.simulated") {
        let (found, total) = (clear(&answer), answer[0]);
        for (what, expected, got) in [
            ("mean", answer[4], found.mean_um),
            ("sd", answer[5], found.sd_um),
            ("lower 5 %", answer[6], found.at_least_um),
        ] {
            let check = format!("clear coat under {total} um, {what}, within 1 %");
            rows.push(row(
                check,
                SIMULATED,
                (expected, got, 0.01 * expected),
                "um",
            ));
        }
    }
    for (kind, source, low, high) in [
        (LayerKind::Primer, LAYERS, 35.0, 40.0),
        (LayerKind::Base, LAYERS, 10.0, 15.0),
        (LayerKind::Clear, LAYERS, 35.0, 40.0),
        (LayerKind::ECoat, MEMORY, 15.0, 25.0),
    ] {
        let mean_um = steel
            .iter()
            .find(|l| l.kind == kind)
            .map_or(f64::NAN, |l| l.mean_um);
        let middle = f64::midpoint(low, high);
        let check = format!("{kind:?} as made, in {low} to {high}");
        rows.push(row(
            check,
            source,
            (middle, mean_um, (high - low) / 2.0),
            "um",
        ));
    }
    let total: f64 = steel.iter().map(|layer| layer.mean_um).sum();
    rows.push(row(
        "all layers as made, in 90 to 150",
        MEMORY,
        (120.0, total, 30.0),
        "um",
    ));
    rows
}

/// The history of `reference_paint.py`: the same visits, read by read.
fn history(reference: &Reference) -> Vec<Row> {
    // Single readings: their random error is taken as 1 um beside the resolution.
    let read = |um: f64| PanelEvent::Read {
        spot: "a".to_owned(),
        gauge: "combined".to_owned(),
        readings_um: vec![um],
    };
    let measured = |um: f64| PanelEvent::Pass {
        removal_um: Some(um),
        expected_um: 0.0,
    };
    let expected = |um: f64| PanelEvent::Pass {
        removal_um: None,
        expected_um: um,
    };
    let found = trace(&PanelHistory {
        substrate: Substrate::Steel,
        gauge: Some(gauge(1.0, 2.0, 1.0)),
        events: vec![
            PanelEvent::Visit,
            read(112.0),
            measured(2.0),
            expected(1.0),
            read(109.0),
            PanelEvent::Visit,
            read(108.5),
            expected(2.0),
        ],
        ..PanelHistory::default()
    })
    .expect("a sound history");
    let left = found.left.expect("the layers explain every reading");
    let (removed_um, standard_um) = found.removed_um.expect("as above");
    let got = [
        ("left", left.mean_um),
        ("left, sd", left.sd_um),
        ("removed", removed_um),
        ("removed, sd", standard_um),
    ];
    let answers = reference.numbers("paint.history");
    assert_eq!(
        answers.len(),
        got.len(),
        "every figure of the history was answered"
    );
    answers
        .into_iter()
        .zip(got)
        .map(|(expected, (what, got))| {
            row(
                format!("ledger over two visits, {what}"),
                JOINT,
                (expected, got, 1e-9),
                "um",
            )
        })
        .collect()
}

fn rules() -> Vec<Row> {
    let mil = |mil: f64| mil * 25.4;
    let input = AssessInput {
        panels: vec![PanelReadings {
            panel: "hood".to_owned(),
            substrate: Substrate::Steel,
            spots: vec![SpotReadings {
                spot: "a".to_owned(),
                readings: Readings::Mil(vec![4.0, 4.0, 4.0]),
            }],
            ..PanelReadings::default()
        }],
        target: Some(Target {
            min_um: mil(8.0),
            max_um: mil(12.0),
        }),
        ..AssessInput::default()
    };
    let found = assess(&input).expect("a sound panel").panels.remove(0);
    let judged = found.acceptance.expect("a target was given");
    let total_um = found.total.map_or(f64::NAN, |total| total.mean_um);
    let half_um = Readings::Mil(vec![0.5, 2.0]).to_um();
    let reads = |substrate, principle: GaugePrinciple| {
        f64::from(u8::from(readable_by(substrate) == [principle]))
    };
    let (steel, aluminium) = (Substrate::Steel, Substrate::Aluminium);
    vec![
        row(
            "8 to 12 mil, least spot",
            PA_2,
            (6.4, judged.spot_min_um / 25.4, 1e-9),
            "mil",
        ),
        row(
            "8 to 12 mil, greatest spot",
            PA_2,
            (14.4, judged.spot_max_um / 25.4, 1e-9),
            "mil",
        ),
        row("4 mil", HANDBOOK_44, (101.6, total_um, 1e-9), "um"),
        row("0.5 mil", HANDBOOK_44, (12.7, half_um[0], 1e-9), "um"),
        row("2 mil", HANDBOOK_44, (50.8, half_um[1], 1e-9), "um"),
        row(
            "steel is read by magnetic alone",
            GAUGES,
            (1.0, reads(steel, GaugePrinciple::Magnetic), 0.0),
            "1",
        ),
        row(
            "aluminium is read by eddy current alone",
            GAUGES,
            (1.0, reads(aluminium, GaugePrinciple::EddyCurrent), 0.0),
            "1",
        ),
        row(
            "composite is read by ultrasonic alone",
            "ISO 2808 family (from memory)",
            (
                1.0,
                reads(Substrate::Composite, GaugePrinciple::Ultrasonic),
                0.0,
            ),
            "1",
        ),
    ]
}
