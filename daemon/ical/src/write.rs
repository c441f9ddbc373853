//! From visits to a calendar that other programs read.

use std::fmt::Write as _;

use jiff::tz::{Offset, TimeZone};
use jiff::{Span, Timestamp};

use crate::value::escaped;

/// What a calendar is to say about itself.
#[derive(Debug, Clone)]
pub struct WriteOptions {
    /// PRODID, which program wrote it.
    pub product: String,
    /// NAME (RFC 7986); empty: none.
    pub name: String,
    /// The zone of the times. One without an IANA name is written as UTC.
    pub zone: TimeZone,
}

/// One VEVENT.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Entry {
    /// UID: the same for ever.
    pub uid: String,
    /// SEQUENCE, from 0; rises with every change.
    pub sequence: i32,
    /// DTSTAMP and LAST-MODIFIED.
    pub revised: Timestamp,
    /// CREATED.
    pub created: Timestamp,
    /// DTSTART.
    pub start: Timestamp,
    /// DTEND; unset: none.
    pub end: Option<Timestamp>,
    /// SUMMARY.
    pub summary: String,
    /// DESCRIPTION; empty: none.
    pub description: String,
    /// CATEGORIES; empty: none.
    pub category: String,
    /// STATUS:CANCELLED instead of CONFIRMED.
    pub cancelled: bool,
}

/// The calendar, with CRLF line ends and no line over 75 octets.
pub fn write(options: &WriteOptions, entries: &[Entry]) -> String {
    let zone = options.zone.iana_name().filter(|name| *name != "UTC");
    let mut out = Lines(String::new());
    out.line("BEGIN:VCALENDAR");
    out.line("VERSION:2.0");
    out.line(&format!("PRODID:{}", escaped(&options.product)));
    out.line("CALSCALE:GREGORIAN");
    out.line("METHOD:PUBLISH");
    if !options.name.is_empty() {
        out.line(&format!("NAME:{}", escaped(&options.name)));
    }
    let first = entries.iter().map(|entry| entry.start).min();
    let last = entries
        .iter()
        .map(|entry| entry.end.unwrap_or(entry.start))
        .max();
    if let (Some(name), Some(first), Some(last)) = (zone, first, last) {
        time_zone(&mut out, name, &options.zone, first, last);
    }
    let at = |name: &str, instant: Timestamp| match zone {
        Some(id) => {
            let civil = options.zone.to_datetime(instant);
            format!("{name};TZID={id}:{}", civil.strftime("%Y%m%dT%H%M%S"))
        }
        None => format!("{name}:{}", utc(instant)),
    };
    for entry in entries {
        out.line("BEGIN:VEVENT");
        out.line(&format!("UID:{}", escaped(&entry.uid)));
        out.line(&format!("DTSTAMP:{}", utc(entry.revised)));
        out.line(&format!("CREATED:{}", utc(entry.created)));
        out.line(&format!("LAST-MODIFIED:{}", utc(entry.revised)));
        out.line(&format!("SEQUENCE:{}", entry.sequence));
        out.line(&at("DTSTART", entry.start));
        if let Some(end) = entry.end {
            out.line(&at("DTEND", end));
        }
        out.line(&format!("SUMMARY:{}", escaped(&entry.summary)));
        if !entry.description.is_empty() {
            out.line(&format!("DESCRIPTION:{}", escaped(&entry.description)));
        }
        if !entry.category.is_empty() {
            out.line(&format!("CATEGORIES:{}", escaped(&entry.category)));
        }
        let status = if entry.cancelled {
            "CANCELLED"
        } else {
            "CONFIRMED"
        };
        out.line(&format!("STATUS:{status}"));
        out.line("END:VEVENT");
    }
    out.line("END:VCALENDAR");
    out.0
}

/// Folds while it writes.
struct Lines(String);

impl Lines {
    /// Octets of a line without its end (RFC 5545 section 3.1).
    const WIDTH: usize = 75;

    fn line(&mut self, line: &str) {
        let mut used = 0;
        for c in line.chars() {
            if used + c.len_utf8() > Self::WIDTH {
                self.0.push_str("\r\n ");
                used = 1;
            }
            self.0.push(c);
            used += c.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}

/// A VTIMEZONE that holds from `first` to `last`: every change of the clocks in
/// between by its date, so that no rule has to be guessed.
fn time_zone(out: &mut Lines, name: &str, zone: &TimeZone, first: Timestamp, last: Timestamp) {
    out.line("BEGIN:VTIMEZONE");
    out.line(&format!("TZID:{name}"));
    // From the change before the first time on, or from 1970 in a zone without one.
    let begin = zone
        .preceding(first)
        .next()
        .map_or(Timestamp::UNIX_EPOCH, |t| t.timestamp());
    let mut before = zone.to_offset(begin.checked_sub(Span::new().seconds(1)).unwrap_or(begin));
    let changes = std::iter::once(begin).chain(
        zone.following(begin)
            .map(|change| change.timestamp())
            .take_while(|change| *change <= last),
    );
    for change in changes {
        let info = zone.to_offset_info(change);
        let kind = if info.dst().is_dst() {
            "DAYLIGHT"
        } else {
            "STANDARD"
        };
        out.line(&format!("BEGIN:{kind}"));
        let civil = before.to_datetime(change);
        out.line(&format!("DTSTART:{}", civil.strftime("%Y%m%dT%H%M%S")));
        out.line(&format!("TZOFFSETFROM:{}", offset(before)));
        out.line(&format!("TZOFFSETTO:{}", offset(info.offset())));
        out.line(&format!("TZNAME:{}", escaped(info.abbreviation())));
        out.line(&format!("END:{kind}"));
        before = info.offset();
    }
    out.line("END:VTIMEZONE");
}

fn utc(instant: Timestamp) -> String {
    let civil = Offset::UTC.to_datetime(instant);
    civil.strftime("%Y%m%dT%H%M%SZ").to_string()
}

fn offset(offset: Offset) -> String {
    let seconds = offset.seconds();
    let sign = if seconds < 0 { '-' } else { '+' };
    let seconds = seconds.abs();
    let mut text = format!("{sign}{:02}{:02}", seconds / 3600, seconds / 60 % 60);
    if seconds % 60 != 0 {
        // Writing to a string cannot fail.
        let _ = write!(text, "{:02}", seconds % 60);
    }
    text
}

#[cfg(test)]
mod tests;
