//! Every RPC with everything wrong. A table: method, what is wrong, request,
//! and what must come back. After the whole table the store is as before.

mod booking;
mod calculator;
mod export;
mod job;
mod photo;
mod plugin;
mod quote;
mod record;
mod table;
mod vehicle;

use std::collections::BTreeSet;

use lamella_tests::api::{self, Refused};
use lamella_tests::daemon::Daemon;
use lamella_tests::shop;
use table::{Row, Stock};

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_rpc_refuses_bad_input_by_name_and_changes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    let stock = Stock::lay_in(&api).await;
    plugin::lay_in(&api).await;
    let stored = quote::lay_in(&api, &stock).await;
    let rows: Vec<Row> = [
        job::rows(&stock),
        record::rows(&stock),
        vehicle::rows(&stock),
        photo::rows(&stock),
        calculator::rows(),
        plugin::rows(),
        quote::rows(&stock, &stored),
        export::rows(),
        booking::rows(&stock),
    ]
    .into_iter()
    .flatten()
    .collect();
    let tried: BTreeSet<&str> = rows
        .iter()
        .map(|row| row.method)
        .chain(plugin::NOTHING_TO_GET_WRONG)
        .chain(booking::WITHOUT_INPUT)
        .collect();
    let all = api::methods();
    let all: BTreeSet<&str> = all.iter().map(String::as_str).collect();
    assert_eq!(tried, all, "every method is in the table");

    let before = shop::everything(&api).await;
    let mut wrong = Vec::new();
    for row in &rows {
        let answer = api.call(row.method, row.request.clone()).await;
        if let Err(why) = judge(row, answer.as_ref().err()) {
            wrong.push(format!("{} with {}: {why}", row.method, row.what));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {} rows:\n{}",
        wrong.len(),
        rows.len(),
        wrong.join("\n")
    );
    assert_eq!(shop::everything(&api).await, before);
    println!("{} rows", rows.len());

    // Nor did anything reach the journal.
    drop(api);
    let sequence = before["sequence"].as_u64();
    daemon.kill();
    assert_eq!(Some(Daemon::start_on(dir.path()).sequence), sequence);
}

/// Whether a refusal is the one that the row wants.
fn judge(row: &Row, refused: Option<&Refused>) -> Result<(), String> {
    let Some(refused) = refused else {
        return Err("it was answered".to_owned());
    };
    let Refused {
        code,
        reason,
        message,
        ..
    } = refused;
    if (*code, reason.as_str()) != (row.code, row.reason) {
        let wanted = (row.code, row.reason);
        return Err(format!(
            "{code:?} {reason} instead of {wanted:?}: {message}"
        ));
    }
    let mut fields: Vec<&str> = refused
        .field_names()
        .into_iter()
        .chain(unmet_fields(refused))
        .collect();
    let mut wanted: Vec<&str> = row.fields.iter().map(String::as_str).collect();
    fields.sort_unstable();
    wanted.sort_unstable();
    if fields != wanted {
        return Err(format!(
            "fields {fields:?} instead of {wanted:?}: {message}"
        ));
    }
    let empty = refused
        .fields
        .iter()
        .any(|(_, description)| description.is_empty());
    // A field is named in the message too, for clients that show nothing else.
    let unnamed = refused
        .fields
        .iter()
        .any(|(_, text)| !message.contains(text.as_str()));
    if message.is_empty() || empty || (unnamed && reason == "INPUT_INVALID") {
        return Err(format!("says too little: {refused:?}"));
    }
    Ok(())
}

/// What a calculator's infeasible answer is about.
fn unmet_fields(refused: &Refused) -> impl Iterator<Item = &str> {
    refused.unmet.iter().map(|(_, subject, _)| subject.as_str())
}
