//! The configuration file and its reference, through the real program.

use lamella_tests::cli::{self, Ran};
use lamella_tests::daemon::{Daemon, NotStarted};
use serde_json::Value;

fn reference(format: &str) -> Ran {
    cli::lamellad(["config-reference", "--format", format]).ended_with(0)
}

/// What a daemon with this file as its configuration says when it refuses it.
fn refused(toml: &str) -> (String, NotStarted) {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("lamellad.toml");
    std::fs::write(&file, toml).unwrap();
    let builder = Daemon::builder().arg("--config").arg(&file);
    let refused = builder.try_start().unwrap_err();
    (file.display().to_string(), refused)
}

#[test]
fn every_unknown_key_is_told_at_once_with_its_line() {
    let (file, refused) = refused(
        "lisen = \"127.0.0.1:0\"\n\
         [shop]\nname = \"n\"\ntime_zoen = \"UTC\"\n\
         [money]\n[[money.tax_classes]]\nname = \"a\"\nrate_percent = \"7\"\nrates = 1\n",
    );
    assert_eq!(refused.status.code(), Some(1));
    assert_eq!(
        refused.stderr,
        format!(
            "lamellad: the configuration file has 3 keys that are not known\n\
             {file}:1: unknown key `lisen`; did you mean `listen`?\n\
             {file}:4: unknown key `shop.time_zoen`; did you mean `time_zone`?\n\
             {file}:9: unknown key `money.tax_classes.rates`; \
             expected one of: name, rate_percent\n"
        )
    );
}

#[test]
fn a_value_of_the_wrong_type_is_told_with_file_and_line() {
    let (file, refused) = refused("log = \"info\"\n[shop]\ntime_zone = 3\n");
    assert_eq!(refused.status.code(), Some(1));
    for part in [&file, "line 3", "time_zone = 3", "expected a string"] {
        assert!(refused.stderr.contains(part), "{part}: {}", refused.stderr);
    }
}

#[test]
fn the_sample_file_starts_a_daemon() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("lamellad.toml");
    std::fs::write(&file, reference("toml").stdout).unwrap();
    let daemon = Daemon::builder().arg("--config").arg(&file).start();
    assert!(daemon.terminate().success());
}

#[test]
fn page_sample_and_schema_name_every_flag_that_help_names() {
    let help = cli::lamellad(["--help"]).ended_with(0).stdout;
    let (page, sample) = (reference("markdown").stdout, reference("toml").stdout);
    let schema: Value = reference("schema").json();
    let properties = schema["properties"].as_object().unwrap();
    let mut flags = 0;
    for (name, key) in properties {
        let Some(flag) = key["x-flag"].as_str() else {
            assert!(page.contains(&format!("{name}]`")), "[{name}] in {page}");
            assert!(
                sample.contains(&format!("[{name}]")),
                "[{name}] in {sample}"
            );
            continue;
        };
        flags += 1;
        for (text, part) in [
            (&help, flag.to_owned()),
            (&page, format!("`{flag}`")),
            (&page, format!("### `{name}`")),
            (&sample, format!("{name} = ")),
        ] {
            assert!(text.contains(&part), "{part} in {text}");
        }
    }
    let known = help.matches("LAMELLA_").count();
    // All of help's but --config, which is about the file.
    assert_eq!(flags, known - 1, "{help}");
}

#[test]
fn the_reference_is_had_in_spite_of_settings_that_cannot_be_used() {
    let mut command = cli::clean(&lamella_tests::binaries::lamellad());
    command
        .args(["config-reference", "--format", "schema"])
        .env("LAMELLA_CONFIG", "/nowhere/lamellad.toml");
    cli::run(command, "").json();
}

#[test]
fn a_variable_that_misses_a_known_one_is_warned_of_and_others_are_not() {
    let daemon = Daemon::builder()
        .env("LAMELLA_LISTN", "127.0.0.1:1")
        .env("LAMELLA_SERVER", "127.0.0.1:2")
        .env("LAMELLA_TEST_PYTHON", "python3")
        .start();
    let stderr = daemon.stderr();
    let warning = stderr.lines().find(|line| line.contains("LAMELLA_LISTN"));
    let warning = warning.unwrap_or_else(|| panic!("no warning: {stderr}"));
    assert!(warning.contains("WARN"), "{warning}");
    assert!(
        warning.contains("did you mean LAMELLA_LISTEN?"),
        "{warning}"
    );
    for other in ["LAMELLA_SERVER", "LAMELLA_TEST_PYTHON"] {
        assert!(!stderr.contains(other), "{stderr}");
    }
}

#[test]
fn manual_pages_and_completions_name_every_command() {
    let dir = tempfile::tempdir().unwrap();
    let pages = dir.path().join("man1");
    cli::lamellad(["man", pages.to_str().unwrap()]).ended_with(0);
    let page = std::fs::read_to_string(pages.join("lamellad.1")).unwrap();
    for command in ["demo", "verify", "rebuild", "config\\-reference", "man"] {
        assert!(page.contains(command), "{command} in {page}");
    }
    assert!(pages.join("lamellad-config-reference.1").is_file());
    for shell in ["bash", "zsh", "fish"] {
        let script = cli::lamellad(["completions", shell]).ended_with(0).stdout;
        for word in ["config-reference", "grace-seconds"] {
            assert!(script.contains(word), "{shell} lacks {word}");
        }
    }
}
