//! The real binary against a server that answers as told: exit codes, error
//! text, streams, and what the arguments become on the wire. Whether the daemon
//! itself is right is the business of `tests/`.

#![expect(
    clippy::unwrap_used,
    reason = "helpers of tests may fail loudly, as tests do"
)]

mod fake;

use std::io::{BufRead as _, BufReader, Write as _};
use std::process::{Child, Command, Output, Stdio};

use fake::Fake;
use lamella_proto::v1::record::Entry;
use lamella_proto::v1::{PassOutcome, Stage};

/// The binary with a clean environment.
fn lamella(server: &str, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lamella"));
    command
        .env_clear()
        .env("TZ", "Europe/Berlin")
        .arg("--server")
        .arg(server)
        .args(args);
    command
}

fn run(fake: &Fake, args: &[&str]) -> Output {
    lamella(&fake.address, args).output().unwrap()
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn code(output: &Output) -> Option<i32> {
    output.status.code()
}

/// Runs and expects success.
fn ok(fake: &Fake, args: &[&str]) -> String {
    let output = run(fake, args);
    assert_eq!(code(&output), Some(0), "{args:?}: {}", stderr(&output));
    stdout(&output)
}

#[test]
fn call_finds_methods_by_reflection_and_speaks_canonical_json() {
    let fake = fake::on_tcp();
    let request = r#"{"job":{"display_name":"Blue estate"},"requestId":"r1"}"#;
    let long = ok(&fake, &["call", "lamella.v1.JobService/CreateJob", request]);
    let short = ok(
        &fake,
        &["call", "JobService/CreateJob", request, "--compact"],
    );
    insta::assert_snapshot!(long, @r#"
    {
      "name": "jobs/a",
      "displayName": "Blue estate"
    }
    "#);
    insta::assert_snapshot!(short, @r#"{"name":"jobs/a","displayName":"Blue estate"}"#);
    let seen = fake.seen.lock().unwrap();
    assert_eq!(seen.created.len(), 2);
    assert_eq!(seen.created[0].request_id, "r1");
}

#[test]
fn call_reads_standard_input() {
    let fake = fake::on_tcp();
    let mut child = lamella(
        &fake.address,
        &["call", "JobService/GetJob", "-", "--compact"],
    )
    .stdin(Stdio::piped())
    .stdout(Stdio::piped())
    .spawn()
    .unwrap();
    child
        .stdin
        .take()
        .unwrap()
        .write_all(b"{\"name\":\n\"jobs/b\"}\n")
        .unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(code(&output), Some(0));
    assert!(
        stdout(&output).starts_with(r#"{"name":"jobs/b","#),
        "{}",
        stdout(&output)
    );
}

#[test]
fn call_prints_a_stream_one_object_to_a_line_and_then_its_error() {
    let fake = fake::on_tcp();
    let output = run(
        &fake,
        &["call", "JobService/WatchJobs", r#"{"resume_token":"0"}"#],
    );
    assert_eq!(code(&output), Some(5));
    insta::assert_snapshot!(stdout(&output), @r#"{"resumeToken":"1","event":{"sequence":"1","job":"jobs/a","created":{"name":"jobs/a","displayName":"Blue estate","stage":"STAGE_BOOKED","customer":{"displayName":"A. Customer","phone":"555 0100"},"etag":"e1"}}}"#);
    insta::assert_snapshot!(stderr(&output), @"error: UNAVAILABLE: draining");
}

#[test]
fn call_names_the_unknown() {
    let fake = fake::on_tcp();
    let all = [
        ["call", "JobServise/CreateJob", "{}"],
        ["call", "JobService/MakeJob", "{}"],
        ["call", "JobService/CreateJob", r#"{"job":{"nam":"x"}}"#],
        ["call", "JobService", "{}"],
        ["call", "JobService/GetJob", "{]"],
    ]
    .map(|args| {
        let output = run(&fake, &args);
        assert_eq!(
            (code(&output), stdout(&output)),
            (Some(2), String::new()),
            "{args:?}"
        );
        stderr(&output)
    });
    insta::assert_snapshot!(all.concat(), @"
    error: the server has no service `JobServise`; it has: lamella.v1.CalculatorService, lamella.v1.JobService, lamella.v1.VehicleService, grpc.reflection.v1.ServerReflection
    error: lamella.v1.JobService has no method `MakeJob`; it has: CreateJob, GetJob, ListJobs, UpdateJob, AdvanceStage, DeleteJob, UndeleteJob, AppendRecord, ListRecords, ListJobHistory, WatchJobs
    error: lamella.v1.CreateJobRequest: job: unrecognized field name 'nam' at line 1 column 13
    error: `JobService` is not SERVICE/METHOD, for example lamella.v1.JobService/ListJobs or JobService/ListJobs
    error: lamella.v1.GetJobRequest: key must be a string at line 1 column 2
    ");
}

#[test]
fn refusals_are_explained_and_have_their_exit_codes() {
    let fake = fake::on_tcp();
    let missing = run(&fake, &["job", "show", "none"]);
    assert_eq!(code(&missing), Some(4));
    let refused = run(&fake, &["job", "move", "jobs/a", "ready"]);
    assert_eq!(code(&refused), Some(3));
    let bad_token = run(&fake, &["job", "watch", "--from", "bad"]);
    assert_eq!(code(&bad_token), Some(3));
    insta::assert_snapshot!(
        [stderr(&missing), stderr(&refused), stderr(&bad_token)].concat(),
        @"
    error: NOT_FOUND: there is no jobs/none
    error: FAILED_PRECONDITION (GATE_CLOSED): stage ready must wait
      parts/front badge: the front badge is off [PART_OFF]
    error: OUT_OF_RANGE: resume_token `bad` was never given out
    "
    );
}

#[test]
fn a_server_that_is_not_there_or_does_not_answer_is_exit_5() {
    // A port that was free a moment ago and that nobody listens on.
    let free = std::net::TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    for args in [&["job", "list"][..], &["call", "JobService/ListJobs"]] {
        let output = lamella(&free.to_string(), args).output().unwrap();
        assert_eq!(code(&output), Some(5));
        let text = stderr(&output).replace(&free.to_string(), "ADDRESS");
        assert!(
            text.contains("cannot reach the server at ADDRESS"),
            "{text}"
        );
        assert!(text.contains("hint: start it with `lamellad`"), "{text}");
    }
    let fake = fake::on_tcp();
    for args in [
        &["job", "show", "slow", "--timeout", "0.2s"][..],
        &[
            "call",
            "JobService/GetJob",
            r#"{"name":"jobs/slow"}"#,
            "--timeout",
            "0.2s",
        ],
    ] {
        let output = run(&fake, args);
        assert_eq!(code(&output), Some(5));
        assert!(
            stderr(&output).contains("no answer from the server at"),
            "{}",
            stderr(&output)
        );
    }
}

#[test]
fn usage_errors_are_exit_2_and_name_the_unit() {
    let fake = fake::on_tcp();
    for (args, text) in [
        (
            vec![
                "dilute", "--stock", "91%", "--target", "35%", "--total", "1000",
            ],
            "has no unit",
        ),
        (
            vec![
                "dilute", "--stock", "91%", "--target", "35%", "--total", "1,5l",
            ],
            "comma",
        ),
        (vec!["dew", "25in", "60%"], "accepted: C, F, K"),
        (
            vec!["job", "new", "x", "--promise", "soon"],
            "is not a time",
        ),
        (
            vec!["job", "add", "a", "readings", "--panel", "hood", "108"],
            "has no unit",
        ),
        (vec!["job", "update", "a"], "nothing to change"),
        (vec!["nonsense"], "unrecognized subcommand"),
    ] {
        let output = run(&fake, &args);
        assert_eq!(code(&output), Some(2), "{args:?}");
        assert!(
            stderr(&output).contains(text),
            "{args:?}: {}",
            stderr(&output)
        );
    }
    let output = lamella("localhost", &["job", "list"]).output().unwrap();
    assert_eq!(code(&output), Some(2));
    assert!(stderr(&output).contains("has no port"));
}

#[test]
fn a_watch_goes_on_where_it_broke_off() {
    let fake = fake::on_tcp();
    let text = ok(
        &fake,
        &[
            "job",
            "watch",
            "--from",
            "0",
            "--no-follow",
            "--output",
            "json",
        ],
    );
    let sequences: Vec<String> = text
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap())
        .map(|message| message["resumeToken"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(sequences, ["1", "2", "2"]);
    assert_eq!(fake.seen.lock().unwrap().watched, ["0", "1"]);
}

/// Ends the child however the test ends.
struct Guard(Child);

impl Drop for Guard {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn an_interrupted_watch_ends_well() {
    let fake = fake::on_tcp();
    let mut command = lamella(&fake.address, &["job", "watch", "--from", "1"]);
    let mut watch = Guard(
        command
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap(),
    );
    let mut lines = BufReader::new(watch.0.stdout.take().unwrap()).lines();
    let line = lines.next().unwrap().unwrap();
    assert!(
        line.contains("jobs/a") && line.contains("created"),
        "{line}"
    );
    let pid = watch.0.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &pid])
            .status()
            .unwrap()
            .success()
    );
    assert_eq!(watch.0.wait().unwrap().code(), Some(0));
}

#[test]
fn a_closed_pipe_is_no_fault() {
    let fake = fake::on_tcp();
    let mut command = lamella(&fake.address, &["job", "list", "--all"]);
    let mut child = command
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!((code(&output), stderr(&output)), (Some(0), String::new()));
}

#[test]
fn lists_follow_every_page_when_asked() {
    let fake = fake::on_tcp();
    let text = ok(&fake, &["job", "list", "--all", "--output", "json"]);
    let list: serde_json::Value = serde_json::from_str(&text).unwrap();
    let names: Vec<&str> = list["jobs"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|job| job["name"].as_str())
        .collect();
    assert_eq!(names, ["jobs/page-1", "jobs/page-2", "jobs/page-3"]);
    assert_eq!(list["resumeToken"], "token-1");
    insta::assert_snapshot!(ok(&fake, &["job", "list"]), @"
    jobs/page-1  booked  Blue estate
    more: --all, or --page-token 2
    ");
}

#[test]
fn a_unix_socket_does_as_well() {
    let dir = tempfile::tempdir().unwrap();
    let fake = fake::on_unix(&dir.path().join("lamella.sock"));
    let text = ok(
        &fake,
        &["call", "JobService/GetJob", r#"{"name":"jobs/u"}"#],
    );
    assert!(text.contains("jobs/u"), "{text}");
}

#[test]
fn no_colour_unless_it_is_a_terminal() {
    let fake = fake::on_tcp();
    assert!(!ok(&fake, &["job", "show", "a"]).contains('\u{1b}'));
    let mut forced = lamella(&fake.address, &["job", "show", "a"]);
    let forced = forced.env("CLICOLOR_FORCE", "1").output().unwrap();
    assert!(stdout(&forced).contains('\u{1b}'));
    let mut off = lamella(&fake.address, &["job", "show", "a"]);
    let off = off
        .env("CLICOLOR_FORCE", "1")
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    assert!(!stdout(&off).contains('\u{1b}'));
}

#[test]
fn arguments_become_the_request_they_say() {
    let fake = fake::on_tcp();
    ok(
        &fake,
        &[
            "job",
            "new",
            "Blue estate",
            "--vehicle",
            "blue-estate",
            "--promise",
            "2026-03-02 17:00",
            "--service",
            "correct-one-step:hood,roof",
            "--phone",
            "555 0100",
            "--id",
            "a",
            "--request-id",
            "r1",
        ],
    );
    let pass = [
        "job",
        "add",
        "a",
        "pass",
        "--panel",
        "hood",
        "--machine",
        "dual action@1",
        "--pad",
        "soft foam@1",
        "--liquid",
        "fine polish@2",
        "--speed",
        "4",
        "--pressure",
        "10kPa",
        "--seconds",
        "20",
        "--temp",
        "95F",
        "--removal",
        "1um",
        "--outcome",
        "improved",
        "--at",
        "2026-03-02T08:00:00Z",
        "--author",
        "Sam",
    ];
    ok(&fake, &pass);
    ok(
        &fake,
        &[
            "job", "add", "a", "readings", "--panel", "hood", "4", "5mil", "100um",
        ],
    );
    ok(
        &fake,
        &[
            "job",
            "update",
            "a",
            "--email",
            "a@example.com",
            "--clear",
            "wishes",
        ],
    );
    ok(
        &fake,
        &[
            "job",
            "approve",
            "a",
            "--by",
            "A. Customer",
            "--amount",
            "850.00 EUR",
        ],
    );

    let seen = fake.seen.lock().unwrap();
    let request = &seen.created[0];
    let job = request.job.as_ref().unwrap();
    assert_eq!(
        (request.job_id.as_str(), request.request_id.as_str()),
        ("a", "r1")
    );
    assert_eq!(job.vehicle, "vehicles/blue-estate");
    assert_eq!(job.services[0].panels, ["hood", "roof"]);
    // 17:00 in Berlin in winter, UTC+1 (IANA tz database).
    assert_eq!(job.promise_time.unwrap().seconds, 1_772_467_200);
    assert_eq!(job.stage(), Stage::Unspecified);

    let record = seen.appended[0].record.as_ref().unwrap();
    assert_eq!(seen.appended[0].parent, "jobs/a");
    assert_eq!(record.author, "Sam");
    let Some(Entry::Pass(pass)) = &record.entry else {
        panic!("not a pass: {record:?}")
    };
    assert_eq!(pass.panel_c, Some(35.0));
    assert_eq!(pass.outcome(), PassOutcome::Improved);
    let setup = pass.setup.as_ref().unwrap();
    assert_eq!(setup.liquid.as_ref().unwrap().rank, 2);
    assert!((setup.pressure_kpa - 10.0).abs() < 1e-12 && (setup.seconds - 20.0).abs() < 1e-12);

    let Some(Entry::GaugeReadings(readings)) = &seen.appended[1].record.as_ref().unwrap().entry
    else {
        panic!("not readings")
    };
    assert_eq!(readings.readings_um, [101.6, 127.0, 100.0]);

    // The customer's other fields and the etag come from the job as it was.
    let update = &seen.updated[0];
    let job = update.job.as_ref().unwrap();
    assert_eq!(
        update.update_mask.as_ref().unwrap().paths,
        ["customer", "wishes"]
    );
    assert_eq!(job.etag, "e1");
    let customer = job.customer.as_ref().unwrap();
    assert_eq!(
        (customer.phone.as_str(), customer.email.as_str()),
        ("555 0100", "a@example.com")
    );

    let approval = seen.updated[1]
        .job
        .as_ref()
        .unwrap()
        .approval
        .as_ref()
        .unwrap();
    assert_eq!(approval.amount.as_ref().unwrap().minor_units, 85_000);
}

#[test]
fn help_has_the_exit_codes() {
    let output = lamella("127.0.0.1:1", &["--help"]).output().unwrap();
    assert_eq!(code(&output), Some(0));
    assert!(stdout(&output).contains("5  the server cannot be reached"));
}
