//! The advice as a whole: the heat-led correction, each rule, each stop.

use super::limits::MAX_PASSES_PER_RUNG;
use super::*;
use crate::caution::{CautionCode, Severity};
use crate::error::CalcError;
use crate::gauge::Substrate;

pub(crate) fn steel() -> AdviceInput {
    AdviceInput {
        substrate: Substrate::Steel,
        clear_um: Some(60.0),
        ..AdviceInput::default()
    }
}

fn pass(rung: usize, outcome: PassOutcome) -> PassDone {
    PassDone {
        setup: PassSetup::Rung(rung),
        start_c: None,
        panel_c: Some(25.0),
        removal_um: None,
        outcome,
    }
}

fn after(passes: Vec<PassDone>) -> Advice {
    advise(&AdviceInput { passes, ..steel() }).unwrap()
}

pub(crate) fn has(advice: &Advice, code: CautionCode) -> bool {
    advice.cautions.iter().any(|caution| caution.code == code)
}

/// Common practice, no source: heat-led correction on a composite panel of unknown clear thickness,
/// 80.6 F, 87.3 F and 95 F seen at successive half steps, ceiling 35 C.
#[test]
fn heat_led_correction_on_a_composite_panel_stops_at_its_ceiling() {
    let ladder = Ladder::default();
    let mut input = AdviceInput {
        substrate: Substrate::Composite,
        clear_um: None,
        ceiling_c: Some(35.0),
        ..steel()
    };
    let mut rungs = Vec::new();
    for panel_f in [80.6, 87.3, 95.0] {
        let advice = advise(&input).unwrap();
        let rung = advice.rung.unwrap();
        assert_eq!(rung, rungs.len(), "no rung is skipped: {}", advice.sentence);
        if let Some(&last) = rungs.last() {
            let from: &Rung = &ladder.rungs()[last];
            let changes = from.setup.changes_to(advice.setup.as_ref().unwrap());
            assert_eq!(changes.len(), 1, "one factor at a time: {changes:?}");
            assert_eq!(
                (advice.action, advice.step),
                (Action::StepUp, Some(StepSize::Half))
            );
        }
        rungs.push(rung);
        input.passes.push(PassDone {
            setup: PassSetup::Rung(rung),
            start_c: None,
            panel_c: Some((panel_f - 32.0) / 1.8),
            removal_um: None,
            outcome: PassOutcome::Unchanged,
        });
    }
    let advice = advise(&input).unwrap();
    assert_eq!(
        (advice.action, advice.reason),
        (Action::Stop, AdviceReason::CeilingReached)
    );
    assert_eq!((advice.rung, advice.setup), (None, None));
    assert_eq!(
        advice.sentence,
        "stop: the panel is at 35.0 C (95.0 F), its ceiling is 35.0 C (95.0 F); let it cool and \
         measure again"
    );
    // Cooled, the next half step is due, and no more than that.
    let cooled = advise(&AdviceInput {
        panel_now_c: Some(26.0),
        ..input.clone()
    })
    .unwrap();
    assert_eq!((cooled.action, cooled.rung), (Action::StepUp, Some(3)));
    assert_eq!(cooled.step, Some(StepSize::Half));
    // A recorded override passes the ceiling, not a rung.
    input.override_reason = Some("test panel, to be resprayed".to_owned());
    let forced = advise(&input).unwrap();
    assert_eq!((forced.action, forced.rung), (Action::StepUp, Some(3)));
    assert_eq!(forced.overridden, input.override_reason);
    let stop = forced
        .cautions
        .iter()
        .find(|c| c.code == CautionCode::StopOverridden)
        .unwrap();
    assert_eq!(stop.severity, Severity::Stop);
}

/// The same panel after its second half step: the figures are worked by hand.
#[test]
fn the_sentence_gives_step_heat_and_headroom_in_both_units() {
    let hot = |rung, panel_c| PassDone {
        panel_c: Some(panel_c),
        ..pass(rung, PassOutcome::Unchanged)
    };
    let advice = advise(&AdviceInput {
        substrate: Substrate::Composite,
        clear_um: None,
        ceiling_c: Some(35.0),
        passes: vec![hot(0, 27.0), hot(1, 30.72)],
        ..steel()
    })
    .unwrap();
    assert_eq!(
        advice.sentence,
        "step up one half step to rung 3 as the last pass changed nothing: time from 30 s to 45 s, \
         all else as before; panel at 30.7 C (87.3 F), 4.3 K (7.7 F) below the ceiling of 35.0 C \
         (95.0 F), 34.4 C (94.0 F) expected after the pass"
    );
    assert!((advice.predicted_panel_c.unwrap() - 34.44).abs() < 1e-9);
    assert!((advice.headroom_k.unwrap() - 4.28).abs() < 1e-9);
    assert!(!has(&advice, CautionCode::PredictedOverCeiling));
}

