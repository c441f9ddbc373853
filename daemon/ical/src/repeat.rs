//! Recurrence rules (RFC 5545 sections 3.3.10 and 3.8.5), worked out by the
//! `rrule` library on civil time: a weekly visit stays at nine o'clock when the
//! clocks change, whatever zone the calendar has defined.

use chrono::{DateTime as ChronoDateTime, Datelike as _, NaiveDate, NaiveDateTime, Timelike as _};
use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};
use rrule::{RRule, Tz, Unvalidated};

use crate::fault::{Fault, short};

/// Times since its beginning after which a rule is given up.
const MAX_SINCE_BEGINNING: u16 = 65_535;

/// What working out the rules of one file may still cost.
#[derive(Debug, Default)]
pub(crate) struct Work {
    used: u64,
}

impl Work {
    /// Times looked at in one file: seconds of work, not minutes.
    const MOST: u64 = 5_000_000;
    /// What a rule counts that never takes place: the library searches for it to
    /// the end of its calendar, which cannot be told before.
    const IN_VAIN: u64 = 1_000_000;

    /// As [`expand`], as long as there is work left for it.
    ///
    /// # Errors
    /// [`Fault::TooMuchWork`], and those of [`expand`].
    pub(crate) fn expand(
        &mut self,
        rule: &str,
        starts: DateTime,
        to_civil: impl Fn(Timestamp) -> DateTime,
        last: DateTime,
        limit: usize,
    ) -> Result<Vec<DateTime>, Fault> {
        self.used = self.used.saturating_add(cost(rule, starts, last));
        if self.used > Self::MOST {
            return Err(Fault::TooMuchWork);
        }
        let times = expand(rule, starts, to_civil, last, limit)?;
        if times.is_empty() {
            self.used = self.used.saturating_add(Self::IN_VAIN);
        }
        Ok(times)
    }
}

/// Civil times of a rule from `starts` up to and including `last`, `starts` not
/// counted among them unless the rule says so. `to_civil` shows an UNTIL in UTC
/// on the rule's clock.
///
/// # Errors
/// A rule that is none, repeats more often than hourly, or more than `limit`
/// times.
fn expand(
    rule: &str,
    starts: DateTime,
    to_civil: impl Fn(Timestamp) -> DateTime,
    last: DateTime,
    limit: usize,
) -> Result<Vec<DateTime>, Fault> {
    let wrong = |reason: String| Fault::Rule {
        rule: short(rule),
        reason,
    };
    let mut parts = Vec::new();
    let mut slots = 1_usize;
    for part in rule.trim().trim_end_matches(';').split(';') {
        let (name, value) = part
            .split_once('=')
            .ok_or_else(|| wrong(format!("`{}` has no `=`", short(part))))?;
        match name.to_ascii_uppercase().as_str() {
            "UNTIL" => parts.push(format!(
                "UNTIL={}",
                until(value, &to_civil)
                    .ok_or_else(|| wrong(format!("UNTIL `{}` is no date or time", short(value))),)?
            )),
            "FREQ"
                if value.eq_ignore_ascii_case("SECONDLY")
                    || value.eq_ignore_ascii_case("MINUTELY") =>
            {
                return Err(Fault::TooFrequent { rule: short(rule) });
            }
            "BYHOUR" | "BYMINUTE" | "BYSECOND" => {
                slots = slots.saturating_mul(value.split(',').count());
                parts.push(part.to_owned());
            }
            _ => parts.push(part.to_owned()),
        }
    }
    if slots > 24 {
        return Err(Fault::TooFrequent { rule: short(rule) });
    }
    let parsed: RRule<Unvalidated> = parts
        .join(";")
        .parse()
        .map_err(|error: rrule::RRuleError| wrong(error.to_string()))?;
    let set = parsed
        .build(to_chrono(starts).ok_or(Fault::Calendar)?)
        .map_err(|error| wrong(error.to_string()))?;
    let set = set.before(to_chrono(last).ok_or(Fault::Calendar)?);
    let result = set.all(MAX_SINCE_BEGINNING);
    let too_many = |limit, span| Fault::TooMany { limit, span };
    if result.limited {
        return Err(too_many(usize::from(MAX_SINCE_BEGINNING), "since it began"));
    }
    let times: Vec<DateTime> = result.dates.iter().filter_map(from_chrono).collect();
    if times.len() > limit {
        return Err(too_many(limit, "since it began"));
    }
    Ok(times)
}

/// How many times have to be looked at: years times times in a year.
fn cost(rule: &str, starts: DateTime, last: DateTime) -> u64 {
    let upper = rule.to_ascii_uppercase();
    let in_a_year = if upper.contains("FREQ=HOURLY") {
        8784
    } else {
        400
    };
    let years = u64::try_from(i32::from(last.year()) - i32::from(starts.year())).unwrap_or(0);
    (years + 1).saturating_mul(in_a_year)
}

/// An UNTIL as the rule's own clock shows it, in the form that the library
/// takes for UTC, which stands for the rule's clock here.
fn until(value: &str, to_civil: impl Fn(Timestamp) -> DateTime) -> Option<String> {
    let property = crate::line::Property {
        line: 0,
        name: "UNTIL".to_owned(),
        parameters: Vec::new(),
        value: value.to_owned(),
    };
    let civil = match crate::value::when(&property).ok()? {
        // To the end of that day, also where the event has a time of day.
        crate::value::When::Date(date) => date.to_datetime(Time::constant(23, 59, 59, 0)),
        crate::value::When::Local(civil, _) => civil,
        crate::value::When::Utc(civil) => to_civil(jiff::tz::Offset::UTC.to_timestamp(civil).ok()?),
    };
    Some(civil.strftime("%Y%m%dT%H%M%SZ").to_string())
}

fn to_chrono(civil: DateTime) -> Option<ChronoDateTime<Tz>> {
    let part = |value: i8| u32::try_from(value).ok();
    let date = NaiveDate::from_ymd_opt(
        i32::from(civil.year()),
        part(civil.month())?,
        part(civil.day())?,
    )?;
    let naive: NaiveDateTime = date.and_hms_opt(
        part(civil.hour())?,
        part(civil.minute())?,
        part(civil.second())?,
    )?;
    Some(naive.and_utc().with_timezone(&Tz::UTC))
}

fn from_chrono(time: &ChronoDateTime<Tz>) -> Option<DateTime> {
    let part = |value: u32| i8::try_from(value).ok();
    let date = Date::new(
        i16::try_from(time.year()).ok()?,
        part(time.month())?,
        part(time.day())?,
    );
    let clock = Time::new(
        part(time.hour())?,
        part(time.minute())?,
        part(time.second())?,
        0,
    );
    Some(date.ok()?.to_datetime(clock.ok()?))
}
