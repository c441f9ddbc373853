//! Values (RFC 5545 section 3.3): dates, times, durations, text.

use jiff::civil::{Date, DateTime, Time};
use jiff::{SignedDuration, Span};

use crate::fault::{Fault, short};
use crate::line::Property;

/// A date or a time as written, before its zone is looked up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum When {
    /// `19970714`
    Date(Date),
    /// `19970714T123000`, with its TZID if it has one.
    Local(DateTime, Option<String>),
    /// `19970714T123000Z`
    Utc(DateTime),
}

/// A duration: days that are as long as the clock makes them, and exact time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Duration {
    pub(crate) days: i64,
    pub(crate) exact: SignedDuration,
}

/// The one date or time of a property.
pub(crate) fn when(property: &Property) -> Result<When, Fault> {
    parse_when(property, &property.value)
}

/// The dates and times of a property that may list several; of a PERIOD its
/// beginning.
pub(crate) fn whens(property: &Property) -> Result<Vec<When>, Fault> {
    let values = property.value.split(',').map(|value| {
        let begins = value.split_once('/').map_or(value, |(begins, _)| begins);
        parse_when(property, begins)
    });
    values.collect()
}

fn parse_when(property: &Property, value: &str) -> Result<When, Fault> {
    let value = value.trim();
    let found = match value.split_once('T') {
        None => date(value).map(When::Date),
        Some((day, clock)) => date(day).and_then(|day| match clock.strip_suffix('Z') {
            Some(clock) => time(clock).map(|time| When::Utc(day.to_datetime(time))),
            None => {
                let zone = property.parameter("TZID").map(str::to_owned);
                time(clock).map(|time| When::Local(day.to_datetime(time), zone))
            }
        }),
    };
    found.ok_or_else(|| Fault::Value {
        property: property.name.clone(),
        value: short(value),
        expected: "a date such as 20260302 or a time such as 20260302T170000Z",
    })
}

fn date(text: &str) -> Option<Date> {
    if text.len() != 8 || !text.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let (year, month, day) = (text.get(..4)?, text.get(4..6)?, text.get(6..)?);
    Date::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?).ok()
}

fn time(text: &str) -> Option<Time> {
    if text.len() != 6 || !text.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let second: i8 = text.get(4..)?.parse().ok()?;
    let (hour, minute) = (text.get(..2)?.parse().ok()?, text.get(2..4)?.parse().ok()?);
    // Section 3.3.12: who does not count leap seconds takes 60 as 59.
    Time::new(hour, minute, if second == 60 { 59 } else { second }, 0).ok()
}

/// `P15DT5H0M20S`, `-PT15M`, `P7W`.
pub(crate) fn duration(property: &Property) -> Result<Duration, Fault> {
    let text = property.value.trim();
    let digits = text.trim_start_matches(['+', '-']);
    let span: Option<Span> = digits
        .starts_with('P')
        .then(|| text.parse().ok())
        .flatten()
        .filter(|span: &Span| span.get_years() == 0 && span.get_months() == 0);
    let found = span.and_then(|span| {
        let days = i64::from(span.get_weeks()) * 7 + i64::from(span.get_days());
        let seconds = i64::from(span.get_hours()) * 3600 + span.get_minutes() * 60;
        let exact = SignedDuration::from_secs(seconds.checked_add(span.get_seconds())?);
        Some(Duration { days, exact })
    });
    found.ok_or_else(|| Fault::Value {
        property: property.name.clone(),
        value: short(text),
        expected: "a duration such as PT1H30M",
    })
}

/// A whole number from 0 on.
pub(crate) fn count(property: &Property) -> Result<i32, Fault> {
    let number = property.value.trim().parse().ok();
    number
        .filter(|number| *number >= 0)
        .ok_or_else(|| Fault::Value {
            property: property.name.clone(),
            value: short(&property.value),
            expected: "a whole number from 0 on",
        })
}

