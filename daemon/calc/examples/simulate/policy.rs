//! Ways to choose passes.

use lamella_calc::advice::limits::{
    DEFAULT_FLOOR_CONFIDENCE_PERCENT, DEFAULT_FLOOR_UM, MAX_PASSES_PER_RUNG, cap, default_ceiling_c,
};
use lamella_calc::advice::{
    AdviceInput, AdviceReason, Goal, PassDone, PassOutcome, PassSetup, advise,
};

use super::panel::{Panel, Seen};

/// Nobody goes on for longer than this.
const MOST_PASSES: usize = 40;

/// A way to choose passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Policy {
    /// Pass advice, with the goal of removing the defect.
    Advice,
    /// The same at 95 % confidence that the floor is kept.
    AdviceAt95,
    /// Pass advice by its plain rules, without goal and without uncertainties.
    PlainRules,
    /// Knows the panel, its hardness and its defect: takes the least aggressive rung that clears it in the
    /// passes that a rung has, or else the strongest that keeps floor and ceiling.
    AllKnowing,
    /// Knows as much and wants the fewest passes, at whatever rung.
    AllKnowingHurried,
    /// Starts in the middle of the ladder; repeats while it improves, then goes up.
    Middle,
    /// Always the strongest rung.
    Strongest,
}

/// What came of a panel.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Run {
    pub(crate) passes: usize,
    pub(crate) cleared: bool,
    /// Less clear coat than the floor is left after at least one pass.
    pub(crate) breached: bool,
    pub(crate) over_temperature: usize,
    pub(crate) removed_um: f64,
    /// Predicted intervals of removal, and those that held the true one.
    pub(crate) predicted: usize,
    pub(crate) covered: usize,
    /// Predicted intervals of temperature, and those that held the true one.
    pub(crate) predicted_c: usize,
    pub(crate) covered_c: usize,
    /// Calls that were answered with an error; there must be none.
    pub(crate) refused: usize,
}

impl Policy {
    pub(crate) const ALL: [Self; 7] = [
        Self::Advice,
        Self::AdviceAt95,
        Self::PlainRules,
        Self::AllKnowing,
        Self::AllKnowingHurried,
        Self::Middle,
        Self::Strongest,
    ];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Advice => "advice",
            Self::AdviceAt95 => "advice, floor at 95 %",
            Self::PlainRules => "advice, plain rules",
            Self::AllKnowing => "all-knowing",
            Self::AllKnowingHurried => "all-knowing, hurried",
            Self::Middle => "start in the middle",
            Self::Strongest => "always strongest",
        }
    }

    /// Works on a panel until it is cleared or given up.
    pub(crate) fn work(self, panel: Panel) -> Run {
        match self {
            Self::Advice => advised(panel, Some(DEFAULT_FLOOR_CONFIDENCE_PERCENT)),
            Self::AdviceAt95 => advised(panel, Some(95.0)),
            Self::PlainRules => advised(panel, None),
            Self::AllKnowing => all_knowing(panel, MAX_PASSES_PER_RUNG),
            Self::AllKnowingHurried => all_knowing(panel, 1),
            Self::Middle => blind(panel, |panel| panel.ladder.rungs().len() / 2),
            Self::Strongest => blind(panel, |panel| panel.ladder.rungs().len() - 1),
        }
    }
}

impl Run {
    fn note(&mut self, panel: &Panel, seen: &Seen) {
        self.passes += 1;
        self.removed_um += seen.true_removal_um;
        self.cleared = seen.outcome == PassOutcome::Cleared;
        self.breached = panel.clear_um < DEFAULT_FLOOR_UM;
        let ceiling_c = default_ceiling_c(panel.substrate, panel.edge);
        self.over_temperature += usize::from(seen.true_c > ceiling_c);
    }
}

