//! What the calculator answers.

use super::alternatives::Alternative;
use super::goal::Goal;
use super::setup::{Factor, Setup, StepSize};
use crate::caution::Caution;

/// What to do next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Action {
    /// Make the first pass, at rung 0.
    Start,
    /// Make another pass at the rung of the last one.
    Repeat,
    /// Make a pass one rung up.
    StepUp,
    /// Make no pass: a stop rule holds.
    Stop,
    /// Make no pass: the job is done.
    Done,
}

/// Why. The text form is stable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AdviceReason {
    /// No pass on the ladder was made yet.
    StartLeastAggressive,
    /// The last pass improved the panel.
    ImprovedRepeat,
    /// The last pass improved the panel, but this rung had its passes.
    RepeatsUsedUp,
    /// The last pass changed nothing.
    UnchangedStepUp,
    /// The defect is gone.
    DefectCleared,
    /// The least aggressive rung expected to reach the goal.
    LeastExpectedToReachGoal,
    /// Passes that this rung has left are not expected to reach the goal.
    NotEnoughAtThisRung,
    /// Passes that this rung has left are not expected to warm the panel enough.
    WarmthShort,
    /// Stop rule: the last pass made it worse.
    WorseAfterPass,
    /// Stop rule: the panel is at its ceiling.
    CeilingReached,
    /// Stop rule, with a goal: the next pass may pass the ceiling, at 95 % confidence.
    CeilingPredicted,
    /// Stop rule: the next pass is expected to go below the clear coat's floor; with a goal or a stated
    /// uncertainty, it is not sure enough to stay above it.
    RemovalBudget,
    /// Stop rule: without a thickness reading the ladder ends here.
    ThicknessUnknownCap,
    /// Stop rule: at an edge the ladder ends here.
    EdgeCap,
    /// Stop rule: on this material the ladder ends here.
    SubstrateCap,
    /// Stop rule: to warm and level, the ladder ends before the first full step.
    GoalCap,
    /// Stop rule: the next pass does not fit the time left.
    TimeShort,
    /// There is no rung above. No override makes one.
    TopOfLadder,
}

/// The next pass, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// What to do next.
    pub action: Action,
    /// Rung of the next pass, from 0; absent when there is none.
    pub rung: Option<usize>,
    /// Setup of the next pass; absent when there is none.
    pub setup: Option<Setup>,
    /// The one factor that changes on a step up.
    pub changed: Option<Factor>,
    /// The size of that step.
    pub step: Option<StepSize>,
    /// Why, in one code; of several stop rules the most pressing.
    pub reason: AdviceReason,
    /// Every stop rule that holds, most pressing first, passed over or not.
    pub stops: Vec<AdviceReason>,
    /// The answer for a person, with numbers and units; rungs counted from 1.
    pub sentence: String,
    /// Highest rung allowed, from 0, when something caps the ladder.
    pub cap_rung: Option<usize>,
    /// Ceiling used, in C.
    pub ceiling_c: f64,
    /// Panel temperature used, in C: measured now, or the latest recorded.
    pub panel_c: Option<f64>,
    /// Ceiling less panel temperature, in K; negative above the ceiling.
    pub headroom_k: Option<f64>,
    /// Panel temperature expected after the next pass, in C, once two passes have one.
    pub predicted_panel_c: Option<f64>,
    /// Floor used, in um.
    pub floor_um: f64,
    /// Clear coat taken off so far, in um: measured, and assumed where it was not.
    pub removed_um: f64,
    /// The assumed part of `removed_um`, in um.
    pub removed_assumed_um: f64,
    /// Clear coat that may still come off, in um; negative below the floor; absent when the
    /// thickness is unknown.
    pub removal_budget_um: Option<f64>,
    /// Removal expected of the next pass, in um; of the pass refused, when a stop rule holds.
    pub expected_removal_um: Option<f64>,
    /// What `removal_budget_um` is charged with for that pass, in um: its expected removal and what its
    /// uncertainty adds at the confidence below. Present with a goal or a stated uncertainty of the clear
    /// coat, and a known thickness; then the budget too keeps the floor with that confidence.
    pub removal_charge_um: Option<f64>,
    /// Goal, as given.
    pub goal: Option<Goal>,
    /// Confidence that the floor is kept, in percent; present as the charge is.
    pub floor_confidence_percent: Option<f64>,
    /// Uncertainty of the clear coat used, in um.
    pub clear_sd_um: Option<f64>,
    /// Temperature from which the clear coat is taken to level, in C; only with that goal.
    pub target_c: Option<f64>,
    /// The passes that were weighed: the advised one first, then those allowed, least aggressive
    /// first, then those ruled out.
    pub alternatives: Vec<Alternative>,
    /// The sums, one plain line each.
    pub explain: Vec<String>,
    /// Reason given for passing over the stop rules, when that was done.
    pub overridden: Option<String>,
    /// How temperature and removal were predicted.
    pub model: &'static str,
    /// What to keep in mind.
    pub cautions: Vec<Caution>,
}

impl Action {
    /// Stable text form, in UPPER_SNAKE_CASE.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Start => "START",
            Self::Repeat => "REPEAT",
            Self::StepUp => "STEP_UP",
            Self::Stop => "STOP",
            Self::Done => "DONE",
        }
    }
}

impl AdviceReason {
    /// Stable text form, in UPPER_SNAKE_CASE.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::StartLeastAggressive => "START_LEAST_AGGRESSIVE",
            Self::ImprovedRepeat => "IMPROVED_REPEAT",
            Self::RepeatsUsedUp => "REPEATS_USED_UP",
            Self::UnchangedStepUp => "UNCHANGED_STEP_UP",
            Self::DefectCleared => "DEFECT_CLEARED",
            Self::LeastExpectedToReachGoal => "LEAST_EXPECTED_TO_REACH_GOAL",
            Self::NotEnoughAtThisRung => "NOT_ENOUGH_AT_THIS_RUNG",
            Self::WarmthShort => "WARMTH_SHORT",
            Self::WorseAfterPass => "WORSE_AFTER_PASS",
            Self::CeilingReached => "CEILING_REACHED",
            Self::CeilingPredicted => "CEILING_PREDICTED",
            Self::RemovalBudget => "REMOVAL_BUDGET",
            Self::ThicknessUnknownCap => "THICKNESS_UNKNOWN_CAP",
            Self::EdgeCap => "EDGE_CAP",
            Self::SubstrateCap => "SUBSTRATE_CAP",
            Self::GoalCap => "GOAL_CAP",
            Self::TimeShort => "TIME_SHORT",
            Self::TopOfLadder => "TOP_OF_LADDER",
        }
    }
}
