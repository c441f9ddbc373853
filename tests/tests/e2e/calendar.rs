//! iCalendar both ways, against a library of another project.

use std::collections::BTreeMap;
use std::path::Path;

use lamella_tests::daemon::Daemon;
use lamella_tests::{cli, python, shop};
use serde_json::{Value, json};

/// A daemon whose shop's clock is Vienna's.
fn in_vienna(dir: &Path) -> Daemon {
    let config = dir.join("lamella.toml");
    std::fs::write(
        &config,
        "[shop]\nname = \"Test shop\"\ntime_zone = \"Europe/Vienna\"\n",
    )
    .unwrap();
    Daemon::builder().arg("--config").arg(config).start()
}

fn other_library(mode: &str, file: &Path) -> Value {
    let mut command = cli::clean(&python::interpreter());
    command
        .arg(python::script("calendars.py"))
        .arg(mode)
        .arg(file);
    cli::run(command, "").json()
}

/// Imports a file by the client; the answer.
fn import(daemon: &Daemon, file: &Path) -> Value {
    let file = file.to_str().unwrap();
    let window = [
        "--from",
        "2026-01-01T00:00:00Z",
        "--before",
        "2027-01-01T00:00:00Z",
    ];
    let args = [
        "--output", "json", "booking", "import", file, "--source", "web-form",
    ];
    daemon.lamella(args.into_iter().chain(window)).json()
}

fn outcomes(answer: &Value) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for event in answer["events"].as_array().unwrap() {
        let outcome = event["takenIn"]["outcome"].as_str();
        let outcome = outcome.and_then(|o| o.strip_prefix("BOOKING_OUTCOME_"));
        let what = outcome.unwrap_or(if event["rejected"].is_string() {
            "rejected"
        } else {
            "outside"
        });
        *counts.entry(what.to_owned()).or_default() += 1;
    }
    counts
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn python_calendar_is_taken_in_at_the_times_that_its_library_reckons() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = in_vienna(dir.path());
    let file = dir.path().join("other.ics");
    let expected = other_library("write", &file);
    let answer = import(&daemon, &file);
    let mut found: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for event in answer["events"].as_array().unwrap() {
        assert!(event["takenIn"].is_object(), "{event}");
        let starts = found
            .entry(event["uid"].as_str().unwrap().to_owned())
            .or_default();
        starts.push(event["startTime"].as_str().unwrap().to_owned());
    }
    let expected: BTreeMap<String, Vec<String>> = serde_json::from_value(expected).unwrap();
    for (uid, times) in &expected {
        assert_eq!(found.get(uid), Some(times), "{uid}");
    }
    assert_eq!(found.len(), expected.len());
    let total: usize = expected.values().map(Vec::len).sum();
    println!("{} rules, {total} times", expected.len());
    assert_eq!(
        outcomes(&answer),
        BTreeMap::from([("CREATED".to_owned(), total)])
    );

    // Text survived escaping and folding, and what lasts 90 minutes ends then.
    let api = daemon.client().await;
    let jobs = shop::all_jobs(&api).await;
    assert_eq!(jobs.len(), total);
    let name = jobs[0]["display_name"].as_str().unwrap();
    assert!(
        name.starts_with(
            "Grüner Kombi, FREQ=DAILY;COUNT=10; a long line to fold, \\ and a line end ä"
        ),
        "{name}"
    );
    assert!(
        jobs[0]["wishes"]
            .as_str()
            .unwrap()
            .contains("and a\nline end ä")
    );
    // The first rule begins on September 2nd, 09:00 at UTC-4.
    assert_eq!(jobs[0]["promise_time"], "2026-09-02T14:30:00Z");

    // Again: nothing new.
    let again = import(&daemon, &file);
    assert_eq!(
        outcomes(&again),
        BTreeMap::from([("UNCHANGED".to_owned(), total)])
    );
}

fn event(sequence: i32, lines: &str) -> String {
    format!(
        "BEGIN:VEVENT\r\nUID:visit-1\r\nDTSTAMP:2026010{}T000000Z\r\nSEQUENCE:{sequence}\r\n{}\r\nEND:VEVENT\r\n",
        sequence + 1,
        lines.replace('\n', "\r\n")
    )
}

