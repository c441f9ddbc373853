//! Time zones: by IANA name, or as a calendar's VTIMEZONE defines them
//! (RFC 5545 section 3.6.5).

use std::collections::BTreeMap;
use std::rc::Rc;

use jiff::civil::DateTime;
use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp};

use crate::component::Component;
use crate::fault::Fault;
use crate::repeat::Work;
use crate::value::{self, When};

/// A zone in which a civil time is an instant.
#[derive(Debug, Clone)]
pub(crate) enum Zone {
    /// Of the system's database.
    Known(TimeZone),
    /// Of a VTIMEZONE.
    Defined(Rc<Definition>),
}

/// What a VTIMEZONE says.
#[derive(Debug)]
pub(crate) struct Definition {
    /// Instants from which on an offset holds, rising.
    onsets: Vec<(Timestamp, Offset)>,
    /// The offset before the first of them.
    before: Offset,
}

/// The zones of one calendar.
#[derive(Debug, Default)]
pub(crate) struct Zones {
    defined: BTreeMap<String, Result<Rc<Definition>, Fault>>,
}

impl Zones {
    /// Reads every VTIMEZONE; one that cannot be used is named by whoever uses it.
    pub(crate) fn of(calendar: &Component, until: Timestamp, work: &mut Work) -> Self {
        let mut defined = BTreeMap::new();
        let zones = calendar.components.iter().filter(|c| c.name == "VTIMEZONE");
        for zone in zones {
            if let Ok(Some(id)) = zone.one("TZID") {
                let definition = Definition::of(zone, &id.value, until, work).map(Rc::new);
                defined.insert(id.value.clone(), definition);
            }
        }
        Self { defined }
    }

    /// The zone of a TZID: the calendar's own definition, or else an IANA name,
    /// which may have a prefix as in `/registry.example/Europe/Vienna`.
    pub(crate) fn find(&self, id: &str) -> Result<Zone, Fault> {
        if let Some(definition) = self.defined.get(id) {
            return definition.clone().map(Zone::Defined);
        }
        let mut name = id;
        loop {
            if let Ok(zone) = TimeZone::get(name) {
                return Ok(Zone::Known(zone));
            }
            match name.split_once('/') {
                Some((_, rest)) if id.starts_with('/') => name = rest,
                Some(_) | None => return Err(Fault::Zone { id: id.to_owned() }),
            }
        }
    }
}

impl Zone {
    /// The instant of a civil time. A time that the clocks skip is taken with
    /// the offset before the gap, one that they show twice as the first
    /// (section 3.3.5).
    pub(crate) fn instant(&self, civil: DateTime) -> Result<Timestamp, Fault> {
        match self {
            // jiff's "compatible" way is the RFC's.
            Self::Known(zone) => zone.to_timestamp(civil).map_err(|_| Fault::Calendar),
            Self::Defined(definition) => definition.instant(civil).ok_or(Fault::Calendar),
        }
    }

    /// What the clocks show at an instant.
    pub(crate) fn civil(&self, instant: Timestamp) -> DateTime {
        match self {
            Self::Known(zone) => zone.to_datetime(instant),
            Self::Defined(definition) => definition.at(instant).to_datetime(instant),
        }
    }
}

/// Onsets of one observance at most: a century of two a year.
const MAX_ONSETS: usize = 400;

impl Definition {
    fn of(zone: &Component, id: &str, until: Timestamp, work: &mut Work) -> Result<Self, Fault> {
        let wrong = |reason: String| Fault::ZoneDefinition {
            id: id.to_owned(),
            reason,
        };
        let mut onsets = Vec::new();
        let mut first: Option<(Timestamp, Offset)> = None;
        let parts = zone.components.iter();
        for part in parts.filter(|c| c.name == "STANDARD" || c.name == "DAYLIGHT") {
            let (from, to, begins) =
                observance(part, until, work).map_err(|fault| wrong(fault.to_string()))?;
            for civil in begins {
                let Ok(onset) = from.to_timestamp(civil) else {
                    continue;
                };
                if first.is_none_or(|(instant, _)| onset < instant) {
                    first = Some((onset, from));
                }
                onsets.push((onset, to));
            }
        }
        onsets.sort_by_key(|(onset, _)| *onset);
        match first {
            Some((_, before)) => Ok(Self { onsets, before }),
            None => Err(wrong("it has no STANDARD and no DAYLIGHT".to_owned())),
        }
    }

    fn at(&self, instant: Timestamp) -> Offset {
        let after = self.onsets.partition_point(|(onset, _)| *onset <= instant);
        after
            .checked_sub(1)
            .and_then(|last| self.onsets.get(last))
            .map_or(self.before, |(_, offset)| *offset)
    }

    fn instant(&self, civil: DateTime) -> Option<Timestamp> {
        // Offsets differ by a day at most, so only those around it can apply.
        let near = Offset::UTC.to_timestamp(civil).ok()?;
        let day = SignedDuration::from_hours(26);
        let (before, after) = (
            self.at(near.checked_sub(day).ok()?),
            self.at(near.checked_add(day).ok()?),
        );
        let between = self
            .onsets
            .iter()
            .filter(|(onset, _)| onset.duration_since(near).abs() <= day);
        let offsets = between.map(|(_, offset)| *offset).chain([before, after]);
        let fits = offsets.filter_map(|offset| {
            let instant = offset.to_timestamp(civil).ok()?;
            (self.at(instant) == offset).then_some(instant)
        });
        // None fits: the clocks skip it.
        fits.min().or_else(|| before.to_timestamp(civil).ok())
    }
}

/// Offsets before and after, and the civil times at which it begins.
fn observance(
    part: &Component,
    until: Timestamp,
    work: &mut Work,
) -> Result<(Offset, Offset, Vec<DateTime>), Fault> {
    let offset = |name| {
        let property = part.required(name)?;
        Offset::from_seconds(value::offset(property)?).map_err(|_| Fault::Calendar)
    };
    let (from, to) = (offset("TZOFFSETFROM")?, offset("TZOFFSETTO")?);
    let starts = local(part.required("DTSTART")?)?;
    let mut begins = vec![starts];
    for property in part.all("RDATE") {
        for when in value::whens(property)? {
            begins.extend(civil_of(&when));
        }
    }
    for rule in part.all("RRULE") {
        // UNTIL is in UTC, and the rule in the time before the change.
        let to_civil = |instant| from.to_datetime(instant);
        let last = from.to_datetime(until);
        let found = work.expand(&rule.value, starts, to_civil, last, MAX_ONSETS)?;
        begins.extend(found);
    }
    begins.sort_unstable();
    begins.dedup();
    Ok((from, to, begins))
}

fn local(property: &crate::line::Property) -> Result<DateTime, Fault> {
    let when = value::when(property)?;
    civil_of(&when).ok_or(Fault::Value {
        property: property.name.clone(),
        value: property.value.clone(),
        expected: "a local time",
    })
}

fn civil_of(when: &When) -> Option<DateTime> {
    match when {
        When::Local(civil, _) => Some(*civil),
        When::Date(_) | When::Utc(_) => None,
    }
}
