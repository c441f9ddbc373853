//! JSON Lines: one object to a line, each with every column in order. Decimals
//! are strings, so that no reader makes floats of them; what is empty is null.

use std::io::Write;

use crate::error::ExportError;
use crate::table::{Cell, Table};

pub(crate) struct JsonLinesWriter<W> {
    sink: W,
    line: Vec<u8>,
}

impl<W: Write> JsonLinesWriter<W> {
    pub(crate) fn new(sink: W) -> Self {
        let line = Vec::new();
        Self { sink, line }
    }

    pub(crate) fn write(&mut self, table: &Table, row: &[Cell]) -> Result<(), ExportError> {
        self.line.clear();
        for (column, cell) in table.columns.iter().zip(row) {
            let before = if self.line.is_empty() { b"{\"" } else { b",\"" };
            // A column's name has no character that would need escaping.
            self.line.extend_from_slice(before);
            self.line.extend_from_slice(column.name.as_bytes());
            self.line.extend_from_slice(b"\":");
            match cell {
                Cell::Empty => self.line.extend_from_slice(b"null"),
                Cell::Text(text) => self.string(text)?,
                Cell::Integer(number) => {
                    self.line.extend_from_slice(number.to_string().as_bytes());
                }
                Cell::Decimal(decimal) => self.string(&decimal.to_string())?,
                Cell::Timestamp(instant) => self.string(&table.instant(*instant))?,
                Cell::Date(date) => self.string(&date.to_string())?,
            }
        }
        self.line.extend_from_slice(b"}\n");
        Ok(self.sink.write_all(&self.line)?)
    }

    pub(crate) fn finish(mut self) -> Result<W, ExportError> {
        self.sink.flush()?;
        Ok(self.sink)
    }

    fn string(&mut self, text: &str) -> Result<(), ExportError> {
        serde_json::to_writer(&mut self.line, text).map_err(|error| ExportError::Io(error.into()))
    }
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;
    use proptest::prelude::*;
    use rust_decimal::Decimal;

    use super::*;
    use crate::table::{date, decimal, integer, text};

    const TABLE: Table = Table {
        name: "t",
        columns: &[
            text("note"),
            decimal("amount", 2),
            integer("minor"),
            date("day"),
        ],
        zone: TimeZone::UTC,
    };

    fn written(row: &[Cell]) -> String {
        let mut writer = JsonLinesWriter::new(Vec::new());
        writer.write(&TABLE, row).unwrap();
        String::from_utf8(writer.finish().unwrap()).unwrap()
    }

    #[test]
    fn decimals_are_strings_and_empty_is_null() {
        let row = [
            Cell::text("=1\n"),
            Cell::Decimal(Decimal::new(10, 2)),
            Cell::Integer(-3),
            Cell::Date(jiff::civil::date(2026, 3, 29)),
        ];
        assert_eq!(
            written(&row),
            "{\"note\":\"=1\\n\",\"amount\":\"0.10\",\"minor\":-3,\"day\":\"2026-03-29\"}\n"
        );
        assert_eq!(
            written(&[const { Cell::Empty }; 4]),
            "{\"note\":null,\"amount\":null,\"minor\":null,\"day\":null}\n"
        );
    }

    proptest! {
        #[test]
        fn any_text_is_one_line_that_reads_back(note in "\\PC{1,20}|[\u{0}-\u{1f}\"\\\\]{1,8}") {
            let line = written(&[Cell::text(note.clone()), Cell::Empty, Cell::Empty, Cell::Empty]);
            prop_assert_eq!(line.matches('\n').count(), 1);
            let read: serde_json::Value = serde_json::from_str(&line).unwrap();
            prop_assert_eq!(read["note"].as_str(), Some(note.as_str()));
        }
    }
}
