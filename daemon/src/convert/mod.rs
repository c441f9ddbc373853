//! Where the API's messages and the domain meet, and nowhere else. From the
//! API: every problem goes into a [`Checks`](lamella_calc::violation::Checks)
//! under its path, so that all are reported at once. To the API: plain.

pub(crate) mod booking;
pub(crate) mod calc;
pub(crate) mod caution;
pub(crate) mod condition;
pub(crate) mod event;
pub(crate) mod job;
pub(crate) mod names;
pub(crate) mod outbox;
pub(crate) mod paint_ledger;
pub(crate) mod plugin;
pub(crate) mod product;
pub(crate) mod quote;
pub(crate) mod record;
pub(crate) mod shop_fill;
pub(crate) mod shop_product;
#[cfg(test)]
mod tests;
pub(crate) mod time;
pub(crate) mod vehicle;

use lamella_calc::violation::Checks;

/// A number that must be given. Missing: noted, and NaN stands in, which
/// nothing later reports a second time.
pub(crate) fn required(value: Option<f64>, field: &str, checks: &mut Checks) -> f64 {
    checks.require(value.is_some(), field, || "is required".to_owned());
    value.unwrap_or(f64::NAN)
}

/// A sequence number, or a number of bytes or events, as the API writes it.
pub(crate) fn sequence(value: u64) -> i64 {
    i64::try_from(value).unwrap_or(i64::MAX)
}

/// How many there are, as the API writes it.
pub(crate) fn count(value: usize) -> i32 {
    i32::try_from(value).unwrap_or(i32::MAX)
}
