//! `lamella doctor` against daemons that are well, and that have something real
//! wrong with them; what it says to do is then done, and helps.

use std::io::{Read as _, Write as _};
use std::net::TcpListener;
use std::path::Path;

use lamella_tests::cli::{self, Ran};
use lamella_tests::daemon::{Builder, Daemon};
use lamella_tests::{binaries, plugins, shop, wait};
use rustix::process::{Pid, Resource, Rlimit, prlimit};
use serde_json::{Value, json};

use crate::outbox::{self, Site};

/// A zone, taxes and nothing else.
const SHOP: &str = "[shop]\ntime_zone = \"Etc/UTC\"\n\n[[money.tax_classes]]\n\
    name = \"standard\"\nrate_percent = \"19.0\"\n";

/// A daemon of a shop that left nothing open.
fn well(dir: &Path) -> Builder {
    let config = dir.join("lamella.toml");
    std::fs::write(&config, SHOP).unwrap();
    let data = dir.join("data");
    Daemon::builder()
        .data_dir(&data)
        .arg("--config")
        .arg(config)
}

/// Asks a server, on a machine whose clock hangs in UTC; of the disk's free space
/// only if told to: it is not this test's.
fn doctor(server: &str, more: &[&str]) -> Ran {
    let mut command = cli::clean(&binaries::lamella());
    command.env("LAMELLA_SERVER", server).env("TZ", "Etc/UTC");
    command.arg("doctor").args(more);
    if !more.contains(&"--min-free") {
        command.args(["--min-free", "0B"]);
    }
    cli::run(command, "")
}

/// The same in JSON, and the exit code.
fn report(server: &str, more: &[&str]) -> (Value, Option<i32>) {
    let ran = doctor(server, &[&["--output", "json"], more].concat());
    let json = serde_json::from_str(&ran.stdout);
    (
        json.unwrap_or_else(|error| panic!("{error}: {ran}")),
        ran.code,
    )
}

/// Level and code of all findings that are not ok.
fn amiss(report: &Value) -> Vec<(&str, &str)> {
    let findings = report["findings"].as_array().unwrap();
    let both = findings
        .iter()
        .map(|f| (f["level"].as_str().unwrap(), f["code"].as_str().unwrap()));
    both.filter(|(level, _)| *level != "ok").collect()
}

