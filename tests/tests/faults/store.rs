//! A filled store, copies of it, and what it answers.

use std::path::{Path, PathBuf};

use lamella_tests::api::Api;
use lamella_tests::cli::{self, Ran};
use lamella_tests::daemon::Daemon;
use lamella_tests::shop;
use serde_json::{Value, json};
use tempfile::TempDir;

/// Text of the request that [`fill`] leaves behind for a retry.
pub(crate) const RETRIED: &str = "asked-once";

/// The request that [`fill`] made with the id [`RETRIED`].
pub(crate) fn retried() -> Value {
    json!({"job": {"display_name": "Grey hatchback"}, "job_id": "grey-1", "request_id": RETRIED})
}

/// Puts something of every kind into a store.
pub(crate) async fn fill(api: &Api) {
    shop::job_at(api, "HANDED_OVER").await;
    let busy = shop::job_at(api, "IN_WORK").await;
    for (kind, record) in shop::records() {
        shop::append(api, &busy, shop::LONG_AGO, kind, record).await;
    }
    shop::advance(api, &busy, "ASSESSED").await;
    let vehicle = shop::new_vehicle(api).await;
    let note = json!({"vehicle": {"name": vehicle, "note": "garaged"}});
    api.ok("VehicleService/UpdateVehicle", note).await;
    api.ok("VehicleService/DeleteVehicle", json!({"name": vehicle}))
        .await;
    for (job, done) in [
        ("Red coupe", &["DeleteJob"][..]),
        ("Van", &["DeleteJob", "UndeleteJob"]),
    ] {
        let job = shop::new_job(api, job).await;
        for method in done {
            api.ok(&format!("JobService/{method}"), json!({"name": job}))
                .await;
        }
    }
    let off = shop::new_job(api, "White van").await;
    shop::advance(api, &off, "CANCELLED").await;
    let wishes = json!({"name": busy, "wishes": "no wax", "promise_time": "2024-02-01T16:00:00Z"});
    api.ok("JobService/UpdateJob", json!({"job": wishes})).await;
    api.ok("JobService/CreateJob", retried()).await;
}

/// Adds notes to one job, for bulk.
pub(crate) async fn add_notes(api: &Api, notes: usize) {
    let job = shop::new_job(api, "Silver saloon").await;
    for number in 0..notes {
        let text = format!("{number}: {}", "swirls on the hood ".repeat(30));
        shop::append(api, &job, shop::LONG_AGO, "note", json!({"text": text})).await;
    }
}

/// A copy of a data directory.
pub(crate) fn copy(data_dir: &Path) -> TempDir {
    let dir = TempDir::new().unwrap();
    copy_into(data_dir, dir.path());
    dir
}

/// Copies all that is in a directory into another.
pub(crate) fn copy_into(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_into(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Every file below a directory, in a fixed order.
pub(crate) fn files(dir: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(self::files(&path));
        } else {
            files.push(path);
        }
    }
    files.sort();
    files
}

/// Changes a file's bytes.
pub(crate) fn edit(file: &Path, change: impl FnOnce(&mut Vec<u8>)) {
    let mut bytes = std::fs::read(file).unwrap();
    change(&mut bytes);
    std::fs::write(file, bytes).unwrap();
}

/// Runs `lamellad verify`.
pub(crate) fn verify(data_dir: &Path) -> Ran {
    cli::lamellad([
        "verify".as_ref(),
        "--data-dir".as_ref(),
        data_dir.as_os_str(),
    ])
}

/// Runs `lamellad verify`, which must find nothing.
pub(crate) fn verify_clean(data_dir: &Path, when: &str) {
    let ran = verify(data_dir);
    assert_eq!(ran.code, Some(0), "{when}: {ran}");
    let clean = ran.stdout.lines().any(|line| line == "clean");
    assert!(clean, "{when}: {ran}");
}

/// Starts a daemon on the directory, has it answer everything, and stops it.
pub(crate) async fn answers(data_dir: &Path) -> Value {
    let daemon = Daemon::start_on(data_dir);
    let answers = shop::everything(&daemon.client().await).await;
    assert!(daemon.terminate().success());
    answers
}

/// Why the daemon says that it rebuilt the projection, each time that it did.
/// It does not say so where there was none.
pub(crate) fn rebuilds(daemon: &Daemon) -> Vec<String> {
    let log = daemon.stderr();
    let lines = log
        .lines()
        .filter(|line| line.contains("the projection is set aside and rebuilt"));
    lines.map(str::to_owned).collect()
}
