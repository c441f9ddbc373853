//! CalculatorService. It stores nothing, and still answers nothing to nonsense.

mod advise;
mod bay;
mod blend;
mod dilute;
mod film;
mod heat;
mod paint;

use serde_json::Value;
use tonic::Code;

use super::table::{Row, path, refused, spoiled};

pub(crate) fn rows() -> Vec<Row> {
    let all = [
        dilute::rows(),
        film::rows(),
        bay::rows(),
        advise::rows(),
        blend::rows(),
        heat::rows(),
        paint::rows(),
    ];
    all.into_iter().flatten().collect()
}

fn spoil_each(method: &'static str, good: &Value, all: &[(&str, Vec<Value>)]) -> Vec<Row> {
    let each = all.iter().flat_map(|(pointer, values)| {
        spoiled(method, good, &format!("/{pointer}"), values, &path(pointer))
    });
    each.collect()
}

fn infeasible(
    method: &'static str,
    what: &str,
    request: Value,
    reason: &'static str,
    field: &str,
) -> Row {
    refused(
        method,
        what,
        request,
        (Code::FailedPrecondition, reason),
        &[field],
    )
}
