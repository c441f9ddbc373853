//! Tables of a shop's days as files, and books that balance. Pure: no clock, no
//! store, no network; the same input gives the same bytes.
//!
//! - [`table`]: columns, cells, and what makes a row fit
//! - [`mod@write`]: a table into a file of a [`Format`](crate::write::Format)
//! - [`days`]: shop-local days as a span of instants
//! - [`books`]: a sale in double entry, and sums that must balance
//! - [`error`]: what can be wrong
//!
//! The encoders are `csv`, `json_lines` and `parquet`.

pub mod books;
mod csv;
pub mod days;
pub mod error;
mod json_lines;
mod parquet;
pub mod table;
pub mod write;
