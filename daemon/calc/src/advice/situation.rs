//! What was recorded on the panel, and what it adds up to: place on the ladder, heat, removal.

use super::goal::Goal;
use super::ladder::Ladder;
use super::limits::{self, Cap};
use super::setup::Setup;
use crate::error::CalcError;
use crate::gauge::Substrate;
use crate::violation::Checks;

/// Most passes in one request.
pub const MAX_PASSES: usize = 200;
/// Longest reason for an override, in characters.
pub const MAX_REASON_CHARS: usize = 1000;
const PANEL_C: (f64, f64) = (-20.0, 150.0);
const CEILING_C: (f64, f64) = (0.0, 100.0);
const MAX_CLEAR_UM: f64 = 1000.0;
const FLOOR_UM: (f64, f64) = (0.0, 1000.0);
const REMOVAL_UM: (f64, f64) = (0.0, 500.0);
const MAX_SD_UM: f64 = 100.0;
const MAX_DEFECT_UM: f64 = 100.0;
/// Least standard uncertainty of a measured removal, in um: below it a gauge is not believed.
const LEAST_GAUGE_SD_UM: f64 = 0.05;
const FLOOR_CONFIDENCE_PERCENT: (f64, f64) = (90.0, 99.99);
const MAX_TIME_S: f64 = 86_400.0;

/// A panel, what was done to it, the goal, and the limits.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AdviceInput {
    /// What the passes are for; absent means that the ladder's plain rules decide.
    pub goal: Option<Goal>,
    /// The shop's ladder; absent means [`Ladder::default`].
    pub ladder: Option<Ladder>,
    /// What the panel is made of.
    pub substrate: Substrate,
    /// Whether the spot is at an edge or body line.
    pub edge: bool,
    /// Clear coat before the passes below, in um, above 0 to 1000; absent when unknown.
    pub clear_um: Option<f64>,
    /// Standard uncertainty of `clear_um`, in um, 0 to 100; absent means that without a goal the plain
    /// rules take the thickness as exact, and with one
    /// [`DEFAULT_CLEAR_SD_UM`](limits::DEFAULT_CLEAR_SD_UM).
    pub clear_sd_um: Option<f64>,
    /// Estimated depth of the defect before the passes below, in um, above 0 to 100; absent means
    /// that the start is at the lowest rung.
    pub defect_um: Option<f64>,
    /// Standard uncertainty of each measured removal, in um, 0.05 to 100; absent means
    /// [`DEFAULT_GAUGE_SD_UM`](super::belief::removal::DEFAULT_GAUGE_SD_UM).
    pub gauge_sd_um: Option<f64>,
    /// Confidence that the floor is kept, in percent, 90 to 99.99; absent means
    /// [`DEFAULT_FLOOR_CONFIDENCE_PERCENT`](limits::DEFAULT_FLOOR_CONFIDENCE_PERCENT).
    pub floor_confidence_percent: Option<f64>,
    /// Time left for this section, in s, 0 to 86400; absent means enough.
    pub time_left_s: Option<f64>,
    /// Panel temperature from which the clear coat levels, in C, 0 to 100, not above the ceiling; absent means
    /// [`LEVEL_BELOW_CEILING_K`](limits::LEVEL_BELOW_CEILING_K) below the ceiling. Only for [`Goal::WarmAndLevel`].
    pub target_c: Option<f64>,
    /// Clear coat that must stay, in um, 0 to 1000; absent means [`limits::DEFAULT_FLOOR_UM`].
    pub floor_um: Option<f64>,
    /// Hottest the surface may get, in C, 0 to 100; absent means [`limits::default_ceiling_c`].
    pub ceiling_c: Option<f64>,
    /// Panel temperature measured now, in C, -20 to 150; absent means the latest of the passes.
    /// After a stop at the ceiling this is how a cooled panel is reported.
    pub panel_now_c: Option<f64>,
    /// Passes so far, oldest first, at most [`MAX_PASSES`].
    pub passes: Vec<PassDone>,
    /// Why the stop rules are to be passed over, not blank, at most [`MAX_REASON_CHARS`]; absent
    /// means that they hold.
    pub override_reason: Option<String>,
}

/// One pass that was made.
#[derive(Debug, Clone, PartialEq)]
pub struct PassDone {
    /// With what.
    pub setup: PassSetup,
    /// Panel temperature at its start, in C, -20 to 150; absent means that of the pass before at its
    /// end.
    pub start_c: Option<f64>,
    /// Panel temperature at its end, in C, -20 to 150.
    pub panel_c: Option<f64>,
    /// Clear coat that it took off by measurement, in um, 0 to 500.
    pub removal_um: Option<f64>,
    /// What it did to the defect.
    pub outcome: PassOutcome,
}

/// What a pass was made with.
#[derive(Debug, Clone, PartialEq)]
pub enum PassSetup {
    /// A rung of the ladder, by position from 0. Sentences and violations count from 1.
    Rung(usize),
    /// A setup in full; it counts as a rung when the ladder has the same.
    Setup(Setup),
}

