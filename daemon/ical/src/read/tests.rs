use super::*;

/// A window as wide as the rules of the RFC's examples need.
fn options(from: &str, before: &str) -> ReadOptions {
    ReadOptions {
        zone: TimeZone::get("Europe/Vienna").unwrap(),
        from: from.parse().unwrap(),
        before: before.parse().unwrap(),
    }
}

/// A calendar of events, each given by its properties.
fn calendar(events: &[&str]) -> String {
    let mut text = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//EN\r\n".to_owned();
    for (number, event) in events.iter().enumerate() {
        text += &format!("BEGIN:VEVENT\r\nDTSTAMP:19970101T000000Z\r\nUID:{number}\r\n");
        for line in event.lines() {
            text += &format!("{}\r\n", line.trim());
        }
        text += "END:VEVENT\r\n";
    }
    text + "END:VCALENDAR\r\n"
}

fn starts(reading: &Reading) -> Vec<String> {
    let taken = reading.occurrences.iter().filter(|o| o.in_window);
    taken.map(|o| o.start.to_string()).collect()
}

fn one(event: &str, from: &str, before: &str) -> Reading {
    read(calendar(&[event]).as_bytes(), &options(from, before))
}

const YEAR: (&str, &str) = ("1997-01-01T00:00:00Z", "1999-12-31T00:00:00Z");

/// RFC 5545 section 3.8.5.3: the examples whose times the RFC lists in full or
/// counts. New York is at UTC-4 until October 26th 1997, and then at UTC-5.
#[test]
fn the_recurrence_examples_of_the_rfc_give_its_times() {
    let all: [(&str, &[&str]); 9] = [
        (
            "RRULE:FREQ=WEEKLY;COUNT=4",
            &["09-02T13", "09-09T13", "09-16T13", "09-23T13"],
        ),
        (
            "RRULE:FREQ=DAILY;INTERVAL=10;COUNT=5",
            &["09-02T13", "09-12T13", "09-22T13", "10-02T13", "10-12T13"],
        ),
        (
            "RRULE:FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
            &[
                "09-02T13", "09-04T13", "09-09T13", "09-11T13", "09-16T13", "09-18T13", "09-23T13",
                "09-25T13", "09-30T13", "10-02T13",
            ],
        ),
        (
            "RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
            &[
                "09-02T13", "09-04T13", "09-16T13", "09-18T13", "09-30T13", "10-02T13", "10-14T13",
                "10-16T13",
            ],
        ),
        // The third Tuesday, Wednesday or Thursday of three months; the last lies
        // after the change of the clocks.
        (
            "RRULE:FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3",
            &["09-04T13", "10-07T13", "11-06T14"],
        ),
        (
            "RRULE:FREQ=MONTHLY;COUNT=4;BYMONTHDAY=2,15",
            &["09-02T13", "09-15T13", "10-02T13", "10-15T13"],
        ),
        // Every three hours until five in the afternoon; the RFC's text and its list
        // mean 17:00 on the clock, its UNTIL says 17:00 UTC.
        (
            "RRULE:FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T210000Z",
            &["09-02T13", "09-02T16", "09-02T19"],
        ),
        (
            "RRULE:FREQ=DAILY;COUNT=3\nEXDATE;TZID=America/New_York:19970903T090000",
            &["09-02T13", "09-03T13 cancelled", "09-04T13"],
        ),
        (
            "RDATE;TZID=America/New_York:19970905T090000,19971105T090000",
            &["09-02T13", "09-05T13", "11-05T14"],
        ),
    ];
    for (rule, wanted) in all {
        let (rule, wanted) = if rule.contains("BYSETPOS") {
            // This example of the RFC begins on September 4th.
            (
                format!("DTSTART;TZID=America/New_York:19970904T090000\n{rule}"),
                wanted,
            )
        } else {
            (
                format!("DTSTART;TZID=America/New_York:19970902T090000\n{rule}"),
                wanted,
            )
        };
        let reading = one(&rule, YEAR.0, YEAR.1);
        let found: Vec<String> = reading
            .occurrences
            .iter()
            .map(|o| {
                let cancelled = if o.cancelled { " cancelled" } else { "" };
                format!("{}{cancelled}", o.start.strftime("%m-%dT%H"))
            })
            .collect();
        assert_eq!(found, wanted, "{rule}: {:?}", reading.rejections);
        assert!(reading.rejections.is_empty(), "{:?}", reading.rejections);
    }
}