/// An offset from UTC, `+0100` or `-053030`, in seconds.
pub(crate) fn offset(property: &Property) -> Result<i32, Fault> {
    let text = property.value.trim();
    let seconds = || {
        let (sign, digits) = match text.split_at_checked(1)? {
            ("+", digits) => (1, digits),
            ("-", digits) => (-1, digits),
            _ => return None,
        };
        if !matches!(digits.len(), 4 | 6) || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
            return None;
        }
        let part = |at: usize| -> Option<i32> { digits.get(at..at + 2)?.parse().ok() };
        let (hours, minutes, seconds) = (part(0)?, part(2)?, part(4).unwrap_or(0));
        (hours < 24 && minutes < 60 && seconds < 60)
            .then(|| sign * (hours * 3600 + minutes * 60 + seconds))
    };
    seconds().ok_or_else(|| Fault::Value {
        property: property.name.clone(),
        value: short(text),
        expected: "an offset such as +0100",
    })
}

/// Text without its escapes (section 3.3.11).
pub(crate) fn text(value: &str) -> String {
    let mut plain = String::with_capacity(value.len());
    let mut characters = value.chars();
    while let Some(c) = characters.next() {
        match c {
            '\\' => match characters.next() {
                Some('n' | 'N') => plain.push('\n'),
                Some(other) => plain.push(other),
                None => plain.push('\\'),
            },
            other => plain.push(other),
        }
    }
    plain
}

/// Text with its escapes; what has no place in a value becomes a space.
pub(crate) fn escaped(text: &str) -> String {
    let mut value = String::with_capacity(text.len());
    for c in text.replace("\r\n", "\n").chars() {
        match c {
            '\\' | ';' | ',' => value.extend(['\\', c]),
            '\n' => value.push_str("\\n"),
            c if c.is_control() && c != '\t' => value.push(' '),
            c => value.push(c),
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn property(name: &str, value: &str) -> Property {
        Property {
            line: 1,
            name: name.to_owned(),
            parameters: Vec::new(),
            value: value.to_owned(),
        }
    }

    #[test]
    fn the_values_of_the_rfc_are_read() {
        // RFC 5545, the examples of 3.3.5, 3.3.6, 3.3.11 and 3.3.14.
        let at = when(&property("DTSTART", "19980119T070000Z")).unwrap();
        assert_eq!(at, When::Utc("1998-01-19T07:00:00".parse().unwrap()));
        let length = |value| duration(&property("DURATION", value)).unwrap();
        let exact = SignedDuration::from_secs(5 * 3600 + 20);
        assert_eq!(length("P15DT5H0M20S"), Duration { days: 15, exact });
        assert_eq!(length("P7W").days, 49);
        assert_eq!(length("-PT15M").exact, SignedDuration::from_mins(-15));
        assert_eq!(
            text(r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared."),
            "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
        );
        assert_eq!(offset(&property("TZOFFSETTO", "-0500")), Ok(-18_000));
        assert_eq!(offset(&property("TZOFFSETTO", "+0100")), Ok(3600));
    }

    #[test]
    fn other_forms_are_refused() {
        for bad in [
            "",
            "1998",
            "19980230",
            "19980119T25",
            "19980119T230000+0200",
            "x",
        ] {
            assert!(when(&property("DTSTART", bad)).is_err(), "{bad}");
        }
        for bad in ["", "P1Y", "2 hours", "PT", "1H", "P1M"] {
            assert!(duration(&property("DURATION", bad)).is_err(), "{bad}");
        }
        for bad in ["", "0100", "+1", "+2500", "+01:00"] {
            assert!(offset(&property("TZOFFSETTO", bad)).is_err(), "{bad}");
        }
    }

    proptest! {
        #[test]
        fn text_goes_there_and_back(plain in "[^\\p{Cc}]*(\n[^\\p{Cc}]*)*") {
            prop_assert_eq!(text(&escaped(&plain)), plain);
        }
    }
}
