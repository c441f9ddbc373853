//! Exports of a journal that is written here, entry by entry, so that quotes,
//! hand-overs and deletions lie on the days and at the amounts that matter.

use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::date;
use jiff::tz::TimeZone;
use lamella_export::days::Days;
use lamella_export::write::Format;
use lamella_proto::store::v1::{Entry, entry};
use lamella_proto::v1::{self, job_event::Change};
use lamella_store::{Commit, Store, StoreConfig};
use prost::Message as _;

use super::{ALL, Dataset, ExportFailed, write};
use crate::clock::Clock;
use crate::convert::time::to_pb;
use crate::ledger::{JobProjector, Ledger, LedgerError};

/// A ledger whose entries are dated by the test.
struct Books {
    ledger: Ledger,
    _dir: tempfile::TempDir,
}

impl Books {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let store = Store::open(dir.path(), StoreConfig::default(), Arc::new(JobProjector));
        let store = Arc::new(store.unwrap().0);
        Self {
            ledger: Ledger::new(store, Clock::system()),
            _dir: dir,
        }
    }

    /// Commits a change of `jobs/a` as of an instant; its sequence number.
    async fn put(&self, at: &str, change: Change) -> u64 {
        let entry = Entry {
            entry_time: Some(to_pb(at.parse().unwrap())),
            request: None,
            change: Some(entry::Change::Job(v1::JobEvent {
                job: "jobs/a".to_owned(),
                change: Some(change),
                ..Default::default()
            })),
            booking: None,
        };
        let commit = move |_: &lamella_store::CommandTx<'_>| {
            Ok::<_, LedgerError>(Commit::new(vec![entry.encode_to_vec()], ()))
        };
        self.ledger.store().execute(commit).await.unwrap().unwrap();
        self.ledger.store().last_seq()
    }

    /// A dataset of one day in Vienna as the lines of its CSV.
    async fn day(&self, dataset: Dataset, day: jiff::civil::Date) -> Result<Vec<String>, String> {
        let zone = TimeZone::get("Europe/Vienna").unwrap();
        let days = Days::try_new(day, day, zone).unwrap();
        let happenings = self.ledger.happenings(days.start(), days.end());
        let written = tokio::task::spawn_blocking(move || {
            write(dataset, Format::Csv, &days, happenings, Vec::new())
        });
        let written: Result<(Vec<u8>, u64), ExportFailed> = written.await.unwrap();
        let (file, rows) = written.map_err(|error| error.to_string())?;
        let file = String::from_utf8(file).unwrap();
        let lines: Vec<String> = file.lines().skip(1).map(str::to_owned).collect();
        assert_eq!(u64::try_from(lines.len()).unwrap(), rows);
        Ok(lines)
    }
}

fn eur(minor_units: i64) -> Option<v1::Money> {
    Some(v1::Money {
        currency_code: "EUR".to_owned(),
        minor_units,
    })
}

/// 100.00 at 20 % and 50.00 at 10 %: 175.00.
fn quote(number: u64) -> v1::Quote {
    let tax = |class: &str, rate_ppm, net, tax| v1::QuoteTax {
        tax_class: class.to_owned(),
        rate_ppm,
        net: eur(net),
        tax: eur(tax),
    };
    v1::Quote {
        name: format!("jobs/a/quotes/{number}"),
        plugin: "plugins/prices".to_owned(),
        taxes: vec![
            tax("standard", 200_000, 10_000, 2_000),
            tax("reduced", 100_000, 5_000, 500),
        ],
        net_total: eur(15_000),
        tax_total: eur(2_500),
        gross_total: eur(17_500),
        ..Default::default()
    }
}

fn job(stage: v1::Stage, approval: Option<v1::Approval>) -> v1::Job {
    v1::Job {
        name: "jobs/a".to_owned(),
        display_name: "Blue estate".to_owned(),
        stage: stage.into(),
        approval,
        ..Default::default()
    }
}

fn handed_over(approval: v1::Approval) -> Change {
    Change::StageChanged(v1::StageChanged {
        from_stage: v1::Stage::Ready.into(),
        to_stage: v1::Stage::HandedOver.into(),
        job: Some(job(v1::Stage::HandedOver, Some(approval))),
        ..Default::default()
    })
}

