//! Uploads that are too large, are cut off half way, or meet a kill.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use lamella_proto::v1::{self, install_plugin_request::Part};
use lamella_tests::api::{Api, Refused};
use lamella_tests::daemon::Daemon;
use lamella_tests::plugins::{self, CHUNK_BYTES, header};
use lamella_tests::{shop, wait};
use serde_json::json;
use tonic::Code;

/// Calls of which the slowest are looked at.
const CALLS: usize = 300;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_hundred_megabytes_are_refused_early_while_others_are_answered() {
    const OFFERED: usize = 200;
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;
    let idle = slowest_of(&api, &job, CALLS).await;

    let sent = Arc::new(AtomicUsize::new(0));
    let over = Arc::new(AtomicBool::new(false));
    let meanwhile = {
        let (api, job, over) = (api.clone(), job.clone(), Arc::clone(&over));
        tokio::spawn(async move {
            let mut times = Vec::new();
            while !over.load(Ordering::Relaxed) || times.len() < CALLS {
                times.push(time_of(&api, &job).await);
            }
            p99(times)
        })
    };
    let counter = Arc::clone(&sent);
    let chunks = (0..OFFERED).map(move |_| {
        counter.fetch_add(1, Ordering::Relaxed);
        v1::InstallPluginRequest {
            part: Some(Part::Chunk(vec![0x5a; CHUNK_BYTES])),
        }
    });
    let first = v1::InstallPluginRequest {
        part: Some(Part::Header(header("large", b""))),
    };
    let stream = tokio_stream::iter(std::iter::once(first).chain(chunks));
    // A connection of its own, as another client would have.
    let uploading = daemon.client().await;
    let mut service = uploading.plugins();
    let refused = wait::ready("a refusal", service.install_plugin(stream)).await;
    over.store(true, Ordering::Relaxed);
    let refused = Refused::of(&refused.unwrap_err());
    assert_eq!(
        (refused.code, refused.reason.as_str()),
        (Code::InvalidArgument, "COMPONENT_TOO_LARGE")
    );
    // 64 MiB are taken, and a few more were under way.
    let sent = sent.load(Ordering::Relaxed);
    assert!((65..=100).contains(&sent), "{sent} MiB were sent");
    wait::until("the upload's file to go", || {
        plugins::files(daemon.data_dir()).is_empty().then_some(())
    });
    let during = meanwhile.await.unwrap();
    println!("GetJob p99: idle {idle:?}, during the upload {during:?}; {sent} MiB were sent");
    // No figure of speed: only that the daemon was not standing still.
    assert!(during < Duration::from_secs(10), "{during:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_upload_that_is_cut_off_leaves_no_file() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let upload = half_an_upload(&daemon, &api).await;
    upload.abort();
    wait::until("the upload's file to go", || {
        plugins::files(daemon.data_dir()).is_empty().then_some(())
    });
    let all = api.ok("PluginService/ListPlugins", json!({})).await;
    assert_eq!(all.get("plugins"), None);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_upload_that_meets_a_kill_is_gone_after_the_next_start() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    let upload = half_an_upload(&daemon, &api).await;
    daemon.kill();
    assert!(upload.await.unwrap().is_err());
    assert_eq!(plugins::files(dir.path()).len(), 1);
    let daemon = Daemon::start_on(dir.path());
    assert_eq!(plugins::files(daemon.data_dir()), Vec::<String>::new());
    assert_eq!(daemon.sequence, 0);
}

/// An upload that has begun to be written and does not go on.
async fn half_an_upload(
    daemon: &Daemon,
    api: &Api,
) -> tokio::task::JoinHandle<Result<v1::Plugin, tonic::Status>> {
    let (more, stream) = tokio::sync::mpsc::channel(4);
    let bytes = vec![0; 2 * CHUNK_BYTES];
    for message in plugins::messages(header("half", &bytes), &bytes) {
        more.send(message).await.unwrap();
    }
    let mut service = api.plugins();
    let task = tokio::spawn(async move {
        // The sender is kept, so that the stream does not end.
        let _more = more;
        let stream = tokio_stream::wrappers::ReceiverStream::new(stream);
        service
            .install_plugin(stream)
            .await
            .map(tonic::Response::into_inner)
    });
    wait::until("the upload's file", || {
        let whole = plugins::files(daemon.data_dir()).iter().any(|name| {
            let path = plugins::folder(daemon.data_dir()).join(name);
            std::fs::metadata(path).is_ok_and(|file| file.len() == 2 << 20)
        });
        whole.then_some(())
    });
    task
}

async fn slowest_of(api: &Api, job: &str, calls: usize) -> Duration {
    let mut times = Vec::new();
    for _ in 0..calls {
        times.push(time_of(api, job).await);
    }
    p99(times)
}

async fn time_of(api: &Api, job: &str) -> Duration {
    let begun = Instant::now();
    api.ok("JobService/GetJob", json!({"name": job})).await;
    begun.elapsed()
}

fn p99(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() * 99 / 100]
}
