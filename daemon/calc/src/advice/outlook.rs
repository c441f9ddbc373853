//! What one more pass at a rung would do, by what is believed of the panel.

use super::belief::depth::Sight;
use super::belief::heat::{Temperature, prior_rise_k};
use super::belief::removal::DEFAULT_GAUGE_SD_UM;
use super::belief::{
    DepthBelief, HeatBelief, LevelBelief, Removal, RemovalBelief, SeenPass, normal_quantile,
};
use super::goal::Goal;
use super::limits::{
    self, DEFAULT_CLEAR_SD_UM, DEFAULT_FLOOR_CONFIDENCE_PERCENT, LEVEL_BELOW_CEILING_K,
    MAX_PASSES_PER_RUNG,
};
use super::setup::Setup;
use super::situation::{AdviceInput, PassDone, PassOutcome, PassSetup, Situation};
use crate::gauge::Substrate;

/// Most further passes that are looked ahead.
pub(crate) const MOST_AHEAD: u32 = 12;

/// All beliefs, and the limits they are held against.
#[derive(Debug)]
pub(crate) struct Beliefs {
    pub(crate) removal: RemovalBelief,
    /// Present when a depth was estimated and the goal is not to level.
    pub(crate) depth: Option<DepthBelief>,
    pub(crate) heat: HeatBelief,
    pub(crate) level: LevelBelief,
    /// The temperature to reach; present when the goal is to level.
    pub(crate) target_c: Option<f64>,
    /// Whether a goal or a stated uncertainty asks for more than the plain rules.
    pub(crate) lead: bool,
    /// Clear coat before the passes and its uncertainty, in um.
    pub(crate) clear_um: Option<(f64, f64)>,
    /// What came off so far and its standard deviation, in um.
    pub(crate) removed_um: (f64, f64),
    /// Confidence that the floor is kept, in percent, and its standard normal quantile.
    pub(crate) floor_confidence_percent: f64,
    pub(crate) floor_quantile: f64,
    /// Clear coat that may still come off at that confidence, in um.
    pub(crate) budget_um: Option<f64>,
    pub(crate) time_left_s: Option<f64>,
    substrate: Substrate,
    edge: bool,
}

/// One more pass at a rung.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Outlook {
    pub(crate) removal: Removal,
    /// What it takes off the budget, in um; absent without a thickness.
    pub(crate) charge_um: Option<f64>,
    /// Absent when the panel's temperature is not known.
    pub(crate) temperature: Option<Temperature>,
    pub(crate) seconds: f64,
    pub(crate) over_budget: bool,
    pub(crate) over_ceiling: bool,
    pub(crate) out_of_time: bool,
}

