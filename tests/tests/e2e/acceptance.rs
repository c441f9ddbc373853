//! The commands that the work was ordered with, word for word, and what a
//! script sees of a refusal.

use lamella_tests::cli::{self, Ran};
use lamella_tests::daemon::Daemon;

fn call(daemon: &Daemon, method: &str, json: &str) -> Ran {
    daemon.lamella(["call", method, json])
}

#[test]
fn a_job_is_created_once_however_often_the_command_is_given() {
    let daemon = Daemon::start();
    let create = r#"{"job":{"display_name":"Blue estate"},"request_id":"r1"}"#;
    let first = call(&daemon, "lamella.v1.JobService/CreateJob", create).json();
    let again = call(&daemon, "lamella.v1.JobService/CreateJob", create).json();
    assert_eq!(first, again);
    assert_eq!(first["displayName"], "Blue estate");
    assert_eq!(first["stage"], "STAGE_BOOKED");

    let listed = call(&daemon, "JobService/ListJobs", r#"{"page_size":1000}"#).json();
    assert_eq!(
        listed["jobs"].as_array().map(Vec::len),
        Some(1),
        "{listed:#}"
    );
    assert_eq!(listed["jobs"][0], first);
}

#[test]
fn dilute_prints_canonical_json() {
    let daemon = Daemon::start();
    let dilute = |json| call(&daemon, "lamella.v1.CalculatorService/Dilute", json).json();
    // C1 V1 = C2 V2: 1000 x 35 / 91.
    let mix = dilute(r#"{"stock":{"percent":91},"target":{"percent":35},"total_ml":1000}"#);
    assert_eq!(mix["concentrateMl"], 384.615);
    assert_eq!(mix["diluentMl"], 615.385);
    // 1000 / 11.
    let mix = dilute(
        r#"{"stock":{"percent":100},"target":{"parts":{"product":1,"water":10}},"total_ml":1000}"#,
    );
    assert_eq!(mix["concentrateMl"], 90.909);
}

#[test]
fn dew_point_of_a_warm_bay() {
    let daemon = Daemon::start();
    let json = r#"{"air_c":25,"relative_humidity_percent":60}"#;
    let air = call(&daemon, "lamella.v1.CalculatorService/DewPoint", json).json();
    // psychrolib 2.5.0: 16.701 C.
    let dew_point_c = air["dewPointC"].as_f64().unwrap();
    assert!((dew_point_c - 16.7).abs() <= 0.1, "{dew_point_c}");
}

#[test]
fn json_may_come_on_standard_input() {
    let daemon = Daemon::start();
    let json = r#"{"job":{"display_name":"Blue estate"}}"#;
    let ran = cli::lamella_reading(&daemon.address, ["call", "JobService/CreateJob", "-"], json);
    assert_eq!(ran.json()["displayName"], "Blue estate");
}

#[test]
fn exit_codes_tell_a_script_what_happened() {
    let daemon = Daemon::start();
    let refused = call(&daemon, "JobService/CreateJob", r#"{"job":{}}"#).ended_with(3);
    assert!(refused.stderr.contains("job.display_name"), "{refused}");
    assert!(refused.stdout.is_empty(), "{refused}");
    let missing = call(&daemon, "JobService/GetJob", r#"{"name":"jobs/none"}"#).ended_with(4);
    assert!(missing.stderr.contains("jobs/none"), "{missing}");
    let usage = call(&daemon, "JobService/GetJob", r#"{"nam":"jobs/none"}"#).ended_with(2);
    assert!(usage.stderr.contains("nam"), "{usage}");
    call(&daemon, "JobService/NoSuchMethod", "{}").ended_with(2);
    // Port 1 of this machine: nothing listens there.
    cli::lamella("127.0.0.1:1", ["call", "JobService/ListJobs", "{}"]).ended_with(5);
}
