//! Pass advice. The API counts rungs from 1, the calculator from 0.

use lamella_calc::advice::{
    Action, Advice, AdviceInput, AdviceReason, Alternative, Choice, Factor, Goal, Ladder, PassDone,
    PassSetup, Setup, StepSize,
};
use lamella_calc::error::CalcError;
use lamella_calc::violation::Checks;
use lamella_jobs::check;
use lamella_proto::v1;

use super::super::{caution, record, vehicle};

pub(crate) fn from_pb(request: &v1::AdvisePassRequest, checks: &mut Checks) -> AdviceInput {
    let ladder = ladder_from_pb(&request.ladder, checks);
    let rungs = ladder
        .as_ref()
        .map_or(Ladder::default().rungs().len(), |l| l.rungs().len());
    let passes = request.passes.iter().enumerate().map(|(index, pass)| {
        let at = |field: &str| format!("passes[{index}].{field}");
        let rung = usize::try_from(pass.rung)
            .ok()
            .filter(|rung| (1..=rungs).contains(rung));
        checks.require(rung.is_some(), at("rung"), || {
            format!(
                "must be a rung of the ladder, 1 to {rungs}, got {}",
                pass.rung
            )
        });
        PassDone {
            setup: PassSetup::Rung(rung.unwrap_or(1) - 1),
            panel_c: pass.panel_c,
            removal_um: pass.removal_um,
            start_c: pass.start_c,
            outcome: record::outcome_from_pb(pass.outcome, &at("outcome"), checks),
        }
    });
    let passes = passes.collect();
    check::text(checks, "override_reason", &request.override_reason, 0, 1000);
    AdviceInput {
        goal: goal_from_pb(request.goal, checks),
        ladder,
        substrate: vehicle::substrate_from_pb(request.substrate, "substrate", checks),
        edge: request.edge,
        clear_um: request.clear_um,
        clear_sd_um: request.clear_sd_um,
        defect_um: request.defect_um,
        gauge_sd_um: request.gauge_sd_um,
        time_left_s: request.time_left_s,
        target_c: request.target_c,
        floor_confidence_percent: request.floor_confidence_percent,
        floor_um: request.floor_um,
        ceiling_c: request.ceiling_c,
        panel_now_c: request.panel_now_c,
        passes,
        override_reason: (!request.override_reason.trim().is_empty())
            .then(|| request.override_reason.clone()),
    }
}

/// The shop's own ladder, where the request gives one that is sound.
fn ladder_from_pb(setups: &[v1::Setup], checks: &mut Checks) -> Option<Ladder> {
    if setups.is_empty() {
        return None;
    }
    for (index, setup) in setups.iter().enumerate() {
        let items = [
            ("machine", &setup.machine),
            ("pad", &setup.pad),
            ("liquid", &setup.liquid),
        ];
        for (field, item) in items {
            let field = format!("ladder[{index}].{field}.name");
            let name = item.as_ref().map_or("", |item| item.name.as_str());
            check::text(checks, &field, name, 1, 200);
        }
    }
    match Ladder::try_new(setups.iter().map(setup_from_pb).collect()) {
        Ok(ladder) => Some(ladder),
        Err(CalcError::Invalid(violations)) => {
            checks.take(violations);
            None
        }
        Err(CalcError::Infeasible { field, message, .. }) => {
            checks.require(false, field, || message);
            None
        }
    }
}

fn setup_from_pb(setup: &v1::Setup) -> Setup {
    // A missing item, or a rank below 0, becomes one that the ladder refuses by
    // name.
    let choice = |item: Option<&v1::RankedItem>| Choice {
        name: item.map(|item| item.name.clone()).unwrap_or_default(),
        level: item.map_or(0, |item| u32::try_from(item.rank).unwrap_or(0)),
    };
    Setup {
        machine: choice(setup.machine.as_ref()),
        pad: choice(setup.pad.as_ref()),
        liquid: choice(setup.liquid.as_ref()),
        speed_level: u32::try_from(setup.speed).unwrap_or(0),
        pressure_kpa: setup.pressure_kpa,
        seconds: setup.seconds,
    }
}

fn setup_to_pb(setup: &Setup) -> v1::Setup {
    let item = |choice: &Choice| {
        let rank = i32::try_from(choice.level).unwrap_or(i32::MAX);
        Some(v1::RankedItem {
            name: choice.name.clone(),
            rank,
        })
    };
    v1::Setup {
        machine: item(&setup.machine),
        pad: item(&setup.pad),
        liquid: item(&setup.liquid),
        speed: i32::try_from(setup.speed_level).unwrap_or(i32::MAX),
        pressure_kpa: setup.pressure_kpa,
        seconds: setup.seconds,
    }
}