/// What a pass did to the defect.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PassOutcome {
    /// It is gone.
    Cleared,
    /// It is less.
    Improved,
    /// It is as it was.
    Unchanged,
    /// It is worse, or the pass made a new one.
    Worse,
}

/// The facts that the decision rests on.
#[derive(Debug)]
pub(crate) struct Situation {
    pub(crate) ladder: Ladder,
    pub(crate) cap: Option<Cap>,
    /// Outcome of the very last pass, on the ladder or not.
    pub(crate) last_outcome: Option<PassOutcome>,
    /// The last pass on the ladder.
    pub(crate) place: Option<Place>,
    /// A pass jumped over a rung, or did not start at the first.
    pub(crate) skipped: bool,
    /// Rung and outcome of each pass on the ladder.
    on_ladder: Vec<(usize, PassOutcome)>,
    pub(crate) off_ladder: bool,
    pub(crate) ceiling_c: f64,
    pub(crate) panel_c: Option<f64>,
    /// Panel temperature less the ceiling is what `headroom_k` negates.
    pub(crate) headroom_k: Option<f64>,
    pub(crate) predicted_c: Option<f64>,
    pub(crate) floor_um: f64,
    pub(crate) removed_um: f64,
    pub(crate) removed_assumed_um: f64,
    pub(crate) budget_um: Option<f64>,
    /// Measured removal over prior, at least 1.
    removal_scale: f64,
}

/// Where on the ladder the work stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    pub(crate) rung: usize,
    pub(crate) outcome: PassOutcome,
    /// Passes in a row at this rung, this one included.
    pub(crate) in_a_row: usize,
}

impl Situation {
    /// Adds up a request that [`check`] found no fault in.
    pub(crate) fn of(input: &AdviceInput) -> Self {
        let ladder = input.ladder.clone().unwrap_or_default();
        let rungs: Vec<Option<usize>> = input
            .passes
            .iter()
            .map(|pass| rung_of(pass, &ladder))
            .collect();
        let on_ladder: Vec<(usize, PassOutcome)> = (rungs.iter().zip(&input.passes))
            .filter_map(|(rung, pass)| rung.map(|rung| (rung, pass.outcome)))
            .collect();
        let place = on_ladder.last().map(|&(rung, outcome)| Place {
            rung,
            outcome,
            in_a_row: on_ladder
                .iter()
                .rev()
                .take_while(|(other, _)| *other == rung)
                .count(),
        });
        let temperatures: Vec<f64> = input.passes.iter().filter_map(|p| p.panel_c).collect();
        let panel_c = input.panel_now_c.or(temperatures.last().copied());
        let rise_k = match temperatures[..] {
            [.., before, last] => Some((last - before).max(0.0)),
            [_] | [] => None,
        };
        let ceiling_c = ceiling_c(input);
        let floor_um = input.floor_um.unwrap_or(limits::DEFAULT_FLOOR_UM);
        let removal = Removal::of(&input.passes, &ladder);
        Self {
            cap: limits::cap(
                &ladder,
                input.substrate,
                input.edge,
                input.clear_um.is_some(),
                input.goal,
            ),
            last_outcome: input.passes.last().map(|pass| pass.outcome),
            place,
            skipped: skips_from(&on_ladder, 0),
            on_ladder,
            off_ladder: rungs.iter().any(Option::is_none),
            ceiling_c,
            panel_c,
            headroom_k: panel_c.map(|panel_c| ceiling_c - panel_c),
            predicted_c: panel_c
                .zip(rise_k)
                .map(|(panel_c, rise_k)| panel_c + rise_k),
            floor_um,
            removed_um: removal.measured_um + removal.assumed_um,
            removed_assumed_um: removal.assumed_um,
            budget_um: input
                .clear_um
                .map(|clear_um| clear_um - floor_um - removal.measured_um - removal.assumed_um),
            removal_scale: removal.scale,
            ladder,
        }
    }

    /// Removal that the plain rules expect of a pass at this rung, in um; `None` above the ladder.
    pub(crate) fn expected_removal_um(&self, rung: usize) -> Option<f64> {
        let rung = self.ladder.rungs().get(rung)?;
        Some(limits::prior_removal_um(&rung.setup) * self.removal_scale)
    }

    /// Whether a pass jumped over a rung, had the first been allowed up to `start`.
    pub(crate) fn skips_from(&self, start: usize) -> bool {
        skips_from(&self.on_ladder, start)
    }

    /// Whether the panel is at its ceiling.
    pub(crate) fn at_ceiling(&self) -> bool {
        self.headroom_k
            .is_some_and(|headroom_k| headroom_k <= limits::CEILING_TOLERANCE_K)
    }
}

fn ceiling_c(input: &AdviceInput) -> f64 {
    input
        .ceiling_c
        .unwrap_or_else(|| limits::default_ceiling_c(input.substrate, input.edge))
}

