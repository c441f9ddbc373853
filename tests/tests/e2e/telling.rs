//! What the daemon tells of itself: figures as Prometheus's own parsers read them
//! (text format 0.0.4 and OpenMetrics 1.0), and a log that names calls and jobs
//! and no customer.

use lamella_tests::daemon::{Builder, Daemon};
use lamella_tests::watch::Watch;
use lamella_tests::{cli, plugins, python, shop, wait, web};
use serde_json::{Value, json};
use tempfile::TempDir;
use tonic::metadata::MetadataValue;
use tonic::{Code, Request};

/// Everything about the customer and the car that a log must not hold.
const PRIVATE: [&str; 7] = [
    "Wilhelmina Quist",
    "0161 496 0123",
    "quist@post.example",
    "not-an-address.example",
    "the one with the dog",
    "QU15 TST",
    "Quist's sister",
];

/// A daemon that serves metrics and whose log programs can read.
fn told_of() -> Builder {
    let daemon = Daemon::builder().arg("--log-format").arg("json");
    daemon.arg("--metrics-listen").arg("127.0.0.1:0")
}

/// The log, a JSON object a line; the ready line is for scripts.
fn log(daemon: &Daemon) -> Vec<Value> {
    let stderr = daemon.stderr();
    let lines = stderr.lines().filter(|line| !line.starts_with("ready "));
    lines
        .map(|line| serde_json::from_str(line).expect(line))
        .collect()
}

/// The first line of the log with this message, waited for.
fn line(daemon: &Daemon, what: &str, is_it: impl Fn(&Value) -> bool) -> Value {
    wait::until(what, || log(daemon).into_iter().find(&is_it))
}

