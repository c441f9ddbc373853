//! The watch: what was missed, then live, with nothing lost and nothing twice.

use std::collections::BTreeMap;

use lamella_proto::v1::{JobEvent, job_event::Change, watch_jobs_response::Message};
use lamella_tests::api::{Api, Refused};
use lamella_tests::daemon::Daemon;
use lamella_tests::shop;
use lamella_tests::watch::Watch;
use serde_json::json;
use tokio::task::JoinSet;
use tonic::Code;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_missed_comes_first_then_what_happens() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "RECEIVED").await;
    let mut watch = Watch::begin(&api, "0", "").await.unwrap();
    let missed = watch.missed().await;
    assert!(
        matches!(missed[0].change, Some(Change::Created(_))),
        "{missed:?}"
    );
    assert!(
        matches!(missed[1].change, Some(Change::StageChanged(_))),
        "{missed:?}"
    );
    assert_eq!(missed.len(), 2, "events of vehicles are gaps: {missed:?}");
    assert!(
        missed
            .iter()
            .all(|event| event.job == job && event.event_time.is_some())
    );

    let note = json!({"text": "dusty"});
    let stored = shop::append(&api, &job, shop::LONG_AGO, "note", note).await;
    let event = watch.event().await;
    let Some(Change::Recorded(record)) = event.change else {
        panic!("{event:?}")
    };
    assert_eq!(record.name, shop::name(&stored));
    assert_eq!(watch.token, event.sequence.to_string());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_a_token_a_watch_begins_now() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    shop::new_job(&api, "before").await;
    let mut watch = Watch::begin(&api, "", "").await.unwrap();
    assert!(watch.missed().await.is_empty());
    let job = shop::new_job(&api, "after").await;
    assert_eq!(watch.event().await.job, job);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_list_and_a_watch_from_its_token_leave_no_gap() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "before").await;
    let list = api.ok("JobService/ListJobs", json!({})).await;
    let created = shop::new_job(&api, "after").await;
    let token = list["resume_token"].as_str().unwrap();
    let mut watch = Watch::begin(&api, token, "").await.unwrap();
    assert_eq!(watch.event().await.job, created);
    assert_eq!(list["jobs"][0]["name"], job.as_str());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn one_job_can_be_watched_alone() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let (one, other) = (
        shop::new_job(&api, "one").await,
        shop::new_job(&api, "other").await,
    );
    let mut watch = Watch::begin(&api, "0", &one).await.unwrap();
    assert_eq!(watch.missed().await.len(), 1);
    for job in [&other, &one, &other] {
        let change = json!({"job": {"name": job, "wishes": "quick"}});
        api.ok("JobService/UpdateJob", change).await;
    }
    shop::advance(&api, &one, "CANCELLED").await;
    for _ in 0..2 {
        assert_eq!(watch.event().await.job, one);
    }
    // Its history tells the same.
    let history = api
        .ok("JobService/ListJobHistory", json!({"name": one}))
        .await;
    let last = &history["events"].as_array().unwrap()[2];
    assert_eq!(last["sequence"], watch.token.as_str());
}

/// What each event was, by sequence number.
type Seen = BTreeMap<i64, String>;

