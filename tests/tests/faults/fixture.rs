//! A store of each format version is kept in `tests/fixtures` and must open.

use std::path::PathBuf;

use lamella_tests::binaries;
use lamella_tests::daemon::Daemon;
use lamella_tests::shop;
use serde_json::Value;

use crate::segment;
use crate::store;

fn fixture() -> PathBuf {
    binaries::repository().join("tests/fixtures/store-v1")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_store_of_format_version_1_serves_the_answers_it_was_written_with() {
    let text = std::fs::read_to_string(fixture().join("answers.json")).unwrap();
    let answers: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(
        answers["everything"]["jobs"].as_array().unwrap().len(),
        6,
        "the fixture is whole"
    );
    let dir = tempfile::tempdir().unwrap();
    store::copy_into(&fixture().join("journal"), &dir.path().join("journal"));
    let kept = segment::only(dir.path());
    let daemon = Daemon::start_on(dir.path());
    assert_eq!(daemon.sequence, kept.records.len() as u64);
    let api = daemon.client().await;
    assert_eq!(
        through_text(&shop::everything(&api).await),
        answers["everything"]
    );
    // What makes a retry recognisable is part of the format.
    assert_eq!(
        api.ok("JobService/CreateJob", store::retried()).await,
        answers["retried"]
    );
    assert_eq!(shop::last_sequence(&api).await, daemon.sequence);
    shop::new_job(&api, "Black pickup").await;
    assert!(daemon.terminate().success());
    store::verify_clean(dir.path(), "after one more job");
    let bytes = segment::only(dir.path()).bytes;
    assert_eq!(
        bytes[..kept.bytes.len()],
        kept.bytes,
        "what was written is only added to"
    );
}

/// As it would have been read back: reading may change a number's last digit.
fn through_text(value: &Value) -> Value {
    serde_json::from_str(&value.to_string()).unwrap()
}

/// Wrote the fixture. A change of the format gets a folder of its own; this one
/// is never written again.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "writes tests/fixtures/store-v1, which must not exist"]
async fn write_the_fixture() {
    assert!(!fixture().exists(), "a fixture is written once");
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    store::fill(&api).await;
    let answers = serde_json::json!({
        "everything": shop::everything(&api).await,
        "retried": api.ok("JobService/CreateJob", store::retried()).await,
    });
    assert!(daemon.terminate().success());
    store::copy_into(&dir.path().join("journal"), &fixture().join("journal"));
    let text = serde_json::to_string_pretty(&answers).unwrap();
    std::fs::write(fixture().join("answers.json"), text + "\n").unwrap();
}
