//! A VEVENT (RFC 5545 section 3.6.1).

use jiff::civil::{DateTime, Time};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Span, Timestamp};

use crate::component::Component;
use crate::fault::Fault;
use crate::line::Property;
use crate::value::{self, Duration, When};
use crate::zone::{Zone, Zones};

/// An event, before it is repeated.
#[derive(Debug, Clone)]
pub(crate) struct Event {
    pub(crate) line: u32,
    pub(crate) uid: String,
    pub(crate) sequence: i32,
    pub(crate) revised: Timestamp,
    pub(crate) starts: Moment,
    pub(crate) length: Option<Length>,
    pub(crate) summary: String,
    pub(crate) description: String,
    pub(crate) cancelled: bool,
    pub(crate) rules: Vec<String>,
    pub(crate) extra: Vec<Moment>,
    pub(crate) left_out: Vec<Timestamp>,
    /// Which time of its repeating event this replaces.
    pub(crate) replaces: Option<Timestamp>,
}

/// A time on some clock.
#[derive(Debug, Clone)]
pub(crate) struct Moment {
    pub(crate) civil: DateTime,
    pub(crate) zone: Zone,
    pub(crate) all_day: bool,
}

/// How long it takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Length {
    /// The same time at every repetition, as DTEND gives it.
    Exact(SignedDuration),
    /// Days on the clock and exact time, as DURATION gives it; also an all-day
    /// event, whose days may have 23 or 25 hours.
    Nominal(Duration),
}

/// Properties without which an event would mean something else: where one of
/// them cannot be read, the event is not taken in.
pub(crate) const DECISIVE: [&str; 13] = [
    "UID",
    "DTSTAMP",
    "LAST-MODIFIED",
    "SEQUENCE",
    "DTSTART",
    "DTEND",
    "DURATION",
    "STATUS",
    "RRULE",
    "RDATE",
    "EXDATE",
    "EXRULE",
    "RECURRENCE-ID",
];

/// What surrounds an event.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Surroundings<'a> {
    pub(crate) zones: &'a Zones,
    /// Where times without a zone are.
    pub(crate) floating: &'a TimeZone,
}

impl Event {
    pub(crate) fn of(component: &Component, around: Surroundings<'_>) -> Result<Self, Fault> {
        if let Some(bad) = component
            .bad
            .iter()
            .find(|bad| DECISIVE.contains(&bad.name.as_str()))
        {
            return Err(bad.fault.clone());
        }
        let starts = around.moment(component.required("DTSTART")?)?;
        let start = starts.instant()?;
        let replaced = component.one("RECURRENCE-ID")?;
        if let Some(range) = replaced.and_then(|property| property.parameter("RANGE")) {
            let range = range.to_owned();
            return Err(Fault::Range { range });
        }
        let text = |property: Option<&Property>| {
            property
                .map(|property| value::text(&property.value))
                .unwrap_or_default()
        };
        let uid = component.required("UID")?;
        let status = text(component.one("STATUS")?);
        Ok(Self {
            line: component.line,
            uid: value::text(uid.value.trim()),
            sequence: component.one("SEQUENCE")?.map_or(Ok(0), value::count)?,
            revised: revised(component, around)?,
            length: length(component, around, &starts, start)?,
            starts,
            summary: text(component.one("SUMMARY")?),
            description: text(component.one("DESCRIPTION")?),
            cancelled: status.trim().eq_ignore_ascii_case("CANCELLED"),
            rules: rules(component)?,
            extra: around.moments(component, "RDATE")?,
            left_out: instants(&around.moments(component, "EXDATE")?)?,
            replaces: replaced
                .map(|property| around.moment(property)?.instant())
                .transpose()?,
        })
    }

    /// The end of the time that begins at `begins`.
    pub(crate) fn end(&self, begins: &Moment) -> Result<Option<Timestamp>, Fault> {
        let Some(length) = self.length else {
            return Ok(None);
        };
        let end = match length {
            Length::Exact(exact) => begins.instant()?.checked_add(exact),
            Length::Nominal(Duration { days, exact }) => {
                let days = Span::new().try_days(days).map_err(|_| Fault::Calendar)?;
                let civil = begins
                    .civil
                    .checked_add(days)
                    .map_err(|_| Fault::Calendar)?;
                begins.zone.instant(civil)?.checked_add(exact)
            }
        };
        end.map(Some).map_err(|_| Fault::Calendar)
    }
}

