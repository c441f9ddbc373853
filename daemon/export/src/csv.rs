//! CSV as RFC 4180 has it: a header, CR LF, quotes where needed, UTF-8 without
//! a byte order mark.
//!
//! A spreadsheet runs a text that looks like a formula. Text that begins with
//! `=`, `+`, `-`, `@`, a tab, a carriage return or a line feed, or with the
//! full-width form of one of the first four, gets an apostrophe put before it
//! (the OWASP page "CSV Injection", from memory). Numbers, instants and days are
//! never touched, so a negative number stays a number.

use std::borrow::Cow;
use std::io::Write;

use csv::{Terminator, Writer, WriterBuilder};

use crate::error::ExportError;
use crate::table::{Cell, Table};

pub(crate) struct CsvWriter<W: Write> {
    writer: Writer<W>,
}

impl<W: Write> CsvWriter<W> {
    pub(crate) fn try_new(table: &Table, sink: W) -> Result<Self, ExportError> {
        let mut writer = WriterBuilder::new()
            .terminator(Terminator::CRLF)
            .from_writer(sink);
        let header = table.columns.iter().map(|column| column.name);
        writer.write_record(header).map_err(failed)?;
        Ok(Self { writer })
    }

    pub(crate) fn write(&mut self, table: &Table, row: &[Cell]) -> Result<(), ExportError> {
        for cell in row {
            let field = match cell {
                Cell::Empty => Cow::Borrowed(""),
                Cell::Text(text) => neutral(text),
                Cell::Integer(number) => number.to_string().into(),
                Cell::Decimal(decimal) => decimal.to_string().into(),
                Cell::Timestamp(instant) => table.instant(*instant).into(),
                Cell::Date(date) => date.to_string().into(),
            };
            self.writer.write_field(field.as_bytes()).map_err(failed)?;
        }
        self.writer.write_record(None::<&[u8]>).map_err(failed)
    }

    pub(crate) fn finish(self) -> Result<W, ExportError> {
        self.writer
            .into_inner()
            .map_err(|error| ExportError::Io(error.into_error()))
    }
}

/// The text, so that no spreadsheet takes it for a formula.
fn neutral(text: &str) -> Cow<'_, str> {
    const STARTS: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];
    if text.starts_with(STARTS) {
        format!("'{text}").into()
    } else {
        text.into()
    }
}

/// Of what the `csv` crate can say, only I/O is possible: rows are as long as
/// the header, and fields are bytes.
fn failed(error: csv::Error) -> ExportError {
    ExportError::Io(error.into())
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;
    use proptest::prelude::*;
    use rust_decimal::Decimal;

    use super::*;
    use crate::table::{decimal, text};

    const TABLE: Table = Table {
        name: "t",
        columns: &[text("note"), decimal("amount", 2)],
        zone: TimeZone::UTC,
    };

    fn written(rows: &[[Cell; 2]]) -> String {
        let mut writer = CsvWriter::try_new(&TABLE, Vec::new()).unwrap();
        for row in rows {
            writer.write(&TABLE, row).unwrap();
        }
        String::from_utf8(writer.finish().unwrap()).unwrap()
    }

    #[test]
    fn texts_are_neutral_and_numbers_stay_numbers() {
        let amount = || Cell::Decimal(Decimal::new(-150, 2));
        let rows = [
            "=1+1",
            "-1",
            "'-1",
            "a=1",
            "two\r\nlines",
            "say \"so\", twice",
        ]
        .map(|note| [Cell::text(note), amount()]);
        // RFC 4180, section 2: CR LF, quotes around quotes, commas and line
        // breaks, quotes doubled.
        assert_eq!(
            written(&rows),
            "note,amount\r\n'=1+1,-1.50\r\n'-1,-1.50\r\n'-1,-1.50\r\na=1,-1.50\r\n\
             \"two\r\nlines\",-1.50\r\n\"say \"\"so\"\", twice\",-1.50\r\n"
        );
        assert_eq!(
            written(&[[Cell::Empty, Cell::Empty]]),
            "note,amount\r\n,\r\n"
        );
    }

    proptest! {
        #[test]
        fn any_text_comes_back_and_never_as_a_formula(note in "[=+@\\-\t\r\n\"', a-cé＝]{1,12}") {
            let file = written(&[[Cell::text(note.clone()), Cell::Empty]]);
            let mut reader = csv::ReaderBuilder::new().from_reader(file.as_bytes());
            let record = reader.records().next().unwrap().unwrap();
            let back = record.get(0).unwrap();
            prop_assert!(!back.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝']));
            prop_assert!(back == note || back.strip_prefix('\'') == Some(note.as_str()));
        }
    }
}
