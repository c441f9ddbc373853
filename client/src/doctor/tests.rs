//! What is made of invented sights: nothing is asked of anybody.

use std::io;

use super::report::{as_json, as_text};
use super::*;
use crate::text::tests::plain;

const LIMITS: Limits = Limits {
    min_free_bytes: 1e9,
    max_skew: Duration::from_secs(10),
};

/// As it is printed, without colours and without the version, which changes with
/// every release.
fn shown(findings: &[Finding]) -> String {
    plain(&as_text(findings)).replace(env!("CARGO_PKG_VERSION"), "VERSION")
}

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

/// A daemon that is as it should be, asked at 09:15 in Berlin, 4 ms there and back.
fn well() -> Seen {
    let plugins = v1::PluginsStatus {
        installed_count: 2,
        serving_count: 1,
        failed: Vec::new(),
    };
    let outbox = v1::OutboxStatus {
        configured: true,
        receiver: "booking.example".to_owned(),
        delivered_sequence: 812,
        ..Default::default()
    };
    let status = v1::DaemonStatus {
        version: env!("CARGO_PKG_VERSION").to_owned(),
        api_package: "lamella.v1".to_owned(),
        current_time: Some(crate::times::to_proto(at("2026-03-02T08:15:00.002Z"))),
        start_time: Some(crate::times::to_proto(at("2026-03-02T06:00:00Z"))),
        listen_address: "127.0.0.1:7575".to_owned(),
        web_root_served: false,
        time_zone: "Europe/Vienna".to_owned(),
        tax_configured: true,
        data_directory: Some(v1::DataDirectoryStatus {
            path: "/srv/lamella".to_owned(),
            free_bytes: Some(44_920_000_000),
            total_bytes: Some(270_600_000_000),
            writable: true,
            failure: String::new(),
        }),
        journal: Some(v1::JournalStatus {
            oldest_sequence: 1,
            durable_sequence: 812,
            segment_count: 1,
            size_bytes: Some(345_678),
            ..Default::default()
        }),
        projection: Some(v1::ProjectionStatus {
            applied_sequence: 812,
            start: v1::ProjectionStart::Opened.into(),
            ..Default::default()
        }),
        watcher_count: 1,
        plugins: Some(plugins.clone()),
        outbox: Some(outbox.clone()),
    };
    Seen {
        server: "127.0.0.1:7575".to_owned(),
        zone: TimeZone::get("Europe/Berlin").unwrap(),
        server_seen: Ok(Answers {
            round_trip: Duration::from_micros(1_500),
            health: Health::Serving,
            status: StatusAnswer::Told(Box::new(Told {
                status,
                received: at("2026-03-02T08:15:00.004Z"),
                round_trip: Duration::from_millis(4),
            })),
            plugins: Some(plugins),
            outbox: Some(outbox),
        }),
    }
}

/// The same with something changed in what it answered.
fn with(change: impl FnOnce(&mut Answers)) -> Seen {
    let mut seen = well();
    change(seen.server_seen.as_mut().unwrap());
    seen
}

fn with_status(change: impl FnOnce(&mut v1::DaemonStatus)) -> Seen {
    with(|answers| match &mut answers.status {
        StatusAnswer::Told(told) => change(&mut told.status),
        StatusAnswer::Unimplemented | StatusAnswer::Failed(_) => unreachable!(),
    })
}

/// Level and code of all findings that are not ok.
fn amiss(seen: &Seen) -> Vec<(Level, &'static str)> {
    let findings = judge(seen, &LIMITS);
    let amiss = findings.iter().filter(|f| f.level != Level::Ok);
    amiss.map(|f| (f.level, f.code)).collect()
}

#[test]
fn a_daemon_that_is_well() {
    let findings = judge(&well(), &LIMITS);
    insta::assert_snapshot!(shown(&findings));
    assert_eq!(amiss(&well()), []);
    assert!(
        as_text(&findings).contains("\u{1b}["),
        "levels have colours as well"
    );
}