#[test]
fn dates_without_a_time_last_whole_days_in_the_shops_zone() {
    // RFC 5545 section 3.6.1: an all-day event, and one of several days.
    let events = calendar(&[
        "DTSTART;VALUE=DATE:19971102\nSUMMARY:Our Blissful Anniversary",
        "DTSTART;VALUE=DATE:20070628\nDTEND;VALUE=DATE:20070709",
    ]);
    let reading = read(
        events.as_bytes(),
        &options("1997-01-01T00:00:00Z", "2008-01-01T00:00:00Z"),
    );
    let spans: Vec<String> = reading
        .occurrences
        .iter()
        .map(|o| format!("{} {}", o.start, o.end.unwrap()))
        .collect();
    // Vienna is at UTC+1 in winter and at UTC+2 in summer.
    assert_eq!(
        spans,
        [
            "1997-11-01T23:00:00Z 1997-11-02T23:00:00Z",
            "2007-06-27T22:00:00Z 2007-07-08T22:00:00Z",
        ]
    );
}

#[test]
fn a_visit_keeps_its_hour_and_a_day_its_length_when_the_clocks_change() {
    // Vienna: 2026-03-29 has 23 hours, 02:00 to 03:00 is skipped.
    let event =
        "DTSTART;TZID=Europe/Vienna:20260328T023000\nDURATION:P1D\nRRULE:FREQ=DAILY;COUNT=3";
    let reading = one(event, "2026-03-01T00:00:00Z", "2026-05-01T00:00:00Z");
    let spans: Vec<String> = reading
        .occurrences
        .iter()
        .map(|o| format!("{} {}", o.start, o.end.unwrap()))
        .collect();
    assert_eq!(
        spans,
        [
            // Its end is skipped, and taken with the offset before the gap.
            "2026-03-28T01:30:00Z 2026-03-29T01:30:00Z",
            "2026-03-29T01:30:00Z 2026-03-30T00:30:00Z",
            "2026-03-30T00:30:00Z 2026-03-31T00:30:00Z",
        ]
    );
}

/// RFC 5545 section 3.6.5: the zone of New York as the RFC defines it, under a
/// name that no database knows.
const ZONE: &str = "BEGIN:VTIMEZONE\r
TZID:Shop clock\r
BEGIN:DAYLIGHT\r
DTSTART:19870405T020000\r
RRULE:FREQ=YEARLY;BYMONTH=4;BYDAY=1SU;UNTIL=20060402T070000Z\r
TZOFFSETFROM:-0500\r
TZOFFSETTO:-0400\r
TZNAME:EDT\r
END:DAYLIGHT\r
BEGIN:DAYLIGHT\r
DTSTART:20070311T020000\r
RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=2SU\r
TZOFFSETFROM:-0500\r
TZOFFSETTO:-0400\r
TZNAME:EDT\r
END:DAYLIGHT\r
BEGIN:STANDARD\r
DTSTART:19671029T020000\r
RRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU;UNTIL=20061029T060000Z\r
TZOFFSETFROM:-0400\r
TZOFFSETTO:-0500\r
TZNAME:EST\r
END:STANDARD\r
BEGIN:STANDARD\r
DTSTART:20071104T020000\r
RRULE:FREQ=YEARLY;BYMONTH=11;BYDAY=1SU\r
TZOFFSETFROM:-0400\r
TZOFFSETTO:-0500\r
TZNAME:EST\r
END:STANDARD\r
END:VTIMEZONE\r
";

#[test]
fn a_zone_that_the_calendar_defines_agrees_with_the_database_of_zones() {
    let known = TimeZone::get("America/New_York").unwrap();
    let mut day = jiff::civil::date(2005, 1, 1);
    let (mut events, mut wanted) = (Vec::new(), Vec::new());
    while day.year() < 2028 {
        // Every hour that a clock skips or shows twice in some year, and noon.
        for hour in [1, 2, 3, 12] {
            let civil = day.at(hour, 30, 0, 0);
            events.push(format!(
                "DTSTART;TZID=Shop clock:{}",
                civil.strftime("%Y%m%dT%H%M%S")
            ));
            wanted.push(known.to_timestamp(civil).unwrap());
        }
        day = day.tomorrow().unwrap();
        // Changes fall on Sundays; other days are looked at now and then.
        while day.weekday() != jiff::civil::Weekday::Sunday && day.day() != 15 {
            day = day.tomorrow().unwrap();
        }
    }
    let events: Vec<&str> = events.iter().map(String::as_str).collect();
    let text = calendar(&events).replace("VERSION:2.0\r\n", &format!("VERSION:2.0\r\n{ZONE}"));
    let reading = read(
        text.as_bytes(),
        &options("2005-01-01T00:00:00Z", "2028-01-01T00:00:00Z"),
    );
    assert!(reading.rejections.is_empty(), "{:?}", reading.rejections);
    let found: Vec<Timestamp> = reading.occurrences.iter().map(|o| o.start).collect();
    assert_eq!(found, wanted);
}

