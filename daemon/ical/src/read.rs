//! From a file to events with all their times.

use std::collections::{BTreeMap, BTreeSet};

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

use crate::component::{self, Component};
use crate::event::{DECISIVE, Event, Moment, Surroundings};
use crate::fault::Fault;
use crate::repeat::Work;
use crate::zone::Zones;

/// Most bytes that a calendar should be given to [`read()`] with: 4 MiB.
pub const MAX_BYTES: usize = 4 * 1024 * 1024;
/// Most times of one event in the window: a little more than daily for three years.
const MAX_TIMES: usize = 1100;

/// How to read.
#[derive(Debug, Clone)]
pub struct ReadOptions {
    /// The zone of dates and of times that name none.
    pub zone: TimeZone,
    /// The window: what begins at or after this,
    pub from: Timestamp,
    /// and before this.
    pub before: Timestamp,
}

/// What a file holds.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reading {
    /// How many VCALENDAR objects; 0 for what is no calendar at all.
    pub calendars: usize,
    /// Every time of every event, by line and beginning.
    pub occurrences: Vec<Occurrence>,
    /// Everything that could not be used, by line.
    pub rejections: Vec<Rejection>,
}

/// One time at which an event takes place, or once was to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Occurrence {
    /// Line on which its VEVENT begins, from 1.
    pub line: u32,
    /// UID.
    pub uid: String,
    /// For one time of a repeating event: when the rule sets it, also when it was
    /// moved since.
    pub recurrence: Option<Timestamp>,
    /// SEQUENCE, from 0.
    pub sequence: i32,
    /// The later of DTSTAMP and LAST-MODIFIED.
    pub revised: Timestamp,
    /// When it begins.
    pub start: Timestamp,
    /// When it ends; unset where neither DTEND nor DURATION is given.
    pub end: Option<Timestamp>,
    /// It is given by dates, without a time of day.
    pub all_day: bool,
    /// SUMMARY.
    pub summary: String,
    /// DESCRIPTION.
    pub description: String,
    /// STATUS:CANCELLED, METHOD:CANCEL, or left out by EXDATE.
    pub cancelled: bool,
    /// Whether it begins in the window. Of a repeating event only such times are
    /// given, or the first alone where there is none.
    pub in_window: bool,
}

/// A line, component or event that could not be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejection {
    /// Its line, from 1.
    pub line: u32,
    /// UID of the event; empty where there is none.
    pub uid: String,
    /// Why.
    pub fault: Fault,
}

/// Reads a calendar file. Never fails: what cannot be used is in the answer.
pub fn read(bytes: &[u8], options: &ReadOptions) -> Reading {
    let file = component::read(bytes);
    let mut reading = Reading {
        calendars: file.calendars.len(),
        ..Reading::default()
    };
    let nameless = |(line, fault)| Rejection {
        line,
        uid: String::new(),
        fault,
    };
    reading
        .rejections
        .extend(file.faults.into_iter().map(nameless));
    let mut work = Work::default();
    for calendar in &file.calendars {
        Reader {
            options,
            reading: &mut reading,
            work: &mut work,
        }
        .calendar(calendar);
    }
    reading.occurrences.sort_by_key(|o| (o.line, o.start));
    reading.rejections.sort_by_key(|rejection| rejection.line);
    reading
}

struct Reader<'a> {
    options: &'a ReadOptions,
    reading: &'a mut Reading,
    work: &'a mut Work,
}

