//! Columns, cells, and what makes a row fit its table.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::fmt::temporal::DateTimePrinter;
use jiff::tz::TimeZone;
use rust_decimal::Decimal;

use crate::error::ExportError;

/// A column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name: lower-case words joined by underscores, with the unit at the end.
    pub name: &'static str,
    /// What its cells hold.
    pub kind: Kind,
}

/// What the cells of a column hold. Any of them may be empty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text, never empty text.
    Text,
    /// A whole number of 64 bits; also money in minor units.
    Integer,
    /// A decimal of up to 18 digits, `scale` of them after the point.
    Decimal {
        /// Digits after the point, 0 to 9.
        scale: u8,
    },
    /// An instant, to the microsecond; written in the table's zone.
    Timestamp,
    /// A day of the calendar.
    Date,
}

/// What stands in one place of a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// Text.
    Text(String),
    /// A whole number.
    Integer(i64),
    /// A decimal.
    Decimal(Decimal),
    /// An instant.
    Timestamp(Timestamp),
    /// A day.
    Date(Date),
}

/// A table: its name, its columns, and the zone that its instants are written in.
#[derive(Debug, Clone)]
pub struct Table {
    /// Its name, for example "labour".
    pub name: &'static str,
    /// Its columns, at least one.
    pub columns: &'static [Column],
    /// The zone.
    pub zone: TimeZone,
}

/// A column of text.
#[must_use]
pub const fn text(name: &'static str) -> Column {
    let kind = Kind::Text;
    Column { name, kind }
}

/// A column of whole numbers.
#[must_use]
pub const fn integer(name: &'static str) -> Column {
    let kind = Kind::Integer;
    Column { name, kind }
}

/// A column of decimals with up to `scale` digits after the point.
#[must_use]
pub const fn decimal(name: &'static str, scale: u8) -> Column {
    let kind = Kind::Decimal { scale };
    Column { name, kind }
}

/// A column of instants.
#[must_use]
pub const fn timestamp(name: &'static str) -> Column {
    let kind = Kind::Timestamp;
    Column { name, kind }
}

/// A column of days.
#[must_use]
pub const fn date(name: &'static str) -> Column {
    let kind = Kind::Date;
    Column { name, kind }
}

impl Cell {
    /// Text, or nothing where it is empty.
    #[must_use]
    pub fn text(text: impl Into<String>) -> Self {
        let text = text.into();
        if text.is_empty() {
            Self::Empty
        } else {
            Self::Text(text)
        }
    }

    /// A measured number, rounded to `scale` decimals, halves away from zero.
    /// Nothing where it is none, or not a number that a decimal can hold.
    #[must_use]
    pub fn measured(value: Option<f64>, scale: u8) -> Self {
        let decimal = value.and_then(|value| Decimal::try_from(value).ok());
        decimal.map_or(Self::Empty, |decimal| Self::rounded(decimal, scale))
    }

    /// A decimal rounded to `scale` decimals, halves away from zero, and written
    /// with as many.
    #[must_use]
    pub fn rounded(value: Decimal, scale: u8) -> Self {
        let strategy = rust_decimal::RoundingStrategy::MidpointAwayFromZero;
        let mut rounded = value.round_dp_with_strategy(u32::from(scale), strategy);
        rounded.rescale(u32::from(scale));
        Self::Decimal(rounded)
    }

    /// Money as two cells: its minor units, and the amount with the currency's
    /// own number of decimals. The second is empty where that number is not known
    /// or above 4.
    #[must_use]
    pub fn money(minor_units: i64, decimals: Option<u8>) -> [Self; 2] {
        let amount = decimals
            .filter(|decimals| *decimals <= MONEY_SCALE)
            .map(|decimals| Decimal::new(minor_units, u32::from(decimals)));
        let amount = amount.map_or(Self::Empty, Self::Decimal);
        [Self::Integer(minor_units), amount]
    }

    fn kind(&self) -> &'static str {
        match self {
            Self::Empty => "nothing",
            Self::Text(_) => TEXT,
            Self::Integer(_) => INTEGER,
            Self::Decimal(_) => DECIMAL,
            Self::Timestamp(_) => TIMESTAMP,
            Self::Date(_) => DATE,
        }
    }
}

/// Decimals of a column of money: as many as any currency of ISO 4217 has.
pub const MONEY_SCALE: u8 = 4;

/// Digits of a decimal: what 64 bits hold.
pub(crate) const DECIMAL_DIGITS: u32 = 18;

const TEXT: &str = "text";
const INTEGER: &str = "a whole number";
const DECIMAL: &str = "a decimal";
const TIMESTAMP: &str = "an instant";
const DATE: &str = "a day";

impl Table {
    /// Whether a row fits: as many cells as columns, each of its column's kind.
    ///
    /// # Errors
    /// [`ExportError::RowLength`], [`ExportError::CellKind`],
    /// [`ExportError::DecimalRange`].
    pub fn check(&self, row: &[Cell]) -> Result<(), ExportError> {
        if row.len() != self.columns.len() {
            return Err(ExportError::RowLength {
                cells: row.len(),
                columns: self.columns.len(),
            });
        }
        for (column, cell) in self.columns.iter().zip(row) {
            column.check(cell)?;
        }
        Ok(())
    }