#[test]
fn a_moved_time_replaces_its_own_and_keeps_its_name() {
    let series = "DTSTART:20260302T090000Z\nRRULE:FREQ=WEEKLY;COUNT=3\nSEQUENCE:2\nSUMMARY:wash";
    let moved = "DTSTART:20260310T100000Z\nRECURRENCE-ID:20260309T090000Z\nSUMMARY:wash, later";
    let text = calendar(&[series, moved]).replace("UID:1\r\n", "UID:0\r\n");
    let reading = read(
        text.as_bytes(),
        &options("2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z"),
    );
    let mut found: Vec<(String, String, i32)> = reading
        .occurrences
        .iter()
        .map(|o| {
            (
                o.recurrence.unwrap().to_string(),
                o.start.to_string(),
                o.sequence,
            )
        })
        .collect();
    found.sort();
    let times = |set: &str, start: &str| (set.to_owned(), start.to_owned(), 2);
    assert_eq!(
        found,
        [
            times("2026-03-02T09:00:00Z", "2026-03-02T09:00:00Z"),
            times("2026-03-09T09:00:00Z", "2026-03-10T10:00:00Z"),
            times("2026-03-16T09:00:00Z", "2026-03-16T09:00:00Z"),
        ]
    );
}

#[test]
fn cancelled_events_are_told_from_others() {
    let alone = "DTSTART:20260302T090000Z\nSTATUS:CANCELLED";
    assert!(one(alone, "2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z").occurrences[0].cancelled);
    let text = calendar(&["DTSTART:20260302T090000Z"]);
    let window = options("2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z");
    assert!(!read(text.as_bytes(), &window).occurrences[0].cancelled);
    let text = text.replace("VERSION:2.0", "VERSION:2.0\r\nMETHOD:CANCEL");
    assert!(read(text.as_bytes(), &window).occurrences[0].cancelled);
}

#[test]
fn everything_that_is_not_taken_in_is_named_with_its_line() {
    let bad = [
        (
            "DTSTART:20260230T090000Z",
            "DTSTART `20260230T090000Z` is not a date",
        ),
        ("SUMMARY:no start", "DTSTART is missing"),
        (
            "DTSTART:20260302T090000Z\nDTSTART:20260303T090000Z",
            "DTSTART stands 2 times",
        ),
        (
            "DTSTART;TZID=Nowhere:20260302T090000",
            "time zone `Nowhere`",
        ),
        (
            "DTSTART:20260302T090000Z\nDTEND:20260301T090000Z",
            "DTEND lies before DTSTART",
        ),
        (
            "DTSTART:20260302T090000Z\nDTEND:20260303T090000Z\nDURATION:PT1H",
            "may not both",
        ),
        (
            "DTSTART:20260302T090000Z\nRRULE:FREQ=SECONDLY",
            "more often than hourly",
        ),
        (
            "DTSTART:20260302T090000Z\nRRULE:FREQ=DAILY;BYHOUR=1,2,3,4,5;BYMINUTE=1,2,3,4,5",
            "more often",
        ),
        (
            "DTSTART:20260302T090000Z\nRRULE:FREQ=HOURLY",
            "more than 1100 times in the window",
        ),
        (
            "DTSTART:20260302T090000Z\nRRULE:FREQ=NEVER",
            "RRULE `FREQ=NEVER` cannot be used",
        ),
        (
            "DTSTART:20260302T090000Z\nRRULE FREQ=DAILY",
            "a colon is missing",
        ),
        (
            "DTSTART:20260302T090000Z\nRECURRENCE-ID;RANGE=THISANDFUTURE:20260302T090000Z",
            "RANGE=THISANDFUTURE",
        ),
        ("DTSTART:20260302T090000Z\nSEQUENCE:-1", "SEQUENCE `-1`"),
    ];
    for (event, part) in bad {
        let reading = one(event, "2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z");
        assert!(reading.occurrences.is_empty(), "{event}: {reading:?}");
        let [rejection] = reading.rejections.as_slice() else {
            panic!("{event}: {reading:?}");
        };
        let text = rejection.fault.to_string();
        assert!(text.contains(part), "{event}: {text}");
        assert_eq!((rejection.line, rejection.uid.as_str()), (4, "0"));
    }
}

