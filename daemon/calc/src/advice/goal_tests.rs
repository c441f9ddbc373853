//! Advice with a goal: where it starts, what it learns, and what stops it.

use super::belief::{LevelBelief, RemovalBelief, SeenPass, normal_quantile};
use super::tests::{has, steel};
use super::*;
use crate::caution::CautionCode;
use crate::error::CalcError;
use crate::gauge::Substrate;
use proptest::prelude::*;

fn removing(defect_um: f64) -> AdviceInput {
    AdviceInput {
        goal: Some(Goal::RemoveDefect),
        clear_sd_um: Some(2.0),
        defect_um: Some(defect_um),
        panel_now_c: Some(20.0),
        ..steel()
    }
}

fn levelling(panel_c: f64) -> AdviceInput {
    AdviceInput {
        goal: Some(Goal::WarmAndLevel),
        clear_sd_um: Some(2.0),
        ceiling_c: Some(45.0),
        panel_now_c: Some(panel_c),
        ..steel()
    }
}

fn pass(rung: usize, outcome: PassOutcome, removal_um: Option<f64>) -> PassDone {
    PassDone {
        setup: PassSetup::Rung(rung),
        start_c: Some(20.0),
        panel_c: Some(24.0),
        removal_um,
        outcome,
    }
}

#[test]
fn a_deeper_defect_starts_higher_and_never_above_what_is_needed() {
    let start = |defect_um| advise(&removing(defect_um)).unwrap();
    let rungs: Vec<usize> = [0.1, 0.3, 1.0, 3.0]
        .map(|defect_um| start(defect_um).rung.unwrap())
        .into();
    assert!(
        rungs.is_sorted() && rungs[0] == 0 && rungs[3] > rungs[1],
        "{rungs:?}"
    );
    // Three passes at the prior's 0.1 um are wanted for 0.3 um: an even chance by symmetry, lost by
    // no more than rounding, so that the first or second rung is the least that does.
    assert!(rungs[1] <= 1, "{rungs:?}");
    let advice = start(1.0);
    assert_eq!(advice.reason, AdviceReason::LeastExpectedToReachGoal);
    let below = &advice.alternatives[1];
    assert_eq!(below.rung + 1, advice.rung.unwrap());
    assert!(below.chance.unwrap() < 0.5 && advice.alternatives[0].chance.unwrap() >= 0.5);
    assert_eq!(below.reasons, [AlternativeReason::FallsShort]);
    assert!(!has(&advice, CautionCode::RungSkipped));
    // The pass that was advised is not called a jump, another start is.
    let rung = advice.rung.unwrap();
    let after = |rung| {
        advise(&AdviceInput {
            passes: vec![pass(rung, PassOutcome::Improved, None)],
            ..removing(1.0)
        })
        .unwrap()
    };
    assert!(!has(&after(rung), CautionCode::RungSkipped));
    assert!(has(&after(rung + 1), CautionCode::RungSkipped));
}

#[test]
fn one_pass_teaches_about_every_setup() {
    let seen = |reading_um| SeenPass {
        setup: 4,
        prior_um: 2.0,
        reading_um: Some(reading_um),
    };
    let median = |passes: &[SeenPass], setup| {
        RemovalBelief::after(passes, 0.3)
            .predict(setup, 1.0)
            .median_um
    };
    let soft = [seen(3.5)];
    assert!(median(&soft, 4) > median(&soft, 7));
    assert!(median(&soft, 7) > 1.2 && median(&[seen(0.8)], 7) < 0.8);
    // More readings, less doubt.
    let doubt = |passes: &[SeenPass]| RemovalBelief::after(passes, 0.3).predict(7, 1.0).log_sd;
    assert!(doubt(&[]) > doubt(&soft) && doubt(&soft) > doubt(&[seen(3.5); 4]));
}

#[test]
fn a_hard_panel_goes_up_before_its_passes_are_used_up() {
    let input = removing(1.0);
    let rung = advise(&input).unwrap().rung.unwrap();
    let read = |removal_um| AdviceInput {
        gauge_sd_um: Some(0.1),
        passes: vec![pass(rung, PassOutcome::Improved, Some(removal_um))],
        ..input.clone()
    };
    let hard = advise(&read(0.1)).unwrap();
    assert_eq!(
        (hard.action, hard.reason),
        (Action::StepUp, AdviceReason::NotEnoughAtThisRung)
    );
    let soft = advise(&read(0.6)).unwrap();
    assert_eq!(
        (soft.action, soft.reason),
        (Action::Repeat, AdviceReason::LeastExpectedToReachGoal)
    );
}

