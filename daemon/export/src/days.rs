//! Shop-local days as a span of instants. A day begins with its first instant in
//! the zone and ends where the next one begins, so it has 23 or 25 hours where the
//! clocks change, and none at all where a zone skipped it.

use jiff::Timestamp;
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;

use crate::error::ExportError;

/// Most days in one span.
pub const MOST_DAYS: i64 = 366;

/// One day or several in a row.
#[derive(Debug, Clone)]
pub struct Days {
    from: Date,
    to: Date,
    zone: TimeZone,
    start: Timestamp,
    end: Timestamp,
}

impl Days {
    /// The days `from` to `to`, both included, in a zone.
    ///
    /// # Errors
    /// [`ExportError::DayRange`] outside 1970-01-02 to 9998-12-30,
    /// [`ExportError::DaysReversed`], [`ExportError::TooManyDays`] for more than 366.
    pub fn try_new(from: Date, to: Date, zone: TimeZone) -> Result<Self, ExportError> {
        let (first, last) = (date(1970, 1, 2), date(9998, 12, 30));
        for day in [from, to] {
            if !(first..=last).contains(&day) {
                return Err(ExportError::DayRange { day });
            }
        }
        if to < from {
            return Err(ExportError::DaysReversed { from, to });
        }
        let days = to.duration_since(from).as_hours() / 24 + 1;
        if days > MOST_DAYS {
            let most = MOST_DAYS;
            return Err(ExportError::TooManyDays { days, most });
        }
        let begins = |day: Date| day.to_zoned_datetime(zone.clone());
        let range = |day| move |_| ExportError::DayRange { day };
        let start = begins(from).map_err(range(from))?.timestamp();
        let next = to.tomorrow().map_err(range(to))?;
        let end = begins(next).map_err(range(to))?.timestamp();
        Ok(Self {
            from,
            to,
            zone,
            start,
            end,
        })
    }

    /// First day.
    #[must_use]
    pub fn from(&self) -> Date {
        self.from
    }

    /// Last day.
    #[must_use]
    pub fn to(&self) -> Date {
        self.to
    }

    /// The zone.
    #[must_use]
    pub fn zone(&self) -> &TimeZone {
        &self.zone
    }

    /// First instant.
    #[must_use]
    pub fn start(&self) -> Timestamp {
        self.start
    }

    /// First instant after the last day.
    #[must_use]
    pub fn end(&self) -> Timestamp {
        self.end
    }

    /// The day that an instant belongs to.
    #[must_use]
    pub fn day_of(&self, instant: Timestamp) -> Date {
        instant.to_zoned_datetime(self.zone.clone()).date()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn days(zone: &str, from: Date, to: Date) -> Result<Days, ExportError> {
        Days::try_new(from, to, TimeZone::get(zone).unwrap())
    }

    fn hours(zone: &str, day: Date) -> i64 {
        let days = days(zone, day, day).unwrap();
        days.end().duration_since(days.start()).as_hours()
    }

    // All from the IANA time zone database: the European Union's summer time from
    // the last Sunday of March to that of October; Brazil changed at midnight
    // until 2019; Samoa skipped 2011-12-30.
    #[test]
    fn days_with_a_clock_change_are_shorter_or_longer() {
        assert_eq!(hours("Europe/Vienna", date(2026, 3, 28)), 24);
        assert_eq!(hours("Europe/Vienna", date(2026, 3, 29)), 23);
        assert_eq!(hours("Europe/Vienna", date(2026, 10, 25)), 25);
        assert_eq!(hours("America/Sao_Paulo", date(2018, 11, 4)), 23);
        assert_eq!(hours("Pacific/Apia", date(2011, 12, 30)), 0);
        let vienna = days("Europe/Vienna", date(2026, 3, 29), date(2026, 3, 29)).unwrap();
        assert_eq!(vienna.start().to_string(), "2026-03-28T23:00:00Z");
        assert_eq!(vienna.end().to_string(), "2026-03-29T22:00:00Z");
        let brazil = days("America/Sao_Paulo", date(2018, 11, 4), date(2018, 11, 4)).unwrap();
        assert_eq!(brazil.start().to_string(), "2018-11-04T03:00:00Z");
    }

    #[test]
    fn spans_that_make_no_sense_are_refused() {
        let said = |from, to| days("UTC", from, to).unwrap_err().to_string();
        assert_eq!(
            said(date(2026, 3, 2), date(2026, 3, 1)),
            "the last day, 2026-03-01, lies before the first, 2026-03-02"
        );
        assert_eq!(
            said(date(2026, 1, 1), date(2027, 1, 2)),
            "367 days are more than 366"
        );
        assert!(said(date(1970, 1, 1), date(1970, 1, 2)).contains("1970-01-01"));
        assert!(said(date(9999, 12, 31), date(9999, 12, 31)).contains("9999-12-31"));
        assert!(days("UTC", date(2024, 1, 1), date(2024, 12, 31)).is_ok());
    }

    proptest! {
        #[test]
        fn days_follow_each_other_without_gap_or_overlap(
            year in 1971_i16..2100, month in 1_i8..=12, day in 1_i8..=28,
            zone in prop::sample::select(vec!["Europe/Vienna", "America/New_York", "Pacific/Apia", "Asia/Tokyo"]),
        ) {
            let today = date(year, month, day);
            let one = days(zone, today, today).unwrap();
            let next = today.tomorrow().unwrap();
            let two = days(zone, next, next).unwrap();
            prop_assert_eq!(one.end(), two.start());
            prop_assert_eq!(two.day_of(two.start()) >= next, true);
            if one.start() < one.end() {
                prop_assert_eq!(one.day_of(one.start()), today);
                let last = one.end().checked_sub(jiff::SignedDuration::from_nanos(1)).unwrap();
                prop_assert_eq!(one.day_of(last), today);
            }
        }
    }
}
