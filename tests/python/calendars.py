"""iCalendar by another library (icalendar, with python-dateutil for the rules).

usage: calendars.py write FILE    writes a calendar and prints, as JSON, when its
                                  events take place by that library's reckoning
       calendars.py read FILE     prints the events of a calendar as JSON
"""

import datetime as dt
import json
import sys
import zoneinfo

import icalendar
from dateutil.rrule import rrulestr

UTC = dt.timezone.utc
STAMP = dt.datetime(2026, 1, 1, tzinfo=UTC)
# What is compared lies in here.
FIRST, LAST = dt.datetime(2026, 1, 1, tzinfo=UTC), dt.datetime(2027, 1, 1, tzinfo=UTC)

# Zone, beginning there, rule: the forms of RFC 5545 section 3.8.5.3, moved to 2026.
RULES = [
    ("America/New_York", "2026-09-02T09:00", "FREQ=DAILY;COUNT=10"),
    ("America/New_York", "2026-09-02T09:00", "FREQ=DAILY;UNTIL=20261224T000000Z"),
    ("Europe/Vienna", "2026-01-05T08:00", "FREQ=DAILY;INTERVAL=2"),
    ("Europe/Vienna", "2026-09-01T08:00", "FREQ=WEEKLY;INTERVAL=2;WKST=SU;BYDAY=MO,WE,FR"),
    ("Europe/Vienna", "2026-03-06T08:00", "FREQ=MONTHLY;COUNT=6;BYDAY=1FR"),
    ("Europe/Vienna", "2026-03-28T02:30", "FREQ=DAILY;COUNT=3"),
    ("Europe/Vienna", "2026-10-24T02:30", "FREQ=DAILY;COUNT=3"),
    ("America/New_York", "2026-01-31T09:00", "FREQ=MONTHLY;BYMONTHDAY=-3"),
    ("America/New_York", "2026-01-30T09:00", "FREQ=MONTHLY;BYMONTHDAY=-1;COUNT=8"),
    ("America/New_York", "2026-02-10T09:00", "FREQ=YEARLY;COUNT=10;BYMONTH=6,7"),
    ("America/New_York", "2026-01-01T09:00", "FREQ=YEARLY;BYYEARDAY=1,100,200;COUNT=10"),
    ("America/New_York", "2026-05-11T09:00", "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO"),
    ("America/New_York", "2026-02-13T09:00", "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13"),
    ("America/New_York", "2026-09-29T09:00", "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2"),
    ("Australia/Lord_Howe", "2026-03-30T09:00", "FREQ=WEEKLY;COUNT=40"),
    ("Asia/Kolkata", "2026-06-01T09:00", "FREQ=HOURLY;INTERVAL=7;COUNT=30"),
    ("UTC", "2024-03-31T09:00", "FREQ=MONTHLY;INTERVAL=2"),
]


def instant(local):
    """UTC as RFC 3339; a skipped time with the offset before the gap."""
    return local.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def times(zone, begins, rule):
    # Reckoned on the clock: hours too, as RFC 5545 has it for local times.
    until = ""
    parts = []
    for part in rule.split(";"):
        if part.startswith("UNTIL="):
            until = dt.datetime.strptime(part[6:], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
        else:
            parts.append(part)
    found = {begins}
    for civil in rrulestr(";".join(parts), dtstart=begins):
        local = civil.replace(tzinfo=zone)
        if local.astimezone(UTC) >= LAST or (until and local.astimezone(UTC) > until):
            break
        found.add(civil)
    return sorted(instant(civil.replace(tzinfo=zone)) for civil in found)


def write(path):
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//another library//EN")
    calendar.add("version", "2.0")
    expected = {}
    for number, (name, begins, rule) in enumerate(RULES):
        zone = zoneinfo.ZoneInfo(name)
        begins = dt.datetime.fromisoformat(begins)
        event = icalendar.Event()
        event.add("uid", f"rule-{number}")
        event.add("dtstamp", STAMP)
        event.add("dtstart", begins.replace(tzinfo=zone))
        event.add("duration", dt.timedelta(hours=1, minutes=30))
        event.add("rrule", icalendar.vRecur.from_ical(rule))
        summary = f"Grüner Kombi, {rule}; a long line to fold, \\ and a\nline end " + "ä" * 60
        event.add("summary", summary.replace("\n", " "))
        event.add("description", summary)
        calendar.add_component(event)
        inside = [t for t in times(zone, begins, rule) if t >= instant(FIRST)]
        expected[f"rule-{number}"] = inside
    calendar.add_missing_timezones()
    text = calendar.to_ical().decode()
    # Every second zone under a name that no database has, so that the calendar's
    # own VTIMEZONE must be used.
    text = text.replace("Europe/Vienna", "Shop clock")
    with open(path, "w", encoding="utf-8", newline="") as file:
        file.write(text)
    print(json.dumps(expected))


def read(path):
    with open(path, "rb") as file:
        calendar = icalendar.Calendar.from_ical(file.read())
    events = []
    for event in calendar.walk("VEVENT"):
        told = {
            "uid": str(event["uid"]),
            "sequence": int(event["sequence"]),
            "summary": str(event["summary"]),
            "description": str(event.get("description", "")),
            "status": str(event["status"]),
            "start": instant(event.decoded("dtstart")),
            "zone": str(event["dtstart"].params.get("TZID", "UTC")),
        }
        if "dtend" in event:
            told["end"] = instant(event.decoded("dtend"))
        if event.errors:
            raise AssertionError(event.errors)
        events.append(told)
    print(json.dumps({"events": events, "errors": [str(e) for e in calendar.errors]}))


if __name__ == "__main__":
    {"write": write, "read": read}[sys.argv[1]](sys.argv[2])
