//! Exit codes and what is said with them.

use crate::{code, fake, lamella, run, stderr, stdout};

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
fn help_has_the_exit_codes() {
    let output = lamella("127.0.0.1:1", &["--help"]).output().unwrap();
    assert_eq!(code(&output), Some(0));
    assert!(stdout(&output).contains("5  the server cannot be reached"));
}
