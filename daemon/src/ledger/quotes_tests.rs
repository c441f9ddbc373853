//! A quote is stored only of the job as it was priced, and one quote at a time is
//! the accepted one.

use std::sync::Arc;

use lamella_jobs::job::{JobField, JobFields};
use lamella_jobs::record::{Entry, Note};
use lamella_jobs::transition::MoveRequest;
use lamella_jobs::vehicle::{VehicleField, VehicleFields};
use lamella_store::{Store, StoreConfig};

use super::*;
use crate::clock::Clock;
use crate::ledger::JobProjector;

/// A ledger on a store of its own, with the job `a` on the vehicle `v`.
async fn ledger(dir: &std::path::Path) -> Ledger {
    let (store, _) = Store::open(dir, StoreConfig::default(), Arc::new(JobProjector)).unwrap();
    let ledger = Ledger::new(Arc::new(store), Clock::system());
    let vehicle = VehicleFields {
        display_name: "Blue estate".to_owned(),
        ..VehicleFields::default()
    };
    let id = || Some("v".to_owned());
    ledger.create_vehicle(id(), vehicle, once()).await.unwrap();
    let job = JobFields {
        display_name: "Blue estate".to_owned(),
        vehicle: id(),
        ..JobFields::default()
    };
    let id = Some("a".to_owned());
    ledger.create_job(id, job, once()).await.unwrap();
    ledger
}

fn once() -> RequestKey {
    named("")
}

fn named(request_id: &str) -> RequestKey {
    RequestKey {
        request_id: request_id.to_owned(),
        method: "CreateQuote",
        digest: Vec::new(),
    }
}

fn quote(gross: i64) -> v1::Quote {
    v1::Quote {
        gross_total: Some(v1::Money {
            currency_code: "EUR".to_owned(),
            minor_units: gross,
        }),
        ..v1::Quote::default()
    }
}

async fn facts(ledger: &Ledger) -> JobFacts {
    ledger.job_facts("a".to_owned()).await.unwrap()
}

async fn store(ledger: &Ledger, facts: JobFacts) -> Result<v1::Quote, LedgerError> {
    ledger.create_quote(facts, quote(100), once()).await
}

fn number(quote: &v1::Quote) -> u64 {
    quote.name.rsplit('/').next().unwrap().parse().unwrap()
}

async fn note(ledger: &Ledger) {
    let draft = |now| Record {
        id: String::new(),
        record_time: now,
        author: String::new(),
        create_time: now,
        entry: Entry::Note(Note {
            text: "dusty".to_owned(),
            panel: None,
        }),
        cautions: Vec::new(),
    };
    ledger
        .append_record("a".to_owned(), draft, once())
        .await
        .unwrap();
}

async fn write(ledger: &Ledger, fields: JobFields, field: JobField) -> v1::Job {
    ledger
        .update_job("a".to_owned(), fields, vec![field], String::new(), once())
        .await
        .unwrap()
}

#[tokio::test]
async fn a_job_that_changed_meanwhile_is_not_quoted() {
    let dir = tempfile::tempdir().unwrap();
    let ledger = ledger(dir.path()).await;
    let changed = |stored: Result<v1::Quote, LedgerError>| {
        let error = stored.unwrap_err();
        assert!(matches!(error, LedgerError::JobChanged { .. }), "{error}");
    };

    let before = facts(&ledger).await;
    let wishes = JobFields {
        wishes: "quick".to_owned(),
        ..JobFields::default()
    };
    write(&ledger, wishes, JobField::Wishes).await;
    changed(store(&ledger, before).await);

    let before = facts(&ledger).await;
    note(&ledger).await;
    changed(store(&ledger, before).await);

    let before = facts(&ledger).await;
    let color = VehicleFields {
        color: "blue".to_owned(),
        ..VehicleFields::default()
    };
    ledger
        .update_vehicle(
            "v".to_owned(),
            color,
            vec![VehicleField::Color],
            String::new(),
            once(),
        )
        .await
        .unwrap();
    changed(store(&ledger, before).await);

    // Another quote changes nothing that a price depends on.
    let before = facts(&ledger).await;
    store(&ledger, facts(&ledger).await).await.unwrap();
    let second = store(&ledger, before).await.unwrap();
    assert!(second.create_time.is_some());
    let page = ledger
        .quotes("a".to_owned(), 10, String::new())
        .await
        .unwrap();
    assert_eq!(page.items.len(), 2);
    assert_eq!(page.items[1], second);
}