/// Sums by hand: no pass yet, so 45 - 30 - z x 5 um may come off; z from a normal table.
#[test]
fn the_floor_is_kept_with_the_stated_confidence() {
    for (percent, z) in [(95.0, 1.6449), (99.0, 2.3263), (99.5, 2.5758)] {
        let advice = advise(&AdviceInput {
            clear_um: Some(45.0),
            clear_sd_um: Some(5.0),
            floor_confidence_percent: Some(percent),
            ..removing(1.0)
        })
        .unwrap();
        let budget_um = advice.removal_budget_um.unwrap();
        assert!((budget_um - (15.0 - z * 5.0)).abs() < 1e-3, "{budget_um}");
        assert!(advice.removal_charge_um.unwrap() <= budget_um);
    }
    let thin = AdviceInput {
        clear_um: Some(40.0),
        clear_sd_um: Some(5.0),
        ..removing(1.0)
    };
    let advice = advise(&thin).unwrap();
    assert_eq!(advice.reason, AdviceReason::RemovalBudget);
    assert!(has(&advice, CautionCode::GoalBeyondBudget));
    assert!(
        advice.sentence.contains("99.5 % confidence"),
        "{}",
        advice.sentence
    );
    let [first, ..] = &advice.alternatives[..] else {
        panic!("the pass asked for is shown")
    };
    assert!(
        first
            .reasons
            .contains(&AlternativeReason::AskedForAndStopped)
    );
    // With a goal an unstated uncertainty is assumed, and said.
    let unstated = AdviceInput {
        clear_sd_um: None,
        ..thin
    };
    let advice = advise(&unstated).unwrap();
    assert_eq!(advice.clear_sd_um, Some(limits::DEFAULT_CLEAR_SD_UM));
    assert!(has(&advice, CautionCode::ClearUncertaintyAssumed));
}

#[test]
fn warmth_is_led_to_the_target_and_not_past_the_ceiling() {
    let cold = advise(&levelling(20.0)).unwrap();
    assert_eq!((cold.action, cold.rung), (Action::Start, Some(0)));
    assert_eq!(cold.target_c, Some(40.0));
    let at = |start_c, panel_c| {
        advise(&AdviceInput {
            passes: vec![PassDone {
                start_c: Some(start_c),
                panel_c: Some(panel_c),
                ..pass(0, PassOutcome::Unchanged, None)
            }],
            ..levelling(panel_c)
        })
        .unwrap()
    };
    // 2 K a pass from 22 C do not reach 40 C in two more, from 37 C they do.
    let far = at(20.0, 22.0);
    assert_eq!(
        (far.action, far.reason),
        (Action::StepUp, AdviceReason::WarmthShort)
    );
    assert_eq!(far.step, Some(StepSize::Half));
    assert_eq!(at(35.0, 37.0).action, Action::Repeat);
    let near = at(42.0, 44.0);
    assert_eq!(
        (near.action, near.reason),
        (Action::Stop, AdviceReason::CeilingPredicted)
    );
    // More cut does not level: the ladder ends before the first full step.
    let top = advise(&AdviceInput {
        passes: vec![pass(3, PassOutcome::Unchanged, None); 3],
        ..levelling(24.0)
    })
    .unwrap();
    assert_eq!((top.reason, top.cap_rung), (AdviceReason::GoalCap, Some(3)));
    // One in three before any pass; 1 - 2/4 and 1 - 3/5 in two.
    let level = |short| LevelBelief { short }.chance_warm(2);
    assert!((level(0) - 0.5).abs() < 1e-12 && (level(1) - 0.4).abs() < 1e-12);
}

#[test]
fn time_left_is_kept() {
    let advice = advise(&AdviceInput {
        time_left_s: Some(20.0),
        ..removing(0.2)
    })
    .unwrap();
    assert_eq!(advice.reason, AdviceReason::TimeShort);
    assert!(
        advice.alternatives[0]
            .reasons
            .contains(&AlternativeReason::OutOfTime)
    );
    // Half the time, a harder start.
    let start = |time_left_s| {
        let input = AdviceInput {
            time_left_s,
            ..removing(1.0)
        };
        advise(&input).unwrap().rung.unwrap()
    };
    assert!(start(Some(60.0)) > start(None));
}

#[test]
fn the_sums_are_shown() {
    let advice = advise(&removing(1.0)).unwrap();
    let all = advice.explain.join("\n");
    for part in [
        "goal: REMOVE_DEFECT",
        "budget: 60.0 clear coat - 30.0 floor",
        "defect: 1.00 um estimated",
        "heat: this panel warms 1.00 +- 0.40",
        "% to reach the goal in 3 passes",
        "ADVISED",
    ] {
        assert!(all.contains(part), "{part} in\n{all}");
    }
}

#[test]
fn what_is_wrong_with_the_goal_is_named() {
    let bad = AdviceInput {
        clear_um: None,
        clear_sd_um: Some(1.0),
        defect_um: Some(0.0),
        gauge_sd_um: Some(0.0),
        floor_confidence_percent: Some(100.0),
        time_left_s: Some(f64::NAN),
        target_c: Some(60.0),
        ..removing(1.0)
    };
    let Err(CalcError::Invalid(found)) = advise(&bad) else {
        panic!("expected violations")
    };
    let mut fields: Vec<&str> = found.iter().map(|v| v.field.as_str()).collect();
    fields.sort_unstable();
    assert_eq!(
        fields,
        [
            "clear_sd_um",
            "defect_um",
            "floor_confidence_percent",
            "gauge_sd_um",
            "target_c",
            "time_left_s"
        ]
    );
}