#[test]
fn other_components_and_stray_lines_are_named_and_the_rest_is_taken_in() {
    let text = "X-BEFORE:1\nBEGIN:VCALENDAR\nBEGIN:VTODO\nUID:t\nEND:VTODO\nBEGIN:VEVENT\nUID:1\n\
                DTSTAMP:20260101T000000Z\nDTSTART:20260302T090000Z\nX-BROKEN\nEND:VEVENT\nEND:VCALENDAR\n";
    let reading = read(
        text.as_bytes(),
        &options("2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z"),
    );
    assert_eq!(starts(&reading), ["2026-03-02T09:00:00Z"]);
    let named: Vec<(u32, String)> = reading
        .rejections
        .iter()
        .map(|r| (r.line, r.fault.to_string()))
        .collect();
    assert_eq!(named.len(), 3, "{named:?}");
    assert_eq!(
        named[0],
        (1, "X-BEFORE stands outside of any VCALENDAR".to_owned())
    );
    assert_eq!(named[1].0, 3);
    assert_eq!(named[2].0, 10);
}

#[test]
fn rules_that_never_take_place_are_not_searched_for_without_end() {
    let never = "DTSTART:20260302T090000Z\nRRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30";
    let events = vec![never; 12];
    let text = calendar(&events);
    let reading = read(
        text.as_bytes(),
        &options("2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z"),
    );
    let refused = reading
        .rejections
        .iter()
        .filter(|r| r.fault == Fault::TooMuchWork);
    assert_eq!(refused.count() + reading.occurrences.len(), 12);
    assert!(reading.rejections.len() > 6, "{}", reading.rejections.len());
}

mod properties {
    use super::*;
    use proptest::prelude::*;

    /// Lines that are calendars in part.
    fn line() -> impl Strategy<Value = String> {
        let word = prop::sample::select(vec![
            "BEGIN:VCALENDAR",
            "END:VCALENDAR",
            "BEGIN:VEVENT",
            "END:VEVENT",
            "BEGIN:VTIMEZONE",
            "END:VTIMEZONE",
            "BEGIN:STANDARD",
            "END:STANDARD",
            "TZID:Z",
            "TZOFFSETFROM:+0100",
            "TZOFFSETTO:+0200",
            "UID:1",
            "DTSTAMP:20260101T000000Z",
            "DTSTART;TZID=Z:20260302T090000",
            "DTSTART:20260302T090000Z",
            "DTEND:20260302T100000Z",
            "RRULE:FREQ=WEEKLY;COUNT=3",
            "RRULE:FREQ=MONTHLY;BYDAY=-1MO",
            "EXDATE:20260309T090000Z",
            "STATUS:CANCELLED",
            "RECURRENCE-ID:20260309T090000Z",
            "DURATION:PT1H",
            " folded",
            "SEQUENCE:3",
        ]);
        prop_oneof![8 => word.prop_map(str::to_owned), 1 => ".{0,20}"]
    }

    proptest! {
        /// Whatever is read, nothing panics, and every event is in the answer.
        #[test]
        fn every_event_is_taken_in_or_named(lines in prop::collection::vec(line(), 0..60)) {
            let text = lines.join("\r\n");
            let reading = read(text.as_bytes(), &options("2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z"));
            let named: std::collections::BTreeSet<u32> = reading.occurrences.iter().map(|o| o.line)
                .chain(reading.rejections.iter().map(|r| r.line)).collect();
            let joined = text.replace("\r\n folded", "");
            let folded = joined.len() != text.len();
            for (number, line) in (1..).zip(text.split("\r\n")) {
                if line == "BEGIN:VEVENT" && !folded {
                    prop_assert!(named.contains(&number), "line {number} of {text:?}: {reading:?}");
                }
            }
        }

        #[test]
        fn any_bytes_are_read(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            let reading = read(&bytes, &options("2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z"));
            prop_assert!(reading.occurrences.is_empty());
        }
    }
}
