//! The rows, and what the store holds while they are tried.

use lamella_tests::api::Api;
use lamella_tests::shop;
use serde_json::{Value, json};
use tonic::Code;

/// One bad request and the refusal that it must get.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    pub(crate) method: &'static str,
    pub(crate) what: String,
    pub(crate) request: Value,
    pub(crate) code: Code,
    pub(crate) reason: &'static str,
    /// The fields at fault, or the subjects of unmet conditions; all of them.
    pub(crate) fields: Vec<String>,
}

/// What the store holds while the table is tried.
#[derive(Debug)]
pub(crate) struct Stock {
    /// A job in work, on [`vehicle`](Self::vehicle).
    pub(crate) job: String,
    /// A deleted job.
    pub(crate) deleted_job: String,
    /// A cancelled job.
    pub(crate) cancelled_job: String,
    /// A job of which nothing but the name is known.
    pub(crate) bare_job: String,
    /// The vehicle of [`job`](Self::job).
    pub(crate) vehicle: String,
    /// A deleted vehicle.
    pub(crate) deleted_vehicle: String,
}

impl Stock {
    /// Puts it there.
    pub(crate) async fn lay_in(api: &Api) -> Self {
        let job = shop::job_at(api, "IN_WORK").await;
        let vehicle = api.ok("JobService/GetJob", json!({"name": job})).await["vehicle"].clone();
        let vehicle = vehicle.as_str().unwrap().to_owned();
        let bare_job = shop::new_job(api, "bare").await;
        let deleted_job = shop::new_job(api, "deleted").await;
        api.ok("JobService/DeleteJob", json!({"name": deleted_job}))
            .await;
        let cancelled_job = shop::new_job(api, "cancelled").await;
        shop::advance(api, &cancelled_job, "CANCELLED").await;
        let deleted_vehicle = shop::new_vehicle(api).await;
        api.ok(
            "VehicleService/DeleteVehicle",
            json!({"name": deleted_vehicle}),
        )
        .await;
        let first =
            json!({"job": {"display_name": "taken"}, "job_id": "taken", "request_id": "taken"});
        api.ok("JobService/CreateJob", first).await;
        let first = json!({"vehicle": {"display_name": "taken"}, "vehicle_id": "taken"});
        api.ok("VehicleService/CreateVehicle", first).await;
        Self {
            job,
            deleted_job,
            cancelled_job,
            bare_job,
            vehicle,
            deleted_vehicle,
        }
    }
}

/// Input out of its stated range: every field at fault is named.
pub(crate) fn invalid(
    method: &'static str,
    what: impl Into<String>,
    request: Value,
    fields: &[&str],
) -> Row {
    refused(
        method,
        what,
        request,
        (Code::InvalidArgument, "INPUT_INVALID"),
        fields,
    )
}