impl Beliefs {
    pub(crate) fn of(input: &AdviceInput, situation: &Situation) -> Self {
        let passes = numbered(input, situation);
        let seen: Vec<SeenPass> = passes
            .iter()
            .map(|(number, setup, pass)| SeenPass {
                setup: *number,
                prior_um: limits::prior_removal_um(setup),
                reading_um: pass.removal_um,
            })
            .collect();
        let gauge_sd_um = input.gauge_sd_um.unwrap_or(DEFAULT_GAUGE_SD_UM);
        let mut removal = RemovalBelief::after(&seen, gauge_sd_um);
        let level_goal = input.goal == Some(Goal::WarmAndLevel);
        let depth = input.defect_um.filter(|_| !level_goal).map(|defect_um| {
            let sights: Vec<Sight> = seen
                .iter()
                .zip(&input.passes)
                .map(|(seen, pass)| Sight {
                    setup: seen.setup,
                    prior_um: seen.prior_um,
                    improved: match pass.outcome {
                        PassOutcome::Cleared | PassOutcome::Improved => Some(true),
                        PassOutcome::Unchanged => Some(false),
                        PassOutcome::Worse => None,
                    },
                })
                .collect();
            DepthBelief::after(defect_um, &sights, &mut removal)
        });
        let rises = rises_k(&passes, input.substrate, input.edge);
        let target_c = level_goal.then(|| {
            let usual_c = (situation.ceiling_c - LEVEL_BELOW_CEILING_K).max(0.0);
            input.target_c.unwrap_or(usual_c)
        });
        let lead = input.goal.is_some() || input.clear_sd_um.is_some();
        let clear_um = input.clear_um.map(|clear_um| {
            let usual_um = if lead { DEFAULT_CLEAR_SD_UM } else { 0.0 };
            (clear_um, input.clear_sd_um.unwrap_or(usual_um))
        });
        let removed_um = removal.total_um();
        let floor_confidence_percent = input
            .floor_confidence_percent
            .unwrap_or(DEFAULT_FLOOR_CONFIDENCE_PERCENT);
        let floor_quantile = normal_quantile(floor_confidence_percent / 100.0);
        let budget_um = clear_um.map(|(clear_um, sd_um)| {
            clear_um
                - situation.floor_um
                - removed_um.0
                - floor_quantile * sd_um.hypot(removed_um.1)
        });
        Self {
            heat: HeatBelief::after(&rises),
            level: LevelBelief {
                short: warm_and_short(&input.passes, target_c),
            },
            target_c,
            lead,
            clear_um,
            removed_um,
            budget_um,
            floor_confidence_percent,
            floor_quantile,
            time_left_s: input.time_left_s,
            substrate: input.substrate,
            edge: input.edge,
            removal,
            depth,
        }
    }

    /// One more pass at a rung; `None` above the ladder.
    pub(crate) fn outlook(&self, situation: &Situation, rung: usize) -> Option<Outlook> {
        let setup = &situation.ladder.rungs().get(rung)?.setup;
        let removal = self.removal.predict(rung, limits::prior_removal_um(setup));
        let charge_um = self.charge_um(removal);
        let temperature = situation
            .panel_c
            .map(|panel_c| self.heat.predict(panel_c, self.rise_k(setup)));
        Some(Outlook {
            removal,
            charge_um,
            temperature,
            seconds: setup.seconds,
            over_budget: charge_um
                .zip(self.budget_um)
                .is_some_and(|(charge_um, budget_um)| budget_um <= 0.0 || charge_um > budget_um),
            over_ceiling: temperature
                .is_some_and(|after| after.interval_90_c().1 > situation.ceiling_c),
            out_of_time: self
                .time_left_s
                .is_some_and(|left_s| setup.seconds > left_s),
        })
    }

    /// Passes that a rung has left: the usual number less `made`, as far as the time allows.
    pub(crate) fn passes_left(&self, situation: &Situation, rung: usize, made: usize) -> u32 {
        let usual = MAX_PASSES_PER_RUNG.saturating_sub(made);
        let usual = u32::try_from(usual).unwrap_or(u32::MAX);
        let seconds = situation
            .ladder
            .rungs()
            .get(rung)
            .map(|rung| rung.setup.seconds);
        match self.time_left_s.zip(seconds) {
            // Counted down, as the number of passes is small and the time may be long.
            Some((left_s, seconds)) => (1..=usual)
                .take_while(|passes| f64::from(*passes) * seconds <= left_s)
                .last()
                .unwrap_or(0),
            None => usual,
        }
    }

    /// Chance that `passes` more at a rung reach the goal; `None` when nothing is known that it could
    /// rest on.
    pub(crate) fn chance(&self, situation: &Situation, rung: usize, passes: u32) -> Option<f64> {
        let setup = &situation.ladder.rungs().get(rung)?.setup;
        if let Some(depth) = &self.depth {
            let prior_um = limits::prior_removal_um(setup);
            return Some(depth.chance(&self.removal, rung, prior_um, passes));
        }
        let target_c = self.target_c?;
        let rise_k = self.rise_k(setup);
        let panel_c = situation.panel_c?;
        let warmths: Vec<(f64, f64)> = (1..=passes)
            .map(|pass| self.heat.predict(panel_c, f64::from(pass) * rise_k))
            .map(|after| (after.expected_c, after.sd_k))
            .collect();
        Some(self.level.chance(&warmths, target_c))
    }