async fn created(books: &Books) {
    let change = Change::Created(job(v1::Stage::Booked, None));
    books.put("2026-03-20T08:00:00Z", change).await;
}

// Figures by hand, in `quote` above. Days: the European Union changed its clocks
// on 2026-03-29 at 01:00 UTC (IANA time zone database).
#[tokio::test]
async fn an_accepted_quote_is_taken_and_booked_on_the_day_of_the_hand_over() {
    let books = Books::new();
    created(&books).await;
    let number = books.ledger.store().last_seq() + 1;
    let made = Change::Quoted(quote(number));
    books.put("2026-03-21T08:00:00Z", made).await;
    let approval = v1::Approval {
        quote: format!("jobs/a/quotes/{number}"),
        amount: eur(17_500),
        ..Default::default()
    };
    let accepted = Change::QuoteAccepted(v1::QuoteAccepted {
        quote: Some(quote(number)),
        job: Some(job(v1::Stage::Assessed, Some(approval.clone()))),
    });
    books.put("2026-03-22T08:00:00Z", accepted).await;
    // The last second of the short day.
    let over = "2026-03-29T21:59:59Z";
    books.put(over, handed_over(approval.clone())).await;
    let gone = job(v1::Stage::HandedOver, Some(approval.clone()));
    books
        .put("2026-03-29T22:00:00Z", Change::Deleted(gone))
        .await;

    let quotes = books.day(Dataset::Quotes, date(2026, 3, 21)).await.unwrap();
    assert_eq!(
        quotes,
        [
            "2026-03-21,2026-03-21T09:00:00+01:00,jobs/a,Blue estate,made,jobs/a/quotes/2,\
             plugins/prices,,0,15000,150.00,2500,25.00,17500,175.00,EUR,2"
        ]
    );
    let quotes = books.day(Dataset::Quotes, date(2026, 3, 22)).await.unwrap();
    assert!(quotes[0].contains(",accepted,"), "{quotes:?}");
    let takings = |day| books.day(Dataset::Takings, day);
    assert_eq!(
        takings(date(2026, 3, 29)).await.unwrap(),
        [
            "2026-03-29,2026-03-29T23:59:59+02:00,jobs/a,Blue estate,handed over,quote,\
             jobs/a/quotes/2,,15000,150.00,2500,25.00,17500,175.00,EUR,4"
        ]
    );
    assert_eq!(
        takings(date(2026, 3, 30)).await.unwrap(),
        [
            "2026-03-30,2026-03-30T00:00:00+02:00,jobs/a,Blue estate,deleted after hand-over,quote,\
             jobs/a/quotes/2,,-15000,-150.00,-2500,-25.00,-17500,-175.00,EUR,5"
        ]
    );
    assert!(takings(date(2026, 3, 28)).await.unwrap().is_empty());

    let journal = books
        .day(Dataset::Journal, date(2026, 3, 29))
        .await
        .unwrap();
    let (lead, tail) = (
        "2026-03-29,2026-03-29T23:59:59+02:00,4",
        "EUR,jobs/a,Blue estate,handed over,jobs/a/quotes/2",
    );
    let wanted = [
        "1,receivable,,17500,175.00,,",
        "2,revenue,standard,,,10000,100.00",
        "3,tax-payable,standard,,,2000,20.00",
        "4,revenue,reduced,,,5000,50.00",
        "5,tax-payable,reduced,,,500,5.00",
    ]
    .map(|line| format!("{lead},{line},{tail}"));
    assert_eq!(journal, wanted);
    let back = books
        .day(Dataset::Journal, date(2026, 3, 30))
        .await
        .unwrap();
    assert!(
        back[0].contains(",1,receivable,,,,17500,175.00,"),
        "{back:?}"
    );
    assert!(
        back[1].contains(",2,revenue,standard,10000,100.00,,,"),
        "{back:?}"
    );

    // At the end of the day of the hand-over the job was not deleted yet.
    let jobs = books.day(Dataset::Jobs, date(2026, 3, 29)).await.unwrap();
    assert!(jobs[0].contains(",handed-over,"), "{jobs:?}");
}

