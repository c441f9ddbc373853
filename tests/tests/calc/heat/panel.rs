//! The panel: against the closed forms where those apply, and against scipy's method of lines.

use lamella_calc::gauge::Substrate;
use lamella_calc::heat::{
    HeatInput, HeatResult, Observation, PadMotion, PanelInput, Segment, mean_speed_m_per_s,
    pad_area_cm2, predict,
};

use super::row;
use crate::reference::Reference;
use crate::row::Row;

const SCIPY_LINES: &str = "scipy 1.17.1, method of lines, run here";
const SEMI_INFINITE: &str = "closed form, semi-infinite (check values 4)";
const LUMPED: &str = "closed form, lumped (check values 4)";

pub(super) fn rows(reference: &Reference) -> Vec<Row> {
    let mut rows = panel_against_closed_forms(reference);
    rows.extend(panel_against_lines(reference));
    rows
}

/// A bare panel of this thickness under an even flux: the pad covers the whole section, and its
/// speed, pressure and factor make just the flux that is wanted.
fn bare(substrate: Substrate, thickness_mm: f64, flux: f64, seconds: f64, h: f64) -> HeatResult {
    run(Case {
        panel: PanelInput {
            substrate,
            thickness_mm: Some(thickness_mm),
            paint_um: Some(0.0),
            front_h_w_per_m2_k: Some(h),
            back_h_w_per_m2_k: Some(0.0),
        },
        above_air_k: 0.0,
        steps: &[(seconds, flux)],
        observations: Vec::new(),
    })
}

/// A panel and what is done to it.
pub(super) struct Case<'a> {
    pub(super) panel: PanelInput,
    pub(super) above_air_k: f64,
    /// Seconds and flux over the section, W/m2.
    pub(super) steps: &'a [(f64, f64)],
    pub(super) observations: Vec<Observation>,
}

const PAD_MM: f64 = 150.0;
pub(super) const AIR_C: f64 = 20.0;
const TURNS_PER_MIN: f64 = 1200.0;

/// What the calculator says of a case.
pub(super) fn run(case: Case<'_>) -> HeatResult {
    let motion = PadMotion::Rotary {
        turns_per_min: TURNS_PER_MIN,
    };
    let speed = mean_speed_m_per_s(motion, PAD_MM);
    let segments = case.steps.iter().map(|&(seconds, flux)| Segment {
        seconds,
        // With a factor of 1 and the pad over the whole section, q = p v.
        pressure_kpa: flux / speed / 1000.0,
        motion: None,
    });
    predict(&HeatInput {
        panel: case.panel,
        edge: false,
        start_c: AIR_C + case.above_air_k,
        air_c: AIR_C,
        motion,
        pad_mm: PAD_MM,
        area_cm2: Some(pad_area_cm2(PAD_MM)),
        arm_mm_per_s: None,
        friction: Some(1.0),
        share_to_panel: Some(1.0),
        segments: segments.collect(),
        observations: case.observations,
        reading_sd_k: None,
        target_c: None,
        ceiling_c: Some(100.0),
    })
    .expect("the case is within the ranges")
}

fn end_k(result: &HeatResult) -> f64 {
    result
        .segments
        .last()
        .map_or(f64::NAN, |segment| segment.end.panel_c - AIR_C)
}