    /// Fewest more passes at a rung with an even chance or better, up to [`MOST_AHEAD`].
    pub(crate) fn expected_passes(&self, situation: &Situation, rung: usize) -> Option<u32> {
        let setup = &situation.ladder.rungs().get(rung)?.setup;
        if let Some(depth) = &self.depth {
            let factor = self.removal.setup_offset(rung).exp();
            return depth.expected_passes(factor * limits::prior_removal_um(setup), MOST_AHEAD);
        }
        let even = |passes: &u32| {
            self.chance(situation, rung, *passes)
                .is_some_and(|chance| chance >= 0.5)
        };
        (1..=MOST_AHEAD).find(even)
    }

    /// Median of what must still come off to clear the defect, in um, at the panel's own hardness.
    pub(crate) fn depth_left_um(&self) -> Option<f64> {
        let depth = self.depth.as_ref()?;
        Some(depth.left_at_hardness_1_um() * self.removal.hardness().0)
    }

    /// Rise that a pass is expected to bring before any was seen, in K.
    pub(crate) fn rise_k(&self, setup: &Setup) -> f64 {
        prior_rise_k(setup, self.substrate, self.edge)
    }

    /// By how much one more pass lowers the budget: the removal errs the same way as before, the clear
    /// coat independently.
    fn charge_um(&self, next: Removal) -> Option<f64> {
        let (_, clear_sd_um) = self.clear_um?;
        let before_um = clear_sd_um.hypot(self.removed_um.1);
        let after_um = clear_sd_um.hypot(self.removed_um.1 + next.sd_um());
        Some(next.mean_um() + self.floor_quantile * (after_um - before_um))
    }
}

/// Every pass with its setup and a number for it: the rung's, or one above the ladder.
fn numbered<'a>(
    input: &'a AdviceInput,
    situation: &'a Situation,
) -> Vec<(usize, &'a Setup, &'a PassDone)> {
    let rungs = situation.ladder.rungs();
    let mut others: Vec<&Setup> = Vec::new();
    let number = |setup: &'a Setup, others: &mut Vec<&'a Setup>| {
        if let Some(rung) = rungs.iter().position(|rung| rung.setup == *setup) {
            return rung;
        }
        let known = others.iter().position(|other| *other == setup);
        rungs.len()
            + known.unwrap_or_else(|| {
                others.push(setup);
                others.len() - 1
            })
    };
    input
        .passes
        .iter()
        .filter_map(|pass| match &pass.setup {
            PassSetup::Rung(rung) => rungs.get(*rung).map(|at| (*rung, &at.setup, pass)),
            PassSetup::Setup(setup) => Some((number(setup, &mut others), setup, pass)),
        })
        .collect()
}

/// Rises that were seen, each with the prior's, in K. A panel that is cooler than at the end of the pass
/// before has cooled in between, so that its rise is not known.
fn rises_k(
    passes: &[(usize, &Setup, &PassDone)],
    substrate: Substrate,
    edge: bool,
) -> Vec<(f64, f64)> {
    let mut before_c = None;
    let mut rises = Vec::new();
    for (_, setup, pass) in passes {
        let start_c = pass.start_c.or(before_c);
        if let Some((start_c, end_c)) = start_c.zip(pass.panel_c)
            && (pass.start_c.is_some() || end_c >= start_c)
        {
            rises.push((prior_rise_k(setup, substrate, edge), end_c - start_c));
        }
        before_c = pass.panel_c;
    }
    rises
}

fn warm_and_short(passes: &[PassDone], target_c: Option<f64>) -> u32 {
    let short = |pass: &&PassDone| {
        pass.outcome != PassOutcome::Cleared
            && pass
                .panel_c
                .zip(target_c)
                .is_some_and(|(panel_c, target_c)| panel_c >= target_c)
    };
    u32::try_from(passes.iter().filter(short).count()).unwrap_or(u32::MAX)
}
