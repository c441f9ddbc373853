//! The advice over random histories: what must hold whatever was recorded.

use super::tests::{has, steel};
use super::*;
use crate::caution::CautionCode;
use crate::gauge::Substrate;
use proptest::prelude::*;

fn outcomes() -> impl Strategy<Value = PassOutcome> {
    prop_oneof![
        1 => Just(PassOutcome::Cleared),
        4 => Just(PassOutcome::Improved),
        6 => Just(PassOutcome::Unchanged),
        1 => Just(PassOutcome::Worse),
    ]
}

fn substrates() -> impl Strategy<Value = Substrate> {
    prop_oneof![
        Just(Substrate::Steel),
        Just(Substrate::Aluminium),
        Just(Substrate::Composite),
        Just(Substrate::Plastic),
        Just(Substrate::Unknown),
    ]
}

prop_compose! {
    fn histories()(
        substrate in substrates(),
        edge: bool,
        // Half of them near the default floor, where the budget decides.
        clear_um in prop::option::of(prop_oneof![0.0..120.0f64, 28.0..42.0f64]),
        ceiling_c in prop::option::of(30.0..60.0f64),
        override_reason in prop::option::of(Just("recorded reason".to_owned())),
        passes in prop::collection::vec(
            (0..13usize, prop::option::of(15.0..60.0f64), prop::option::of(0.0..5.0f64), outcomes()),
            0..12,
        ),
    ) -> AdviceInput {
        let passes = passes.into_iter().map(|(rung, panel_c, removal_um, outcome)| PassDone {
            setup: PassSetup::Rung(rung), start_c: None, panel_c, removal_um, outcome,
        });
        AdviceInput {
            substrate, edge, clear_um, ceiling_c, override_reason, passes: passes.collect(), ..steel()
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Checked from the input alone, without the code that decides.
    #[test]
    fn no_rung_is_skipped_no_two_factors_change_and_no_stop_is_passed(input in histories()) {
        let advice = advise(&input).unwrap();
        let ladder = Ladder::default();
        let last = input.passes.last();
        let at = last.and_then(|pass| match pass.setup {
            PassSetup::Rung(rung) => Some(rung),
            PassSetup::Setup(_) => None,
        });
        let Some(next) = advice.rung else {
            prop_assert!(matches!(advice.action, Action::Stop | Action::Done));
            return Ok(());
        };
        prop_assert!(next <= at.map_or(0, |rung| rung + 1));
        if let Some(rung) = at {
            let from = &ladder.rungs()[rung].setup;
            let changes = from.changes_to(advice.setup.as_ref().unwrap());
            prop_assert_eq!(changes.len(), usize::from(next != rung));
            prop_assert_eq!(changes.first().map(|(factor, _)| *factor), advice.changed);
        }
        if input.override_reason.is_some() {
            prop_assert_eq!(advice.overridden.is_some(), !advice.stops.is_empty());
            let stated = advice.cautions.iter().filter(|c| c.code == CautionCode::StopOverridden);
            prop_assert_eq!(stated.count(), advice.stops.len());
            return Ok(());
        }
        let seen = input.passes.iter().rev().find_map(|pass| pass.panel_c);
        prop_assert!(seen.is_none_or(|panel_c| panel_c < advice.ceiling_c));
        prop_assert!(last.is_none_or(|pass| pass.outcome != PassOutcome::Worse));
        if let Some(clear_um) = input.clear_um {
            let measured: f64 = input.passes.iter().filter_map(|pass| pass.removal_um).sum();
            let expected = advice.expected_removal_um.unwrap();
            prop_assert!(clear_um - measured - expected >= advice.floor_um - 1e-9);
        } else {
            let full: &[Factor] = &[Factor::Liquid, Factor::Machine];
            let steps = ladder.rungs()[..=next].iter().filter_map(|rung| rung.step);
            prop_assert!(steps.into_iter().all(|step| !full.contains(&step.factor)));
        }
        if input.edge {
            let mut steps = ladder.rungs()[..=next].iter().filter_map(|rung| rung.step);
            prop_assert!(steps.all(|step| step.size == StepSize::Half));
        }
    }
}

proptest! {
    /// Following the advice from the start visits rungs one by one and comes to an end.
    #[test]
    fn followed_advice_climbs_rung_by_rung_and_ends(
        results in prop::collection::vec((outcomes(), 0.0..4.0f64), 60),
        substrate in substrates(), clear_um in prop::option::of(20.0..120.0f64),
    ) {
        let mut input = AdviceInput { substrate, clear_um, ..steel() };
        let mut highest = 0;
        let mut panel_c = 20.0;
        for (outcome, rise_k) in results {
            let advice = advise(&input).unwrap();
            let Some(rung) = advice.rung else {
                return Ok(());
            };
            prop_assert!(rung <= highest + 1);
            highest = highest.max(rung);
            prop_assert!(!has(&advice, CautionCode::RungSkipped));
            panel_c += rise_k;
            input.passes.push(PassDone {
                setup: PassSetup::Rung(rung), start_c: None, panel_c: Some(panel_c), removal_um: None, outcome,
            });
        }
        // Thirteen rungs with three passes each: sixty passes are never needed.
        prop_assert!(false, "no end: {:?}", input.passes.len());
    }

    #[test]
    fn any_number_is_refused_or_answered(
        clear: Option<f64>, floor: Option<f64>, ceiling: Option<f64>, now: Option<f64>,
        rung: usize, panel: Option<f64>, removal: Option<f64>, pressure: f64, seconds: f64,
        speed: u32, level: u32, reason: Option<String>,
    ) {
        let mut setup = Ladder::default().rungs()[0].setup.clone();
        (setup.pressure_kpa, setup.seconds) = (pressure, seconds);
        (setup.speed_level, setup.pad.level) = (speed, level);
        let _ = Ladder::try_new(vec![setup.clone()]);
        let made = |setup| PassDone {
            setup, start_c: None, panel_c: panel, removal_um: removal, outcome: PassOutcome::Unchanged,
        };
        let input = AdviceInput {
            clear_um: clear,
            floor_um: floor,
            ceiling_c: ceiling,
            panel_now_c: now,
            passes: vec![made(PassSetup::Rung(rung)), made(PassSetup::Setup(setup))],
            override_reason: reason,
            ..steel()
        };
        let _ = advise(&input);
    }
}
