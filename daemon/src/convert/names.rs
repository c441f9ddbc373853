//! Resource names: `jobs/{job}`, `vehicles/{vehicle}`,
//! `jobs/{job}/records/{record}`, `jobs/{job}/quotes/{quote}`, `plugins/{plugin}`.

use lamella_calc::violation::Checks;
use lamella_jobs::check;

use crate::calls;

pub(crate) fn job(id: &str) -> String {
    format!("jobs/{id}")
}

pub(crate) fn vehicle(id: &str) -> String {
    format!("vehicles/{id}")
}

pub(crate) fn record(job_id: &str, record_id: &str) -> String {
    format!("jobs/{job_id}/records/{record_id}")
}

pub(crate) fn quote(job_id: &str, quote_id: &str) -> String {
    format!("jobs/{job_id}/quotes/{quote_id}")
}

pub(crate) fn booking(id: &str) -> String {
    format!("bookings/{id}")
}

pub(crate) fn photo(job_id: &str, photo: u64) -> String {
    format!("jobs/{job_id}/photos/{photo}")
}

pub(crate) fn plugin(id: &str) -> String {
    format!("plugins/{id}")
}

/// The id in a required name of `collection` ("jobs" or "vehicles"). What is
/// not such a name is noted, and the answer is then of no use.
pub(crate) fn id(name: &str, collection: &str, field: &str, checks: &mut Checks) -> String {
    let id = name
        .strip_prefix(collection)
        .and_then(|rest| rest.strip_prefix('/'));
    checks.require(id.is_some_and(check::is_id), field, || {
        if name.is_empty() {
            format!("is required, as `{collection}/...`")
        } else {
            format!(
                "must be a name such as `{collection}/a-1`, got {}",
                check::quote(name)
            )
        }
    });
    let id = id.unwrap_or_default();
    if collection == "jobs" && check::is_id(id) {
        calls::about_job(id);
    }
    id.to_owned()
}

/// Job id and number in the required name of a photo. What is not such a name is
/// noted, and the answer is then of no use.
pub(crate) fn photo_id(name: &str, field: &str, checks: &mut Checks) -> (String, u64) {
    let parts = name
        .strip_prefix("jobs/")
        .and_then(|rest| rest.split_once("/photos/"));
    let known = parts.and_then(|(job, number)| {
        let digits = number.bytes().all(|byte| byte.is_ascii_digit());
        (check::is_id(job) && digits && !number.starts_with('0'))
            .then(|| Some((job.to_owned(), number.parse().ok()?)))
            .flatten()
    });
    checks.require(known.is_some(), field, || {
        if name.is_empty() {
            "is required, as `jobs/.../photos/...`".to_owned()
        } else {
            format!(
                "must be a name such as `jobs/a-1/photos/7`, got {}",
                check::quote(name)
            )
        }
    });
    let known = known.unwrap_or_default();
    if !known.0.is_empty() {
        calls::about_job(&known.0);
    }
    known
}

/// As [`id`], where empty text means that none is given.
pub(crate) fn optional_id(
    name: &str,
    collection: &str,
    field: &str,
    checks: &mut Checks,
) -> Option<String> {
    (!name.is_empty()).then(|| id(name, collection, field, checks))
}

/// The id that a caller chose for a new resource, if it chose one.
pub(crate) fn chosen_id(id: &str, field: &str, checks: &mut Checks) -> Option<String> {
    if id.is_empty() {
        return None;
    }
    check::id(checks, field, id);
    Some(id.to_owned())
}
