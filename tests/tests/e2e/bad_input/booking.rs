//! BookingService, OutboxService and StatusService.

use serde_json::{Value, json};
use tonic::Code;

use super::table::{
    NOT_FOUND, PAGE_TOKEN, Row, Stock, bad_ids, bad_names, bad_or_no_text, bad_page_sizes,
    bad_text, bad_times, invalid, longer_than, path, refused, spoiled, unknown_numbers, with,
    without,
};

const UPSERT: &str = "BookingService/UpsertBooking";
const GET: &str = "BookingService/GetBooking";
const LIST: &str = "BookingService/ListBookings";
const IMPORT: &str = "BookingService/ImportCalendar";
const EXPORT: &str = "BookingService/ExportCalendar";
const OUTBOX: &str = "OutboxService/GetOutbox";
const LETTERS: &str = "OutboxService/ListDeadLetters";
const STATUS: &str = "StatusService/GetStatus";
const RETRY: &str = "OutboxService/RetryDeadLetter";

pub(crate) fn rows(stock: &Stock) -> Vec<Row> {
    [upsert(), reading(), calendars(), outbox(stock)]
        .into_iter()
        .flatten()
        .collect()
}

fn upsert() -> Vec<Row> {
    let good = json!({"booking": {
        "source": "web-form", "external_id": "A-17", "display_name": "Blue estate",
        "revision": {"sequence": 1, "time": "2026-03-01T10:00:00Z"},
        "vehicle": "vehicles/none", "services": [{"code": "wash", "panels": ["hood"]}],
        "customer": {"display_name": "A. Customer"},
        "arrival_time": "2026-03-10T08:00:00Z", "promise_time": "2026-03-10T16:00:00Z",
    }});
    let mut no_source = bad_ids();
    no_source.push(json!(""));
    let all: [(&str, Vec<Value>); 13] = [
        ("source", no_source),
        ("external_id", bad_or_no_text(255)),
        ("display_name", bad_or_no_text(200)),
        ("revision/sequence", vec![json!(-1), json!(i32::MIN)]),
        ("revision/time", bad_times()),
        ("vehicle", bad_names("vehicles")),
        ("services/0/code", bad_ids()),
        ("services/0/description", bad_text(1000)),
        ("customer/display_name", bad_text(200)),
        ("customer/phone", bad_text(64)),
        ("customer/email", bad_text(254)),
        ("wishes", bad_text(4000)),
        (
            "promise_time",
            vec![json!("2026-03-10T07:59:59Z"), json!("1969-12-31T23:59:59Z")],
        ),
    ];
    let mut rows = vec![
        invalid(UPSERT, "nothing", json!({}), &["booking"]),
        invalid(
            UPSERT,
            "no revision",
            without(&good, "/booking/revision"),
            &["booking.revision"],
        ),
        invalid(
            UPSERT,
            "no time",
            without(&good, "/booking/revision/time"),
            &["booking.revision.time"],
        ),
        refused(UPSERT, "an unknown vehicle", good.clone(), NOT_FOUND, &[]),
    ];
    for (pointer, values) in all {
        let field = path(&format!("booking/{pointer}"));
        rows.extend(spoiled(
            UPSERT,
            &good,
            &format!("/booking/{pointer}"),
            &values,
            &field,
        ));
    }
    let mut bad = with(&good, "/booking/source", json!("-"));
    bad["booking"]["external_id"] = longer_than(255);
    bad["booking"]["wishes"] = longer_than(4000);
    let wanted = ["booking.source", "booking.external_id", "booking.wishes"];
    rows.push(invalid(UPSERT, "much wrong at once", bad, &wanted));
    rows
}

