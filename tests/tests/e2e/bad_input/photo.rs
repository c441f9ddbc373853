//! PhotoService. An upload is tried by its first message; what may follow is tried
//! in `photos`.

use serde_json::{Value, json};
use tonic::Code;

use super::table::{
    DELETED, NOT_FOUND, PAGE_TOKEN, REUSED, Row, Stock, bad_ids, bad_names, bad_page_sizes,
    bad_request_ids, bad_text, bad_times, invalid, refused, spoiled, unknown_numbers, with,
};

const UPLOAD: &str = "PhotoService/UploadPhoto";
const DOWNLOAD: &str = "PhotoService/DownloadPhoto";
const GET: &str = "PhotoService/GetPhoto";
const LIST: &str = "PhotoService/ListPhotos";
const DELETE: &str = "PhotoService/DeletePhoto";

/// SHA-256 of no bytes at all: FIPS 180-4, empty message.
const NOTHING: &str = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";

pub(crate) fn rows(stock: &Stock) -> Vec<Row> {
    let mut rows = upload(stock);
    for method in [DOWNLOAD, GET, DELETE] {
        rows.extend(named(method, stock));
    }
    let delete = json!({"name": format!("{}/photos/1", stock.job)});
    rows.extend(spoiled(
        DELETE,
        &delete,
        "/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    rows.push(refused(
        DELETE,
        "a reused request_id",
        with(&delete, "/request_id", json!("taken")),
        REUSED,
        &["request_id"],
    ));
    let list = json!({"parent": stock.job});
    rows.extend(spoiled(
        LIST,
        &list,
        "/parent",
        &bad_names("jobs"),
        "parent",
    ));
    rows.extend(spoiled(
        LIST,
        &list,
        "/page_size",
        &bad_page_sizes(),
        "page_size",
    ));
    rows.extend([
        invalid(LIST, "nothing", json!({}), &["parent"]),
        refused(
            LIST,
            "an unknown job",
            json!({"parent": "jobs/none"}),
            NOT_FOUND,
            &[],
        ),
        refused(
            LIST,
            "a strange page token",
            with(&list, "/page_token", json!("xyz")),
            PAGE_TOKEN,
            &["page_token"],
        ),
    ]);
    rows
}

fn upload(stock: &Stock) -> Vec<Row> {
    let good = json!({"header": {"parent": stock.job, "sha256": NOTHING, "moment": "PHOTO_MOMENT_BEFORE"}});
    let hashes: Vec<Value> = [
        "",
        "abc",
        &NOTHING.to_uppercase(),
        &NOTHING.replace('e', "g"),
        &format!("{NOTHING}0"),
    ]
    .iter()
    .map(|hash| json!(hash))
    .collect();
    let mut moments = unknown_numbers();
    moments.push(json!(0));
    let mut ids = bad_ids();
    ids.push(json!("wing"));
    let mut times = bad_times();
    times.push(json!("2999-01-01T00:00:00Z"));
    let mut rows = Vec::new();
    for (field, values) in [
        ("parent", bad_names("jobs")),
        ("sha256", hashes),
        ("moment", moments),
        ("panel", ids),
        ("taken_time", times),
        ("caption", bad_text(1000)),
    ] {
        rows.extend(spoiled(
            UPLOAD,
            &good,
            &format!("/header/{field}"),
            &values,
            &format!("header.{field}"),
        ));
    }
    rows.extend(spoiled(
        UPLOAD,
        &good,
        "/header/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    let of = |job: &str| with(&good, "/header/parent", json!(job));
    rows.extend([
        invalid(UPLOAD, "nothing", json!({}), &["header"]),
        invalid(
            UPLOAD,
            "a piece first",
            json!({"chunk": "AAAA"}),
            &["header"],
        ),
        invalid(
            UPLOAD,
            "an empty header",
            json!({"header": {}}),
            &["header.parent", "header.sha256", "header.moment"],
        ),
        invalid(
            UPLOAD,
            "a panel of no vehicle",
            with(&of(&stock.bare_job), "/header/panel", json!("hood")),
            &["header.panel"],
        ),
        refused(UPLOAD, "an unknown job", of("jobs/none"), NOT_FOUND, &[]),
        refused(
            UPLOAD,
            "a deleted job",
            of(&stock.deleted_job),
            DELETED,
            &[],
        ),
        refused(
            UPLOAD,
            "a file of no bytes",
            good.clone(),
            (Code::InvalidArgument, "PHOTO_TYPE_UNKNOWN"),
            &["chunk"],
        ),
    ]);
    rows
}

fn named(method: &'static str, stock: &Stock) -> Vec<Row> {
    let good = json!({"name": format!("{}/photos/1", stock.job)});
    let names: Vec<Value> = [
        "",
        "jobs/a",
        "jobs/a/photos/",
        "jobs/a/photos/0",
        "jobs/a/photos/01",
        "jobs/a/photos/x",
        "jobs/A/photos/1",
        "jobs/a/records/1",
        "vehicles/a/photos/1",
        "jobs/a/photos/99999999999999999999",
        "jobs/a/photos/1/2",
    ]
    .iter()
    .map(|name| json!(name))
    .collect();
    let mut rows = spoiled(method, &good, "/name", &names, "name");
    rows.push(refused(
        method,
        "an unknown photo",
        good.clone(),
        NOT_FOUND,
        &[],
    ));
    rows.push(refused(
        method,
        "a photo of an unknown job",
        with(&good, "/name", json!("jobs/none/photos/1")),
        NOT_FOUND,
        &[],
    ));
    rows
}
