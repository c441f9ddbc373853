//! JobService, but for what records hold.

mod moves;
mod reads;
mod writes;

use super::table::{Row, Stock};

pub(crate) fn rows(stock: &Stock) -> Vec<Row> {
    [writes::rows(stock), moves::rows(stock), reads::rows(stock)]
        .into_iter()
        .flatten()
        .collect()
}