impl Reader<'_> {
    fn calendar(&mut self, calendar: &Component) {
        let zones = Zones::of(calendar, later(self.options.before), self.work);
        let around = Surroundings {
            zones: &zones,
            floating: &self.options.zone,
        };
        for bad in &calendar.bad {
            self.reject(bad.line, "", bad.fault.clone());
        }
        let method = calendar.all("METHOD").next().map(|p| p.value.trim());
        let all_cancelled = method.is_some_and(|m| m.eq_ignore_ascii_case("CANCEL"));
        let mut events = Vec::new();
        for component in &calendar.components {
            match component.name.as_str() {
                "VEVENT" => events.extend(self.event(component, around)),
                "VTIMEZONE" => {}
                name => {
                    let name = name.to_owned();
                    self.reject(component.line, "", Fault::Component { name });
                }
            }
        }
        for event in &mut events {
            event.cancelled |= all_cancelled;
        }
        self.take_place(&events);
    }

    fn event(&mut self, component: &Component, around: Surroundings<'_>) -> Option<Event> {
        let uid = component.all("UID").next();
        let uid = uid
            .map(|p| crate::value::text(p.value.trim()))
            .unwrap_or_default();
        // The event is taken in without a line that decides nothing.
        for bad in &component.bad {
            if !DECISIVE.contains(&bad.name.as_str()) {
                self.reject(bad.line, &uid, bad.fault.clone());
            }
        }
        match Event::of(component, around) {
            Ok(event) if !event.uid.is_empty() => Some(event),
            Ok(_) => {
                self.reject(component.line, "", Fault::Missing { property: "UID" });
                None
            }
            Err(fault) => {
                self.reject(component.line, &uid, fault);
                None
            }
        }
    }

    /// Works every event out; a moved time takes the place of the one that its
    /// rule sets.
    fn take_place(&mut self, events: &[Event]) {
        let mut moved: BTreeMap<&str, BTreeSet<Timestamp>> = BTreeMap::new();
        // A moved time is at least as new as the event it belongs to.
        let mut whole: BTreeMap<&str, (i32, bool)> = BTreeMap::new();
        for event in events {
            match event.replaces {
                Some(replaced) => {
                    moved.entry(&event.uid).or_default().insert(replaced);
                }
                None => {
                    let known = whole.entry(&event.uid).or_insert((0, false));
                    if event.sequence >= known.0 {
                        *known = (event.sequence, event.cancelled);
                    }
                }
            }
        }
        let none = BTreeSet::new();
        for event in events {
            let result = match event.replaces {
                Some(replaced) => {
                    let (sequence, cancelled) =
                        whole.get(event.uid.as_str()).copied().unwrap_or_default();
                    self.moved(event, replaced, sequence, cancelled)
                }
                None => self.times(event, moved.get(event.uid.as_str()).unwrap_or(&none)),
            };
            match result {
                Ok(occurrences) => self.reading.occurrences.extend(occurrences),
                Err(fault) => self.reject(event.line, &event.uid, fault),
            }
        }
    }

    fn moved(
        &self,
        event: &Event,
        replaced: Timestamp,
        sequence: i32,
        cancelled: bool,
    ) -> Result<Vec<Occurrence>, Fault> {
        let mut occurrence = self.occurrence(event, &event.starts)?;
        occurrence.recurrence = Some(replaced);
        occurrence.sequence = occurrence.sequence.max(sequence);
        occurrence.cancelled |= cancelled;
        // Also when it was moved out of the window: it may be known here.
        occurrence.in_window |= self.in_window(replaced);
        Ok(vec![occurrence])
    }

    fn times(
        &mut self,
        event: &Event,
        moved: &BTreeSet<Timestamp>,
    ) -> Result<Vec<Occurrence>, Fault> {
        if event.rules.is_empty() && event.extra.is_empty() {
            return Ok(vec![self.occurrence(event, &event.starts)?]);
        }
        let begins = self.begins(event)?;
        let mut occurrences = Vec::new();
        for (instant, begin) in &begins {
            if !self.in_window(*instant) || moved.contains(instant) {
                continue;
            }
            if occurrences.len() == MAX_TIMES {
                return Err(Fault::TooMany {
                    limit: MAX_TIMES,
                    span: "in the window",
                });
            }
            let mut occurrence = self.occurrence(event, begin)?;
            occurrence.recurrence = Some(*instant);
            occurrence.cancelled |= event.left_out.contains(instant);
            occurrences.push(occurrence);
        }
        if occurrences.is_empty() && !moved.iter().any(|instant| self.in_window(*instant)) {
            let mut first = self.occurrence(event, &event.starts)?;
            first.in_window = false;
            occurrences.push(first);
        }
        Ok(occurrences)
    }

    /// When a repeating event begins, up to the end of the window.
    fn begins(&mut self, event: &Event) -> Result<BTreeMap<Timestamp, Moment>, Fault> {
        let starts = &event.starts;
        let mut begins = BTreeMap::new();
        // DTSTART is the first time whatever the rule says (section 3.8.5.3).
        begins.insert(starts.instant()?, starts.clone());
        for moment in &event.extra {
            begins.insert(moment.instant()?, moment.clone());
        }
        let last = starts.zone.civil(later(self.options.before));
        for rule in &event.rules {
            let to_civil = |instant| starts.zone.civil(instant);
            let times = self
                .work
                .expand(rule, starts.civil, to_civil, last, usize::MAX)?;
            for civil in times {
                let moment = Moment {
                    civil,
                    ..starts.clone()
                };
                begins.insert(moment.instant()?, moment);
            }
        }
        Ok(begins)
    }

    fn occurrence(&self, event: &Event, begins: &Moment) -> Result<Occurrence, Fault> {
        let start = begins.instant()?;
        Ok(Occurrence {
            line: event.line,
            uid: event.uid.clone(),
            recurrence: None,
            sequence: event.sequence,
            revised: event.revised,
            start,
            end: event.end(begins)?,
            all_day: begins.all_day,
            summary: event.summary.clone(),
            description: event.description.clone(),
            cancelled: event.cancelled,
            in_window: self.in_window(start),
        })
    }

    fn in_window(&self, instant: Timestamp) -> bool {
        instant >= self.options.from && instant < self.options.before
    }

    fn reject(&mut self, line: u32, uid: &str, fault: Fault) {
        self.reading.rejections.push(Rejection {
            line,
            uid: uid.to_owned(),
            fault,
        });
    }
}

/// A day later: civil times are a day from UTC at most.
fn later(instant: Timestamp) -> Timestamp {
    instant
        .checked_add(SignedDuration::from_hours(24))
        .unwrap_or(Timestamp::MAX)
}

#[cfg(test)]
mod tests;