/// Refuses a request with everything that is wrong with it.
pub(crate) fn check(input: &AdviceInput) -> Result<(), CalcError> {
    let mut checks = Checks::new();
    let rungs = input.ladder.as_ref().map_or_else(
        || Ladder::default().rungs().len(),
        |ladder| ladder.rungs().len(),
    );
    if let Some(clear_um) = input.clear_um {
        checks.above("clear_um", clear_um, 0.0, MAX_CLEAR_UM, "um");
    }
    let mut optional = |field: &str, value, (low, high), unit| {
        checks.optional_in_range(field, value, low, high, unit);
    };
    optional("floor_um", input.floor_um, FLOOR_UM, "um");
    optional("ceiling_c", input.ceiling_c, CEILING_C, "C");
    optional("panel_now_c", input.panel_now_c, PANEL_C, "C");
    let sd = (0.0, MAX_SD_UM);
    optional("clear_sd_um", input.clear_sd_um, sd, "um");
    let gauge_sd = (LEAST_GAUGE_SD_UM, MAX_SD_UM);
    optional("gauge_sd_um", input.gauge_sd_um, gauge_sd, "um");
    optional(
        "floor_confidence_percent",
        input.floor_confidence_percent,
        FLOOR_CONFIDENCE_PERCENT,
        "percent",
    );
    optional("time_left_s", input.time_left_s, (0.0, MAX_TIME_S), "s");
    let ceiling_c = ceiling_c(input);
    let target = (
        0.0,
        if ceiling_c.is_nan() {
            CEILING_C.1
        } else {
            ceiling_c
        },
    );
    optional("target_c", input.target_c, target, "C");
    if let Some(defect_um) = input.defect_um {
        checks.above("defect_um", defect_um, 0.0, MAX_DEFECT_UM, "um");
    }
    checks.require(
        input.clear_sd_um.is_none() || input.clear_um.is_some(),
        "clear_sd_um",
        || "must be left out without a clear-coat thickness".to_owned(),
    );
    let count = input.passes.len();
    checks.require(count <= MAX_PASSES, "passes", || {
        format!("must have at most {MAX_PASSES} passes, got {count}")
    });
    for (i, pass) in input.passes.iter().take(MAX_PASSES).enumerate() {
        match &pass.setup {
            PassSetup::Rung(rung) => {
                checks.require(*rung < rungs, format!("passes[{i}].rung"), || {
                    format!(
                        "must be a rung of the ladder, 1 to {rungs}, got {}",
                        rung.saturating_add(1)
                    )
                });
            }
            PassSetup::Setup(setup) => setup.check(&format!("passes[{i}].setup"), &mut checks),
        }
        let (low, high) = PANEL_C;
        checks.optional_in_range(format!("passes[{i}].start_c"), pass.start_c, low, high, "C");
        checks.optional_in_range(format!("passes[{i}].panel_c"), pass.panel_c, low, high, "C");
        let (low, high) = REMOVAL_UM;
        let field = format!("passes[{i}].removal_um");
        checks.optional_in_range(field, pass.removal_um, low, high, "um");
    }
    if let Some(reason) = &input.override_reason {
        let length = reason.chars().count();
        let says_why = !reason.trim().is_empty() && length <= MAX_REASON_CHARS;
        checks.require(says_why, "override_reason", || {
            format!(
                "must say why in 1 to {MAX_REASON_CHARS} characters, or be left out, got {length}"
            )
        });
    }
    checks.finish()
}

/// Removal over all passes.
struct Removal {
    measured_um: f64,
    assumed_um: f64,
    scale: f64,
}

impl Removal {
    /// Where passes were measured, their sum over the prior's sum corrects the prior, but only
    /// upward: a gauge's noise must not talk the budget larger.
    fn of(passes: &[PassDone], ladder: &Ladder) -> Self {
        let mut measured_um = 0.0;
        let mut prior_of_measured_um = 0.0;
        let mut prior_of_rest_um = 0.0;
        for pass in passes {
            let setup = match &pass.setup {
                PassSetup::Rung(rung) => ladder.rungs().get(*rung).map(|rung| &rung.setup),
                PassSetup::Setup(setup) => Some(setup),
            };
            let prior_um = setup.map_or(0.0, limits::prior_removal_um);
            if let Some(removal_um) = pass.removal_um {
                measured_um += removal_um;
                prior_of_measured_um += prior_um;
            } else {
                prior_of_rest_um += prior_um;
            }
        }
        let known = prior_of_measured_um > 0.0;
        let scale = if known {
            (measured_um / prior_of_measured_um).max(1.0)
        } else {
            1.0
        };
        Self {
            measured_um,
            assumed_um: prior_of_rest_um * scale,
            scale,
        }
    }
}

fn skips_from(on_ladder: &[(usize, PassOutcome)], start: usize) -> bool {
    let highest_allowed = std::iter::once(start).chain(on_ladder.iter().map(|(rung, _)| rung + 1));
    on_ladder
        .iter()
        .zip(highest_allowed)
        .any(|((rung, _), most)| *rung > most)
}

fn rung_of(pass: &PassDone, ladder: &Ladder) -> Option<usize> {
    match &pass.setup {
        PassSetup::Rung(rung) => Some(*rung),
        PassSetup::Setup(setup) => ladder.rungs().iter().position(|rung| rung.setup == *setup),
    }
}