    /// An instant in the table's zone, with its offset: RFC 3339.
    pub(crate) fn instant(&self, instant: Timestamp) -> String {
        let offset = self.zone.to_offset(instant);
        DateTimePrinter::new().timestamp_with_offset_to_string(&micros(instant), offset)
    }
}

impl Column {
    fn check(&self, cell: &Cell) -> Result<(), ExportError> {
        let expected = match (self.kind, cell) {
            (_, Cell::Empty) => return Ok(()),
            (Kind::Decimal { scale }, Cell::Decimal(value)) => {
                return match unscaled(*value, scale) {
                    Some(_) => Ok(()),
                    None => Err(ExportError::DecimalRange {
                        column: self.name,
                        scale,
                        value: *value,
                    }),
                };
            }
            (Kind::Text, _) => TEXT,
            (Kind::Integer, _) => INTEGER,
            (Kind::Decimal { .. }, _) => DECIMAL,
            (Kind::Timestamp, _) => TIMESTAMP,
            (Kind::Date, _) => DATE,
        };
        if cell.kind() == expected {
            return Ok(());
        }
        Err(ExportError::CellKind {
            column: self.name,
            expected,
            found: cell.kind(),
        })
    }
}

/// The decimal in units of `scale` decimals; none where it has more decimals
/// than that, or more digits than 18.
pub(crate) fn unscaled(value: Decimal, scale: u8) -> Option<i64> {
    let value = value.normalize();
    let zeros = u32::from(scale).checked_sub(value.scale())?;
    let units = value.mantissa().checked_mul(10_i128.checked_pow(zeros)?)?;
    let units = i64::try_from(units).ok()?;
    (units.unsigned_abs() < 10_u64.pow(DECIMAL_DIGITS)).then_some(units)
}

/// The instant without what is below a microsecond: the finest step that every
/// format holds.
fn micros(instant: Timestamp) -> Timestamp {
    Timestamp::from_microsecond(instant.as_microsecond()).unwrap_or(instant)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_row_that_does_not_fit_is_refused_by_column() {
        let table = Table {
            name: "t",
            columns: const { &[text("note"), decimal("hours", 3)] },
            zone: TimeZone::UTC,
        };
        let said = |row: &[Cell]| table.check(row).unwrap_err().to_string();
        assert!(table.check(&[Cell::Empty, Cell::Empty]).is_ok());
        assert_eq!(
            said(&[Cell::Empty]),
            "a row has 1 cells, the table has 2 columns"
        );
        assert_eq!(
            said(&[Cell::Integer(1), Cell::Empty]),
            "column `note` holds text, a row has a whole number there"
        );
        assert_eq!(
            said(&[Cell::Empty, Cell::Decimal(Decimal::new(1, 4))]),
            "column `hours` has 3 decimals and 18 digits, 0.0001 does not fit"
        );
    }

    #[test]
    fn money_shows_the_decimals_of_its_currency() {
        let shown = |minor, decimals| match &Cell::money(minor, decimals)[1] {
            Cell::Decimal(amount) => amount.to_string(),
            other => format!("{other:?}"),
        };
        assert_eq!(shown(89_000, Some(2)), "890.00");
        assert_eq!(shown(-5, Some(2)), "-0.05");
        assert_eq!(shown(1_500, Some(0)), "1500");
        assert_eq!(shown(1, None), "Empty");
    }

    #[test]
    fn measured_numbers_are_rounded_half_away_from_zero() {
        let shown = |value: f64| match Cell::measured(Some(value), 3) {
            Cell::Decimal(value) => value.to_string(),
            other => format!("{other:?}"),
        };
        // 2.0005 has no exact double; what was typed is what counts.
        assert_eq!(shown(2.0005), "2.001");
        assert_eq!(shown(-0.0005), "-0.001");
        assert_eq!(shown(100.0), "100.000");
        assert_eq!(shown(f64::NAN), "Empty");
        assert_eq!(shown(f64::INFINITY), "Empty");
    }

    #[test]
    fn instants_carry_the_offset_of_their_moment() {
        // Central Europe went from +01:00 to +02:00 on 2026-03-29 at 01:00 UTC
        // (IANA time zone database).
        let table = Table {
            name: "t",
            columns: const { &[timestamp("time")] },
            zone: TimeZone::get("Europe/Vienna").unwrap(),
        };
        let shown = |text: &str| table.instant(text.parse().unwrap());
        assert_eq!(shown("2026-03-29T00:59:59Z"), "2026-03-29T01:59:59+01:00");
        assert_eq!(
            shown("2026-03-29T01:00:00.1234567Z"),
            "2026-03-29T03:00:00.123456+02:00"
        );
    }

    proptest! {
        #[test]
        fn unscaled_is_exact_or_nothing(units: i64, scale in 0_u8..9, column in 0_u8..9) {
            let value = Decimal::new(units, u32::from(scale));
            if let Some(found) = unscaled(value, column) {
                prop_assert_eq!(Decimal::new(found, u32::from(column)), value);
            } else {
                let wide = value.normalize();
                prop_assert!(
                    wide.scale() > u32::from(column)
                        || value.abs() >= Decimal::from(10_u64.pow(18 - u32::from(column)))
                );
            }
        }
    }
}