#[tokio::test]
async fn an_amount_approved_by_hand_is_left_to_allocate() {
    let books = Books::new();
    created(&books).await;
    let number = books.ledger.store().last_seq() + 1;
    books
        .put("2026-03-21T08:00:00Z", Change::Quoted(quote(number)))
        .await;
    // Ten euros off, after the quote had been accepted.
    let approval = v1::Approval {
        quote: format!("jobs/a/quotes/{number}"),
        amount: eur(16_500),
        ..Default::default()
    };
    books
        .put("2026-10-25T00:30:00Z", handed_over(approval))
        .await;
    let journal = books
        .day(Dataset::Journal, date(2026, 10, 25))
        .await
        .unwrap();
    assert_eq!(journal.len(), 2, "{journal:?}");
    assert!(journal[1].contains("revenue-to-allocate,,,,16500,165.00,EUR"));
    let takings = books
        .day(Dataset::Takings, date(2026, 10, 25))
        .await
        .unwrap();
    assert!(
        takings[0].contains(",approval,,,,,,,16500,165.00,EUR,"),
        "{takings:?}"
    );
}

#[tokio::test]
async fn a_quote_that_does_not_add_up_is_an_error_of_the_journal_alone() {
    let books = Books::new();
    created(&books).await;
    let number = books.ledger.store().last_seq() + 1;
    let mut wrong = quote(number);
    wrong.gross_total = eur(17_501);
    books
        .put("2026-03-21T08:00:00Z", Change::Quoted(wrong))
        .await;
    let approval = v1::Approval {
        quote: format!("jobs/a/quotes/{number}"),
        amount: eur(17_501),
        ..Default::default()
    };
    books
        .put("2026-03-25T08:00:00Z", handed_over(approval))
        .await;
    let day = date(2026, 3, 25);
    for dataset in ALL {
        let written = books.day(dataset, day).await;
        if dataset == Dataset::Journal {
            assert_eq!(
                written.unwrap_err(),
                "jobs/a does not balance: debit 17501 and credit 17500 EUR minor units"
            );
        } else {
            assert!(written.is_ok(), "{dataset:?}: {written:?}");
        }
    }
}

#[tokio::test]
async fn a_day_of_25_hours_holds_them_all_over_many_pages() {
    let books = Books::new();
    created(&books).await;
    let start: Timestamp = "2026-10-24T22:00:00Z".parse().unwrap();
    // Every 5 minutes for 26 hours, from half an hour before the day: more than
    // one page, and the last ones lie after it.
    for n in 0..26 * 12 {
        let at = start + jiff::SignedDuration::from_mins(5 * n - 30);
        let labour = v1::Labour {
            worker: format!("worker {n}"),
            activity: "wash".to_owned(),
            from_time: Some(to_pb(at)),
            to_time: Some(to_pb(at + jiff::SignedDuration::from_mins(5))),
        };
        let record = v1::Record {
            name: format!("jobs/a/records/{n}"),
            record_time: Some(to_pb(at + jiff::SignedDuration::from_mins(5))),
            entry: Some(v1::record::Entry::Labour(labour)),
            ..Default::default()
        };
        // Written down much later, which does not move them.
        books
            .put("2026-11-02T08:00:00Z", Change::Recorded(record))
            .await;
    }
    let labour = |day| books.day(Dataset::Labour, day);
    let rows = labour(date(2026, 10, 25)).await.unwrap();
    assert_eq!(rows.len(), 25 * 12);
    assert!(rows[0].starts_with("2026-10-25,2026-10-25T00:00:00+02:00,"));
    assert!(
        rows[12 * 3].contains("T02:00:00+01:00,jobs/a"),
        "{}",
        rows[36]
    );
    assert!(rows[299].starts_with("2026-10-25,2026-10-25T23:55:00+01:00,"));
    assert!(rows.iter().all(|row| row.contains(",0.083,")), "5 minutes");
    assert_eq!(labour(date(2026, 10, 24)).await.unwrap().len(), 6);
    assert_eq!(labour(date(2026, 10, 26)).await.unwrap().len(), 6);
    assert!(labour(date(2026, 11, 2)).await.unwrap().is_empty());
}
