//! Times as typed: RFC 3339, `now`, or a day and a time of day in the local
//! zone.

use std::str::FromStr;

use jiff::civil::{DateTime, Time};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _};

/// A time as typed; what it means depends on the present and the zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum TimeArg {
    /// The present moment.
    Now,
    /// An instant.
    At(Timestamp),
    /// So many days from today, at a time of day.
    Day(i64, Time),
    /// A date and time of day.
    Local(DateTime),
}

/// Why a time cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum TimeError {
    /// Of no known form.
    #[error(
        "`{given}` is not a time; write 2026-03-02T17:00:00+01:00, \"2026-03-02 17:00\", \
         \"today 17:00\", \"tomorrow 09:30\", 17:00 or now"
    )]
    Form {
        /// What was given.
        given: String,
    },
    /// A day without a time of day.
    #[error("`{given}` has no time of day; write \"{given} 17:00\"")]
    NoTimeOfDay {
        /// What was given.
        given: String,
    },
    /// Outside the calendar.
    #[error("the time is out of range: {0}")]
    Range(String),
}

impl FromStr for TimeArg {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<Self, TimeError> {
        let given = text.trim();
        let form = || TimeError::Form {
            given: given.to_owned(),
        };
        if given.eq_ignore_ascii_case("now") {
            return Ok(Self::Now);
        }
        if let Some(time) = time_of_day(given) {
            return Ok(Self::Day(0, time));
        }
        let (first, rest) = match given.split_once(char::is_whitespace) {
            Some((first, rest)) => (first, rest.trim()),
            None => (given, ""),
        };
        for (word, days) in [("yesterday", -1), ("today", 0), ("tomorrow", 1)] {
            if first.eq_ignore_ascii_case(word) {
                return match time_of_day(rest) {
                    Some(time) => Ok(Self::Day(days, time)),
                    None if rest.is_empty() => Err(TimeError::NoTimeOfDay {
                        given: given.to_owned(),
                    }),
                    None => Err(form()),
                };
            }
        }
        if let Ok(instant) = given.parse::<Timestamp>() {
            return Ok(Self::At(instant));
        }
        if given.parse::<jiff::civil::Date>().is_ok() && !given.contains(':') {
            return Err(TimeError::NoTimeOfDay {
                given: given.to_owned(),
            });
        }
        given
            .parse::<DateTime>()
            .map(Self::Local)
            .map_err(|_| form())
    }
}

impl TimeArg {
    /// The instant meant. Where the clocks jump over it, the later reading; where
    /// they show it twice, the earlier: as RFC 5545 reads local times.
    ///
    /// # Errors
    /// [`TimeError::Range`].
    pub(crate) fn resolve(self, now: Timestamp, zone: &TimeZone) -> Result<Timestamp, TimeError> {
        let range = |error: jiff::Error| TimeError::Range(error.to_string());
        let local = match self {
            Self::Now => return Ok(now),
            Self::At(instant) => return Ok(instant),
            Self::Day(days, time) => {
                let today = now.to_zoned_datetime(zone.clone()).date();
                today
                    .checked_add(days.days())
                    .map_err(range)?
                    .to_datetime(time)
            }
            Self::Local(local) => local,
        };
        zone.to_ambiguous_timestamp(local)
            .compatible()
            .map_err(range)
    }
}

/// A timestamp as it travels.
pub(crate) fn to_proto(instant: Timestamp) -> prost_types::Timestamp {
    prost_types::Timestamp {
        seconds: instant.as_second(),
        // Proto nanoseconds count up from the second below, also before 1970.
        nanos: instant.subsec_nanosecond(),
    }
    .normalized_down()
}

/// A timestamp that travelled; `None` where it lies outside the calendar.
pub(crate) fn from_proto(time: &prost_types::Timestamp) -> Option<Timestamp> {
    Timestamp::new(time.seconds, time.nanos).ok()
}

fn time_of_day(text: &str) -> Option<Time> {
    // jiff alone would also read "17" or "T17"; a time of day has a colon here.
    if text.contains(':') && !text.contains(char::is_whitespace) && text.len() <= 8 {
        let padded = if text.find(':') == Some(1) {
            format!("0{text}")
        } else {
            text.to_owned()
        };
        padded.parse().ok()
    } else {
        None
    }
}

