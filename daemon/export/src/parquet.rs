//! Apache Parquet, plain and uncompressed, so that the same rows give the same
//! bytes with every build: no dictionaries, no statistics, a fixed name of the
//! writer. Every column is optional. Instants are UTC microseconds; the zone's
//! name is in the file's metadata under `time_zone`.

use std::io::Write;
use std::sync::Arc;

use jiff::civil;
use parquet::basic::{LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, Int32Type, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::{EnabledStatistics, WriterProperties, WriterVersion};
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::Type;

use crate::error::ExportError;
use crate::table::{Cell, Column, DECIMAL_DIGITS, Kind, Table, unscaled};

/// Most rows that wait to be written.
const GROUP_ROWS: usize = 4096;
/// Most bytes of text that wait to be written, about.
const GROUP_BYTES: usize = 1024 * 1024;

pub(crate) struct ParquetWriter<W: Write + Send> {
    writer: SerializedFileWriter<W>,
    waiting: Vec<Vec<Cell>>,
    waiting_bytes: usize,
}

impl<W: Write + Send> ParquetWriter<W> {
    pub(crate) fn try_new(table: &Table, sink: W) -> Result<Self, ExportError> {
        let zone = table.zone.iana_name().map(str::to_owned);
        let metadata = vec![
            KeyValue::new("table".to_owned(), table.name.to_owned()),
            KeyValue::new("time_zone".to_owned(), zone),
        ];
        let properties = WriterProperties::builder()
            .set_created_by("lamella".to_owned())
            .set_writer_version(WriterVersion::PARQUET_1_0)
            .set_dictionary_enabled(false)
            .set_statistics_enabled(EnabledStatistics::None)
            .set_offset_index_disabled(true)
            .set_key_value_metadata(Some(metadata))
            .build();
        let writer = SerializedFileWriter::new(sink, schema(table)?, Arc::new(properties))?;
        Ok(Self {
            writer,
            waiting: Vec::new(),
            waiting_bytes: 0,
        })
    }

    pub(crate) fn write(&mut self, table: &Table, row: &[Cell]) -> Result<(), ExportError> {
        let bytes = row.iter().map(|cell| match cell {
            Cell::Text(text) => text.len(),
            Cell::Empty
            | Cell::Integer(_)
            | Cell::Decimal(_)
            | Cell::Timestamp(_)
            | Cell::Date(_) => 0,
        });
        self.waiting_bytes += bytes.sum::<usize>();
        self.waiting.push(row.to_vec());
        if self.waiting.len() >= GROUP_ROWS || self.waiting_bytes >= GROUP_BYTES {
            self.write_group(table)?;
        }
        Ok(())
    }

    pub(crate) fn finish(mut self, table: &Table) -> Result<W, ExportError> {
        if !self.waiting.is_empty() {
            self.write_group(table)?;
        }
        Ok(self.writer.into_inner()?)
    }

    /// Writes what waits as one row group.
    fn write_group(&mut self, table: &Table) -> Result<(), ExportError> {
        let rows = std::mem::take(&mut self.waiting);
        self.waiting_bytes = 0;
        let mut group = self.writer.next_row_group()?;
        for (index, column) in table.columns.iter().enumerate() {
            let missing = || ParquetError::General(format!("no column writer for {}", column.name));
            let mut writer = group.next_column()?.ok_or_else(missing)?;
            let cells = rows.iter().filter_map(|row| row.get(index));
            write_column(column, cells, &mut writer)?;
            writer.close()?;
        }
        group.close()?;
        Ok(())
    }
}

fn schema(table: &Table) -> Result<Arc<Type>, ParquetError> {
    let fields: Result<Vec<_>, _> = table.columns.iter().map(field).collect();
    let schema = Type::group_type_builder(table.name)
        .with_fields(fields?)
        .build()?;
    Ok(Arc::new(schema))
}

fn field(column: &Column) -> Result<Arc<Type>, ParquetError> {
    let (physical, logical) = match column.kind {
        Kind::Text => (Physical::BYTE_ARRAY, LogicalType::String),
        Kind::Integer => (Physical::INT64, LogicalType::integer(64, true)),
        Kind::Decimal { scale } => (
            Physical::INT64,
            LogicalType::decimal(i32::from(scale), DECIMAL_DIGITS.cast_signed()),
        ),
        Kind::Timestamp => (
            Physical::INT64,
            LogicalType::timestamp(true, TimeUnit::MICROS),
        ),
        Kind::Date => (Physical::INT32, LogicalType::Date),
    };
    let mut builder = Type::primitive_type_builder(column.name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_logical_type(Some(logical));
    if let Kind::Decimal { scale } = column.kind {
        builder = builder
            .with_precision(DECIMAL_DIGITS.cast_signed())
            .with_scale(i32::from(scale));
    }
    Ok(Arc::new(builder.build()?))
}

/// The values that are there, and for each row whether one is. Rows were checked
/// against the table before, so a cell is of its column's kind or empty.
fn write_column<'a>(
    column: &Column,
    cells: impl Iterator<Item = &'a Cell>,
    writer: &mut SerializedColumnWriter<'_>,
) -> Result<(), ParquetError> {
    let mut present = Vec::new();
    let (mut texts, mut longs, mut days) = (Vec::new(), Vec::new(), Vec::new());
    for cell in cells {
        let there = match (cell, column.kind) {
            (Cell::Text(text), _) => {
                texts.push(ByteArray::from(text.as_str()));
                true
            }
            (Cell::Integer(number), _) => {
                longs.push(*number);
                true
            }
            (Cell::Timestamp(instant), _) => {
                longs.push(instant.as_microsecond());
                true
            }
            (Cell::Decimal(value), Kind::Decimal { scale }) => {
                let units = unscaled(*value, scale);
                longs.extend(units);
                units.is_some()
            }
            (Cell::Date(date), _) => {
                days.push(days_since_1970(*date));
                true
            }
            (Cell::Empty | Cell::Decimal(_), _) => false,
        };
        present.push(i16::from(there));
    }
    let levels = Some(present.as_slice());
    match column.kind {
        Kind::Text => {
            let typed = writer.typed::<ByteArrayType>();
            typed.write_batch(&texts, levels, None)
        }
        Kind::Integer | Kind::Decimal { .. } | Kind::Timestamp => {
            let typed = writer.typed::<Int64Type>();
            typed.write_batch(&longs, levels, None)
        }
        Kind::Date => {
            let typed = writer.typed::<Int32Type>();
            typed.write_batch(&days, levels, None)
        }
    }?;
    Ok(())
}

fn days_since_1970(date: civil::Date) -> i32 {
    let since = date.duration_since(civil::date(1970, 1, 1));
    // The calendar has under four million days.
    i32::try_from(since.as_hours() / 24).unwrap_or(i32::MAX)
}

#[cfg(test)]
mod tests {
    use bytes::Bytes;
    use jiff::Timestamp;
    use jiff::tz::TimeZone;
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::Field;
    use rust_decimal::Decimal;

    use super::*;
    use crate::table::{date, decimal, integer, text, timestamp};

    const TABLE: Table = Table {
        name: "all_kinds",
        columns: &[
            text("note"),
            integer("minor"),
            decimal("amount", 4),
            timestamp("time"),
            date("day"),
        ],
        zone: TimeZone::UTC,
    };

    fn rows(count: i64) -> Vec<Vec<Cell>> {
        let row = |n: i64| {
            let instant = Timestamp::from_microsecond(n * 1_000_003).unwrap();
            let note = if n % 7 == 3 {
                Cell::Empty
            } else {
                Cell::text(format!("=note {n}"))
            };
            let day = Cell::Date(civil::date(2026, 3, 29));
            let amount = Cell::Decimal(Decimal::new(n - 50, 2));
            vec![
                note,
                Cell::Integer(-n),
                amount,
                Cell::Timestamp(instant),
                day,
            ]
        };
        (0..count).map(row).collect()
    }

    fn written(rows: &[Vec<Cell>]) -> Vec<u8> {
        let mut writer = ParquetWriter::try_new(&TABLE, Vec::new()).unwrap();
        for row in rows {
            writer.write(&TABLE, row).unwrap();
        }
        writer.finish(&TABLE).unwrap()
    }

    #[test]
    fn rows_come_back_over_several_groups_and_bytes_repeat() {
        let count = i64::try_from(GROUP_ROWS).unwrap() + 10;
        let rows = rows(count);
        let file = written(&rows);
        assert_eq!(file, written(&rows), "the same rows, the same bytes");
        let reader = SerializedFileReader::new(Bytes::from(file)).unwrap();
        assert_eq!(reader.num_row_groups(), 2);
        let mut seen = 0;
        for (n, row) in reader.get_row_iter(None).unwrap().enumerate() {
            let n = i64::try_from(n).unwrap();
            let row = row.unwrap();
            let fields: Vec<&Field> = row.get_column_iter().map(|(_, field)| field).collect();
            let note = if n % 7 == 3 {
                Field::Null
            } else {
                Field::Str(format!("=note {n}"))
            };
            assert_eq!(fields[0], &note);
            assert_eq!(fields[1], &Field::Long(-n));
            // The reader prints 2 decimals in a column of 4.
            let Field::Decimal(amount) = fields[2] else {
                panic!("{:?} is no decimal", fields[2]);
            };
            let units = i64::from_be_bytes(amount.data().try_into().unwrap());
            assert_eq!((units, amount.scale()), ((n - 50) * 100, 4));
            assert_eq!(fields[3], &Field::TimestampMicros(n * 1_000_003));
            // 2026-03-29 is day 20541: (56 years x 365 + 14 leap days) + 87.
            assert_eq!(fields[4], &Field::Date(20_541));
            seen += 1;
        }
        assert_eq!(seen, count);
    }

    #[test]
    fn a_file_without_rows_is_a_file() {
        let reader = SerializedFileReader::new(Bytes::from(written(&[]))).unwrap();
        assert_eq!(reader.metadata().file_metadata().num_rows(), 0);
        let names = reader.metadata().file_metadata().schema_descr().columns();
        assert_eq!(names.len(), 5);
    }
}