fn reading() -> Vec<Row> {
    let unknown = json!({"name": "bookings/none"});
    let mut rows = vec![
        invalid(GET, "nothing", json!({}), &["name"]),
        refused(GET, "an unknown booking", unknown, NOT_FOUND, &[]),
        refused(
            LIST,
            "a token of nobody",
            json!({"page_token": "zz"}),
            PAGE_TOKEN,
            &["page_token"],
        ),
    ];
    rows.extend(spoiled(
        GET,
        &json!({}),
        "/name",
        &bad_names("bookings"),
        "name",
    ));
    rows.extend(spoiled(
        LIST,
        &json!({}),
        "/page_size",
        &bad_page_sizes(),
        "page_size",
    ));
    let filter = json!({"filter": {}});
    rows.extend(spoiled(
        LIST,
        &filter,
        "/filter/source",
        &bad_ids(),
        "filter.source",
    ));
    rows.extend(spoiled(
        LIST,
        &filter,
        "/filter/external_id",
        &bad_text(255),
        "filter.external_id",
    ));
    rows.extend(spoiled(
        LIST,
        &filter,
        "/filter/job",
        &bad_names("jobs"),
        "filter.job",
    ));
    rows
}

fn calendars() -> Vec<Row> {
    // "BEGIN:VCALENDAR\nEND:VCALENDAR\n", and "rubbish", in base64.
    let good =
        json!({"source": "web-form", "calendar": "QkVHSU46VkNBTEVOREFSCkVORDpWQ0FMRU5EQVIK"});
    let far = json!({"source": "web-form", "calendar": good["calendar"],
        "from_time": "2026-01-01T00:00:00Z", "before_time": "2029-01-05T00:00:00Z"});
    let backwards = with(&far, "/before_time", json!("2026-01-01T00:00:00Z"));
    let mut rows = vec![
        invalid(IMPORT, "nothing", json!({}), &["source", "calendar"]),
        invalid(
            IMPORT,
            "rubbish",
            with(&good, "/calendar", json!("cnViYmlzaA==")),
            &["calendar"],
        ),
        invalid(IMPORT, "more than three years", far, &["before_time"]),
        invalid(IMPORT, "an empty window", backwards, &["before_time"]),
        // Four letters are three bytes: one more than 4 MiB.
        invalid(
            IMPORT,
            "too much",
            with(&good, "/calendar", json!("QUFB".repeat(1_398_102))),
            &["calendar"],
        ),
        refused(
            IMPORT,
            "more than a message may hold",
            with(&good, "/calendar", json!("QUFB".repeat(1_500_000))),
            (Code::OutOfRange, ""),
            &[],
        ),
    ];
    rows.extend(spoiled(IMPORT, &good, "/source", &bad_ids(), "source"));
    rows.extend(spoiled(
        IMPORT,
        &good,
        "/from_time",
        &bad_times()[..2],
        "from_time",
    ));
    rows.extend(spoiled(
        EXPORT,
        &json!({}),
        "/from_time",
        &bad_times(),
        "from_time",
    ));
    rows.extend(spoiled(
        EXPORT,
        &json!({}),
        "/before_time",
        &bad_times(),
        "before_time",
    ));
    let stages = json!({"stages": ["STAGE_BOOKED", "STAGE_READY"]});
    let mut unknown = unknown_numbers();
    unknown.push(json!(0));
    rows.extend(spoiled(EXPORT, &stages, "/stages/1", &unknown, "stages[1]"));
    rows
}

fn outbox(stock: &Stock) -> Vec<Row> {
    let mut rows = vec![
        invalid(RETRY, "nothing", json!({}), &["job"]),
        refused(
            RETRY,
            "no dead letter",
            json!({"job": stock.job}),
            NOT_FOUND,
            &[],
        ),
        refused(
            LETTERS,
            "a token of nobody",
            json!({"page_token": "zz"}),
            PAGE_TOKEN,
            &["page_token"],
        ),
    ];
    rows.extend(spoiled(
        RETRY,
        &json!({}),
        "/job",
        &bad_names("jobs"),
        "job",
    ));
    rows.extend(spoiled(
        LETTERS,
        &json!({}),
        "/page_size",
        &bad_page_sizes(),
        "page_size",
    ));
    rows
}

/// A method whose request is empty can be given nothing wrong.
pub(crate) const WITHOUT_INPUT: [&str; 2] = [OUTBOX, STATUS];
