//! Moves between stages, and what happens to the job as a whole.

use proptest::prelude::*;

use super::{Bay, coat, readings};
use crate::job::{JobField, JobFields};
use crate::refusal::Refusal;
use crate::stage::{Move, Stage};
use crate::transition::{self, JobEvent, MoveRequest};

#[test]
fn a_job_goes_from_booked_to_handed_over() {
    let mut bay = Bay::new();
    bay.bring_car();
    bay.agree();
    bay.advance(Stage::Received, "").unwrap();
    bay.add(readings("hood")).unwrap();
    bay.advance(Stage::Assessed, "").unwrap();
    bay.advance(Stage::Approved, "").unwrap();
    bay.advance(Stage::InWork, "").unwrap();
    bay.add(coat(&["hood"], 20.0)).unwrap();
    bay.advance(Stage::Curing, "").unwrap();
    bay.wait_hours(12);
    bay.advance(Stage::Ready, "").unwrap();
    bay.advance(Stage::HandedOver, "").unwrap();
    assert_eq!(bay.job.stage, Stage::HandedOver);
}

#[test]
fn no_stage_named_means_the_next_one() {
    let mut bay = Bay::new();
    bay.bring_car();
    let moved = transition::advance_stage(&bay.situation(), MoveRequest::default()).unwrap();
    let JobEvent::StageChanged { from, to, .. } = moved else {
        panic!("a move moves")
    };
    assert_eq!((from, to), (Stage::Booked, Stage::Received));
}

#[test]
fn a_move_that_does_not_exist_names_those_that_do() {
    let mut bay = Bay::new();
    let error = bay.advance(Stage::Ready, "").unwrap_err().to_string();
    assert_eq!(
        error,
        "a job that is booked cannot become ready; it can become received, cancelled"
    );
}

#[test]
fn going_back_and_cancelling_need_a_note() {
    for (from, to) in [
        (Stage::Assessed, Stage::Received),
        (Stage::Received, Stage::Cancelled),
    ] {
        let mut bay = Bay::at(from);
        let Err(Refusal::Invalid(violations)) = bay.advance(to, " ") else {
            panic!("a note is needed")
        };
        assert_eq!(violations.iter().next().unwrap().field, "note");
        bay.advance(to, "the customer called").unwrap();
    }
}

#[test]
fn a_question_needs_no_note_and_gets_the_same_refusal() {
    let bay = Bay::at(Stage::Received);
    let ask = |to| {
        let request = MoveRequest {
            to: Some(to),
            only_asking: true,
            ..MoveRequest::default()
        };
        transition::advance_stage(&bay.situation(), request)
    };
    assert!(ask(Stage::Cancelled).is_ok());
    assert!(matches!(ask(Stage::Assessed), Err(Refusal::Unmet { .. })));
}

#[test]
fn going_back_before_approval_takes_the_yes_away() {
    let mut bay = Bay::at(Stage::InWork);
    bay.advance(Stage::Assessed, "found filler under the hood")
        .unwrap();
    assert_eq!(bay.job.fields.approval, None);
    let mut bay = Bay::at(Stage::Ready);
    bay.advance(Stage::InWork, "a high spot to level").unwrap();
    assert!(
        bay.job.fields.approval.is_some(),
        "rework is no new agreement"
    );
}

#[test]
fn cancelling_says_what_must_go_back_on() {
    let mut bay = Bay::at(Stage::InWork);
    bay.add(super::part_off("front badge")).unwrap();
    let moved = transition::advance_stage(
        &bay.situation(),
        MoveRequest {
            to: Some(Stage::Cancelled),
            note: "called off".to_owned(),
            only_asking: false,
        },
    );
    let Ok(JobEvent::StageChanged { cautions, .. }) = moved else {
        panic!("a move moves")
    };
    assert!(cautions[0].text.contains("front badge"), "{cautions:?}");
}

#[test]
fn an_update_takes_only_what_the_mask_names() {
    let bay = Bay::at(Stage::Assessed);
    let fields = JobFields {
        display_name: "Red coupe".to_owned(),
        wishes: "no swirls".to_owned(),
        ..JobFields::default()
    };
    let updated =
        transition::update_job(&bay.job, &fields, vec![JobField::Wishes], bay.now).unwrap();
    let JobEvent::Updated { job, .. } = updated else {
        panic!("an update updates")
    };
    assert_eq!(job.fields.display_name, "Blue estate");
    assert_eq!(job.fields.wishes, "no swirls");
}

#[test]
fn a_deleted_job_does_nothing_until_it_is_undeleted() {
    let mut bay = Bay::at(Stage::Received);
    let JobEvent::Deleted(job) = transition::delete_job(&bay.job, bay.now).unwrap() else {
        panic!("a deletion deletes")
    };
    bay.job = job;
    let deleted = Refusal::Deleted {
        name: "jobs/a".to_owned(),
    };
    assert_eq!(bay.advance(Stage::Assessed, ""), Err(deleted.clone()));
    assert_eq!(bay.add(readings("hood")), Err(deleted.clone()));
    assert_eq!(transition::delete_job(&bay.job, bay.now), Err(deleted));
    let JobEvent::Undeleted(job) = transition::undelete_job(&bay.job, bay.now).unwrap() else {
        panic!("an undeletion undeletes")
    };
    assert!(matches!(
        transition::undelete_job(&job, bay.now),
        Err(Refusal::NotDeleted { .. })
    ));
}

proptest! {
    #[test]
    fn whatever_is_tried_no_gate_is_passed_that_is_closed(
        tries in prop::collection::vec((0..9usize, any::<bool>(), 0..30i64), 1..60)
    ) {
        let mut bay = Bay::new();
        for (stage, work, hours) in tries {
            let to = Stage::ALL[stage];
            if work {
                bay.bring_car();
                bay.agree();
                let _ = bay.add(readings("hood"));
                let _ = bay.add(coat(&["hood"], 20.0));
            }
            bay.wait_hours(hours);
            let from = bay.job.stage;
            let unmet = bay.situation().unmet(to);
            let moved = bay.advance(to, "because");
            match from.move_to(to) {
                None => prop_assert_eq!(moved, Err(Refusal::NoSuchMove { from, to })),
                Some(Move::Forward) => prop_assert_eq!(moved.is_ok(), unmet.is_empty()),
                Some(Move::Back | Move::Cancel) => prop_assert!(moved.is_ok()),
            }
        }
    }
}