/// The promise of the issue: within 1 % of both closed forms where they apply.
fn panel_against_closed_forms(reference: &Reference) -> Vec<Row> {
    let thin = |check: &str, expected, got| {
        row(
            format!("panel: {check}"),
            LUMPED,
            (expected, got, 0.01 * expected),
            "K",
        )
    };
    let (steel, aluminium) = (Substrate::Steel, Substrate::Aluminium);
    let with_h = reference.numbers("heat.lumped");
    // Proportional to the root of time: scipy's 10 s of steel and of aluminium, for a shorter time.
    let semi = reference.numbers("heat.semi_infinite");
    let shorter = |after_10_s: f64, seconds: f64| after_10_s * (seconds / 10.0).sqrt();
    let mut rows = vec![
        thin(
            "steel 0.7 mm, 2000 W/m2, 20 s",
            16.81,
            end_k(&bare(steel, 0.7, 2000.0, 20.0, 0.0)),
        ),
        thin(
            "aluminium 1 mm, 2000 W/m2, 20 s",
            16.53,
            end_k(&bare(aluminium, 1.0, 2000.0, 20.0, 0.0)),
        ),
        thin(
            "steel 0.7 mm, h 15, 20 s",
            15.79,
            end_k(&bare(steel, 0.7, 2000.0, 20.0, 15.0)),
        ),
        thin(
            "aluminium 1 mm, h 15, 60 s",
            with_h[1],
            end_k(&bare(aluminium, 1.0, 2000.0, 60.0, 15.0)),
        ),
        thin(
            "steel 0.7 mm, h 15, steady",
            133.3 / 2.0,
            end_k(&bare(steel, 0.7, 1000.0, 3600.0, 15.0)),
        ),
        // The laminate's mean is lumped; its surface leads the mean by qL/3k, which the slab adds.
        thin(
            "laminate 1.5 mm, 2000 W/m2, 20 s, mean",
            18.52,
            end_k(&bare(Substrate::Composite, 1.5, 2000.0, 20.0, 0.0))
                - 2000.0 * 1.5e-3 / 0.6 / 3.0,
        ),
    ];
    let thick = [
        (
            "steel 20 mm",
            steel,
            20.0,
            5000.0,
            1.0,
            shorter(semi[0], 1.0),
        ),
        (
            "aluminium 20 mm",
            aluminium,
            20.0,
            5000.0,
            0.5,
            shorter(semi[2], 0.5),
        ),
        (
            "polypropylene 3 mm",
            Substrate::Plastic,
            3.0,
            5000.0,
            10.0,
            30.85,
        ),
        (
            "polypropylene 20 mm",
            Substrate::Plastic,
            20.0,
            5000.0,
            60.0,
            75.6,
        ),
        (
            "polypropylene 20 mm",
            Substrate::Plastic,
            20.0,
            5000.0,
            10.0,
            30.85,
        ),
        (
            "laminate 20 mm",
            Substrate::Composite,
            20.0,
            5000.0,
            60.0,
            47.0,
        ),
        (
            "laminate 20 mm",
            Substrate::Composite,
            20.0,
            5000.0,
            10.0,
            19.2,
        ),
    ];
    rows.extend(
        thick.map(|(name, substrate, thickness_mm, flux, seconds, expected)| {
            let got = end_k(&bare(substrate, thickness_mm, flux, seconds, 0.0));
            let check = format!("panel: {name}, {flux} W/m2, {seconds} s");
            row(check, SEMI_INFINITE, (expected, got, 0.01 * expected), "K")
        }),
    );
    rows
}

/// Painted panels over work and pauses, against cells that scipy integrates in time.
fn panel_against_lines(reference: &Reference) -> Vec<Row> {
    let panel = |substrate, thickness_mm, paint_um, front, back| PanelInput {
        substrate,
        thickness_mm: Some(thickness_mm),
        paint_um: Some(paint_um),
        front_h_w_per_m2_k: Some(front),
        back_h_w_per_m2_k: Some(back),
    };
    // As PANELS of tests/python/reference_heat.py; the steps are cut where a temperature is asked for.
    type Steps = &'static [(f64, f64)];
    let cases: [(&str, PanelInput, f64, Steps); 6] = [
        (
            "steel_bare",
            panel(Substrate::Steel, 0.7, 0.0, 15.0, 0.0),
            0.0,
            &[(1.0, 2000.0), (19.0, 2000.0), (40.0, 2000.0)],
        ),
        (
            "steel_painted",
            panel(Substrate::Steel, 0.7, 120.0, 15.0, 0.0),
            0.0,
            &[(5.0, 1500.0), (40.0, 1500.0), (60.0, 0.0), (45.0, 1500.0)],
        ),
        (
            "aluminium_warm",
            panel(Substrate::Aluminium, 1.0, 150.0, 20.0, 5.0),
            12.0,
            &[(30.0, 0.0), (30.0, 2500.0), (30.0, 2500.0)],
        ),
        (
            "composite_painted",
            panel(Substrate::Composite, 1.5, 120.0, 15.0, 5.0),
            0.0,
            &[(5.0, 600.0), (25.0, 600.0), (90.0, 0.0), (30.0, 900.0)],
        ),
        (
            "plastic_painted",
            panel(Substrate::Plastic, 3.0, 100.0, 15.0, 0.0),
            -5.0,
            &[(2.0, 500.0), (28.0, 500.0), (60.0, 0.0), (30.0, 500.0)],
        ),
        (
            "plastic_thick",
            panel(Substrate::Plastic, 20.0, 0.0, 0.0, 0.0),
            0.0,
            &[(5.0, 500.0), (5.0, 500.0), (50.0, 500.0)],
        ),
    ];
    let mut rows = Vec::new();
    for (name, panel, above_air_k, steps) in cases {
        let expected = reference.numbers(&format!("heat.panel_{name}"));
        let result = run(Case {
            panel,
            above_air_k,
            steps,
            observations: Vec::new(),
        });
        assert_eq!(
            expected.len(),
            result.segments.len(),
            "{name}: a temperature for each step"
        );
        rows.extend(
            expected
                .iter()
                .zip(&result.segments)
                .map(|(expected, segment)| {
                    let got = segment.end.panel_c - AIR_C;
                    let check = format!("panel: {name}, {} s", segment.start_s + segment.seconds);
                    // The promise: 1 % of the change since the start.
                    let tolerance = 0.01 * (expected - above_air_k).abs();
                    row(check, SCIPY_LINES, (*expected, got, tolerance), "K")
                }),
        );
    }
    rows
}
