//! Pass advice: the beliefs behind it, and the sums that keep the floor.

use lamella_calc::advice::belief::{
    HeatBelief, LevelBelief, Removal, RemovalBelief, SeenPass, normal_cdf, normal_quantile,
};
use lamella_calc::advice::limits::prior_removal_um;
use lamella_calc::advice::{
    Advice, AdviceInput, Goal, Ladder, PassDone, PassOutcome, PassSetup, advise,
};
use lamella_calc::gauge::Substrate;

use crate::reference::Reference;
use crate::row::Row;

const SCIPY: &str = "scipy, run here";
const LEAST_SQUARES: &str = "numpy least squares, run here";
/// Check values, section 4: dh/dt = kp p v.
const PRESTON: &str = "published: Preston 1927 (as retold), dh/dt = kp p v";
/// A setup that no history used, as in the Python half.
const UNUSED: usize = 9;

/// Name, gauge uncertainty in um, and passes: setup, prior in um, reading in um. The same stand in
/// `tests/python/reference_escalation.py`.
type History = (&'static str, f64, &'static [(usize, f64, f64)]);
const HISTORIES: &[History] = &[
    ("none", 0.8, &[]),
    ("one", 0.8, &[(4, 2.0, 3.1)]),
    ("fine", 0.2, &[(4, 0.5, 0.3), (4, 0.5, 0.4)]),
    ("two", 0.5, &[(4, 1.0, 1.6), (5, 1.5, 1.2), (5, 1.5, 1.1)]),
    ("zero", 0.8, &[(2, 0.6, 0.0), (3, 0.9, 0.0), (3, 0.9, 0.4)]),
    ("soft", 0.8, &[(6, 2.5, 5.5), (6, 2.5, 4.0), (7, 3.5, 6.0)]),
];

pub(crate) fn rows(reference: &Reference) -> Vec<Row> {
    let mut rows = normal(reference);
    rows.extend(removal(reference));
    rows.extend(lognormal(reference));
    rows.extend(heat(reference));
    rows.extend(level(reference));
    rows.extend(depth(reference));
    rows.extend(budget(reference));
    rows.extend(preston());
    rows
}

fn row(check: String, expected: f64, got: f64, tolerance: f64, unit: &'static str) -> Row {
    Row {
        check,
        source: SCIPY,
        expected,
        got,
        tolerance,
        unit,
    }
}

fn normal(reference: &Reference) -> Vec<Row> {
    let cdf = ["-3.0", "-1.0", "0.5", "2.0"].map(|x| {
        let at: f64 = x.parse().expect("a number");
        let expected = reference.number(&format!("escalation.cdf {x}"));
        row(
            format!("normal distribution at {x}"),
            expected,
            normal_cdf(at),
            // What the error function of the library used is good for.
            1e-10,
            "1",
        )
    });
    let quantile = ["90.0", "95.0", "99.0", "99.5", "99.99"].map(|percent| {
        let share = percent.parse::<f64>().expect("a number") / 100.0;
        let expected = reference.number(&format!("escalation.quantile {percent}"));
        row(
            format!("normal quantile of {percent} %"),
            expected,
            normal_quantile(share),
            1e-8,
            "1",
        )
    });
    cdf.into_iter().chain(quantile).collect()
}

fn removal(reference: &Reference) -> Vec<Row> {
    let mut rows = Vec::new();
    for (name, gauge_sd_um, passes) in HISTORIES {
        let seen: Vec<SeenPass> = passes
            .iter()
            .map(|&(setup, prior_um, reading_um)| SeenPass {
                setup,
                prior_um,
                reading_um: Some(reading_um),
            })
            .collect();
        let belief = RemovalBelief::after(&seen, *gauge_sd_um);
        let mut setups: Vec<usize> = passes.iter().map(|pass| pass.0).collect();
        setups.dedup();
        setups.push(UNUSED);
        for setup in setups {
            let Removal { median_um, log_sd } = belief.predict(setup, 1.0);
            let key = |what: &str| reference.number(&format!("escalation.{name} {setup} {what}"));
            let check =
                |what: &str| format!("removal belief, history `{name}`, setup {setup}: {what}");
            rows.push(row(check("factor"), key("median"), median_um, 1e-5, "1"));
            rows.push(row(check("log sd"), key("log sd"), log_sd, 1e-5, "1"));
        }
    }
    rows
}

fn lognormal(reference: &Reference) -> Vec<Row> {
    let mut rows = Vec::new();
    for log_sd in [0.2, 0.45] {
        let removal = Removal {
            median_um: 1.5,
            log_sd,
        };
        let (low_um, high_um) = removal.interval_90_um();
        let got = [removal.mean_um(), removal.sd_um(), low_um, high_um];
        let expected = reference.numbers(&format!("escalation.lognormal {log_sd}"));
        for (what, (expected, got)) in ["mean", "sd", "5 %", "95 %"]
            .iter()
            .zip(expected.into_iter().zip(got))
        {
            let check = format!("lognormal removal, log sd {log_sd}: {what}");
            rows.push(row(check, expected, got, 1e-9, "um"));
        }
    }
    rows
}

