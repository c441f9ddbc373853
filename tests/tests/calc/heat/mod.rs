//! Heat in polishing: printed examples for the closed forms, closed forms and a scipy model for
//! the panel, scipy for pad speed and fit.
//!
//! - `closed`: printed examples and scipy against the closed forms
//! - `panel`: the panel against closed forms and against scipy's method of lines
//! - here: pad speed, and the fit to readings

mod closed;
mod panel;

use lamella_calc::gauge::Substrate;
use lamella_calc::heat::{FactorBasis, Observation, PadMotion, PanelInput, mean_speed_m_per_s};

use self::panel::{AIR_C, Case, run};
use crate::reference::Reference;
use crate::row::Row;

const SCIPY: &str = "scipy 1.17.1, run here";

pub(crate) fn rows(reference: &Reference) -> Vec<Row> {
    let mut rows = closed::rows(reference);
    rows.extend(panel::rows(reference));
    rows.extend(speeds(reference));
    rows.extend(fit(reference));
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
fn speeds(reference: &Reference) -> Vec<Row> {
    let speeds = reference.rows("heat.speeds");
    let both = speeds.iter().map(|case| {
        let &[orbits_per_min, orbit_mm, turns_per_min, pad_mm, expected] = &case[..] else {
            panic!("five numbers are wanted, got {case:?}");
        };
        let motion = PadMotion::DualAction {
            orbits_per_min,
            orbit_mm,
            turns_per_min,
        };
        let check =
            format!("pad speed: {orbits_per_min} orbits of {orbit_mm} mm, {turns_per_min} turns");
        let got = mean_speed_m_per_s(motion, pad_mm);
        row(check, SCIPY, (expected, got, 1e-3 * expected), "m/s")
    });
    let mut rows: Vec<Row> = both.collect();
    let rotary = mean_speed_m_per_s(
        PadMotion::Rotary {
            turns_per_min: 1200.0,
        },
        150.0,
    );
    let disc = speeds.last().map_or(f64::NAN, |case| case[4]);
    rows.push(row(
        "pad speed: rotary, 1200 turns, 150 mm",
        SCIPY,
        (disc, rotary, 1e-6),
        "m/s",
    ));
    rows
}

/// The same readings fitted by scipy's `curve_fit`, and the next pass predicted.
fn fit(reference: &Reference) -> Vec<Row> {
    let readings = reference.rows("heat.readings");
    let observations = readings
        .iter()
        .map(|reading| Observation {
            after_s: reading[0],
            panel_c: AIR_C + reading[1],
        })
        .collect();
    let result = run(Case {
        panel: PanelInput {
            substrate: Substrate::Steel,
            thickness_mm: Some(0.7),
            paint_um: Some(120.0),
            front_h_w_per_m2_k: Some(15.0),
            back_h_w_per_m2_k: Some(0.0),
        },
        above_air_k: 0.0,
        steps: &[(45.0, 800.0), (60.0, 0.0), (60.0, 800.0)],
        observations,
    });
    let expected = reference.numbers("heat.fit");
    let FactorBasis::Fitted(fit) = result.factor.basis else {
        panic!("readings were given, so the factor is fitted");
    };
    let peak = result.segments[2].peak;
    let got = [
        ("heat factor", result.factor.factor, ""),
        ("its standard error", fit.standard_error, ""),
        ("scatter of the readings", fit.reading_sd_k, "K"),
        ("Student's t, 4 degrees", fit.coverage, ""),
        ("peak of the next pass", peak.panel_c - AIR_C, "K"),
        ("half width at 95 %", peak.high_c - peak.panel_c, "K"),
    ];
    assert_eq!(got.len(), expected.len(), "every figure of the fit");
    got.into_iter()
        .zip(expected)
        .map(|((what, got, unit), expected)| {
            row(
                format!("fit: {what}"),
                SCIPY,
                (expected, got, 0.002 * expected),
                unit,
            )
        })
        .collect()
}