impl Moment {
    pub(crate) fn instant(&self) -> Result<Timestamp, Fault> {
        self.zone.instant(self.civil)
    }
}

impl Surroundings<'_> {
    fn moment(&self, property: &Property) -> Result<Moment, Fault> {
        self.on_clock(value::when(property)?)
    }

    fn moments(&self, component: &Component, name: &str) -> Result<Vec<Moment>, Fault> {
        let mut moments = Vec::new();
        for property in component.all(name) {
            for when in value::whens(property)? {
                moments.push(self.on_clock(when)?);
            }
        }
        Ok(moments)
    }

    fn on_clock(&self, when: When) -> Result<Moment, Fault> {
        let floating = || Zone::Known(self.floating.clone());
        let (civil, zone, all_day) = match when {
            When::Date(date) => (date.to_datetime(Time::midnight()), floating(), true),
            When::Utc(civil) => (civil, Zone::Known(TimeZone::UTC), false),
            When::Local(civil, None) => (civil, floating(), false),
            When::Local(civil, Some(id)) => (civil, self.zones.find(&id)?, false),
        };
        let moment = Moment {
            civil,
            zone,
            all_day,
        };
        // What follows counts on a year that a booking can have.
        let known = (1970..=9998).contains(&civil.year());
        if known {
            Ok(moment)
        } else {
            Err(Fault::Calendar)
        }
    }
}

/// The later of DTSTAMP and LAST-MODIFIED.
fn revised(component: &Component, around: Surroundings<'_>) -> Result<Timestamp, Fault> {
    let stamp = around.moment(component.required("DTSTAMP")?)?.instant()?;
    match component.one("LAST-MODIFIED")? {
        Some(modified) => Ok(stamp.max(around.moment(modified)?.instant()?)),
        None => Ok(stamp),
    }
}

fn length(
    component: &Component,
    around: Surroundings<'_>,
    starts: &Moment,
    start: Timestamp,
) -> Result<Option<Length>, Fault> {
    let days = |days| {
        Length::Nominal(Duration {
            days,
            exact: SignedDuration::ZERO,
        })
    };
    let (ends, lasts) = (component.one("DTEND")?, component.one("DURATION")?);
    let (found, property) = match (ends, lasts) {
        (Some(_), Some(_)) => return Err(Fault::TwoEnds),
        (Some(ends), None) => {
            let ends = around.moment(ends)?;
            let found = if starts.all_day && ends.all_day {
                let between = starts.civil.date().until(ends.civil.date());
                days(i64::from(between.map_err(|_| Fault::Calendar)?.get_days()))
            } else {
                Length::Exact(ends.instant()?.duration_since(start))
            };
            (found, "DTEND")
        }
        (None, Some(lasts)) => (Length::Nominal(value::duration(lasts)?), "DURATION"),
        // Section 3.6.1: a date alone is that day; a time alone takes no time.
        (None, None) if starts.all_day => (days(1), "DTSTART"),
        (None, None) => return Ok(None),
    };
    let negative = match found {
        Length::Exact(exact) => exact.is_negative(),
        Length::Nominal(Duration { days, exact }) => days < 0 || exact.is_negative(),
    };
    if negative {
        return Err(Fault::EndBeforeStart { property });
    }
    Ok(Some(found))
}

fn rules(component: &Component) -> Result<Vec<String>, Fault> {
    if let Some(rule) = component.all("EXRULE").next() {
        return Err(Fault::Rule {
            rule: crate::fault::short(&rule.value),
            reason: "EXRULE is no longer part of iCalendar".to_owned(),
        });
    }
    Ok(component.all("RRULE").map(|p| p.value.clone()).collect())
}

fn instants(moments: &[Moment]) -> Result<Vec<Timestamp>, Fault> {
    moments.iter().map(Moment::instant).collect()
}
