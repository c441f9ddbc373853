//! Clients in another language: Python with grpcio, which knows of the API only
//! what reflection tells it, and a shop's own script around `lamella call`.

use std::path::Path;

use lamella_tests::daemon::Daemon;
use lamella_tests::{binaries, cli, python, shop};
use serde_json::json;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn python_client_creates_advances_lists_and_watches_jobs() {
    let daemon = Daemon::start();
    let mut command = cli::clean(&python::interpreter());
    command
        .arg(python::script("client.py"))
        .arg(&daemon.address);
    let ran = cli::run(command, "").ended_with(0);
    let told: serde_json::Value = serde_json::from_str(ran.stdout.trim()).expect(&ran.stdout);

    // What Python says it did is what a client here sees.
    let api = daemon.client().await;
    let job = api
        .ok("JobService/GetJob", json!({"name": told["job"]}))
        .await;
    assert_eq!(job["display_name"], "Blue estate from Python");
    assert_eq!(job["stage"], "STAGE_RECEIVED");
    assert_eq!(shop::all_jobs(&api).await.len(), 1);
    let history = api
        .ok("JobService/ListJobHistory", json!({"name": told["job"]}))
        .await;
    let sequences: Vec<_> = history["events"]
        .as_array()
        .unwrap()
        .iter()
        .map(|e| e["sequence"].clone())
        .collect();
    assert_eq!(told["watched"].as_array(), Some(&sequences), "{told:#}");
}

/// Runs examples/end-of-day.py for a day, in UTC so that the day is the same
/// everywhere; the records of one of its files.
fn end_of_day(daemon: &Daemon, day: &str, to: &Path, file: &str) -> Vec<String> {
    let mut command = cli::clean(&python::interpreter());
    command.arg(binaries::repository().join("examples/end-of-day.py"));
    command.args(["--day", day, "--to"]).arg(to);
    command
        .env("TZ", "UTC")
        .env("LAMELLA_SERVER", &daemon.address);
    command.env("LAMELLA", binaries::lamella());
    cli::run(command, "").ended_with(0);
    let csv = std::fs::read_to_string(to.join(format!("{day}-{file}.csv"))).unwrap();
    // RFC 4180: records end in CR LF.
    assert!(csv.ends_with("\r\n"), "{csv:?}");
    csv.trim_end().split("\r\n").map(str::to_owned).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_end_of_day_script_exports_jobs_labour_materials_and_takings() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "READY").await;
    for (kind, entry) in shop::records() {
        if matches!(kind, "labour" | "mix" | "film_piece") {
            shop::append(&api, &job, shop::LONG_AGO, kind, entry).await;
        }
    }
    let done = shop::advance(&api, &job, "HANDED_OVER").await;
    let today = &done["job"]["update_time"].as_str().unwrap()[..10];
    let dir = tempfile::tempdir().unwrap();
    let of = |day: &str, file: &str| end_of_day(&daemon, day, dir.path(), file);

    // 08:00 to 09:30 is an hour and a half.
    let labour = of("2024-01-15", "labour");
    assert_eq!(labour.len(), 2, "{labour:?}");
    assert!(
        labour[1].starts_with(&format!("{job},Blue estate,first worker,wash,")),
        "{labour:?}"
    );
    assert!(labour[1].ends_with(",1.50"), "{labour:?}");
    // A coat, a mix of 100 ml, and film of 700 mm by 400 mm.
    let materials = of("2024-01-15", "materials");
    assert_eq!(materials.len(), 4, "{materials:?}");
    assert!(
        materials[2].contains("water-based pre-wash concentrate,100"),
        "{materials:?}"
    );
    assert!(
        materials[3].contains("clear film,0.2800,m2"),
        "{materials:?}"
    );
    // What was approved: EUR 890.00, in cents.
    let takings = of(today, "takings");
    assert_eq!(takings[1..], [format!("{job},Blue estate,EUR,89000")]);
    let jobs = of(today, "jobs");
    assert!(jobs.last().unwrap().contains(",handed-over,"), "{jobs:?}");
    assert_eq!(
        of("2001-01-01", "jobs").len(),
        1,
        "a day without work has only the header"
    );
}
