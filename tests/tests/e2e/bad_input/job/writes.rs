//! Creating and updating.

use serde_json::{Value, json};
use tonic::Code;

use super::super::table::{
    DELETED, EXISTS, NOT_FOUND, REUSED, Row, STALE, Stock, bad_ids, bad_names, bad_or_no_text,
    bad_request_ids, bad_text, bad_times, invalid, longer_than, path, refused, spoiled, with,
    without,
};

const CREATE: &str = "JobService/CreateJob";
const UPDATE: &str = "JobService/UpdateJob";

pub(super) fn rows(stock: &Stock) -> Vec<Row> {
    [creating(stock), updating(stock)].concat()
}

fn good_job(stock: &Stock) -> Value {
    json!({
        "display_name": "Blue estate", "vehicle": stock.vehicle,
        "customer": {"display_name": "a customer", "phone": "1", "email": "a@example.org"},
        "services": [{"code": "wash", "description": "outside", "panels": ["hood"]}],
        "promise_time": "2030-05-02T15:00:00Z", "arrival_condition": "dusty", "wishes": "none",
        "approval": {
            "approved_by": "the owner", "approve_time": "2024-01-15T08:00:00Z", "note": "by phone",
            "amount": {"currency_code": "EUR", "minor_units": "100"},
        },
    })
}

fn fields() -> Vec<(&'static str, Vec<Value>)> {
    let mut bad_vehicles = bad_names("vehicles");
    // A name of this length is refused as a message too long to be one.
    bad_vehicles.pop();
    vec![
        ("display_name", bad_text(200)),
        ("vehicle", bad_vehicles),
        ("customer/display_name", bad_text(200)),
        ("customer/phone", bad_text(64)),
        ("customer/email", bad_text(254)),
        ("services/0/code", bad_ids()),
        ("services/0/description", bad_text(1000)),
        ("services/0/panels/0", bad_ids()),
        ("promise_time", bad_times()),
        ("arrival_condition", bad_text(4000)),
        ("wishes", bad_text(4000)),
        ("approval/approved_by", bad_or_no_text(200)),
        ("approval/approve_time", bad_times()),
        ("approval/note", bad_text(1000)),
        (
            "approval/amount/currency_code",
            [json!("eur"), json!(""), json!("EURO"), json!("€")].to_vec(),
        ),
        (
            "approval/amount/minor_units",
            vec![json!("-1"), json!(i64::MIN.to_string())],
        ),
    ]
}

fn creating(stock: &Stock) -> Vec<Row> {
    let good = json!({"job": good_job(stock)});
    let mut rows = vec![
        invalid(CREATE, "nothing", json!({}), &["job"]),
        invalid(
            CREATE,
            "an empty job",
            json!({"job": {}}),
            &["job.display_name"],
        ),
        invalid(
            CREATE,
            "everything wrong at once",
            json!({
                "job_id": "Bad", "request_id": "with space",
                "job": {
                    "vehicle": "cars/1", "wishes": longer_than(4000),
                    "customer": {"phone": longer_than(64)},
                    "services": [{"code": "Bad", "panels": ["hood", "hood"]}],
                    "approval": {"amount": {"currency_code": "eur", "minor_units": "-1"}},
                },
            }),
            &[
                "job_id",
                "request_id",
                "job.display_name",
                "job.vehicle",
                "job.wishes",
                "job.customer.phone",
                "job.services[0].code",
                "job.services[0].panels[1]",
                "job.approval.approved_by",
                "job.approval.amount.currency_code",
                "job.approval.amount.minor_units",
            ],
        ),
        refused(
            CREATE,
            "a vehicle that does not exist",
            with(&good, "/job/vehicle", json!("vehicles/none")),
            NOT_FOUND,
            &[],
        ),
        refused(
            CREATE,
            "a deleted vehicle",
            with(&good, "/job/vehicle", json!(stock.deleted_vehicle)),
            DELETED,
            &[],
        ),
        refused(
            CREATE,
            "an id that is taken",
            with(&good, "/job_id", json!("taken")),
            EXISTS,
            &[],
        ),
        refused(
            CREATE,
            "a request id that is taken",
            with(&good, "/request_id", json!("taken")),
            REUSED,
            &["request_id"],
        ),
        // Five mebibytes; a message may have four.
        refused(
            CREATE,
            "a message too large",
            with(&good, "/job/wishes", json!("x".repeat(5 << 20))),
            (Code::OutOfRange, ""),
            &[],
        ),
        invalid(
            CREATE,
            "201 services",
            with(
                &good,
                "/job/services",
                json!(vec![json!({"code": "wash"}); 201]),
            ),
            &["job.services"],
        ),
    ];
    for (field, values) in fields() {
        let wanted = format!("job.{}", path(field));
        rows.extend(spoiled(
            CREATE,
            &good,
            &format!("/job/{field}"),
            &values,
            &wanted,
        ));
    }
    rows.extend(spoiled(
        CREATE,
        &good,
        "/job/display_name",
        &bad_or_no_text(200),
        "job.display_name",
    ));
    rows.extend(spoiled(CREATE, &good, "/job_id", &bad_ids(), "job_id"));
    rows.extend(spoiled(
        CREATE,
        &good,
        "/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    rows
}

fn updating(stock: &Stock) -> Vec<Row> {
    let mut job = good_job(stock);
    job["name"] = json!(stock.job);
    let good = json!({"job": job});
    let named = |name: &str| with(&good, "/job/name", json!(name));
    let masked = |mask: &str| json!({"job": {"name": stock.job}, "update_mask": mask});
    let mut rows = vec![
        invalid(UPDATE, "nothing", json!({}), &["job", "job.name"]),
        invalid(
            UPDATE,
            "no name",
            without(&good, "/job/name"),
            &["job.name"],
        ),
        invalid(UPDATE, "an unknown mask", masked("color"), &["update_mask"]),
        invalid(
            UPDATE,
            "an output-only mask",
            masked("name"),
            &["update_mask"],
        ),
        invalid(
            UPDATE,
            "a mask inside a field",
            masked("customer.phone"),
            &["update_mask"],
        ),
        invalid(
            UPDATE,
            "the name cleared",
            masked("displayName"),
            &["job.display_name"],
        ),
        refused(UPDATE, "an unknown job", named("jobs/none"), NOT_FOUND, &[]),
        refused(
            UPDATE,
            "a stale etag",
            with(&good, "/job/etag", json!("0")),
            STALE,
            &[],
        ),
        refused(
            UPDATE,
            "a deleted job",
            named(&stock.deleted_job),
            DELETED,
            &[],
        ),
        refused(
            UPDATE,
            "a job that is over",
            named(&stock.cancelled_job),
            (Code::FailedPrecondition, "JOB_CLOSED"),
            &[],
        ),
        refused(
            UPDATE,
            "an unknown vehicle",
            with(&good, "/job/vehicle", json!("vehicles/none")),
            NOT_FOUND,
            &[],
        ),
        refused(
            UPDATE,
            "a request id that is taken",
            with(&good, "/request_id", json!("taken")),
            REUSED,
            &["request_id"],
        ),
    ];
    for (field, values) in fields() {
        let wanted = format!("job.{}", path(field));
        rows.extend(spoiled(
            UPDATE,
            &good,
            &format!("/job/{field}"),
            &values,
            &wanted,
        ));
    }
    rows.extend(spoiled(
        UPDATE,
        &good,
        "/job/name",
        &bad_names("jobs"),
        "job.name",
    ));
    rows.extend(spoiled(
        UPDATE,
        &good,
        "/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    rows
}
