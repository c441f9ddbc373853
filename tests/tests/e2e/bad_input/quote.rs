//! QuoteService, and trying a plugin.

use lamella_tests::api::Api;
use lamella_tests::shop;
use serde_json::{Value, json};
use tonic::Code;

use super::table::{
    DELETED, NOT_FOUND, PAGE_TOKEN, REUSED, Row, STALE, Stock, bad_names, bad_or_no_text,
    bad_page_sizes, bad_request_ids, bad_text, invalid, longer_than, path, refused, spoiled,
    unknown_numbers, with, without,
};

const CREATE: &str = "QuoteService/CreateQuote";
const GET: &str = "QuoteService/GetQuote";
const LIST: &str = "QuoteService/ListQuotes";
const RERUN: &str = "QuoteService/RerunQuote";
const COMPARE: &str = "QuoteService/CompareQuotes";
const ACCEPT: &str = "QuoteService/AcceptQuote";
const TRY: &str = "PluginService/TryPlugin";

const CLOSED: (Code, &str) = (Code::FailedPrecondition, "JOB_CLOSED");

/// Stores a quote of the bare job; its name.
pub(crate) async fn lay_in(api: &Api, stock: &Stock) -> String {
    let hour =
        json!({"kind": "labour", "item": "polish", "quantity_thousandths": "1000", "unit": "h"});
    let request = json!({"parent": stock.bare_job, "measures": [hour]});
    shop::name(&api.ok(CREATE, request).await)
}

pub(crate) fn rows(stock: &Stock, quote: &str) -> Vec<Row> {
    [
        creating(stock),
        reading(stock, quote),
        accepting(quote),
        trying(stock),
    ]
    .concat()
}

