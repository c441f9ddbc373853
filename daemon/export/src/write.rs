//! A table into a file.

use std::io::Write;

use crate::csv::CsvWriter;
use crate::error::ExportError;
use crate::json_lines::JsonLinesWriter;
use crate::parquet::ParquetWriter;
use crate::table::{Cell, Table};

/// How a file is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// RFC 4180, formulas neutralised.
    Csv,
    /// One JSON object to a line.
    JsonLines,
    /// Apache Parquet.
    Parquet,
}

/// Writes one table into one file. Bounded: it holds at most a few thousand rows.
pub struct TableWriter<W: Write + Send> {
    table: Table,
    rows: u64,
    encoder: Encoder<W>,
}

enum Encoder<W: Write + Send> {
    Csv(Box<CsvWriter<W>>),
    JsonLines(JsonLinesWriter<W>),
    Parquet(Box<ParquetWriter<W>>),
}

impl Format {
    /// The end of a file's name.
    #[must_use]
    pub fn extension(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::JsonLines => "jsonl",
            Self::Parquet => "parquet",
        }
    }
}

impl<W: Write + Send> TableWriter<W> {
    /// Begins the file on `sink`.
    ///
    /// # Errors
    /// [`ExportError::Io`] or [`ExportError::Parquet`] when it cannot be written on.
    pub fn try_new(format: Format, table: Table, sink: W) -> Result<Self, ExportError> {
        let encoder = match format {
            Format::Csv => Encoder::Csv(Box::new(CsvWriter::try_new(&table, sink)?)),
            Format::JsonLines => Encoder::JsonLines(JsonLinesWriter::new(sink)),
            Format::Parquet => Encoder::Parquet(Box::new(ParquetWriter::try_new(&table, sink)?)),
        };
        Ok(Self {
            table,
            rows: 0,
            encoder,
        })
    }

    /// Writes a row.
    ///
    /// # Errors
    /// What [`Table::check`] says, and as [`try_new`](Self::try_new).
    pub fn write(&mut self, row: &[Cell]) -> Result<(), ExportError> {
        self.table.check(row)?;
        match &mut self.encoder {
            Encoder::Csv(writer) => writer.write(&self.table, row)?,
            Encoder::JsonLines(writer) => writer.write(&self.table, row)?,
            Encoder::Parquet(writer) => writer.write(&self.table, row)?,
        }
        self.rows += 1;
        Ok(())
    }

    /// Ends the file; the sink, and how many rows were written.
    ///
    /// # Errors
    /// As [`try_new`](Self::try_new).
    pub fn finish(self) -> Result<(W, u64), ExportError> {
        let sink = match self.encoder {
            Encoder::Csv(writer) => writer.finish()?,
            Encoder::JsonLines(writer) => writer.finish()?,
            Encoder::Parquet(writer) => writer.finish(&self.table)?,
        };
        Ok((sink, self.rows))
    }
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;

    use super::*;
    use crate::table::{integer, text};

    #[test]
    fn a_wrong_row_is_refused_in_every_format_and_a_full_disk_is_an_error() {
        struct Full;
        impl Write for Full {
            fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
                Err(std::io::ErrorKind::StorageFull.into())
            }
            fn flush(&mut self) -> std::io::Result<()> {
                Ok(())
            }
        }
        let table = || Table {
            name: "t",
            columns: const { &[text("note"), integer("count")] },
            zone: TimeZone::UTC,
        };
        for format in [Format::Csv, Format::JsonLines, Format::Parquet] {
            let mut writer = TableWriter::try_new(format, table(), Vec::new()).unwrap();
            assert!(writer.write(&[Cell::Integer(1), Cell::Empty]).is_err());
            writer.write(&[Cell::text("a"), Cell::Integer(1)]).unwrap();
            assert_eq!(writer.finish().unwrap().1, 1, "{format:?}");
            let failed = TableWriter::try_new(format, table(), Full).and_then(|mut writer| {
                writer.write(&[Cell::text("a"), Cell::Integer(1)])?;
                writer.finish().map(|_| ())
            });
            assert!(failed.is_err(), "{format:?}");
        }
    }
}
