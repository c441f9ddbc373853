//! Where answers go: pages, pipes, sockets, colours.

use std::process::Stdio;

use crate::{code, fake, lamella, ok, stderr, stdout};

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
