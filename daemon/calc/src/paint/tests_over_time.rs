//! What came off between readings, and a panel over its visits.

use super::layers::ClearEstimate;
use super::tests::{codes, gauge, near, spot};
use super::*;
use crate::caution::CautionCode;
use crate::error::CalcError;
use crate::gauge::Substrate;

fn removed(before: &[f64], after: &[f64]) -> RemovalResult {
    let input = RemovalInput {
        before: vec![spot("a", before)],
        after: vec![spot("a", after)],
        gauge: Some(gauge()),
        two_gauges: false,
    };
    measure_removal(&input).unwrap()
}

/// JCGM 100:2008 by hand: s 1 um on both sides, five readings each, pooled s 1, so type A
/// sqrt(2/5) = 0.6325; resolution 0.2887 sqrt 2 = 0.4082; 2 % of 6 um / sqrt 3 = 0.0693.
#[test]
fn a_removal_has_the_uncertainty_of_two_means_without_the_fixed_part() {
    let s = 1.0 / 2.0_f64.sqrt();
    let around = |middle: f64| [-2.0, 0.0, 0.0, 0.0, 2.0].map(|d| middle + s * d);
    let result = removed(&around(112.0), &around(106.0));
    near(result.removal_um, 6.0, 1e-12);
    near(result.uncertainty.type_a_um.unwrap(), 0.632_46, 1e-5);
    near(result.uncertainty.resolution_um, 0.408_25, 1e-5);
    near(result.uncertainty.limit_um, 0.069_28, 1e-5);
    assert_eq!(result.verdict, RemovalVerdict::Removed);
    assert!(result.cautions.is_empty());
}

#[test]
fn a_difference_inside_the_noise_cannot_be_told() {
    let result = removed(&[110.0, 111.0, 112.0], &[109.0, 110.0, 111.0]);
    assert_eq!(result.verdict, RemovalVerdict::CannotTell);
    near(result.low_um, 0.0, 0.0);
    assert!(result.high_um > 1.0);
    assert_eq!(codes(&result.cautions), [CautionCode::RemovalWithinNoise]);
    let thicker = removed(&[100.0, 101.0, 100.0], &[112.0, 111.0, 112.0]);
    assert_eq!(thicker.verdict, RemovalVerdict::Thicker);
    let input = RemovalInput {
        before: vec![spot("a", &[1.0])],
        after: vec![spot("b", &[1.0])],
        ..RemovalInput::default()
    };
    let Err(CalcError::Infeasible { reason, .. }) = measure_removal(&input) else {
        panic!("expected a refusal")
    };
    assert_eq!(reason, "NO_SPOT_IN_COMMON");
}

fn read(spot: &str, readings_um: &[f64]) -> PanelEvent {
    PanelEvent::Read {
        spot: spot.to_owned(),
        gauge: "combined".to_owned(),
        readings_um: readings_um.to_vec(),
    }
}

fn pass(removal_um: Option<f64>) -> PanelEvent {
    PanelEvent::Pass {
        removal_um,
        expected_um: 1.0,
    }
}

fn traced(events: Vec<PanelEvent>) -> PanelTrace {
    trace(&PanelHistory {
        panel: "hood".to_owned(),
        substrate: Substrate::Steel,
        gauge: Some(gauge()),
        events,
        ..PanelHistory::default()
    })
    .unwrap()
}

#[test]
fn what_is_left_falls_with_every_pass_and_over_visits() {
    let first = read("a", &[112.0, 111.0, 113.0]);
    let start = traced(vec![PanelEvent::Visit, first.clone()]).left.unwrap();
    let events = vec![
        PanelEvent::Visit,
        first,
        pass(Some(2.0)),
        pass(None),
        read("a", &[109.0, 108.0, 110.0]),
        PanelEvent::Visit,
        read("a", &[109.0, 109.0, 108.0]),
        pass(None),
    ];
    let after = traced(events);
    let left = after.left.unwrap();
    near(start.mean_um - left.mean_um, 4.0, 1.0);
    let (removed_um, standard_um) = after.removed_um.unwrap();
    near(removed_um, 4.0, 1.0);
    assert!(standard_um > 0.0 && standard_um < 2.0, "{standard_um}");
    // Round 1 to 2 with two passes, round 2 to 3 with none but another visit.
    assert_eq!(
        after.compared.iter().map(|c| c.passes).collect::<Vec<_>>(),
        [2, 0]
    );
    near(after.compared[0].result.removal_um, 3.0, 1e-9);
    assert_eq!(after.compared[1].result.verdict, RemovalVerdict::CannotTell);
    assert!(codes(&after.cautions).contains(&CautionCode::RemovalAssumed));
}

#[test]
fn film_refinish_and_unrecorded_work_are_told_apart() {
    let first = || read("a", &[112.0, 111.0, 113.0]);
    let standing = |trace: &PanelTrace, at: usize| match trace.steps[at] {
        TraceStep::Read { standing, .. } => standing,
        TraceStep::Noted | TraceStep::Pass { .. } => panic!("not a reading"),
    };
    let filmed = traced(vec![
        first(),
        PanelEvent::Film,
        read("a", &[290.0, 291.0, 289.0]),
    ]);
    assert_eq!(standing(&filmed, 2), ReadStanding::OverFilm);
    assert!(filmed.left.is_some() && filmed.compared.is_empty());

    let refinished = traced(vec![
        first(),
        PanelEvent::Visit,
        read("a", &[160.0, 161.0, 159.0]),
    ]);
    assert_eq!(standing(&refinished, 2), ReadStanding::Unexplained);
    assert_eq!((refinished.left, refinished.budget_um), (None, None));

    let sanded = traced(vec![
        first(),
        pass(Some(1.0)),
        read("a", &[92.0, 91.0, 93.0]),
    ]);
    assert_eq!(standing(&sanded, 2), ReadStanding::Unrecorded);
    assert!(codes(&sanded.cautions).contains(&CautionCode::RemovalUnrecorded));
    near(sanded.removed_um.unwrap().0, 20.0, 1.0);
    assert_eq!(sanded.budget_um, Some(0.0));
}

#[test]
fn a_history_without_readings_leaves_the_clear_coat_unknown() {
    let blind = traced(vec![PanelEvent::Visit, pass(None)]);
    assert_eq!(
        (blind.left, blind.budget_um, blind.removed_um),
        (None, None, None)
    );
    let unknown = ClearEstimate::of(-5.0, 1.0, 0.0);
    near(unknown.mean_um, 0.0, 0.0);
}