fn heat(reference: &Reference) -> Vec<Row> {
    let mut rows = Vec::new();
    let cases: [(&str, &[(f64, f64)]); 3] = [
        ("none", &[]),
        ("three", &[(2.0, 3.1), (3.0, 3.9), (4.5, 7.0)]),
        ("cool", &[(6.0, 3.0), (6.0, 2.5)]),
    ];
    for (name, rises_k) in cases {
        let HeatBelief { factor, factor_sd } = HeatBelief::after(rises_k);
        let expected = reference.numbers(&format!("escalation.warmth {name}"));
        for (what, (expected, got)) in ["factor", "sd"]
            .iter()
            .zip(expected.into_iter().zip([factor, factor_sd]))
        {
            rows.push(Row {
                source: LEAST_SQUARES,
                ..row(
                    format!("heat belief, rises `{name}`: {what}"),
                    expected,
                    got,
                    1e-9,
                    "1",
                )
            });
        }
    }
    rows
}

fn level(reference: &Reference) -> Vec<Row> {
    let prior = row(
        "levelling: chance of one warm pass, before any".to_owned(),
        reference.number("escalation.level prior"),
        LevelBelief { short: 0 }.chance_warm(1),
        1e-12,
        "1",
    );
    let later = [(0, 1), (0, 3), (2, 3), (5, 12)].map(|(short, passes)| {
        row(
            format!("levelling: {passes} warm passes after {short} in vain"),
            reference.number(&format!("escalation.level {short} {passes}")),
            LevelBelief { short }.chance_warm(passes),
            1e-12,
            "1",
        )
    });
    std::iter::once(prior).chain(later).collect()
}

/// Rung 0 expects 0.1 um by its prior and rung 1 expects 0.15 um.
fn depth(reference: &Reference) -> Vec<Row> {
    let cases = [
        (0.3, "0.1", 0, 0_usize, 3),
        (0.3, "0.15", 1, 0, 3),
        (0.4, "0.1", 0, 0, 3),
        (0.3, "0.1", 0, 1, 2),
        (0.4, "0.1", 0, 1, 2),
        (0.4, "0.1", 0, 2, 1),
        (0.6, "0.1", 0, 2, 1),
    ];
    cases
        .iter()
        .map(|&(defect_um, prior, rung, made, more)| {
            let done = PassDone {
                setup: PassSetup::Rung(rung),
                start_c: None,
                panel_c: None,
                removal_um: None,
                outcome: PassOutcome::Improved,
            };
            let advice = answer(&AdviceInput {
                defect_um: Some(defect_um),
                passes: vec![done; made],
                ..removing()
            });
            let weighed = advice
                .alternatives
                .iter()
                .find(|pass| pass.rung == rung)
                .unwrap_or_else(|| panic!("rung {rung} is weighed: {advice:?}"));
            assert_eq!(weighed.passes_left, more);
            let key = format!("escalation.chance {defect_um} {prior} {made} {more}");
            row(
                format!(
                    "chance to clear {defect_um} um: {made} passes of {prior} um made, {more} to come"
                ),
                reference.number(&key),
                weighed.chance.expect("a depth was given"),
                1e-4,
                "1",
            )
        })
        .collect()
}

/// No pass yet: 45 - 30 - z 5 um.
fn budget(reference: &Reference) -> Vec<Row> {
    [95.0, 99.0, 99.5]
        .map(|percent| {
            let z = reference.number(&format!("escalation.quantile {percent:.1}"));
            let advice = answer(&AdviceInput {
                clear_um: Some(45.0),
                clear_sd_um: Some(5.0),
                floor_confidence_percent: Some(percent),
                ..removing()
            });
            row(
                format!("budget of 45 +- 5 um over a floor of 30 um at {percent} %"),
                15.0 - 5.0 * z,
                advice.removal_budget_um.expect("the thickness is known"),
                1e-6,
                "um",
            )
        })
        .into()
}

fn preston() -> Vec<Row> {
    let ladder = Ladder::default();
    let removal_um = |rung: usize| prior_removal_um(&ladder.rungs()[rung].setup);
    [
        ("dial 2 to 3", 1, 1.5),
        ("30 to 45 s", 2, 1.5),
        ("2 to 3 kPa", 3, 1.5),
    ]
    .map(|(what, rung, expected)| Row {
        source: PRESTON,
        ..row(
            format!("removal prior, {what}"),
            expected,
            removal_um(rung) / removal_um(rung - 1),
            1e-12,
            "1",
        )
    })
    .into()
}

fn removing() -> AdviceInput {
    AdviceInput {
        goal: Some(Goal::RemoveDefect),
        substrate: Substrate::Steel,
        clear_um: Some(80.0),
        clear_sd_um: Some(1.0),
        ..AdviceInput::default()
    }
}

fn answer(input: &AdviceInput) -> Advice {
    advise(input).expect("the input is sound")
}
