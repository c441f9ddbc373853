//! The customer's yes, and the quote that it is to.

use super::Bay;
use crate::job::{Approval, JobField, JobFields, Money};
use crate::refusal::Refusal;
use crate::stage::Stage;
use crate::transition::{self, JobEvent};

fn yes(bay: &Bay, quote: Option<&str>) -> Approval {
    Approval {
        approved_by: "the owner".to_owned(),
        approve_time: bay.now,
        amount: Some(Money {
            currency_code: "EUR".to_owned(),
            minor_units: 89_000,
        }),
        note: String::new(),
        quote: quote.map(str::to_owned),
    }
}

/// The approval after an update that writes `fields` under `mask`.
fn updated(bay: &Bay, fields: &JobFields, mask: &[JobField]) -> Option<Approval> {
    let event = transition::update_job(&bay.job, fields, mask.to_vec(), bay.now).unwrap();
    let JobEvent::Updated { job, .. } = event else {
        panic!("an update updates")
    };
    job.fields.approval
}

fn accepted() -> Bay {
    let mut bay = Bay::at(Stage::Assessed);
    bay.job = transition::accept_quote(&bay.job, yes(&bay, Some("7")), bay.now).unwrap();
    bay
}

#[test]
fn accepting_a_quote_opens_the_gate_and_replaces_another_yes() {
    let mut bay = accepted();
    assert_eq!(bay.job.fields.approval, Some(yes(&bay, Some("7"))));
    bay.job = transition::accept_quote(&bay.job, yes(&bay, Some("9")), bay.now).unwrap();
    let approval = bay.job.fields.approval.as_ref().unwrap();
    assert_eq!(approval.quote.as_deref(), Some("9"));
}

#[test]
fn what_is_over_or_deleted_is_not_agreed_to() {
    let mut bay = Bay::at(Stage::Cancelled);
    let refused = transition::accept_quote(&bay.job, yes(&bay, Some("7")), bay.now);
    assert!(
        matches!(refused, Err(Refusal::Closed { .. })),
        "{refused:?}"
    );
    bay.job.stage = Stage::Assessed;
    bay.job.delete_time = Some(bay.now);
    let refused = transition::accept_quote(&bay.job, yes(&bay, Some("7")), bay.now);
    assert!(
        matches!(refused, Err(Refusal::Deleted { .. })),
        "{refused:?}"
    );
}

#[test]
fn nobody_said_yes_without_a_name() {
    let bay = Bay::at(Stage::Assessed);
    let nameless = Approval {
        approved_by: " ".to_owned(),
        ..yes(&bay, Some("7"))
    };
    let refused = transition::accept_quote(&bay.job, nameless, bay.now);
    let Err(Refusal::Invalid(violations)) = refused else {
        panic!("a name is needed")
    };
    assert_eq!(violations.iter().next().unwrap().field, "approved_by");
}

#[test]
fn a_yes_written_back_as_it_was_keeps_its_quote_and_a_new_one_has_none() {
    let bay = accepted();
    let write = |approval| JobFields {
        approval: Some(approval),
        ..JobFields::default()
    };
    let mask = [JobField::Approval];
    // As read, and as a client that does not know the field would send it.
    for quote in [Some("7"), None, Some("99")] {
        let kept = updated(&bay, &write(yes(&bay, quote)), &mask);
        assert_eq!(kept, Some(yes(&bay, Some("7"))));
    }
    let other = Approval {
        note: "by phone".to_owned(),
        ..yes(&bay, Some("7"))
    };
    let written = updated(&bay, &write(other.clone()), &mask);
    let expected = Approval {
        quote: None,
        ..other
    };
    assert_eq!(written, Some(expected));
    // Another field leaves the yes alone.
    let wishes = JobFields {
        wishes: "quick".to_owned(),
        ..JobFields::default()
    };
    let kept = updated(&bay, &wishes, &[JobField::Wishes]);
    assert_eq!(kept, Some(yes(&bay, Some("7"))));
}

#[test]
fn a_new_job_has_a_yes_to_no_quote() {
    let bay = Bay::new();
    let fields = JobFields {
        display_name: "Blue estate".to_owned(),
        approval: Some(yes(&bay, Some("7"))),
        ..JobFields::default()
    };
    let created = transition::create_job("b".to_owned(), fields, bay.now).unwrap();
    let JobEvent::Created(job) = created else {
        panic!("a creation creates")
    };
    assert_eq!(job.fields.approval, Some(yes(&bay, None)));
}