/// Any other refusal.
pub(crate) fn refused(
    method: &'static str,
    what: impl Into<String>,
    request: Value,
    (code, reason): (Code, &'static str),
    fields: &[&str],
) -> Row {
    let fields = fields.iter().map(|field| (*field).to_owned()).collect();
    Row {
        method,
        what: what.into(),
        request,
        code,
        reason,
        fields,
    }
}

/// A resource that is not there.
pub(crate) const NOT_FOUND: (Code, &str) = (Code::NotFound, "RESOURCE_NOT_FOUND");
/// An etag that is not the resource's.
pub(crate) const STALE: (Code, &str) = (Code::Aborted, "ETAG_STALE");
/// A change to something deleted.
pub(crate) const DELETED: (Code, &str) = (Code::FailedPrecondition, "RESOURCE_DELETED");
/// An id that exists.
pub(crate) const EXISTS: (Code, &str) = (Code::AlreadyExists, "RESOURCE_EXISTS");
/// A request_id used for something else.
pub(crate) const REUSED: (Code, &str) = (Code::AlreadyExists, "REQUEST_ID_REUSED");
/// A page token that no list gave.
pub(crate) const PAGE_TOKEN: (Code, &str) = (Code::InvalidArgument, "PAGE_TOKEN_UNKNOWN");

/// Numbers that no positive quantity can be.
pub(crate) fn no_quantity() -> Vec<Value> {
    vec![
        json!("NaN"),
        json!("Infinity"),
        json!("-Infinity"),
        json!(-1),
        json!(1e300),
    ]
}

/// Numbers that no quantity above zero can be.
pub(crate) fn nothing_or_less() -> Vec<Value> {
    let mut all = no_quantity();
    all.push(json!(0));
    all
}

/// Numbers that no temperature can be; -300 C is below absolute zero.
pub(crate) fn no_temperature() -> Vec<Value> {
    vec![
        json!("NaN"),
        json!("Infinity"),
        json!("-Infinity"),
        json!(-300),
        json!(1e300),
    ]
}

/// One row for each bad value at `pointer` of a request that is good otherwise.
pub(crate) fn spoiled(
    method: &'static str,
    good: &Value,
    pointer: &str,
    values: &[Value],
    field: &str,
) -> Vec<Row> {
    let row = |value: &Value| {
        let request = with(good, pointer, value.clone());
        let shown: String = value.to_string().chars().take(30).collect();
        invalid(method, format!("{shown} at {pointer}"), request, &[field])
    };
    values.iter().map(row).collect()
}

/// The request with a value put at `pointer`, whose parent exists.
pub(crate) fn with(good: &Value, pointer: &str, value: Value) -> Value {
    let mut request = good.clone();
    let (parent, key) = pointer.rsplit_once('/').unwrap();
    match request
        .pointer_mut(parent)
        .unwrap_or_else(|| panic!("{pointer} in {good}"))
    {
        Value::Array(items) => items[key.parse::<usize>().unwrap()] = value,
        Value::Object(fields) => {
            fields.insert(key.to_owned(), value);
        }
        other => panic!("{pointer} lies in {other}"),
    }
    request
}

/// The request without what is at `pointer`.
pub(crate) fn without(good: &Value, pointer: &str) -> Value {
    let mut request = good.clone();
    let (parent, key) = pointer.rsplit_once('/').unwrap();
    let parent = request
        .pointer_mut(parent)
        .and_then(Value::as_object_mut)
        .unwrap();
    assert!(parent.remove(key).is_some(), "{pointer} in {good}");
    request
}

/// Text one character longer than allowed.
pub(crate) fn longer_than(characters: usize) -> Value {
    // Two bytes each, so that characters are counted and not bytes.
    json!("é".repeat(characters + 1))
}

/// Bad text for a field of up to `characters`: too long, and with a control
/// character.
pub(crate) fn bad_text(characters: usize) -> Vec<Value> {
    vec![longer_than(characters), json!("a bell \u{7} rings")]
}

/// Bad text for a field that must not be empty.
pub(crate) fn bad_or_no_text(characters: usize) -> Vec<Value> {
    let mut all = bad_text(characters);
    all.extend([json!(""), json!(" \t ")]);
    all
}

/// Words that are no id.
pub(crate) fn bad_ids() -> Vec<Value> {
    let long = "a".repeat(64);
    ["-a", "a-", "Hood", "a b", "ä", "a/b", "../a", long.as_str()]
        .map(|id| json!(id))
        .to_vec()
}

/// Words that are no name in a collection.
pub(crate) fn bad_names(collection: &str) -> Vec<Value> {
    let other = if collection == "jobs" {
        "vehicles/a"
    } else {
        "jobs/a"
    };
    let of_collection = |id: &str| json!(format!("{collection}/{id}"));
    vec![
        json!("a"),
        json!(other),
        json!(format!("/{collection}/a")),
        of_collection(""),
        of_collection("Upper"),
        of_collection("a/records/1"),
        of_collection("a\u{0}"),
        of_collection(&"a".repeat(10_000)),
    ]
}

/// Bad request ids.
pub(crate) fn bad_request_ids() -> Vec<Value> {
    vec![
        json!("a".repeat(129)),
        json!("with space"),
        json!("ü"),
        json!("line\n"),
    ]
}

/// Page sizes out of range.
pub(crate) fn bad_page_sizes() -> Vec<Value> {
    vec![json!(-1), json!(1001), json!(i32::MAX), json!(i32::MIN)]
}

/// Instants out of range: before 1970, and the end of the calendar.
pub(crate) fn bad_times() -> Vec<Value> {
    vec![
        json!("1969-12-31T23:59:59Z"),
        json!("0001-01-01T00:00:00Z"),
        json!("9999-12-31T23:59:59Z"),
    ]
}

/// Numbers that no enum value has.
pub(crate) fn unknown_numbers() -> Vec<Value> {
    vec![json!(99), json!(-1), json!(i32::MAX)]
}

/// `services/0/code` as `services[0].code`.
pub(crate) fn path(pointer: &str) -> String {
    pointer.split('/').fold(String::new(), |path, key| {
        match (key.parse::<usize>(), path.is_empty()) {
            (Ok(index), _) => format!("{path}[{index}]"),
            (Err(_), true) => key.to_owned(),
            (Err(_), false) => format!("{path}.{key}"),
        }
    })
}