fn creating(stock: &Stock) -> Vec<Row> {
    let good = json!({
        "parent": stock.bare_job,
        "plugin": "plugins/prices",
        "settings": [{"key": "a", "value": "1"}],
        "measures": [{"kind": "labour", "item": "polish", "quantity_thousandths": "1000", "unit": "h"}],
        "validate_only": false,
    });
    let of = |job: &str| json!({"parent": job});
    let not_serving = (Code::FailedPrecondition, "PLUGIN_NOT_SERVING");
    let mut rows = vec![
        invalid(CREATE, "nothing", json!({}), &["parent"]),
        refused(CREATE, "an unknown job", of("jobs/none"), NOT_FOUND, &[]),
        refused(
            CREATE,
            "a deleted job",
            of(&stock.deleted_job),
            DELETED,
            &[],
        ),
        refused(
            CREATE,
            "a job that is over",
            of(&stock.cancelled_job),
            CLOSED,
            &[],
        ),
        refused(
            CREATE,
            "an unknown plugin",
            with(&good, "/plugin", json!("plugins/none")),
            not_serving,
            &[],
        ),
        refused(
            CREATE,
            "a setting that the plugin does not take",
            good.clone(),
            (Code::FailedPrecondition, "REFUSED"),
            &[],
        ),
        refused(
            CREATE,
            "a job without anything to price",
            of(&stock.bare_job),
            (Code::FailedPrecondition, "REFUSED"),
            &[],
        ),
        refused(
            CREATE,
            "a taken request id",
            with(&good, "/request_id", json!("taken")),
            REUSED,
            &["request_id"],
        ),
    ];
    rows.extend(spoiled(
        CREATE,
        &good,
        "/parent",
        &bad_names("jobs"),
        "parent",
    ));
    rows.extend(spoiled(
        CREATE,
        &good,
        "/plugin",
        &bad_names("plugins"),
        "plugin",
    ));
    rows.extend(spoiled(
        CREATE,
        &good,
        "/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    for (pointer, values) in [
        ("/settings/0/key", vec![json!(""), longer_than(200)]),
        ("/settings/0/value", vec![longer_than(4000)]),
        ("/measures/0/kind", bad_or_no_text(63)),
        ("/measures/0/item", bad_text(200)),
        ("/measures/0/unit", bad_or_no_text(16)),
        (
            "/measures/0/quantity_thousandths",
            vec![json!("-1"), json!(i64::MIN.to_string())],
        ),
    ] {
        rows.extend(spoiled(
            CREATE,
            &good,
            pointer,
            &values,
            &path(&pointer[1..]),
        ));
    }
    let twice = json!([good["measures"][0], good["measures"][0]]);
    let twice = with(&good, "/measures", twice);
    rows.push(invalid(
        CREATE,
        "a measure twice",
        twice,
        &["measures[1].item"],
    ));
    let many: Vec<Value> = (0..201)
        .map(|n| json!({"kind": "labour", "item": n.to_string(), "unit": "h"}))
        .collect();
    let many = with(&good, "/measures", json!(many));
    rows.push(invalid(CREATE, "201 measures", many, &["measures"]));
    rows
}

/// Names that are no quote's.
fn bad_quote_names() -> Vec<Value> {
    [
        "a",
        "jobs/a",
        "jobs/a/quotes/",
        "jobs/a/quotes/01",
        "jobs/a/quotes/x",
        "jobs/a/quotes/-1",
        "jobs/Upper/quotes/1",
        "jobs/a/records/1",
        "jobs/a/quotes/1/x",
        "jobs/a/quotes/18446744073709551616",
        "/jobs/a/quotes/1",
    ]
    .map(|name| json!(name))
    .to_vec()
}

fn reading(stock: &Stock, quote: &str) -> Vec<Row> {
    let absent = format!("{}/quotes/999999", stock.bare_job);
    // The quote's own number, of another job.
    let number = quote.rsplit('/').next().unwrap();
    let elsewhere = format!("{}/quotes/{number}", stock.job);
    let mut rows = Vec::new();
    for method in [GET, RERUN, COMPARE] {
        let good = json!({"name": quote});
        let good = if method == COMPARE {
            with(&good, "/other", json!(quote))
        } else {
            good
        };
        rows.push(invalid(
            method,
            "no name",
            without(&good, "/name"),
            &["name"],
        ));
        for name in [&absent, &elsewhere] {
            let request = with(&good, "/name", json!(name));
            rows.push(refused(method, "an unknown quote", request, NOT_FOUND, &[]));
        }
        rows.extend(spoiled(method, &good, "/name", &bad_quote_names(), "name"));
    }
    let both = json!({"name": quote, "other": quote});
    rows.push(invalid(COMPARE, "nothing", json!({}), &["name", "other"]));
    rows.push(refused(
        COMPARE,
        "an unknown other",
        with(&both, "/other", json!(absent)),
        NOT_FOUND,
        &[],
    ));
    rows.extend(spoiled(
        COMPARE,
        &both,
        "/other",
        &bad_quote_names(),
        "other",
    ));

    let good = json!({"parent": stock.bare_job});
    rows.push(invalid(LIST, "nothing", json!({}), &["parent"]));
    let unknown = json!({"parent": "jobs/none"});
    rows.push(refused(LIST, "an unknown job", unknown, NOT_FOUND, &[]));
    rows.extend(spoiled(
        LIST,
        &good,
        "/parent",
        &bad_names("jobs"),
        "parent",
    ));
    rows.extend(spoiled(
        LIST,
        &good,
        "/page_size",
        &bad_page_sizes(),
        "page_size",
    ));
    let token = with(&good, "/page_token", json!("zz"));
    rows.push(refused(
        LIST,
        "a page token",
        token,
        PAGE_TOKEN,
        &["page_token"],
    ));
    rows
}

fn accepting(quote: &str) -> Vec<Row> {
    let good = json!({"name": quote, "approved_by": "the owner", "note": "by phone"});
    let mut rows = vec![
        invalid(ACCEPT, "nothing", json!({}), &["name", "approved_by"]),
        refused(
            ACCEPT,
            "an unknown quote",
            with(&good, "/name", json!("jobs/none/quotes/1")),
            NOT_FOUND,
            &[],
        ),
        refused(
            ACCEPT,
            "a stale etag",
            with(&good, "/etag", json!("0")),
            STALE,
            &[],
        ),
        refused(
            ACCEPT,
            "a taken request id",
            with(&good, "/request_id", json!("taken")),
            REUSED,
            &["request_id"],
        ),
    ];
    rows.extend(spoiled(ACCEPT, &good, "/name", &bad_quote_names(), "name"));
    rows.extend(spoiled(
        ACCEPT,
        &good,
        "/approved_by",
        &bad_or_no_text(200),
        "approved_by",
    ));
    rows.extend(spoiled(ACCEPT, &good, "/note", &bad_text(1000), "note"));
    rows.extend(spoiled(
        ACCEPT,
        &good,
        "/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    rows
}

fn trying(stock: &Stock) -> Vec<Row> {
    let good = json!({"header": {"sha256": "0".repeat(64), "jobs": [stock.bare_job]}});
    let of = |jobs: Value| with(&good, "/header/jobs", jobs);
    let many: Vec<String> = (0..101).map(|n| format!("jobs/{n}")).collect();
    let twice = json!([stock.bare_job, stock.bare_job]);
    let mut rows = vec![
        invalid(TRY, "nothing", json!({}), &["header"]),
        invalid(TRY, "bytes first", json!({"chunk": "AA=="}), &["header"]),
        invalid(
            TRY,
            "an empty header",
            json!({"header": {}}),
            &["header.sha256"],
        ),
        invalid(TRY, "a header and no bytes", good.clone(), &["chunk"]),
        invalid(TRY, "101 jobs", of(json!(many)), &["header.jobs"]),
        invalid(TRY, "a job twice", of(twice), &["header.jobs[1]"]),
        refused(
            TRY,
            "an unknown job",
            of(json!(["jobs/none"])),
            NOT_FOUND,
            &[],
        ),
    ];
    rows.extend(spoiled(
        TRY,
        &good,
        "/header/jobs/0",
        &bad_names("jobs"),
        "header.jobs[0]",
    ));
    rows.extend(spoiled(
        TRY,
        &good,
        "/header/wasi",
        &unknown_numbers(),
        "header.wasi",
    ));
    rows.extend(spoiled(
        TRY,
        &good,
        "/header/sha256",
        &[json!("ab"), json!("A".repeat(64))],
        "header.sha256",
    ));
    rows
}
