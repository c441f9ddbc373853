use proptest::prelude::*;

use super::*;
use crate::read::{ReadOptions, read};

fn options(zone: &str) -> WriteOptions {
    WriteOptions {
        product: "-//test//EN".to_owned(),
        name: "The shop".to_owned(),
        zone: TimeZone::get(zone).unwrap(),
    }
}

fn entry(start: &str) -> Entry {
    Entry {
        uid: "jobs/a@lamella".to_owned(),
        sequence: 3,
        revised: "2026-03-01T10:00:00Z".parse().unwrap(),
        created: "2026-03-01T09:00:00Z".parse().unwrap(),
        start: start.parse().unwrap(),
        end: Some("2026-03-30T15:00:00Z".parse().unwrap()),
        summary: "Blue estate, wash; wax".to_owned(),
        description: "one\ntwo".to_owned(),
        category: "booked".to_owned(),
        cancelled: false,
    }
}

#[test]
fn a_calendar_is_written_as_the_rfc_has_it() {
    let text = write(&options("Europe/Vienna"), &[entry("2026-03-28T08:00:00Z")]);
    let wanted = "\
BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//test//EN
CALSCALE:GREGORIAN
METHOD:PUBLISH
NAME:The shop
BEGIN:VTIMEZONE
TZID:Europe/Vienna
BEGIN:STANDARD
DTSTART:20251026T030000
TZOFFSETFROM:+0200
TZOFFSETTO:+0100
TZNAME:CET
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:20260329T020000
TZOFFSETFROM:+0100
TZOFFSETTO:+0200
TZNAME:CEST
END:DAYLIGHT
END:VTIMEZONE
BEGIN:VEVENT
UID:jobs/a@lamella
DTSTAMP:20260301T100000Z
CREATED:20260301T090000Z
LAST-MODIFIED:20260301T100000Z
SEQUENCE:3
DTSTART;TZID=Europe/Vienna:20260328T090000
DTEND;TZID=Europe/Vienna:20260330T170000
SUMMARY:Blue estate\\, wash\\; wax
DESCRIPTION:one\\ntwo
CATEGORIES:booked
STATUS:CONFIRMED
END:VEVENT
END:VCALENDAR
";
    assert_eq!(text, wanted.replace('\n', "\r\n"));
}

proptest! {
    /// What is written is read back as it was, and no line is too long.
    #[test]
    fn calendars_go_there_and_back(
        summary in "[^\\p{Cc}]{1,120}",
        description in "[^\\p{Cc}]{0,120}(\n[^\\p{Cc}]{1,30})?",
        // 1990 to 2040.
        start in 631_152_000_i64..2_208_988_800,
        length in prop::option::of(0_i64..5_000_000),
        sequence in 0_i32..,
        zone in prop::sample::select(vec![
            "Europe/Vienna", "UTC", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata",
        ]),
        cancelled: bool,
    ) {
        let begins = Timestamp::from_second(start).unwrap();
        let written = Entry {
            start: begins,
            end: length.map(|length| Timestamp::from_second(start + length).unwrap()),
            summary,
            description,
            sequence,
            cancelled,
            ..entry("2026-03-28T08:00:00Z")
        };
        let text = write(&options(zone), std::slice::from_ref(&written));
        prop_assert!(text.split("\r\n").all(|line| line.len() <= 75), "{}", text);
        let reading = read(text.as_bytes(), &ReadOptions {
            zone: TimeZone::UTC,
            from: Timestamp::UNIX_EPOCH,
            before: Timestamp::from_second(4_000_000_000).unwrap(),
        });
        prop_assert!(reading.rejections.is_empty(), "{:?}", reading.rejections);
        let read = &reading.occurrences[0];
        prop_assert_eq!(&read.uid, &written.uid);
        prop_assert_eq!(&read.summary, &written.summary);
        prop_assert_eq!(&read.description, &written.description);
        prop_assert_eq!((read.sequence, read.cancelled), (written.sequence, written.cancelled));
        // A clock that shows an hour twice cannot say which is meant.
        let zone = TimeZone::get(zone).unwrap();
        let told = |at: Timestamp| zone.to_timestamp(zone.to_datetime(at)).unwrap();
        prop_assert_eq!(read.start, told(written.start));
        prop_assert_eq!(read.end, written.end.map(told));
    }
}