#[tokio::test]
async fn a_job_that_is_over_is_not_quoted_but_can_be_looked_at() {
    let dir = tempfile::tempdir().unwrap();
    let ledger = ledger(dir.path()).await;
    let before = facts(&ledger).await;
    let cancel = MoveRequest {
        to: Some(lamella_jobs::stage::Stage::Cancelled),
        note: "called off".to_owned(),
        only_asking: false,
    };
    ledger
        .advance_stage("a".to_owned(), cancel, String::new(), once())
        .await
        .unwrap();
    for refused in [
        ledger.job_facts("a".to_owned()).await.map(|_| ()),
        store(&ledger, before).await.map(|_| ()),
    ] {
        let closed = matches!(refused, Err(LedgerError::Refused(Refusal::Closed { .. })));
        assert!(closed, "{refused:?}");
    }
    assert!(ledger.recorded_job("a".to_owned()).await.is_ok());
}

#[tokio::test]
async fn a_repeated_request_is_known_before_it_is_priced() {
    let dir = tempfile::tempdir().unwrap();
    let ledger = ledger(dir.path()).await;
    let asked = |id: &str| ledger.quote_of_request(named(id));
    assert_eq!(asked("r").await.unwrap(), None);
    let first = ledger.create_quote(facts(&ledger).await, quote(100), named("r"));
    let first = first.await.unwrap();
    assert_eq!(asked("r").await.unwrap(), Some(first.clone()));
    // Priced at the same time and committed later: still the first answer.
    let late = ledger.create_quote(facts(&ledger).await, quote(999), named("r"));
    assert_eq!(late.await.unwrap(), first);
    let other = RequestKey {
        digest: vec![1],
        ..named("r")
    };
    let refused = ledger.quote_of_request(other).await;
    assert!(
        matches!(refused, Err(LedgerError::RequestReused { .. })),
        "{refused:?}"
    );
}

#[tokio::test]
async fn the_accepted_quote_is_the_one_that_the_approval_names() {
    let dir = tempfile::tempdir().unwrap();
    let ledger = ledger(dir.path()).await;
    let mut numbers = Vec::new();
    for _ in 0..2 {
        numbers.push(number(&store(&ledger, facts(&ledger).await).await.unwrap()));
    }
    let accept = |number: u64| {
        let by = "the owner".to_owned();
        ledger.accept_quote(
            ("a".to_owned(), number),
            by,
            String::new(),
            String::new(),
            once(),
        )
    };
    let accepted = async || {
        let page = ledger
            .quotes("a".to_owned(), 10, String::new())
            .await
            .unwrap();
        let yes = page
            .items
            .iter()
            .filter(|quote| quote.accept_time.is_some());
        yes.map(number).collect::<Vec<_>>()
    };
    let done = accept(numbers[0]).await.unwrap();
    assert_eq!(accepted().await, [numbers[0]]);
    let approval = done.job.approval.clone().unwrap();
    assert_eq!(approval.quote, done.quote.name);
    assert_eq!(approval.amount, quote(100).gross_total);
    assert_eq!(approval.approve_time, done.quote.accept_time);

    accept(numbers[1]).await.unwrap();
    assert_eq!(accepted().await, [numbers[1]]);

    // A yes that is written by hand is to no quote.
    let by_hand = JobFields {
        approval: Some(Approval {
            approved_by: "the owner".to_owned(),
            approve_time: jiff::Timestamp::UNIX_EPOCH,
            amount: None,
            note: "by phone".to_owned(),
            quote: None,
        }),
        ..JobFields::default()
    };
    let job = write(&ledger, by_hand, JobField::Approval).await;
    assert_eq!(job.approval.unwrap().quote, "");
    assert_eq!(accepted().await, [0_u64; 0]);

    // Nor is one that was taken away.
    accept(numbers[0]).await.unwrap();
    assert_eq!(accepted().await, [numbers[0]]);
    write(&ledger, JobFields::default(), JobField::Approval).await;
    assert_eq!(accepted().await, [0_u64; 0]);

    let missing = accept(numbers[1] + 1000).await;
    assert!(
        matches!(missing, Err(LedgerError::NotFound { .. })),
        "{missing:?}"
    );
}