#[test]
fn the_work_starts_low_repeats_while_it_helps_and_then_goes_up() {
    use PassOutcome::{Cleared, Improved, Unchanged, Worse};
    let start = after(Vec::new());
    assert_eq!((start.action, start.rung), (Action::Start, Some(0)));
    assert!(has(&start, CautionCode::TestSpotFirst));
    assert!(has(&start, CautionCode::PanelTemperatureUnknown));

    let mut passes = Vec::new();
    for _ in 1..MAX_PASSES_PER_RUNG {
        passes.push(pass(0, Improved));
        let repeat = after(passes.clone());
        assert_eq!((repeat.action, repeat.rung), (Action::Repeat, Some(0)));
        assert_eq!((repeat.changed, repeat.step), (None, None));
    }
    passes.push(pass(0, Improved));
    let up = after(passes.clone());
    assert_eq!(
        (up.action, up.reason),
        (Action::StepUp, AdviceReason::RepeatsUsedUp)
    );
    assert_eq!((up.rung, up.changed), (Some(1), Some(Factor::Speed)));

    passes.push(pass(1, Unchanged));
    let up = after(passes.clone());
    assert_eq!(
        (up.rung, up.reason),
        (Some(2), AdviceReason::UnchangedStepUp)
    );
    let worse = after([passes.clone(), vec![pass(2, Worse)]].concat());
    assert_eq!(
        (worse.action, worse.reason),
        (Action::Stop, AdviceReason::WorseAfterPass)
    );
    let done = after([passes, vec![pass(2, Cleared)]].concat());
    assert_eq!(
        (done.action, done.reason),
        (Action::Done, AdviceReason::DefectCleared)
    );
    assert!(done.stops.is_empty());
}

#[test]
fn unknown_thickness_caps_the_ladder() {
    let input = AdviceInput {
        clear_um: None,
        passes: vec![pass(6, PassOutcome::Unchanged)],
        ..steel()
    };
    let advice = advise(&input).unwrap();
    assert_eq!(
        (advice.action, advice.reason),
        (Action::Stop, AdviceReason::ThicknessUnknownCap)
    );
    assert_eq!((advice.cap_rung, advice.removal_budget_um), (Some(6), None));
    // On composite the cap lies lower, and a rung above it is not repeated either.
    let composite = AdviceInput {
        substrate: Substrate::Composite,
        passes: vec![pass(4, PassOutcome::Improved)],
        ..input
    };
    let advice = advise(&composite).unwrap();
    assert_eq!((advice.action, advice.cap_rung), (Action::Stop, Some(3)));
    assert!(has(&advice, CautionCode::RungSkipped));
}

/// Sums by hand: 33 um of clear coat, floor 30, 1 um measured at rung 0 against a prior of 0.1 um:
/// 2 um may still come off and the next rung, prior 0.15 um, is expected to take 1.5 um.
#[test]
fn the_removal_budget_is_kept() {
    let measured = |removal_um| PassDone {
        removal_um: Some(removal_um),
        ..pass(0, PassOutcome::Unchanged)
    };
    let input = AdviceInput {
        clear_um: Some(33.0),
        passes: vec![measured(1.0)],
        ..steel()
    };
    let advice = advise(&input).unwrap();
    assert_eq!(advice.action, Action::StepUp);
    assert!((advice.removal_budget_um.unwrap() - 2.0).abs() < 1e-9);
    assert!((advice.expected_removal_um.unwrap() - 1.5).abs() < 1e-9);
    // Twice that does not fit: 1 um is left, 3 um are expected.
    let advice = advise(&AdviceInput {
        passes: vec![measured(2.0)],
        ..input.clone()
    })
    .unwrap();
    assert_eq!(
        (advice.action, advice.reason),
        (Action::Stop, AdviceReason::RemovalBudget)
    );
    assert_eq!(
        advice.sentence,
        "stop: 1.0 um of clear coat may still come off above the floor of 30.0 um, and the next pass \
         is expected to take 3.0 um"
    );
    // On the line: 1 um off 32.49 leaves 1.49, off 32.51 leaves 1.51; 1.5 um are expected.
    for (clear_um, action) in [(32.49, Action::Stop), (32.51, Action::StepUp)] {
        let near = AdviceInput {
            clear_um: Some(clear_um),
            passes: vec![measured(1.0)],
            ..input.clone()
        };
        assert_eq!(advise(&near).unwrap().action, action, "{clear_um}");
    }
    // A panel at its floor is not started on, whatever the prior says.
    let thin = AdviceInput {
        clear_um: Some(30.0),
        passes: Vec::new(),
        ..input.clone()
    };
    assert_eq!(advise(&thin).unwrap().reason, AdviceReason::RemovalBudget);
    // Without a reading the prior is counted, and said.
    let assumed = AdviceInput {
        passes: vec![pass(0, PassOutcome::Unchanged)],
        ..input
    };
    let advice = advise(&assumed).unwrap();
    assert!((advice.removed_assumed_um - 0.1).abs() < 1e-9);
    assert!(has(&advice, CautionCode::RemovalAssumed));
}

