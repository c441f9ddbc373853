//! What an export holds: from happenings to the rows of each dataset.
//!
//! - `dataset`: the datasets, their columns, and which file maps to which
//! - `work`: jobs, stage changes, labour, mixes, film, coatings
//! - `sales`: quotes, takings and the journal
//! - `cells`: API values as cells
//! - `error`: why an export was not made

mod cells;
mod dataset;
mod error;
mod sales;
#[cfg(test)]
mod tests;
mod work;

pub(crate) use self::dataset::{ALL, Dataset, write};
pub(crate) use self::error::ExportFailed;
