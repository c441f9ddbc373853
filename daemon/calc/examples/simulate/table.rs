//! The figures of every policy, and the targets that the advice must meet.

use std::fmt::Write as _;

use super::policy::{Policy, Run};

/// A figure that must lie in a range.
#[derive(Debug)]
pub(crate) struct Target {
    what: &'static str,
    got: f64,
    /// Whether a miss counts; else the figure is only shown.
    counts: bool,
    low: f64,
    high: f64,
}

impl Target {
    pub(crate) fn holds(&self) -> bool {
        !self.counts || (self.low..=self.high).contains(&self.got)
    }
}

/// One line for each policy.
pub(crate) fn table(all: &[(Policy, Vec<Run>)]) -> String {
    let mut out = format!(
        "{:<23}{:>13}{:>9}{:>9}{:>9}{:>11}{:>11}{:>10}{:>10}\n",
        "policy",
        "breaches/1000",
        "cleared",
        "passes",
        "passes",
        "removed",
        "over temp.",
        "removal",
        "temp."
    );
    let _ = writeln!(
        out,
        "{:<23}{:>13}{:>9}{:>9}{:>9}{:>11}{:>11}{:>10}{:>10}",
        "", "", "%", "median*", "mean*", "mean um", "/1000 pass", "in 90 %", "in 90 %"
    );
    for (policy, runs) in all {
        let cleared = cleared(runs);
        let passes: f64 = sum(runs, |run| run.passes);
        let share = |covered: f64, predicted: f64| {
            if predicted > 0.0 {
                format!("{:.1} %", 100.0 * covered / predicted)
            } else {
                "-".to_owned()
            }
        };
        let _ = writeln!(
            out,
            "{:<23}{:>13.2}{:>9.1}{:>9.1}{:>9.2}{:>11.2}{:>11.2}{:>10}{:>10}",
            policy.name(),
            breaches_per_1000(runs),
            100.0 * count(cleared.len()) / count(runs.len()),
            median(&cleared),
            cleared.iter().copied().sum::<f64>() / count(cleared.len()),
            runs.iter().map(|run| run.removed_um).sum::<f64>() / count(runs.len()),
            1000.0 * sum(runs, |run| run.over_temperature) / passes,
            share(sum(runs, |run| run.covered), sum(runs, |run| run.predicted)),
            share(
                sum(runs, |run| run.covered_c),
                sum(runs, |run| run.predicted_c)
            ),
        );
    }
    out + "* of the panels that it cleared\n"
}

/// What the advice is held to.
pub(crate) fn targets(all: &[(Policy, Vec<Run>)]) -> Vec<Target> {
    let of = |wanted: Policy| {
        let found = all.iter().find(|(policy, _)| *policy == wanted);
        found.map_or(&[][..], |(_, runs)| runs)
    };
    let ours = of(Policy::Advice);
    let ratio = |policy| median_ratio(ours, of(policy));
    let coverage = |covered: f64, predicted: f64| 100.0 * covered / predicted;
    vec![
        Target {
            what: "breaches of the floor in 1000 panels",
            got: breaches_per_1000(ours),
            counts: true,
            low: 0.0,
            high: 1.0,
        },
        Target {
            what: "median passes over the all-knowing chooser's",
            got: ratio(Policy::AllKnowing),
            counts: true,
            low: 0.0,
            high: 1.5,
        },
        Target {
            what: "the same over the hurried all-knowing one's",
            got: ratio(Policy::AllKnowingHurried),
            counts: false,
            low: 0.0,
            high: 1.5,
        },
        Target {
            what: "true removals in their predicted 90 %, in %",
            got: coverage(sum(ours, |run| run.covered), sum(ours, |run| run.predicted)),
            counts: true,
            low: 87.0,
            high: 93.0,
        },
        Target {
            what: "requests refused",
            got: sum(ours, |run| run.refused),
            counts: true,
            low: 0.0,
            high: 0.0,
        },
    ]
}

/// Median passes of `ours` over those of `theirs`. Panels that one of them gave up would compare easy
/// panels with hard ones, so only those count that both cleared.
fn median_ratio(ours: &[Run], theirs: &[Run]) -> f64 {
    let both: Vec<(f64, f64)> = ours
        .iter()
        .zip(theirs)
        .filter(|(ours, theirs)| ours.cleared && theirs.cleared)
        .map(|(ours, theirs)| (count(ours.passes), count(theirs.passes)))
        .collect();
    let (ours, theirs): (Vec<f64>, Vec<f64>) = both.into_iter().unzip();
    median(&ours) / median(&theirs)
}

/// The targets, one line each.
pub(crate) fn verdict(targets: &[Target]) -> String {
    let mut out = String::new();
    for target in targets {
        let verdict = match (target.counts, target.holds()) {
            (false, _) => "shown only, no target",
            (true, true) => "ok",
            (true, false) => "MISSED",
        };
        let _ = writeln!(
            out,
            "{:<46}{:>8.2}  wanted {} to {}  {verdict}",
            target.what, target.got, target.low, target.high
        );
    }
    out
}

fn cleared(runs: &[Run]) -> Vec<f64> {
    runs.iter()
        .filter(|run| run.cleared)
        .map(|run| count(run.passes))
        .collect()
}

fn breaches_per_1000(runs: &[Run]) -> f64 {
    1000.0 * sum(runs, |run| usize::from(run.breached)) / count(runs.len())
}

fn sum(runs: &[Run], of: impl Fn(&Run) -> usize) -> f64 {
    count(runs.iter().map(of).sum())
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    match sorted[..] {
        [] => f64::NAN,
        _ if sorted.len() % 2 == 1 => sorted[middle],
        _ => f64::midpoint(sorted[middle - 1], sorted[middle]),
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts far below 2^52")]
fn count(number: usize) -> f64 {
    number as f64
}