/// With a goal when there is a confidence to keep the floor with.
fn advised(mut panel: Panel, floor_confidence_percent: Option<f64>) -> Run {
    let (clear_um, clear_sd_um) = panel.clear_estimate_um;
    let mut input = AdviceInput {
        substrate: panel.substrate,
        edge: panel.edge,
        clear_um: Some(clear_um),
        panel_now_c: Some(panel.panel_c),
        ..AdviceInput::default()
    };
    if floor_confidence_percent.is_some() {
        input.floor_confidence_percent = floor_confidence_percent;
        input.goal = Some(Goal::RemoveDefect);
        input.clear_sd_um = Some(clear_sd_um);
        input.defect_um = Some(panel.depth_estimate_um);
    }
    let mut run = Run::default();
    let mut cooled = false;
    while run.passes < MOST_PASSES {
        let Ok(advice) = advise(&input) else {
            run.refused += 1;
            return run;
        };
        let Some(rung) = advice.rung else {
            let hot = matches!(
                advice.reason,
                AdviceReason::CeilingReached | AdviceReason::CeilingPredicted
            );
            if !hot || cooled {
                return run;
            }
            panel.cool();
            cooled = true;
            input.panel_now_c = Some(panel.panel_c);
            continue;
        };
        cooled = false;
        let seen = panel.pass(rung);
        run.note(&panel, &seen);
        if let Some(first) = advice.alternatives.first() {
            let (low_um, high_um) = first.removal_90_um;
            run.predicted += 1;
            run.covered += usize::from((low_um..=high_um).contains(&seen.true_removal_um));
            if let Some((low_c, high_c)) = first.panel_90_c {
                run.predicted_c += 1;
                run.covered_c += usize::from((low_c..=high_c).contains(&seen.true_c));
            }
        }
        input.panel_now_c = Some(panel.panel_c);
        input.passes.push(PassDone {
            setup: PassSetup::Rung(rung),
            start_c: Some(seen.start_c),
            panel_c: Some(seen.panel_c),
            removal_um: Some(seen.removal_um),
            outcome: seen.outcome,
        });
    }
    run
}

fn all_knowing(mut panel: Panel, passes: usize) -> Run {
    let mut run = Run::default();
    let top = panel.ladder.rungs().len() - 1;
    let cap = cap(&panel.ladder, panel.substrate, panel.edge, true, None);
    let top = cap.map_or(top, |cap| cap.rung);
    let ceiling_c = default_ceiling_c(panel.substrate, panel.edge);
    // It knows the means, not how the next pass will vary.
    let may = |panel: &Panel, rung: usize| {
        panel.clear_um - 1.5 * panel.mean_removal_um(rung) >= DEFAULT_FLOOR_UM
            && (rung == 0 || panel.mean_end_c(rung) * 1.05 <= ceiling_c)
    };
    while !run.cleared && run.passes < MOST_PASSES {
        let left = passes.saturating_sub(run.passes).max(1);
        #[expect(clippy::cast_precision_loss, reason = "a handful of passes")]
        let each_um = panel.depth_um / left as f64;
        let does = |rung: &usize| panel.mean_removal_um(*rung) >= each_um && may(&panel, *rung);
        let strongest = |rung: &usize| may(&panel, *rung);
        let rung = (0..=top)
            .find(does)
            .or_else(|| (0..=top).rev().find(strongest));
        let Some(rung) = rung else {
            return run;
        };
        panel.cool();
        let seen = panel.pass(rung);
        run.note(&panel, &seen);
    }
    run
}

/// Repeats a rung while it improves, three times at most, then goes up; stops when what was read says
/// that the floor is reached, and waits when the panel is at its ceiling. No interval, no prediction.
fn blind(mut panel: Panel, start: impl Fn(&Panel) -> usize) -> Run {
    let mut run = Run::default();
    let mut rung = start(&panel);
    let mut here = 0;
    let mut read_um = 0.0;
    let top = panel.ladder.rungs().len() - 1;
    let ceiling_c = default_ceiling_c(panel.substrate, panel.edge);
    while !run.cleared && run.passes < MOST_PASSES {
        if panel.clear_estimate_um.0 - read_um <= DEFAULT_FLOOR_UM {
            return run;
        }
        if panel.panel_c >= ceiling_c {
            panel.cool();
        }
        let seen = panel.pass(rung);
        run.note(&panel, &seen);
        read_um += seen.removal_um;
        here += 1;
        if here >= MAX_PASSES_PER_RUNG || seen.outcome == PassOutcome::Unchanged {
            rung = (rung + 1).min(top);
            here = 0;
        }
    }
    run
}