trait NormalizedDown {
    fn normalized_down(self) -> Self;
}

impl NormalizedDown for prost_types::Timestamp {
    fn normalized_down(mut self) -> Self {
        if self.nanos < 0 {
            self.seconds -= 1;
            self.nanos += 1_000_000_000;
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn zone() -> TimeZone {
        TimeZone::get("Europe/Berlin").unwrap()
    }

    fn read(text: &str) -> String {
        // Monday, 2 March 2026, 10:15 in the zone.
        let now: Timestamp = "2026-03-02T09:15:00Z".parse().unwrap();
        match text
            .parse::<TimeArg>()
            .and_then(|time| time.resolve(now, &zone()))
        {
            Ok(instant) => instant.to_string(),
            Err(error) => error.to_string(),
        }
    }

    // Berlin is UTC+1, from 29 March 2026 02:00 on UTC+2 (IANA tz database).
    #[test]
    fn times() {
        let all = [
            "now",
            "today 17:00",
            "tomorrow 09:30",
            "yesterday 8:05",
            "17:00",
            "2026-03-02 17:00",
            "2026-03-02T17:00",
            "2026-03-02T17:00:00Z",
            "2026-03-02T17:00:00-05:00",
            "2026-03-29 02:30",
            "2026-10-25 02:30",
            "2026-03-02",
            "today",
            "today noon",
            "25:00",
            "2026-02-30 10:00",
            "17",
            "",
        ];
        insta::assert_snapshot!(
            all.map(|text| format!("{text}: {}", read(text))).join("\n"),
            @r#"
        now: 2026-03-02T09:15:00Z
        today 17:00: 2026-03-02T16:00:00Z
        tomorrow 09:30: 2026-03-03T08:30:00Z
        yesterday 8:05: 2026-03-01T07:05:00Z
        17:00: 2026-03-02T16:00:00Z
        2026-03-02 17:00: 2026-03-02T16:00:00Z
        2026-03-02T17:00: 2026-03-02T16:00:00Z
        2026-03-02T17:00:00Z: 2026-03-02T17:00:00Z
        2026-03-02T17:00:00-05:00: 2026-03-02T22:00:00Z
        2026-03-29 02:30: 2026-03-29T01:30:00Z
        2026-10-25 02:30: 2026-10-25T00:30:00Z
        2026-03-02: `2026-03-02` has no time of day; write "2026-03-02 17:00"
        today: `today` has no time of day; write "today 17:00"
        today noon: `today noon` is not a time; write 2026-03-02T17:00:00+01:00, "2026-03-02 17:00", "today 17:00", "tomorrow 09:30", 17:00 or now
        25:00: `25:00` is not a time; write 2026-03-02T17:00:00+01:00, "2026-03-02 17:00", "today 17:00", "tomorrow 09:30", 17:00 or now
        2026-02-30 10:00: `2026-02-30 10:00` is not a time; write 2026-03-02T17:00:00+01:00, "2026-03-02 17:00", "today 17:00", "tomorrow 09:30", 17:00 or now
        17: `17` is not a time; write 2026-03-02T17:00:00+01:00, "2026-03-02 17:00", "today 17:00", "tomorrow 09:30", 17:00 or now
        : `` is not a time; write 2026-03-02T17:00:00+01:00, "2026-03-02 17:00", "today 17:00", "tomorrow 09:30", 17:00 or now
        "#
        );
    }

    proptest! {
        #[test]
        fn nothing_typed_makes_it_panic(text in "\\PC*", seconds in -377_705_023_201_i64..253_402_207_200) {
            let now = Timestamp::from_second(seconds).unwrap();
            if let Ok(time) = text.parse::<TimeArg>() {
                let _ = time.resolve(now, &zone());
            }
            for time in ["tomorrow 23:59", "yesterday 0:00"] {
                let _ = time.parse::<TimeArg>().unwrap().resolve(now, &zone());
            }
        }

        #[test]
        fn timestamps_travel_unchanged(seconds in -60_000_000_000_i64..200_000_000_000, nanos in 0..1_000_000_000_i32) {
            let instant = Timestamp::new(seconds, nanos).unwrap();
            let proto = to_proto(instant);
            prop_assert!((0..1_000_000_000).contains(&proto.nanos));
            prop_assert_eq!(from_proto(&proto), Some(instant));
        }
    }
}