/// What is said to be done about a finding.
fn todo<'a>(report: &'a Value, code: &str) -> &'a str {
    let findings = report["findings"].as_array().unwrap();
    let found = findings.iter().find(|finding| finding["code"] == code);
    found.unwrap()["do"].as_str().unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_daemon_that_is_well_is_ok_in_everything() {
    let dir = tempfile::tempdir().unwrap();
    let socket = format!("unix:{}/socket", dir.path().display());
    let daemon = well(dir.path()).listen(&socket).start();
    let api = daemon.client().await;
    shop::new_job(&api, "Blue estate").await;
    let (told, code) = report(&daemon.address, &[]);
    assert_eq!((amiss(&told), code), (vec![], Some(0)), "{told:#}");
    let status = &told["status"];
    assert_eq!(status["journal"]["durableSequence"], "1", "{status:#}");
    assert_eq!(status["projection"]["appliedSequence"], "1");
    assert_eq!(status["listenAddress"], socket.as_str());
    let data = dir.path().join("data").canonicalize().unwrap();
    assert_eq!(status["dataDirectory"]["path"], data.to_str().unwrap());
    let segment = data.join("journal/00000000000000000001.seg");
    let bytes = std::fs::metadata(segment).unwrap().len().to_string();
    assert_eq!(status["journal"]["sizeBytes"], bytes);
    // Asking leaves nothing: the same files as before, and no probe among them.
    let files = || {
        let names = std::fs::read_dir(&data).unwrap();
        names
            .map(|entry| entry.unwrap().file_name())
            .collect::<std::collections::BTreeSet<_>>()
    };
    let before = files();
    let text = doctor(&daemon.address, &[]).ended_with(0).stdout;
    assert_eq!(files(), before);
    let findings = told["findings"].as_array().unwrap().len();
    assert_eq!(
        text.lines()
            .filter(|line| line.starts_with("ok    "))
            .count(),
        findings
    );
    assert!(
        text.ends_with(&format!("{findings} checked: {findings} ok\n")),
        "{text}"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn each_way_of_having_no_daemon_has_its_code_and_advice() {
    let dir = tempfile::tempdir().unwrap();
    // Privileged, and given out to a service that nobody runs.
    let free = "127.0.0.1:1".to_owned();
    let silent = TcpListener::bind("127.0.0.1:0").unwrap();
    let web = TcpListener::bind("127.0.0.1:0").unwrap();
    let web_address = web.local_addr().unwrap().to_string();
    std::thread::spawn(move || {
        for connection in web.incoming() {
            let mut connection = connection.unwrap();
            let mut asked = [0; 64];
            // Whatever was asked, and whether or not it is still wanted.
            let _ = connection.read(&mut asked);
            let _ = connection.write_all(b"HTTP/1.1 400 Bad Request\r\ncontent-length: 0\r\n\r\n");
        }
    });
    let file = dir.path().join("file");
    std::fs::write(&file, "").unwrap();
    let unix = |name: &str| format!("unix:{}/{name}", dir.path().display());
    for (server, timeout, wanted, advice) in [
        (free.clone(), "60s", "SERVER_REFUSED", "start lamellad"),
        (unix("file"), "60s", "SERVER_REFUSED", "start lamellad"),
        (unix("none"), "60s", "SOCKET_MISSING", "--listen unix:"),
        (
            "no-such-host.invalid:7575".to_owned(),
            "60s",
            "NAME_UNKNOWN",
            "--server",
        ),
        (
            silent.local_addr().unwrap().to_string(),
            "300ms",
            "NO_ANSWER",
            "--timeout",
        ),
        (web_address, "60s", "NOT_GRPC", "another program"),
    ] {
        let (told, code) = report(&server, &["--timeout", timeout]);
        assert_eq!((amiss(&told), code), (vec![("fail", wanted)], Some(5)));
        assert!(todo(&told, wanted).contains(advice), "{told:#}");
        assert_eq!(told["server"], server);
    }
    let text = doctor(&free, &[]).ended_with(5);
    assert!(text.stdout.starts_with("FAIL  nobody listens at"), "{text}");
    assert_eq!(text.stderr, "error: failed: SERVER_REFUSED\n");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_plugin_that_fails_is_named_and_either_advice_mends_it() {
    let dir = tempfile::tempdir().unwrap();
    let bytes = plugins::prebuilt("tiered-pricing");
    let shipped = dir.path().join("tiered-pricing.wasm");
    std::fs::write(&shipped, &bytes).unwrap();
    let daemon = well(dir.path()).start();
    plugins::installed(&daemon.client().await, "prices", &bytes).await;
    assert_eq!(report(&daemon.address, &[]).1, Some(0));

    let kept = plugins::folder(daemon.data_dir());
    let kept = kept.join(plugins::sha256(&bytes)).with_extension("wasm");
    assert!(daemon.terminate().success());
    let mut spoilt = bytes.clone();
    spoilt[1000] ^= 1;
    std::fs::write(&kept, &spoilt).unwrap();
    let daemon = well(dir.path()).start();
    let (told, code) = report(&daemon.address, &[]);
    assert_eq!(amiss(&told), [("fail", "PLUGIN_FAILED")], "{told:#}");
    assert_eq!(code, Some(3));
    let failed = &told["status"]["plugins"]["failed"][0];
    assert_eq!(failed["plugin"], "plugins/prices", "{told:#}");
    let text = doctor(&daemon.address, &[]).ended_with(3);
    let version = failed["version"].as_str().unwrap();
    assert!(text.stdout.contains(version), "{text}");
    assert!(todo(&told, "PLUGIN_FAILED").contains("lamella plugin install FILE --id prices"));
    let file = shipped.to_str().unwrap();
    let again = ["plugin", "install", file, "--id", "prices"];
    daemon.lamella(again).ended_with(0);
    assert_eq!(amiss(&report(&daemon.address, &[]).0), []);

    assert!(daemon.terminate().success());
    std::fs::remove_file(&kept).unwrap();
    let daemon = well(dir.path()).start();
    let (told, code) = report(&daemon.address, &[]);
    assert_eq!(
        (amiss(&told), code),
        (vec![("fail", "PLUGIN_FAILED")], Some(3))
    );
    assert!(todo(&told, "PLUGIN_FAILED").contains("lamella plugin disable prices"));
    daemon
        .lamella(["plugin", "disable", "prices"])
        .ended_with(0);
    assert_eq!(report(&daemon.address, &[]).1, Some(0));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn dead_letters_are_counted_without_naming_anybody_until_they_are_given_up() {
    let dir = tempfile::tempdir().unwrap();
    let site = Site::start(dir.path(), "127.0.0.1:0");
    let daemon = outbox::daemon(
        dir.path(),
        &site.address,
        &format!("attempts = 1\n\n{SHOP}"),
    );
    site.post("/trouble", &json!({"never": "jobs/bad-1"}));
    let api = daemon.client().await;
    let job = json!({"display_name": "Blue estate", "customer": {"display_name": "A. Customer"}});
    let request = json!({"job": job, "job_id": "bad-1"});
    api.ok("JobService/CreateJob", request).await;
    let told = wait::until("a dead letter", || {
        let (told, code) = report(&daemon.address, &[]);
        assert_eq!(code, Some(0), "a warning is no failure: {told:#}");
        amiss(&told)
            .contains(&("warn", "OUTBOX_DEAD_LETTERS"))
            .then_some(told)
    });
    assert_eq!(amiss(&told).len(), 1, "{told:#}");
    let outbox = &told["status"]["outbox"];
    assert_eq!(outbox["deadLetterCount"], 1, "{told:#}");
    assert_eq!(outbox["receiver"], site.address.as_str());
    assert!(
        outbox["lastFailure"]["message"]
            .as_str()
            .unwrap()
            .contains("422")
    );
    for private in ["A. Customer", "Blue estate", "bad-1", "job-events"] {
        assert!(!told.to_string().contains(private), "{private} in {told:#}");
    }
    let advice = todo(&told, "OUTBOX_DEAD_LETTERS");
    assert!(advice.contains("lamella booking retry JOB") && advice.contains("--discard"));
    daemon
        .lamella(["booking", "retry", "bad-1", "--discard"])
        .ended_with(0);
    wait::until("an outbox that has caught up", || {
        amiss(&report(&daemon.address, &[]).0)
            .is_empty()
            .then_some(())
    });
}

/// The system lets the daemon write no byte more to any file, as a full disk would.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_store_that_cannot_be_written_fails_until_the_daemon_is_started_again() {
    let dir = tempfile::tempdir().unwrap();
    // Without this the system would end the daemon instead of refusing the write.
    let ignoring = ["sh", "-c", "trap '' XFSZ; exec \"$0\" \"$@\""];
    let daemon = well(dir.path()).under(ignoring).start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;
    let pid = Pid::from_raw(i32::try_from(daemon.pid()).unwrap());
    let none = Rlimit {
        current: Some(0),
        maximum: None,
    };
    let before = prlimit(pid, Resource::Fsize, none).unwrap();

    let refused = api
        .call(
            "JobService/CreateJob",
            json!({"job": {"display_name": "lost"}}),
        )
        .await;
    assert!(refused.is_err(), "{refused:?}");
    let (told, code) = report(&daemon.address, &[]);
    assert_eq!(
        amiss(&told),
        [("fail", "DATA_NOT_WRITABLE"), ("fail", "JOURNAL_FAILED")],
        "{told:#}"
    );
    assert_eq!(code, Some(3));
    let journal = &told["status"]["journal"];
    assert_eq!(
        (&journal["readOnly"], &journal["durableSequence"]),
        (&json!(true), &json!("1"))
    );
    assert!(
        journal["failure"]
            .as_str()
            .unwrap()
            .contains("00000000000000000001.seg")
    );
    // It can be read meanwhile.
    api.ok("JobService/GetJob", json!({"name": job})).await;

    // Mended, but not yet started again.
    prlimit(pid, Resource::Fsize, before).unwrap();
    let (told, _) = report(&daemon.address, &[]);
    assert_eq!(amiss(&told), [("fail", "JOURNAL_FAILED")]);
    assert!(todo(&told, "JOURNAL_FAILED").contains("start lamellad again"));
    daemon.terminate();
    let daemon = well(dir.path()).start();
    shop::new_job(&daemon.client().await, "Red coupe").await;
    let (told, code) = report(&daemon.address, &[]);
    assert_eq!(code, Some(0), "{told:#}");
    assert!(
        amiss(&told).iter().all(|(level, _)| *level == "note"),
        "{told:#}"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_a_start_did_to_the_store_and_what_is_not_configured_are_notes() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = well(dir.path()).start();
    shop::new_job(&daemon.client().await, "Blue estate").await;
    let data = daemon.data_dir().to_owned();
    assert!(daemon.terminate().success());
    std::fs::remove_dir_all(data.join("projection")).unwrap();
    let config = "[shop]\ntime_zone = \"Europe/Vienna\"\n";
    std::fs::write(dir.path().join("open.toml"), config).unwrap();
    let daemon = Daemon::builder()
        .data_dir(&data)
        .arg("--config")
        .arg(dir.path().join("open.toml"))
        .start();
    let (told, code) = report(&daemon.address, &[]);
    assert_eq!(
        amiss(&told),
        [
            ("note", "PROJECTION_REBUILT"),
            ("note", "TAX_NOT_CONFIGURED"),
            ("note", "TIME_ZONE_DIFFERS")
        ],
        "{told:#}"
    );
    assert_eq!(code, Some(0));
    assert_eq!(
        told["status"]["projection"]["rebuildReason"],
        "there was no projection"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn free_space_is_the_file_systems_own() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = well(dir.path()).start();
    let (told, _) = report(&daemon.address, &[]);
    let bytes = |name: &str| -> u64 {
        let directory = &told["status"]["dataDirectory"];
        directory[name].as_str().unwrap().parse().unwrap()
    };
    let (free, total) = (bytes("freeBytes"), bytes("totalBytes"));
    let disk = rustix::fs::statvfs(dir.path()).unwrap();
    assert_eq!(total, disk.f_blocks * disk.f_frsize);
    assert!(0 < free && free <= total, "{free} of {total}");
    // Others write to the same disk meanwhile; twice as much is far from either edge.
    let twice = format!("{}B", free * 2);
    let (told, code) = report(&daemon.address, &["--min-free", &twice]);
    assert_eq!(
        (amiss(&told), code),
        (vec![("warn", "DISK_SPACE_LOW")], Some(0))
    );
    let beyond = format!("{}B", total * 20);
    let (told, code) = report(&daemon.address, &["--min-free", &beyond]);
    assert_eq!(
        (amiss(&told), code),
        (vec![("fail", "DISK_SPACE_LOW")], Some(3))
    );
}

/// Only what the client takes for the time is moved, by a library that is loaded
/// before the system's; both ends read the real clock otherwise.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "needs faketime; tests/run service"]
async fn clocks_that_differ_are_told_with_both_times() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = well(dir.path()).start();
    let moved = |by: &str, more: &[&str]| {
        let mut command = cli::clean(Path::new("faketime"));
        command.args(["-f", by]).arg(binaries::lamella());
        command
            .env("LAMELLA_SERVER", &daemon.address)
            .env("TZ", "Etc/UTC");
        command
            .args(["doctor", "--min-free", "0B", "--output", "json"])
            .args(more);
        let ran = cli::run(command, "");
        let told: Value =
            serde_json::from_str(&ran.stdout).unwrap_or_else(|e| panic!("{e}: {ran}"));
        let clock = told["findings"].as_array().unwrap().iter();
        let clock = clock.filter(|f| f["code"].as_str().unwrap().starts_with("CLOCK"));
        let seen: Vec<String> = clock
            .map(|f| f["seen"].as_str().unwrap().to_owned())
            .collect();
        let amiss = amiss(&told);
        let level = amiss.first().map(|(level, code)| format!("{level} {code}"));
        (level.unwrap_or_default(), ran.code, seen.concat())
    };
    let (level, code, _) = moved("+0s", &[]);
    assert_eq!((level.as_str(), code), ("", Some(0)));
    let (level, code, seen) = moved("+60s", &[]);
    assert_eq!(
        (level.as_str(), code),
        ("warn CLOCK_OFF", Some(0)),
        "{seen}"
    );
    assert!(
        seen.contains("behind") && seen.matches(" UTC").count() == 2,
        "{seen}"
    );
    let (level, code, seen) = moved("-2h", &[]);
    assert_eq!(
        (level.as_str(), code),
        ("fail CLOCK_OFF", Some(3)),
        "{seen}"
    );
    assert!(seen.contains("2 h ahead"), "{seen}");
    let (level, code, _) = moved("+60s", &["--max-skew", "2min"]);
    assert_eq!((level.as_str(), code), ("", Some(0)));
}
