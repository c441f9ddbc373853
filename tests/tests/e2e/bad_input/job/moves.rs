//! Stages, deleting and taking it back.

use serde_json::json;
use tonic::Code;

use super::super::table::{
    DELETED, NOT_FOUND, REUSED, Row, STALE, Stock, bad_names, bad_or_no_text, bad_request_ids,
    invalid, refused, spoiled, unknown_numbers, with, without,
};

const ADVANCE: &str = "JobService/AdvanceStage";
const DELETE: &str = "JobService/DeleteJob";
const UNDELETE: &str = "JobService/UndeleteJob";

pub(super) fn rows(stock: &Stock) -> Vec<Row> {
    [moving(stock), removing(stock)].concat()
}

fn moving(stock: &Stock) -> Vec<Row> {
    const NO_MOVE: (Code, &str) = (Code::FailedPrecondition, "STAGE_MOVE_UNKNOWN");
    const UNMET: (Code, &str) = (Code::FailedPrecondition, "CONDITIONS_UNMET");
    let good = json!({"name": stock.job, "to_stage": "STAGE_ASSESSED", "note": "again"});
    let to = |name: &str, stage: &str| json!({"name": name, "to_stage": stage, "note": "x"});
    let unmet = format!("jobs/{}", stock.bare_job.trim_start_matches("jobs/"));
    let mut rows = vec![
        invalid(ADVANCE, "nothing", json!({}), &["name"]),
        invalid(ADVANCE, "no note", without(&good, "/note"), &["note"]),
        refused(
            ADVANCE,
            "an unknown job",
            to("jobs/none", "STAGE_READY"),
            NOT_FOUND,
            &[],
        ),
        refused(
            ADVANCE,
            "a stale etag",
            with(&good, "/etag", json!("0")),
            STALE,
            &[],
        ),
        refused(
            ADVANCE,
            "a deleted job",
            to(&stock.deleted_job, "STAGE_CANCELLED"),
            DELETED,
            &[],
        ),
        refused(
            ADVANCE,
            "a stage too far",
            to(&stock.job, "STAGE_HANDED_OVER"),
            NO_MOVE,
            &["to_stage"],
        ),
        refused(
            ADVANCE,
            "the same stage",
            to(&stock.job, "STAGE_IN_WORK"),
            NO_MOVE,
            &["to_stage"],
        ),
        refused(
            ADVANCE,
            "a job that is over",
            to(&stock.cancelled_job, "STAGE_BOOKED"),
            NO_MOVE,
            &["to_stage"],
        ),
        refused(
            ADVANCE,
            "no stage after the end",
            json!({"name": stock.cancelled_job}),
            NO_MOVE,
            &["to_stage"],
        ),
        refused(
            ADVANCE,
            "a closed gate",
            json!({"name": stock.bare_job}),
            UNMET,
            &[&unmet],
        ),
        refused(
            ADVANCE,
            "a taken request id",
            with(&good, "/request_id", json!("taken")),
            REUSED,
            &["request_id"],
        ),
    ];
    rows.extend(spoiled(ADVANCE, &good, "/name", &bad_names("jobs"), "name"));
    rows.extend(spoiled(
        ADVANCE,
        &good,
        "/to_stage",
        &unknown_numbers(),
        "to_stage",
    ));
    rows.extend(spoiled(
        ADVANCE,
        &good,
        "/note",
        &bad_or_no_text(1000),
        "note",
    ));
    rows.extend(spoiled(
        ADVANCE,
        &good,
        "/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    rows
}

fn removing(stock: &Stock) -> Vec<Row> {
    const NOT_DELETED: (Code, &str) = (Code::FailedPrecondition, "RESOURCE_NOT_DELETED");
    let mut rows = vec![
        refused(
            DELETE,
            "a deleted job",
            json!({"name": stock.deleted_job}),
            DELETED,
            &[],
        ),
        refused(
            UNDELETE,
            "a job that is not deleted",
            json!({"name": stock.job}),
            NOT_DELETED,
            &[],
        ),
    ];
    for (method, name) in [(DELETE, &stock.job), (UNDELETE, &stock.deleted_job)] {
        let good = json!({"name": name});
        rows.extend([
            invalid(method, "nothing", json!({}), &["name"]),
            refused(
                method,
                "an unknown job",
                json!({"name": "jobs/none"}),
                NOT_FOUND,
                &[],
            ),
            refused(
                method,
                "a stale etag",
                json!({"name": name, "etag": "0"}),
                STALE,
                &[],
            ),
            refused(
                method,
                "a taken request id",
                json!({"name": name, "request_id": "taken"}),
                REUSED,
                &["request_id"],
            ),
        ]);
        rows.extend(spoiled(method, &good, "/name", &bad_names("jobs"), "name"));
        rows.extend(spoiled(
            method,
            &good,
            "/request_id",
            &bad_request_ids(),
            "request_id",
        ));
    }
    rows
}