fn calendar(events: &str) -> String {
    format!("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//EN\r\n{events}END:VCALENDAR\r\n")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn moved_left_out_and_cancelled_times_follow_the_calendar() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = in_vienna(dir.path());
    let api = daemon.client().await;
    let file = dir.path().join("visits.ics");
    let series = "DTSTART;TZID=Europe/Vienna:20260302T090000\nDURATION:PT2H\nRRULE:FREQ=WEEKLY;COUNT=4\nSUMMARY:Blue estate, wash";
    std::fs::write(&file, calendar(&event(0, series))).unwrap();
    assert_eq!(
        outcomes(&import(&daemon, &file)),
        BTreeMap::from([("CREATED".to_owned(), 4)])
    );

    // The second is moved, the third left out; the change comes twice.
    let left_out = format!("{series}\nEXDATE;TZID=Europe/Vienna:20260316T090000");
    let moved = "RECURRENCE-ID;TZID=Europe/Vienna:20260309T090000\nDTSTART;TZID=Europe/Vienna:20260310T140000\nDURATION:PT2H\nSUMMARY:Blue estate, wash";
    let newer = calendar(&(event(1, &left_out) + &event(1, moved)));
    std::fs::write(&file, &newer).unwrap();
    let changed = [("CANCELLED", 1), ("UNCHANGED", 2), ("UPDATED", 1)];
    let changed = changed.map(|(what, count)| (what.to_owned(), count));
    assert_eq!(outcomes(&import(&daemon, &file)), BTreeMap::from(changed));
    assert_eq!(
        outcomes(&import(&daemon, &file)),
        BTreeMap::from([("UNCHANGED".to_owned(), 4)])
    );
    // The older calendar arrives late.
    let late = dir.path().join("late.ics");
    std::fs::write(&late, calendar(&event(0, series))).unwrap();
    assert_eq!(
        outcomes(&import(&daemon, &late)),
        BTreeMap::from([("OUTDATED".to_owned(), 4)])
    );

    let jobs = shop::all_jobs(&api).await;
    let told: Vec<(&str, &str)> = jobs
        .iter()
        .map(|job| {
            (
                job["stage"].as_str().unwrap(),
                job["promise_time"].as_str().unwrap(),
            )
        })
        .collect();
    // Vienna is at UTC+1 here.
    assert_eq!(
        told,
        [
            ("STAGE_BOOKED", "2026-03-02T10:00:00Z"),
            ("STAGE_BOOKED", "2026-03-10T15:00:00Z"),
            ("STAGE_CANCELLED", "2026-03-16T10:00:00Z"),
            ("STAGE_BOOKED", "2026-03-23T10:00:00Z"),
        ]
    );
    // All called off.
    let off = format!("{series}\nSTATUS:CANCELLED");
    std::fs::write(&file, calendar(&event(2, &off))).unwrap();
    let counts = outcomes(&import(&daemon, &file));
    assert_eq!(counts["CANCELLED"], 3, "{counts:?}");
    let stages: Vec<Value> = shop::all_jobs(&api)
        .await
        .iter()
        .map(|j| j["stage"].clone())
        .collect();
    assert_eq!(stages, vec![json!("STAGE_CANCELLED"); 4]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_cannot_be_taken_in_is_named_and_the_rest_is_there() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = in_vienna(dir.path());
    let file = dir.path().join("mixed.ics");
    let good = event(0, "DTSTART:20260302T090000Z\nSUMMARY:good");
    let outside = event(0, "DTSTART:20240302T090000Z").replace("visit-1", "old");
    let bad = event(0, "DTSTART:20260332T090000Z").replace("visit-1", "bad");
    let long = event(
        0,
        &format!("DTSTART:20260302T090000Z\nSUMMARY:{}", "x".repeat(201)),
    )
    .replace("visit-1", "long");
    let todo = "BEGIN:VTODO\r\nUID:todo\r\nEND:VTODO\r\n";
    std::fs::write(&file, calendar(&(good + &outside + &bad + &long + todo))).unwrap();
    let answer = import(&daemon, &file);
    assert_eq!(
        (
            &answer["takenInCount"],
            &answer["outsideCount"],
            &answer["rejectedCount"]
        ),
        (&json!(1), &json!(1), &json!(3)),
        "{answer:#}"
    );
    let rejected: Vec<(i64, &str)> = answer["events"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|e| Some((e["line"].as_i64()?, e["rejected"].as_str()?)))
        .collect();
    assert_eq!(
        rejected.iter().map(|r| r.0).collect::<Vec<_>>(),
        [17, 23, 30]
    );
    assert!(rejected[0].1.contains("20260332T090000Z"), "{rejected:?}");
    assert!(rejected[1].1.contains("display_name"), "{rejected:?}");
    let shown = daemon.lamella([
        "booking",
        "import",
        file.to_str().unwrap(),
        "--source",
        "web-form",
        "--from",
        "2026-01-01T00:00:00Z",
    ]);
    assert!(
        shown
            .stdout
            .contains("1 taken in, 1 outside the window, 3 rejected"),
        "{shown}"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn python_library_reads_the_schedule_back() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = in_vienna(dir.path());
    let api = daemon.client().await;
    // Over the end of summer time, with all that has to be escaped or folded.
    let name = format!("Blue estate, \"wash\"; \\ and {}", "ü".repeat(80));
    let booking = json!({"booking": {
        "source": "web-form", "external_id": "1", "display_name": name,
        "revision": {"time": "2026-03-01T10:00:00Z"},
        "arrival_time": "2036-10-24T22:30:00Z", "promise_time": "2036-10-27T16:00:00Z",
        "services": [{"code": "wash", "description": "Wash, by hand"}, {"code": "wax"}],
        "customer": {"display_name": "A. Customer", "phone": "0123"}, "wishes": "by noon",
    }});
    let booked = api
        .ok("BookingService/UpsertBooking", booking.clone())
        .await;
    let booked = booked["booking"]["job"].as_str().unwrap().to_owned();
    let ready = shop::job_at(&api, "READY").await;
    let cancelled = shop::new_job(&api, "cancelled").await;
    shop::advance(&api, &cancelled, "CANCELLED").await;

    let file = dir.path().join("schedule.ics");
    let export = |args: &[&str]| {
        let mut all = vec!["booking", "export", "--out", file.to_str().unwrap()];
        all.extend(args);
        daemon.lamella(all).ended_with(0);
        other_library("read", &file)
    };
    let read = export(&[]);
    assert_eq!(read["errors"], json!([]));
    let events = read["events"].as_array().unwrap();
    assert_eq!(events.len(), 2, "{events:#?}");
    let event = &events[0];
    assert_eq!(event["uid"], format!("{booked}@lamella"));
    assert_eq!(event["summary"], name);
    assert_eq!(event["description"], "Wash, by hand\nwax", "no customer");
    assert_eq!(
        (&event["start"], &event["end"]),
        (
            &json!("2036-10-24T22:30:00Z"),
            &json!("2036-10-27T16:00:00Z")
        )
    );
    assert_eq!(
        (&event["zone"], &event["status"]),
        (&json!("Europe/Vienna"), &json!("CONFIRMED"))
    );
    // Received, not promised: it begins when it was received and has no end yet.
    let history = api
        .ok("JobService/ListJobHistory", json!({"name": ready}))
        .await;
    let received = history["events"]
        .as_array()
        .unwrap()
        .iter()
        .find(|e| e["stage_changed"]["to_stage"] == "STAGE_RECEIVED")
        .unwrap();
    let second = &received["event_time"].as_str().unwrap()[..19];
    assert_eq!(events[1]["start"], format!("{second}Z"));
    assert_eq!(events[1].get("end"), None);

    // The same UID with a higher SEQUENCE after a change.
    let change = json!({"job": {"name": booked, "display_name": "Blue estate"}});
    api.ok("JobService/UpdateJob", change).await;
    let later = export(&["--include-customer"]);
    let later = &later["events"][0];
    assert_eq!(later["uid"], event["uid"]);
    assert!(
        later["sequence"].as_i64() > event["sequence"].as_i64(),
        "{later}"
    );
    assert!(
        later["description"]
            .as_str()
            .unwrap()
            .contains("For: A. Customer, 0123\nWishes: by noon"),
        "{later}"
    );
    // So too when only the booking changes, and with it when the car comes.
    let mut booking = booking;
    booking["booking"]["revision"]["sequence"] = json!(1);
    booking["booking"]["arrival_time"] = json!("2036-10-25T06:00:00Z");
    api.ok("BookingService/UpsertBooking", booking).await;
    let moved = &export(&[])["events"][0];
    assert_eq!(moved["start"], "2036-10-25T06:00:00Z");
    assert!(
        moved["sequence"].as_i64() > later["sequence"].as_i64(),
        "{moved}"
    );
    let cancelled = export(&["--stage", "cancelled"]);
    assert_eq!(cancelled["events"][0]["status"], "CANCELLED");
    assert_eq!(cancelled["events"].as_array().unwrap().len(), 1);
}