#[test]
fn everything_amiss_is_told_with_what_to_do() {
    let plugins = v1::PluginsStatus {
        installed_count: 2,
        serving_count: 0,
        failed: vec![v1::FailedPlugin {
            plugin: "plugins/prices".to_owned(),
            display_name: "tiered prices".to_owned(),
            version: "1.2.0".to_owned(),
            failure: Some(v1::PluginFailure {
                reason: "PLUGIN_NOT_KEPT".to_owned(),
                message: "no component with SHA-256 00 is kept".to_owned(),
            }),
        }],
    };
    let outbox = v1::OutboxStatus {
        configured: true,
        receiver: "booking.example".to_owned(),
        delivered_sequence: 700,
        pending_event_count: 112,
        waiting_job_count: 3,
        dead_letter_count: 1,
        last_failure: Some(v1::DeliveryFailure {
            attempt_time: Some(crate::times::to_proto(at("2026-03-02T08:10:00Z"))),
            message: "the receiver answered 422 \u{1b}[2J".to_owned(),
        }),
    };
    let mut seen = with_status(|status| {
        status.version = "0.0.9".to_owned();
        status.current_time = Some(crate::times::to_proto(at("2026-03-02T08:14:30Z")));
        status.time_zone = "America/Chicago".to_owned();
        status.tax_configured = false;
        let directory = status.data_directory.as_mut().unwrap();
        directory.free_bytes = Some(99_000_000);
        directory.writable = false;
        directory.failure = "cannot write to the data directory: No space left".to_owned();
        let journal = status.journal.as_mut().unwrap();
        journal.read_only = true;
        journal.failure = "cannot append to `00000000000000000001.seg`: No space left".to_owned();
        journal.truncated_bytes = 17;
        let projection = status.projection.as_mut().unwrap();
        projection.lag_count = 2;
        projection.applied_sequence = 810;
    });
    let answers = seen.server_seen.as_mut().unwrap();
    answers.health = Health::NotServing;
    answers.plugins = Some(plugins);
    answers.outbox = Some(outbox);
    let findings = judge(&seen, &LIMITS);
    insta::assert_snapshot!(shown(&findings));
    let helpless = findings
        .iter()
        .find(|f| (f.level == Level::Ok) != f.todo.is_empty());
    assert_eq!(helpless, None, "what is amiss says what to do");
}

#[test]
fn programs_are_given_codes_and_what_the_daemon_said() {
    let mut seen = with_status(|status| status.tax_configured = false);
    let findings = judge(&seen, &LIMITS);
    let json = as_json(&seen, &findings).unwrap();
    insta::assert_snapshot!(json.replace(env!("CARGO_PKG_VERSION"), "VERSION"));
    seen.server_seen = Err(Unreached::Refused);
    let json = as_json(&seen, &judge(&seen, &LIMITS)).unwrap();
    assert!(!json.contains("\"status\""), "{json}");
}

#[test]
fn an_old_daemon_is_judged_by_the_rest() {
    let seen = with(|answers| {
        answers.status = StatusAnswer::Unimplemented;
        answers.outbox.as_mut().unwrap().dead_letter_count = 2;
    });
    assert_eq!(
        amiss(&seen),
        [
            (Level::Warn, "STATUS_UNKNOWN"),
            (Level::Warn, "OUTBOX_DEAD_LETTERS")
        ]
    );
    let seen = with(|answers| {
        answers.status = StatusAnswer::Failed("INTERNAL".to_owned());
        answers.plugins = None;
    });
    assert_eq!(amiss(&seen), [(Level::Fail, "STATUS_FAILED")]);
}

#[test]
fn free_space_is_judged_by_the_limit_and_a_tenth_of_it() {
    let with_free = |bytes| {
        amiss(&with_status(|status| {
            status.data_directory.as_mut().unwrap().free_bytes = bytes;
        }))
    };
    assert_eq!(with_free(Some(1_000_000_000)), []);
    let low = "DISK_SPACE_LOW";
    assert_eq!(with_free(Some(999_999_999)), [(Level::Warn, low)]);
    assert_eq!(with_free(Some(100_000_000)), [(Level::Warn, low)]);
    assert_eq!(with_free(Some(99_999_999)), [(Level::Fail, low)]);
    assert_eq!(with_free(Some(0)), [(Level::Fail, low)]);
    assert_eq!(with_free(None), [(Level::Warn, "DISK_SPACE_UNKNOWN")]);
}

/// The doubt of half the round trip speaks for the clock.
#[test]
fn clocks_are_judged_in_the_middle_of_the_round_trip() {
    let skewed = |seconds: f64, round_trip_s: f64| {
        let mut seen = well();
        let answers = seen.server_seen.as_mut().unwrap();
        let StatusAnswer::Told(told) = &mut answers.status else {
            unreachable!()
        };
        told.round_trip = Duration::from_secs_f64(round_trip_s);
        let middle_s = seconds - round_trip_s / 2.0;
        let theirs = told.received + jiff::SignedDuration::from_secs_f64(middle_s);
        told.status.current_time = Some(crate::times::to_proto(theirs));
        amiss(&seen)
    };
    let off = "CLOCK_OFF";
    for way in [1.0, -1.0] {
        assert_eq!(skewed(way * 9.99, 0.004), []);
        assert_eq!(skewed(way * 10.01, 0.004), [(Level::Warn, off)]);
        // Four seconds there and back: up to two of them may be the way.
        assert_eq!(skewed(way * 11.9, 4.0), []);
        assert_eq!(skewed(way * 12.1, 4.0), [(Level::Warn, off)]);
        assert_eq!(skewed(way * 299.9, 0.004), [(Level::Warn, off)]);
        assert_eq!(skewed(way * 301.0, 0.004), [(Level::Fail, off)]);
    }
    let none = with_status(|status| status.current_time = None);
    assert_eq!(amiss(&none), [(Level::Warn, "CLOCK_UNKNOWN")]);
}

