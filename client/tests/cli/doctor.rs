//! `lamella doctor` where there is no daemon of this version.

use crate::{code, fake, lamella, run, stderr, stdout};

/// The fake knows neither status nor health nor an outbox, as a daemon of the past or
/// a server of another make would not; plugins it knows.
#[test]
fn a_daemon_that_does_not_tell_how_it_is_is_judged_by_the_rest() {
    let fake = fake::on_tcp();
    let output = run(&fake, &["doctor"]);
    let text = stdout(&output);
    let lines: Vec<&str> = text.lines().collect();
    assert!(lines[0].starts_with("ok    127.0.0.1:"), "{text}");
    assert!(lines[0].ends_with("ms [REACHED]"), "{text}");
    let rest = lines[1..]
        .join("\n")
        .replace(env!("CARGO_PKG_VERSION"), "VERSION");
    insta::assert_snapshot!(rest, @"
    warn  it does not say whether it takes calls: UNIMPLEMENTED: no reason given [HEALTH_UNKNOWN]
          do: make sure that lamellad is what listens there, and of which version
    warn  the daemon is older than this client (VERSION) and does not tell how it is: clock, disk, journal and projection are not judged [STATUS_UNKNOWN]
          do: install a lamellad of this client's version and start it again
    ok    1 plugin is installed, 1 of them serving [PLUGINS]

    4 checked: 2 with a warning, 2 ok
    ");
    assert_eq!(code(&output), Some(0), "{}", stderr(&output));
}

#[test]
fn colours_are_only_for_terminals_and_words_are_always_there() {
    let fake = fake::on_tcp();
    let plain = stdout(&run(&fake, &["doctor"]));
    assert!(!plain.contains('\u{1b}'), "{plain}");
    let forced = lamella(&fake.address, &["doctor"])
        .env("CLICOLOR_FORCE", "1")
        .output()
        .unwrap();
    let forced = stdout(&forced);
    assert!(
        forced.contains("\u{1b}[") && forced.contains("warn"),
        "{forced}"
    );
}

#[test]
fn limits_that_are_none_are_usage_errors() {
    let fake = fake::on_tcp();
    let all = [
        ["doctor", "--min-free=5"],
        ["doctor", "--min-free=-5MB"],
        ["doctor", "--max-skew=-1s"],
        ["doctor", "--max-skew=soon"],
    ]
    .map(|args| {
        let output = run(&fake, &args);
        assert_eq!((code(&output), stdout(&output)), (Some(2), String::new()));
        stderr(&output).lines().next().unwrap().to_owned()
    });
    insta::assert_snapshot!(all.join("\n"), @"
    error: invalid value '5' for '--min-free <SIZE>': `5` has no unit; write 5MB or 5GB
    error: --min-free: must not be negative
    error: --max-skew: must not be negative, nor beyond any clock
    error: invalid value 'soon' for '--max-skew <TIME>': `soon` does not begin with a number; write for example 10min
    ");
}