/// `rungs` is how many the ladder has.
pub(crate) fn to_pb(advice: &Advice, rungs: usize) -> v1::AdvisePassResponse {
    let action = match advice.action {
        Action::Start => v1::AdviceAction::Start,
        Action::Repeat => v1::AdviceAction::Repeat,
        Action::StepUp => v1::AdviceAction::StepUp,
        Action::Stop => v1::AdviceAction::Stop,
        Action::Done => v1::AdviceAction::Done,
    };
    v1::AdvisePassResponse {
        action: action.into(),
        rung: from_one(advice.rung),
        setup: advice.setup.as_ref().map(setup_to_pb),
        changed: advice
            .changed
            .map_or(v1::Factor::Unspecified, factor_to_pb)
            .into(),
        step: advice
            .step
            .map_or(v1::StepSize::Unspecified, step_to_pb)
            .into(),
        reason: advice.reason.as_str().to_owned(),
        sentence: advice.sentence.clone(),
        removal_budget_um: advice.removal_budget_um,
        removed_um: advice.removed_um,
        headroom_k: advice.headroom_k,
        predicted_panel_c: advice.predicted_panel_c,
        ceiling_c: advice.ceiling_c,
        floor_um: advice.floor_um,
        rungs: i32::try_from(rungs).unwrap_or(i32::MAX),
        overridden: advice.overridden.clone().unwrap_or_default(),
        cautions: caution::all_to_pb(&advice.cautions),
        stops: advice
            .stops
            .iter()
            .copied()
            .map(AdviceReason::as_str)
            .map(String::from)
            .collect(),
        cap_rung: from_one(advice.cap_rung),
        removed_assumed_um: advice.removed_assumed_um,
        expected_removal_um: advice.expected_removal_um,
        model: advice.model.to_owned(),
        removal_charge_um: advice.removal_charge_um,
        floor_confidence_percent: advice.floor_confidence_percent,
        goal: advice.goal.map_or(v1::Goal::Unspecified, goal_to_pb).into(),
        clear_sd_um: advice.clear_sd_um,
        target_c: advice.target_c,
        alternatives: advice.alternatives.iter().map(alternative_to_pb).collect(),
        explain: advice.explain.clone(),
    }
}

fn alternative_to_pb(pass: &Alternative) -> v1::Alternative {
    let count = |passes: u32| i32::try_from(passes).unwrap_or(i32::MAX);
    v1::Alternative {
        rung: from_one(Some(pass.rung)),
        setup: Some(setup_to_pb(&pass.setup)),
        changed: pass
            .changed
            .map_or(v1::Factor::Unspecified, factor_to_pb)
            .into(),
        step: pass
            .step
            .map_or(v1::StepSize::Unspecified, step_to_pb)
            .into(),
        removal_um: pass.removal_um,
        removal_low_um: pass.removal_90_um.0,
        removal_high_um: pass.removal_90_um.1,
        charge_um: pass.charge_um,
        panel_c: pass.panel_c,
        panel_low_c: pass.panel_90_c.map(|(low_c, _)| low_c),
        panel_high_c: pass.panel_90_c.map(|(_, high_c)| high_c),
        seconds: pass.seconds,
        expected_passes: pass.expected_passes.map(count),
        passes_left: count(pass.passes_left),
        chance_percent: pass.chance.map(|chance| chance * 100.0),
        reasons: pass
            .reasons
            .iter()
            .map(|reason| reason.as_str().to_owned())
            .collect(),
    }
}

fn goal_from_pb(goal: i32, checks: &mut Checks) -> Option<Goal> {
    match v1::Goal::try_from(goal) {
        Ok(v1::Goal::Unspecified) => None,
        Ok(v1::Goal::RemoveDefect) => Some(Goal::RemoveDefect),
        Ok(v1::Goal::WarmAndLevel) => Some(Goal::WarmAndLevel),
        Err(_) => {
            checks.require(false, "goal", || {
                format!("must be a known goal, got {goal}")
            });
            None
        }
    }
}

fn goal_to_pb(goal: Goal) -> v1::Goal {
    match goal {
        Goal::RemoveDefect => v1::Goal::RemoveDefect,
        Goal::WarmAndLevel => v1::Goal::WarmAndLevel,
    }
}

/// A rung as the API counts it; none is 0.
fn from_one(rung: Option<usize>) -> i32 {
    rung.and_then(|rung| i32::try_from(rung.saturating_add(1)).ok())
        .unwrap_or(0)
}

fn factor_to_pb(factor: Factor) -> v1::Factor {
    match factor {
        Factor::Machine => v1::Factor::Machine,
        Factor::Pad => v1::Factor::Pad,
        Factor::Liquid => v1::Factor::Liquid,
        Factor::Speed => v1::Factor::Speed,
        Factor::Pressure => v1::Factor::Pressure,
        Factor::Time => v1::Factor::Time,
    }
}

fn step_to_pb(step: StepSize) -> v1::StepSize {
    match step {
        StepSize::Half => v1::StepSize::Half,
        StepSize::Full => v1::StepSize::Full,
    }
}
