//! The host against guests that behave, and against guests that do all they can.
#![expect(
    clippy::unwrap_used,
    reason = "helpers of tests; a test that cannot set up has failed"
)]

mod cache;
mod guest;
mod guests;
mod limits;
mod load;
mod money;
mod money_faults;
mod products;
mod quotes;
mod support;
mod wasi;
