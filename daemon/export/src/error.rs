//! What can be wrong with a table, with days, or with books.

use jiff::civil::Date;
use rust_decimal::Decimal;

/// What can be wrong.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// A row does not have as many cells as the table has columns.
    #[error("a row has {cells} cells, the table has {columns} columns")]
    RowLength {
        /// Cells in the row.
        cells: usize,
        /// Columns in the table.
        columns: usize,
    },
    /// A cell is of another kind than its column.
    #[error("column `{column}` holds {expected}, a row has {found} there")]
    CellKind {
        /// The column.
        column: &'static str,
        /// Its kind.
        expected: &'static str,
        /// The cell's kind.
        found: &'static str,
    },
    /// A decimal does not fit its column: too many decimals, or too large.
    #[error("column `{column}` has {scale} decimals and 18 digits, {value} does not fit")]
    DecimalRange {
        /// The column.
        column: &'static str,
        /// Its decimals.
        scale: u8,
        /// The value.
        value: Decimal,
    },
    /// The last day lies before the first.
    #[error("the last day, {to}, lies before the first, {from}")]
    DaysReversed {
        /// First day.
        from: Date,
        /// Last day.
        to: Date,
    },
    /// More days than an export may hold.
    #[error("{days} days are more than {most}")]
    TooManyDays {
        /// Days asked for.
        days: i64,
        /// Most allowed.
        most: i64,
    },
    /// A day too close to an end of the calendar.
    #[error("the day {day} lies outside 1970-01-02 to 9998-12-30")]
    DayRange {
        /// The day.
        day: Date,
    },
    /// Debits and credits differ.
    #[error("{what} does not balance: debit {debit} and credit {credit} {currency} minor units")]
    Unbalanced {
        /// Which entry or span.
        what: String,
        /// ISO 4217 code.
        currency: String,
        /// Sum of the debits, minor units.
        debit: Decimal,
        /// Sum of the credits, minor units.
        credit: Decimal,
    },
    /// One entry mixes currencies.
    #[error("{what} mixes the currencies {first} and {second}")]
    Currencies {
        /// Which entry.
        what: String,
        /// ISO 4217 code.
        first: String,
        /// Another one.
        second: String,
    },
    /// The file cannot be written on.
    #[error("cannot write the file")]
    Io(#[from] std::io::Error),
    /// The Parquet encoder failed.
    #[error("cannot encode Parquet")]
    Parquet(#[from] parquet::errors::ParquetError),
}
