//! `lamella call`: any method, in canonical protobuf JSON.

use std::io::Write as _;
use std::process::Stdio;

use crate::{code, fake, lamella, ok, run, stderr, stdout};

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
    error: the server has no service `JobServise`; it has: lamella.v1.BookingService, lamella.v1.CalculatorService, lamella.v1.ExportService, lamella.v1.JobService, lamella.v1.OutboxService, lamella.v1.PhotoService, lamella.v1.PluginService, lamella.v1.QuoteService, lamella.v1.StatusService, lamella.v1.VehicleService, grpc.reflection.v1.ServerReflection
    error: lamella.v1.JobService has no method `MakeJob`; it has: CreateJob, GetJob, ListJobs, UpdateJob, AdvanceStage, DeleteJob, UndeleteJob, AppendRecord, ListRecords, ListJobHistory, WatchJobs
    error: lamella.v1.CreateJobRequest: job: unrecognized field name 'nam' at line 1 column 13
    error: `JobService` is not SERVICE/METHOD, for example lamella.v1.JobService/ListJobs or JobService/ListJobs
    error: lamella.v1.GetJobRequest: key must be a string at line 1 column 2
    ");
}
