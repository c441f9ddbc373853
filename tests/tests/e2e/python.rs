//! Clients in another language: Python with grpcio, which knows of the API only
//! what reflection tells it.

use lamella_tests::daemon::Daemon;
use lamella_tests::{cli, python, shop};
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