prop_compose! {
    fn histories()(
        level: bool,
        edge: bool,
        composite: bool,
        clear_um in prop::option::of(25.0..80.0f64),
        sd_um in 0.0..8.0f64,
        defect_um in prop::option::of(0.05..8.0f64),
        time_left_s in prop::option::of(0.0..600.0f64),
        panel_now_c in prop::option::of(15.0..60.0f64),
        passes in prop::collection::vec(
            (0..13usize, prop::option::of(15.0..60.0f64), prop::option::of(0.0..6.0f64), 0..4u8),
            0..10,
        ),
    ) -> AdviceInput {
        let passes = passes.into_iter().map(|(rung, panel_c, removal_um, outcome)| PassDone {
            setup: PassSetup::Rung(rung),
            start_c: None,
            panel_c,
            removal_um,
            outcome: match outcome {
                0 => PassOutcome::Unchanged,
                1 => PassOutcome::Worse,
                _ => PassOutcome::Improved,
            },
        });
        AdviceInput {
            goal: Some(if level { Goal::WarmAndLevel } else { Goal::RemoveDefect }),
            substrate: if composite { Substrate::Composite } else { Substrate::Steel },
            edge,
            clear_um,
            clear_sd_um: clear_um.map(|_| sd_um),
            defect_um,
            time_left_s,
            panel_now_c,
            passes: passes.collect(),
            ..AdviceInput::default()
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Checked from the input and the answer's own figures, without the code that decides.
    #[test]
    fn a_goal_passes_no_limit_and_changes_one_factor(input in histories()) {
        let advice = advise(&input).unwrap();
        let ladder = Ladder::default();
        for pass in &advice.alternatives {
            prop_assert!(!pass.reasons.is_empty());
            prop_assert!(pass.removal_90_um.0 < pass.removal_90_um.1);
            prop_assert!(pass.chance.is_none_or(|chance| (0.0..=1.0).contains(&chance)));
        }
        let Some(rung) = advice.rung else {
            return Ok(());
        };
        let first = &advice.alternatives[0];
        prop_assert_eq!(first.rung, rung);
        prop_assert!(first.reasons.contains(&AlternativeReason::Advised));
        prop_assert!(advice.cap_rung.is_none_or(|cap| rung <= cap));
        if let Some(PassDone { setup: PassSetup::Rung(last), outcome, .. }) = input.passes.last() {
            let changes = ladder.rungs()[*last].setup.changes_to(&ladder.rungs()[rung].setup);
            prop_assert!(rung >= *last && changes.len() == rung - last && changes.len() <= 1);
            prop_assert!(*outcome != PassOutcome::Worse);
        }
        if let (Some(clear_um), Some(sd_um)) = (input.clear_um, input.clear_sd_um) {
            // Even without any doubt about the removal.
            let z = normal_quantile(0.995);
            let left_um = clear_um - advice.removed_um - advice.expected_removal_um.unwrap();
            prop_assert!(left_um - z * sd_um >= advice.floor_um - 1e-6);
        }
        if let Some((_, high_c)) = first.panel_90_c {
            prop_assert!(high_c <= advice.ceiling_c + 1e-9);
        }
        prop_assert!(input.time_left_s.is_none_or(|left_s| first.seconds <= left_s));
    }

    #[test]
    fn any_number_with_a_goal_is_refused_or_answered(
        numbers in prop::collection::vec(prop::option::of(prop::num::f64::ANY), 9),
        likely in prop::collection::vec(prop::option::of(0.0..120.0f64), 9),
        pick in prop::collection::vec(0..10u8, 9),
        level: bool,
        rungs in prop::collection::vec(0..13usize, 0..40),
    ) {
        // Mostly sound, so that garbage reaches each field alone too.
        let number = |i: usize| if pick[i] == 0 { numbers[i] } else { likely[i] };
        let input = AdviceInput {
            goal: Some(if level { Goal::WarmAndLevel } else { Goal::RemoveDefect }),
            clear_um: number(0),
            clear_sd_um: number(1),
            defect_um: number(2),
            gauge_sd_um: number(3),
            time_left_s: number(4),
            target_c: number(5),
            panel_now_c: number(6),
            passes: rungs.into_iter().map(|rung| PassDone {
                start_c: number(7),
                panel_c: number(6),
                ..pass(rung, PassOutcome::Improved, number(8))
            }).collect(),
            ..AdviceInput::default()
        };
        if let Ok(advice) = advise(&input) {
            prop_assert!(advice.removed_um.is_finite());
            prop_assert!(advice.alternatives.iter().all(|pass| pass.removal_um.is_finite()));
        }
    }
}
