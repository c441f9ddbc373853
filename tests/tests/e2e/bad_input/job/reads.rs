//! Getting, listing and watching.

use serde_json::json;
use tonic::Code;

use super::super::table::{
    NOT_FOUND, PAGE_TOKEN, Row, Stock, bad_names, bad_page_sizes, bad_text, bad_times, invalid,
    refused, spoiled, unknown_numbers, with,
};

const GET: &str = "JobService/GetJob";
const LIST: &str = "JobService/ListJobs";
const RECORDS: &str = "JobService/ListRecords";
const HISTORY: &str = "JobService/ListJobHistory";
const WATCH: &str = "JobService/WatchJobs";

pub(super) fn rows(stock: &Stock) -> Vec<Row> {
    [reading(stock), watching()].concat()
}

fn reading(stock: &Stock) -> Vec<Row> {
    let mut rows = Vec::new();
    for (method, key) in [(GET, "name"), (RECORDS, "parent"), (HISTORY, "name")] {
        let good = json!({key: stock.job});
        rows.push(invalid(method, "nothing", json!({}), &[key]));
        rows.push(refused(
            method,
            "an unknown job",
            json!({key: "jobs/none"}),
            NOT_FOUND,
            &[],
        ));
        rows.extend(spoiled(
            method,
            &good,
            &format!("/{key}"),
            &bad_names("jobs"),
            key,
        ));
    }
    for (method, good) in [
        (LIST, json!({})),
        (RECORDS, json!({"parent": stock.job})),
        (HISTORY, json!({"name": stock.job})),
    ] {
        rows.extend(spoiled(
            method,
            &good,
            "/page_size",
            &bad_page_sizes(),
            "page_size",
        ));
        for token in ["zz", "-1", "1.5", &"f".repeat(17), "\u{0}"] {
            let request = with(&good, "/page_token", json!(token));
            let what = format!("page token {token:?}");
            rows.push(refused(method, what, request, PAGE_TOKEN, &["page_token"]));
        }
    }
    let good = json!({"filter": {"stages": ["STAGE_BOOKED", "STAGE_READY"]}});
    let mut stages = unknown_numbers();
    stages.push(json!(0));
    rows.extend(spoiled(
        LIST,
        &good,
        "/filter/stages/1",
        &stages,
        "filter.stages[1]",
    ));
    rows.extend(spoiled(
        LIST,
        &good,
        "/filter/vehicle",
        &bad_names("vehicles"),
        "filter.vehicle",
    ));
    rows.extend(spoiled(
        LIST,
        &good,
        "/filter/text",
        &bad_text(200),
        "filter.text",
    ));
    for time in [
        "promised_from",
        "promised_before",
        "created_from",
        "created_before",
    ] {
        let (pointer, field) = (format!("/filter/{time}"), format!("filter.{time}"));
        rows.extend(spoiled(LIST, &good, &pointer, &bad_times(), &field));
    }
    rows
}

fn watching() -> Vec<Row> {
    let tokens = ["-1", "soon", "1.5", "18446744073709551616"].map(|token| json!(token));
    let good = json!({"resume_token": "0"});
    let mut rows = vec![
        refused(
            WATCH,
            "a token ahead of all",
            json!({"resume_token": "4000000000"}),
            (Code::OutOfRange, "RESUME_TOKEN_AHEAD"),
            &["resume_token"],
        ),
        refused(
            WATCH,
            "the largest token",
            json!({"resume_token": u64::MAX.to_string()}),
            (Code::OutOfRange, "RESUME_TOKEN_AHEAD"),
            &["resume_token"],
        ),
        refused(
            WATCH,
            "an unknown job",
            json!({"job": "jobs/none"}),
            NOT_FOUND,
            &[],
        ),
    ];
    rows.extend(spoiled(
        WATCH,
        &good,
        "/resume_token",
        &tokens,
        "resume_token",
    ));
    rows.extend(spoiled(WATCH, &good, "/job", &bad_names("jobs"), "job"));
    rows
}
