//! Starting, stopping, settings.

use std::os::unix::fs::FileTypeExt as _;
use std::path::Path;

use lamella_tests::api::Api;
use lamella_tests::cli;
use lamella_tests::daemon::Daemon;
use lamella_tests::shop;
use serde_json::json;
use tokio::task::JoinSet;
use tonic::Code;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_stop_answers_what_is_under_way_and_keeps_what_was_answered() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let (told, mut heard) = tokio::sync::mpsc::unbounded_channel();
    let mut writers = JoinSet::new();
    for writer in 0..8 {
        let api = daemon.client().await;
        let told = told.clone();
        writers.spawn(async move {
            for number in 0.. {
                let job = json!({"job": {"display_name": format!("Car {writer}-{number}")}});
                match api.call("JobService/CreateJob", job).await {
                    Ok(job) => told.send(shop::name(&job)).unwrap(),
                    Err(refused) => return refused,
                }
            }
            unreachable!("writing ends with a refusal")
        });
    }
    drop(told);
    let mut acknowledged = Vec::new();
    for _ in 0..50 {
        acknowledged.push(heard.recv().await.unwrap());
    }
    let status = tokio::task::spawn_blocking(move || daemon.terminate())
        .await
        .unwrap();
    assert_eq!(status.code(), Some(0), "{status}");
    for refused in writers.join_all().await {
        // Not served any more: by the daemon's word, by a connection that was
        // closed, or by this end, which found it closed before it sent.
        let code = refused.code;
        assert!(
            matches!(code, Code::Unavailable | Code::Unknown | Code::Cancelled),
            "{refused:?}"
        );
    }
    while let Some(name) = heard.recv().await {
        acknowledged.push(name);
    }

    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    let mut kept: Vec<String> = shop::all_jobs(&api).await.iter().map(shop::name).collect();
    assert_eq!(daemon.sequence, kept.len() as u64);
    kept.sort();
    acknowledged.sort();
    // What was taken on was answered too: a drain leaves nothing in between.
    assert_eq!(kept, acknowledged);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_ready_line_tells_the_last_sequence_number() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    assert_eq!(daemon.sequence, 0);
    let api = daemon.client().await;
    for number in 0..5 {
        shop::new_job(&api, &format!("Car {number}")).await;
    }
    let before = shop::everything(&api).await;
    daemon.kill();
    let daemon = Daemon::start_on(dir.path());
    assert_eq!(daemon.sequence, 5);
    let api = daemon.client().await;
    assert_eq!(shop::everything(&api).await, before);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_second_daemon_on_the_same_directory_names_the_first() {
    let dir = tempfile::tempdir().unwrap();
    let first = Daemon::start_on(dir.path());
    let second = Daemon::builder()
        .data_dir(dir.path())
        .try_start()
        .unwrap_err();
    assert!(!second.status.success());
    assert!(
        second.stderr.contains(&format!("process {}", first.pid())),
        "{}",
        second.stderr
    );
    // The first is not harmed, nor is the directory by those who only look.
    shop::new_job(&first.client().await, "Blue estate").await;
    for command in ["verify", "rebuild"] {
        let ran = cli::lamellad([command, "--data-dir", dir.path().to_str().unwrap()]);
        assert_ne!(ran.code, Some(0), "{ran}");
        assert!(ran.stderr.contains(&first.pid().to_string()), "{ran}");
    }
    // Its lock goes with it, however it ends.
    first.kill();
    Daemon::start_on(dir.path());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn verify_is_clean_and_rebuild_changes_no_answer() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().to_str().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    shop::job_at(&api, "HANDED_OVER").await;
    let before = shop::everything(&api).await;
    daemon.terminate();
    let verified = cli::lamellad(["verify", "--data-dir", path]).ended_with(0);
    assert!(!verified.stdout.trim().is_empty(), "{verified}");
    cli::lamellad(["rebuild", "--data-dir", path]).ended_with(0);
    let daemon = Daemon::start_on(dir.path());
    assert_eq!(shop::everything(&daemon.client().await).await, before);
}