/// What a real parser makes of the page of metrics.
fn scrape(daemon: &Daemon) -> Value {
    let serving = line(daemon, "where the metrics are", |line| {
        line["message"] == "serving metrics"
    });
    let address = serving["address"].as_str().unwrap();
    let mut command = cli::clean(&python::interpreter());
    command.arg(python::script("scrape.py"));
    command.arg(format!("http://{address}/metrics"));
    cli::run(command, "").ended_with(0).json()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn python_parsers_of_prometheus_read_both_formats_of_the_metrics() {
    let daemon = told_of().start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;
    for _ in 0..3 {
        api.ok("JobService/GetJob", json!({"name": job})).await;
    }
    api.refused("JobService/GetJob", json!({"name": "jobs/none"}))
        .await;
    // The call's end is noted after its caller has the answer.
    let pages = wait::until("the refusal to be counted", || {
        let pages = scrape(&daemon);
        let refused = &pages["text"]["samples"][calls("GetJob", "NOT_FOUND")];
        (*refused == 1.0).then_some(pages)
    });
    for format in ["text", "openmetrics"] {
        let samples = &pages[format]["samples"];
        let of = |name: &str| samples[name].as_f64().expect(name);
        assert!((of(&calls("GetJob", "OK")) - 3.0).abs() < 0.1, "{format}");
        assert!((of(&calls("CreateJob", "OK")) - 1.0).abs() < 0.1);
        let answers = "lamella_grpc_answer_seconds_count{method=\"GetJob\",\
            service=\"lamella.v1.JobService\"}";
        assert!((of(answers) - 4.0).abs() < 0.1, "{format}");
        // One change, one append made durable.
        assert!((of("lamella_journal_sync_seconds_count{}") - 1.0).abs() < 0.1);
        assert!(of("lamella_journal_sync_seconds_sum{}") > 0.0);
        assert!((of("lamella_journal_last_sequence{}") - 1.0).abs() < 0.1);
        for none in [
            "lamella_projection_lag_events{}",
            "lamella_store_read_only{}",
            "lamella_watchers{}",
            "lamella_plugins_failed{}",
        ] {
            assert!(of(none).abs() < 0.1, "{format}: {none}");
        }
    }
    let types = &pages["openmetrics"]["types"];
    assert_eq!(types["lamella_grpc_calls"], "counter");
    assert_eq!(types["lamella_grpc_answer_seconds"], "histogram");
    assert_eq!(types["lamella_build"], "info");
    assert_eq!(types["lamella_watchers"], "gauge");
}

/// The sample that counts the ends of a method of JobService.
fn calls(method: &str, code: &str) -> String {
    format!(
        "lamella_grpc_calls_total{{code=\"{code}\",method=\"{method}\",\
         service=\"lamella.v1.JobService\"}}"
    )
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn python_parsers_see_open_watches_plugins_and_paths_that_are_none() {
    let dir = TempDir::new().unwrap();
    let daemon = told_of()
        .arg("--config")
        .arg(plugins::patient(dir.path(), 2_000_000_000))
        .start();
    let api = daemon.client().await;
    let prebuilt = plugins::prebuilt("tiered-pricing");
    plugins::installed(&api, "tiered-pricing", &prebuilt).await;
    let watch = Watch::begin(&api, "", "").await.unwrap();
    for path in ["/x", "/y/z", "/lamella.v1.JobService/Nothing"] {
        let answer = web::post(&daemon.address, path, &[], &[]);
        assert_eq!(
            answer.grpc_status(),
            Some(Code::Unimplemented as i32),
            "{path}"
        );
    }
    let pages = scrape(&daemon);
    let of = |name: &str| pages["text"]["samples"][name].as_f64().expect(name);
    assert!((of("lamella_watchers{}") - 1.0).abs() < 0.1);
    let open = "lamella_grpc_open_calls{method=\"WatchJobs\",service=\"lamella.v1.JobService\"}";
    assert!((of(open) - 1.0).abs() < 0.1);
    assert!((of("lamella_plugins_serving{}") - 1.0).abs() < 0.1);
    assert!(of("lamella_plugin_call_seconds_count{plugin=\"tiered-pricing\"}") >= 1.0);
    let unknown =
        "lamella_grpc_calls_total{code=\"UNIMPLEMENTED\",method=\"unknown\",service=\"unknown\"}";
    assert!((of(unknown) - 3.0).abs() < 0.1);
    drop(watch);
    // A caller that goes leaves nothing open.
    wait::until("the end of the watch", || {
        let pages = scrape(&daemon);
        (pages["text"]["samples"][open] == 0.0).then_some(())
    });
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_log_names_calls_and_jobs_and_no_customer() {
    let daemon = told_of().start();
    let api = daemon.client().await;
    let mut vehicle = shop::vehicle();
    vehicle["display_name"] = json!("Quist's sister");
    vehicle["registration"] = json!("QU15 TST");
    api.ok("VehicleService/CreateVehicle", json!({"vehicle": vehicle}))
        .await;
    let customer = json!({
        "display_name": "Wilhelmina Quist", "phone": "0161 496 0123",
        "email": "quist@post.example",
    });
    let job = json!({
        "display_name": "the one with the dog", "customer": customer,
        "wishes": "ask for Wilhelmina Quist, the one with the dog",
    });
    let job = shop::name(&api.ok("JobService/CreateJob", json!({"job": job})).await);
    // Refused, with what was given in the message.
    let update = json!({
        "job": {"name": job, "customer": {"display_name": "Wilhelmina Quist",
            "email": "not-an-address.example ".repeat(20)}},
        "update_mask": "customer",
    });
    api.refused("JobService/UpdateJob", update).await;
    let wanted = json!({"name": "jobs/Wilhelmina Quist"});
    let refused = api.refused("JobService/GetJob", wanted).await;
    assert!(refused.message.contains("Wilhelmina Quist"), "{refused:?}");
    let id = job.strip_prefix("jobs/").unwrap();
    let created = line(&daemon, "the line of the new job", |line| {
        line["span"]["method"] == "JobService/CreateJob"
    });
    assert_eq!(created["span"]["job"], id, "{created:#}");
    assert_eq!(created["code"], "OK");
    assert_eq!(created["level"], "INFO");
    let bad = line(&daemon, "the line of the refusal", |line| {
        line["span"]["method"] == "JobService/GetJob"
    });
    assert_eq!(
        (&bad["code"], &bad["reason"]),
        (&json!("INVALID_ARGUMENT"), &json!("INPUT_INVALID"))
    );
    let written = daemon.stderr();
    for private in PRIVATE {
        assert!(!written.contains(private), "`{private}` is in\n{written}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_request_id_comes_back_and_stands_in_the_log() {
    let daemon = Daemon::start();
    let mut jobs = daemon.client().await.jobs();
    let mut request = Request::new(lamella_proto::v1::ListJobsRequest::default());
    let id = MetadataValue::from_static("end-of-day/42");
    request.metadata_mut().insert("x-request-id", id.clone());
    let answer = jobs.list_jobs(request).await.unwrap();
    assert_eq!(answer.metadata().get("x-request-id"), Some(&id));
    wait::until("the request's id in the log", || {
        let stderr = daemon.stderr();
        let line = stderr
            .lines()
            .find(|line| line.contains("request_id=end-of-day/42"))?;
        assert!(line.contains("method=JobService/ListJobs"), "{line}");
        assert!(!line.contains("otel."), "{line}");
        Some(())
    });
    // Without one, it is given one.
    let request = lamella_proto::v1::ListJobsRequest::default();
    let answer = jobs.list_jobs(request).await.unwrap();
    let made = answer.metadata().get("x-request-id").unwrap();
    assert_eq!(made.len(), 26, "{made:?}");
}