#[test]
fn the_top_of_the_ladder_has_nothing_above_even_with_an_override() {
    let top = Ladder::default().rungs().len() - 1;
    let input = AdviceInput {
        clear_um: Some(200.0),
        passes: vec![pass(top, PassOutcome::Unchanged)],
        override_reason: Some("customer insists".to_owned()),
        ..steel()
    };
    let advice = advise(&input).unwrap();
    assert_eq!(
        (advice.action, advice.reason),
        (Action::Stop, AdviceReason::TopOfLadder)
    );
    assert_eq!(advice.overridden, None);
}

#[test]
fn a_pass_off_the_ladder_counts_but_does_not_move_the_place() {
    let mut other = Ladder::default().rungs()[8].setup.clone();
    other.pad.name = "wool pad".to_owned();
    let off = PassDone {
        setup: PassSetup::Setup(other),
        removal_um: Some(2.0),
        ..pass(0, PassOutcome::Unchanged)
    };
    let advice = after(vec![pass(0, PassOutcome::Unchanged), off.clone()]);
    assert_eq!((advice.action, advice.rung), (Action::StepUp, Some(1)));
    assert!(has(&advice, CautionCode::PassOffLadder) && advice.removed_um > 2.0);
    assert_eq!(after(vec![off.clone()]).action, Action::Start);
    let cleared = PassDone {
        outcome: PassOutcome::Cleared,
        ..off
    };
    assert_eq!(after(vec![cleared]).action, Action::Done);
    // The same setup as a rung is that rung.
    let same = PassSetup::Setup(Ladder::default().rungs()[1].setup.clone());
    let advice = after(vec![PassDone {
        setup: same,
        ..pass(0, PassOutcome::Unchanged)
    }]);
    assert_eq!(advice.rung, Some(2));
}

#[test]
fn a_jump_over_a_rung_is_pointed_out_and_going_back_is_not() {
    for (rungs, skipped) in [
        (&[0, 1, 2][..], false),
        (&[0, 1, 0, 1, 1], false),
        (&[1], true),
        (&[0, 2], true),
        (&[0, 1, 3, 4], true),
    ] {
        let passes = rungs
            .iter()
            .map(|&rung| pass(rung, PassOutcome::Improved))
            .collect();
        assert_eq!(
            has(&after(passes), CautionCode::RungSkipped),
            skipped,
            "{rungs:?}"
        );
    }
}

#[test]
fn everything_wrong_is_said_at_once() {
    let mut setup = Ladder::default().rungs()[0].setup.clone();
    setup.seconds = 0.0;
    let input = AdviceInput {
        clear_um: Some(-1.0),
        floor_um: Some(f64::NAN),
        ceiling_c: Some(200.0),
        panel_now_c: Some(f64::INFINITY),
        passes: vec![
            PassDone {
                panel_c: Some(1e9),
                removal_um: Some(-0.1),
                ..pass(13, PassOutcome::Improved)
            },
            PassDone {
                setup: PassSetup::Setup(setup),
                ..pass(0, PassOutcome::Improved)
            },
        ],
        override_reason: Some("  ".to_owned()),
        ..steel()
    };
    let Err(CalcError::Invalid(found)) = advise(&input) else {
        panic!("expected violations")
    };
    assert_eq!(
        found.iter().map(|v| v.field.as_str()).collect::<Vec<_>>(),
        [
            "clear_um",
            "floor_um",
            "ceiling_c",
            "panel_now_c",
            "passes[0].rung",
            "passes[0].panel_c",
            "passes[0].removal_um",
            "passes[1].setup.seconds",
            "override_reason",
        ]
    );
}
