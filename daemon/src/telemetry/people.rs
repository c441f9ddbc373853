//! Fields of the log as a person reads them: `name=value`, the message bare, and
//! without those that only a collector of traces is meant to see.

use std::fmt;

use tracing::field::{Field, Visit};
use tracing_subscriber::field::RecordFields;
use tracing_subscriber::fmt::FormatFields;
use tracing_subscriber::fmt::format::Writer;

/// What stands before such a field's name.
const FOR_COLLECTORS: &str = "otel.";

/// Writes fields for people.
#[derive(Debug)]
pub(super) struct ForPeople;

struct Line<'w> {
    writer: Writer<'w>,
    begun: bool,
    written: fmt::Result,
}

impl<'w> FormatFields<'w> for ForPeople {
    fn format_fields<R: RecordFields>(&self, writer: Writer<'w>, fields: R) -> fmt::Result {
        let mut line = Line {
            writer,
            begun: false,
            written: Ok(()),
        };
        fields.record(&mut line);
        line.written
    }
}

impl Line<'_> {
    fn write(&mut self, field: &Field, value: &dyn fmt::Debug) -> fmt::Result {
        if std::mem::replace(&mut self.begun, true) {
            self.writer.write_char(' ')?;
        }
        match field.name() {
            "message" => write!(self.writer, "{value:?}"),
            name => write!(self.writer, "{name}={value:?}"),
        }
    }
}

impl Visit for Line<'_> {
    fn record_debug(&mut self, field: &Field, value: &dyn fmt::Debug) {
        if self.written.is_ok() && !field.name().starts_with(FOR_COLLECTORS) {
            self.written = self.write(field, value);
        }
    }

    fn record_str(&mut self, field: &Field, value: &str) {
        // Bare where nothing in it could be mistaken for the rest of the line.
        let bare = |byte: u8| byte.is_ascii_graphic() && !b"\"\\=".contains(&byte);
        if !value.is_empty() && value.bytes().all(bare) {
            self.record_debug(field, &format_args!("{value}"));
        } else {
            self.record_debug(field, &value);
        }
    }
}