#[test]
fn only_zones_that_part_within_a_year_are_noted() {
    let with_zone = |name: &str| amiss(&with_status(|status| status.time_zone = name.to_owned()));
    assert_eq!(with_zone("Europe/Berlin"), []);
    // As Berlin, whatever the season.
    assert_eq!(with_zone("Europe/Vienna"), []);
    // As Berlin in March, without its summer time.
    assert_eq!(
        with_zone("Africa/Lagos"),
        [(Level::Note, "TIME_ZONE_DIFFERS")]
    );
    assert_eq!(with_zone(""), [(Level::Note, "TIME_ZONE_UNKNOWN")]);
}

#[test]
fn what_became_of_the_projection_is_told() {
    let with_start = |start: v1::ProjectionStart| {
        let seen = with_status(|status| {
            let projection = status.projection.as_mut().unwrap();
            projection.start = start.into();
            projection.caught_up_from_sequence = Some(800);
            projection.rebuild_reason = "an earlier start ended while opening it".to_owned();
        });
        let findings = judge(&seen, &LIMITS);
        let found = findings.iter().find(|f| f.code.starts_with("PROJECTION"));
        found.unwrap().seen.clone()
    };
    let all = [
        v1::ProjectionStart::Created,
        v1::ProjectionStart::Opened,
        v1::ProjectionStart::CaughtUp,
        v1::ProjectionStart::Rebuilt,
        v1::ProjectionStart::Unspecified,
    ];
    insta::assert_snapshot!(all.map(with_start).join("\n"), @"
    the projection is at event 812, created at this start
    the projection is at event 812, sound at this start
    the projection is at event 812, caught up at this start from event 800
    the projection was built anew at this start: an earlier start ended while opening it
    the projection is at event 812, of an unknown past
    ");
}

#[test]
fn a_projection_that_cannot_be_read_is_a_failure() {
    let mut seen = with_status(|status| {
        status.projection.as_mut().unwrap().failure = "cannot read: broken".to_owned();
    });
    seen.server_seen.as_mut().unwrap().plugins = None;
    assert_eq!(amiss(&seen), [(Level::Fail, "PROJECTION_FAILED")]);
}

#[test]
fn a_worker_that_fell_asleep_shows_by_what_is_pending() {
    let with_pending = |count| {
        amiss(&with(|answers| {
            answers.outbox.as_mut().unwrap().pending_event_count = count;
        }))
    };
    assert_eq!(with_pending(100), []);
    assert_eq!(with_pending(101), [(Level::Warn, "OUTBOX_BEHIND")]);
    let none = with(|answers| answers.outbox = Some(v1::OutboxStatus::default()));
    assert_eq!(amiss(&none), []);
}

#[test]
fn each_way_of_not_reaching_it_is_told_apart() {
    let all = [
        ("127.0.0.1:7575", Unreached::Refused),
        ("unix:/run/lamella.sock", Unreached::NoSocket),
        ("unix:/run/lamella.sock", Unreached::Forbidden),
        ("shopp:7575", Unreached::UnknownName),
        ("10.0.0.9:7575", Unreached::Silent(Duration::from_secs(10))),
        ("127.0.0.1:80", Unreached::NotGrpc),
        (
            "127.0.0.1:7575",
            Unreached::Other("network is down".to_owned()),
        ),
    ];
    let text = all.map(|(server, why)| {
        let seen = Seen {
            server: server.to_owned(),
            server_seen: Err(why),
            ..well()
        };
        let findings = judge(&seen, &LIMITS);
        assert_eq!(findings.len(), 1);
        assert_eq!(findings[0].level, Level::Fail);
        shown(&findings)
    });
    insta::assert_snapshot!(text.concat());
}

#[test]
fn a_timeout_and_a_status_of_this_side_are_no_answer() {
    let timed_out = crate::errors::CliError::TimedOut {
        server: "x".to_owned(),
        limit: Duration::from_secs(1),
    };
    let silent = Unreached::Silent(Duration::from_secs(1));
    assert_eq!(Unreached::of_connection(&timed_out), silent);
    assert_eq!(Unreached::of_call(&timed_out), Some(silent));
    let of_call = |status: tonic::Status| Unreached::of_call(&status.into());
    let broken = tonic::Status::from_error(Box::new(io::Error::other("h2 protocol error")));
    assert_eq!(of_call(broken), Some(Unreached::NotGrpc));
    let not_grpc = "grpc-status header missing, mapped from HTTP status code 404";
    let not_grpc = tonic::Status::unimplemented(not_grpc);
    assert_eq!(of_call(not_grpc), Some(Unreached::NotGrpc));
    let draining = of_call(tonic::Status::unavailable("draining"));
    assert_eq!(draining, Some(Unreached::Other("draining".to_owned())));
    // What the daemon itself says is an answer.
    assert_eq!(
        of_call(tonic::Status::unimplemented("no such method")),
        None
    );
}