#[test]
fn verify_of_a_directory_that_is_not_there_fails() {
    let dir = tempfile::tempdir().unwrap();
    let missing = dir.path().join("none");
    let ran = cli::lamellad(["verify", "--data-dir", missing.to_str().unwrap()]);
    assert!(ran.code.is_some_and(|code| code != 0), "{ran}");
    assert!(ran.stderr.contains("none"), "{ran}");
    assert!(!missing.exists(), "looking makes nothing");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_unix_socket_serves_and_goes_with_the_daemon() {
    let dir = tempfile::tempdir().unwrap();
    let socket = dir.path().join("lamella.sock");
    let address = format!("unix:{}", socket.display());
    let start = || {
        Daemon::builder()
            .data_dir(dir.path())
            .listen(&address)
            .start()
    };
    let daemon = start();
    assert_eq!(daemon.address, address);
    assert!(is_socket(&socket));
    let job = shop::new_job(&daemon.client().await, "Blue estate").await;
    let listed = daemon.lamella(["call", "JobService/ListJobs", "{}"]).json();
    assert_eq!(listed["jobs"][0]["name"], job.as_str());
    assert!(daemon.terminate().success());
    assert!(!socket.exists(), "the socket's file is left behind");
    // After a kill the file is left behind, and the next daemon takes it over.
    start().kill();
    assert!(is_socket(&socket));
    let daemon = start();
    shop::new_job(&daemon.client().await, "Red coupe").await;
    // One that is in use is not taken over.
    let other = tempfile::tempdir().unwrap();
    let second = Daemon::builder()
        .data_dir(other.path())
        .listen(&address)
        .try_start();
    assert!(second.unwrap_err().stderr.contains(&address));
    shop::new_job(&daemon.client().await, "White van").await;
}

fn is_socket(path: &Path) -> bool {
    path.metadata()
        .is_ok_and(|meta| meta.file_type().is_socket())
}

#[test]
fn flags_beat_environment_beats_file_beats_defaults() {
    let dir = tempfile::tempdir().unwrap();
    let socket = |name: &str| format!("unix:{}", dir.path().join(name).display());
    let file = dir.path().join("lamella.toml");
    let data_dir = dir.path().join("data");
    let toml = format!(
        "listen = \"{}\"\ndata_dir = \"{}\"\nlog = \"warn\"\ngrace_seconds = 3\n",
        socket("file"),
        data_dir.display()
    );
    std::fs::write(&file, toml).unwrap();
    let with_file = || {
        Daemon::builder()
            .bare()
            .data_dir(&data_dir)
            .arg("--config")
            .arg(&file)
    };
    let with_env = || with_file().env("LAMELLA_LISTEN", socket("env"));
    let with_flag = || with_env().arg("--listen").arg(socket("flag"));
    for (builder, expected) in [
        (with_file(), "file"),
        (with_env(), "env"),
        (with_flag(), "flag"),
    ] {
        let daemon = builder.start();
        assert_eq!(daemon.address, socket(expected));
        assert!(
            data_dir.is_dir(),
            "the file's data_dir holds beside a {expected}"
        );
        assert!(
            !daemon.stderr().contains("INFO"),
            "the file's log filter holds"
        );
        assert!(daemon.terminate().success());
    }
    // The file itself may come by the environment.
    let by_env = Daemon::builder()
        .bare()
        .data_dir(&data_dir)
        .env("LAMELLA_CONFIG", &file);
    assert_eq!(by_env.start().address, socket("file"));
}

#[test]
fn the_default_is_loopback() {
    let dir = tempfile::tempdir().unwrap();
    let builder = Daemon::builder()
        .bare()
        .data_dir(dir.path())
        .arg("--data-dir")
        .arg(dir.path());
    // Another daemon of whoever runs the tests may have the port; then the
    // refusal names it.
    match builder.try_start() {
        Ok(daemon) => assert_eq!(daemon.address, "127.0.0.1:7575"),
        Err(refused) => assert!(
            refused.stderr.contains("127.0.0.1:7575"),
            "{}",
            refused.stderr
        ),
    }
}

#[test]
fn settings_that_cannot_be_used_are_named() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("lamella.toml");
    std::fs::write(&file, "lisen = \"127.0.0.1:0\"\n").unwrap();
    let builder = || Daemon::builder().data_dir(dir.path());
    let refused = builder()
        .arg("--config")
        .arg(&file)
        .try_start()
        .unwrap_err();
    assert!(!refused.status.success());
    for word in ["lisen", "listen", "lamella.toml"] {
        assert!(refused.stderr.contains(word), "{word}: {}", refused.stderr);
    }
    let missing = dir.path().join("none.toml");
    let refused = builder()
        .arg("--config")
        .arg(&missing)
        .try_start()
        .unwrap_err();
    assert!(refused.stderr.contains("none.toml"), "{}", refused.stderr);

    let bad = |name: &str, value: &str| {
        Daemon::builder()
            .bare()
            .arg("--data-dir")
            .arg(dir.path())
            .env(name, value)
    };
    for (name, value) in [
        ("LAMELLA_LISTEN", "nowhere"),
        ("LAMELLA_GRACE_SECONDS", "soon"),
        ("LAMELLA_LOG", "lamella=loud=yes"),
    ] {
        let refused = bad(name, value).try_start().unwrap_err();
        assert!(!refused.status.success(), "{name}={value}");
        assert!(refused.stderr.contains(value), "{name}: {}", refused.stderr);
    }
    let refused = builder().arg("--no-such-flag").try_start().unwrap_err();
    assert!(
        refused.stderr.contains("--no-such-flag"),
        "{}",
        refused.stderr
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn personal_data_stay_out_of_the_log() {
    let daemon = Daemon::builder().arg("--log").arg("trace").start();
    let api = Api::connect(&daemon.address).await;
    let customer = json!({
        "display_name": "Invented Customer", "phone": "000-PHONE", "email": "invented@example.org",
    });
    let job = json!({"job": {"display_name": "Blue estate", "customer": customer}});
    let job = shop::name(&api.ok("JobService/CreateJob", job).await);
    let long = "9".repeat(65);
    let refused = json!({"job": {"name": job, "customer": {"phone": long}}});
    api.refused("JobService/UpdateJob", refused).await;
    api.ok(
        "VehicleService/CreateVehicle",
        json!({"vehicle": shop::vehicle()}),
    )
    .await;
    let log = daemon.stderr();
    for secret in [
        "Invented Customer",
        "000-PHONE",
        "invented@example.org",
        "TEST 123",
        &long,
    ] {
        assert!(!log.contains(secret), "{secret} is in the log");
    }
}