fn see(seen: &mut Seen, event: &JobEvent) {
    let newest = seen.last_key_value().map_or(0, |(sequence, _)| *sequence);
    assert!(
        event.sequence > newest,
        "{} came after {newest}",
        event.sequence
    );
    seen.insert(event.sequence, event.job.clone());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn eight_writers_and_a_watcher_that_keeps_reconnecting() {
    const WRITERS: usize = 8;
    const JOBS_EACH: usize = 40;
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let mut writers = JoinSet::new();
    for writer in 0..WRITERS {
        let api = api.clone();
        writers.spawn(async move {
            let mut created = Vec::new();
            for number in 0..JOBS_EACH {
                created.push(shop::new_job(&api, &format!("Car {writer}-{number}")).await);
            }
            created
        });
    }
    let mut seen = Seen::new();
    let mut token = "0".to_owned();
    while seen.len() < WRITERS * JOBS_EACH {
        // A connection of its own each time, dropped in the middle of the stream.
        let api = Api::connect(&daemon.address).await;
        let mut watch = Watch::begin(&api, &token, "").await.unwrap();
        for _ in 0..23.min(WRITERS * JOBS_EACH - seen.len()) {
            see(&mut seen, &watch.event().await);
        }
        token.clone_from(&watch.token);
    }
    let mut created: Vec<String> = writers.join_all().await.into_iter().flatten().collect();
    let mut watched: Vec<String> = seen.into_values().collect();
    created.sort();
    watched.sort();
    assert_eq!(watched, created);
    // And nothing more comes when all is told again from there.
    let mut watch = Watch::begin(&api, &token, "").await.unwrap();
    assert!(watch.missed().await.is_empty());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn several_watchers_see_the_same() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let mut watchers = JoinSet::new();
    for token in ["0", ""] {
        let mut watch = Watch::begin(&api, token, "").await.unwrap();
        watchers.spawn(async move {
            let mut seen = Seen::new();
            while seen.len() < 50 {
                see(&mut seen, &watch.event().await);
            }
            seen
        });
    }
    for number in 0..50 {
        shop::new_job(&api, &format!("Car {number}")).await;
    }
    let all = watchers.join_all().await;
    assert_eq!(all[0], all[1]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_token_survives_a_kill_of_the_daemon() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    shop::new_job(&api, "first").await;
    let mut watch = Watch::begin(&api, "0", "").await.unwrap();
    watch.event().await;
    let second = shop::new_job(&api, "second").await;
    daemon.kill();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    let mut watch = Watch::begin(&api, &watch.token, "").await.unwrap();
    assert_eq!(
        watch
            .missed()
            .await
            .iter()
            .map(|e| e.job.as_str())
            .collect::<Vec<_>>(),
        [second]
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn tokens_that_cannot_be_served_are_refused() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    shop::new_job(&api, "only").await;
    let refused = |status| Refused::of(&status);
    let ahead = refused(Watch::begin(&api, "2", "").await.unwrap_err());
    assert_eq!(
        (ahead.code, ahead.reason.as_str()),
        (Code::OutOfRange, "RESUME_TOKEN_AHEAD")
    );
    assert_eq!(ahead.field_names(), ["resume_token"]);
    for token in ["-1", "soon", "1.5", "99999999999999999999999", " 1"] {
        let refused = refused(Watch::begin(&api, token, "").await.unwrap_err());
        assert_eq!(refused.code, Code::InvalidArgument, "{token}: {refused:?}");
        assert_eq!(refused.field_names(), ["resume_token"], "{token}");
    }
    let missing = refused(Watch::begin(&api, "0", "jobs/none").await.unwrap_err());
    assert_eq!(
        (missing.code, missing.resource.as_str()),
        (Code::NotFound, "jobs/none")
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_stop_of_the_daemon_ends_the_stream_with_unavailable() {
    let mut daemon = Daemon::start();
    let api = daemon.client().await;
    let mut watch = Watch::begin(&api, "", "").await.unwrap();
    assert!(matches!(watch.message().await, Ok(Message::CaughtUp(_))));
    daemon.ask_to_stop();
    let ended = watch.message().await.unwrap_err();
    assert_eq!(ended.code(), Code::Unavailable, "{ended:?}");
    assert!(daemon.wait().success());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_client_watches_too() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;
    let mut command = lamella_tests::cli::clean(&lamella_tests::binaries::lamella());
    command.env("LAMELLA_SERVER", &daemon.address);
    command.args(["call", "JobService/WatchJobs", r#"{"resume_token":"0"}"#]);
    let mut child = command
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let stdout = std::io::BufReader::new(child.stdout.take().unwrap());
    let mut lines = std::io::BufRead::lines(stdout);
    let first: serde_json::Value = serde_json::from_str(&lines.next().unwrap().unwrap()).unwrap();
    assert_eq!(first["event"]["created"]["name"], job.as_str(), "{first:#}");
    child.kill().unwrap();
    child.wait().unwrap();
}
