//! The outbox and the booking bridge against a real HTTP server in Python: what
//! the site gets is what happened, in order, over trouble on either side.

use std::collections::BTreeMap;
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};

use lamella_tests::api::Api;
use lamella_tests::cli::{self, Ran};
use lamella_tests::daemon::Daemon;
use lamella_tests::{binaries, python, shop, wait};
use serde_json::{Value, json};
use tonic::Code;

const SECRET: &str = "only for this test";

/// The example's site, running.
pub(crate) struct Site {
    child: Child,
    pub(crate) address: String,
    dir: PathBuf,
}

fn example(name: &str) -> PathBuf {
    binaries::repository()
        .join("examples/booking-bridge")
        .join(name)
}

impl Site {
    /// Starts it on `listen`; what it takes is kept in `dir`.
    pub(crate) fn start(dir: &Path, listen: &str) -> Self {
        std::fs::write(dir.join("secret"), SECRET).unwrap();
        let mut command = cli::clean(&python::interpreter());
        command.arg(example("site.py")).args(["--listen", listen]);
        command.arg("--secret-file").arg(dir.join("secret"));
        command.arg("--received").arg(dir.join("received.jsonl"));
        let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut line)
            .unwrap();
        let address = line
            .trim()
            .strip_prefix("ready address=")
            .expect(&line)
            .to_owned();
        Self {
            child,
            address,
            dir: dir.to_owned(),
        }
    }

    fn stop(mut self) -> String {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        self.address.clone()
    }

    /// Sends JSON to it; the body of the answer.
    pub(crate) fn post(&self, path: &str, body: &Value) -> String {
        let script = "import sys, urllib.request as u\n\
            print(u.urlopen(sys.argv[1], data=sys.argv[2].encode(), timeout=60).read().decode())";
        let mut command = cli::clean(&python::interpreter());
        command.args([
            "-c",
            script,
            &format!("http://{}{path}", self.address),
            &body.to_string(),
        ]);
        cli::run(command, "").ended_with(0).stdout
    }

    /// The stage of each booking's job, as the site has heard.
    fn status(&self) -> Value {
        let script = "import sys, urllib.request as u\n\
            print(u.urlopen(sys.argv[1], timeout=60).read().decode())";
        let mut command = cli::clean(&python::interpreter());
        command.args(["-c", script, &format!("http://{}/status", self.address)]);
        cli::run(command, "").json()
    }

    /// Every delivery that it has acknowledged, oldest first.
    fn received(&self) -> Vec<Value> {
        let text = std::fs::read_to_string(self.dir.join("received.jsonl")).unwrap_or_default();
        // A line without its end is being written.
        let whole = text.rfind('\n').map_or("", |end| &text[..end]);
        whole
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }

    fn bridge(&self, daemon: &str) -> Ran {
        let mut command = cli::clean(&python::interpreter());
        command.arg(example("bridge.py"));
        command.args(["--site", &format!("http://{}", self.address), "--place"]);
        command.arg(self.dir.join("place"));
        command
            .env("LAMELLA", binaries::lamella())
            .env("LAMELLA_SERVER", daemon);
        cli::run(command, "")
    }
}

impl Drop for Site {
    fn drop(&mut self) {
        // Both fail only when it has ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A daemon on `dir` whose outbox is `address`.
pub(crate) fn daemon(dir: &Path, address: &str, more: &str) -> Daemon {
    let config = dir.join("lamella.toml");
    let secret = dir.join("secret");
    std::fs::write(&secret, SECRET).unwrap();
    let text = format!(
        "[outbox]\nurl = \"http://{address}/job-events\"\nsecret_file = {secret:?}\n\
         retry_base_ms = 20\nretry_max_ms = 100\n{more}"
    );
    std::fs::write(&config, text).unwrap();
    Daemon::builder()
        .data_dir(&dir.join("data"))
        .arg("--config")
        .arg(config)
        .start()
}

/// Sequence numbers by job, as delivered, repeats of the last left out.
fn by_job(deliveries: &[Value]) -> BTreeMap<String, Vec<u64>> {
    let mut jobs: BTreeMap<String, Vec<u64>> = BTreeMap::new();
    for event in deliveries {
        let sequence = event["sequence"].as_str().unwrap().parse().unwrap();
        let of_job = jobs
            .entry(event["job"].as_str().unwrap().to_owned())
            .or_default();
        if of_job.last() != Some(&sequence) {
            of_job.push(sequence);
        }
    }
    jobs
}

/// The same from the histories that the daemon serves.
async fn history(api: &Api) -> BTreeMap<String, Vec<u64>> {
    let mut jobs = BTreeMap::new();
    for job in shop::all_jobs(api).await {
        let request = json!({"name": job["name"], "page_size": 1000});
        let history = api.ok("JobService/ListJobHistory", request).await;
        let sequence = |event: &Value| event["sequence"].as_str().unwrap().parse().unwrap();
        let all = history["events"]
            .as_array()
            .unwrap()
            .iter()
            .map(sequence)
            .collect();
        jobs.insert(shop::name(&job), all);
    }
    jobs
}

async fn outbox(api: &Api) -> Value {
    api.ok("OutboxService/GetOutbox", json!({})).await
}

/// Waits until the site has exactly what the daemon's histories say.
async fn delivered(api: &Api, site: &Site) -> Vec<Value> {
    let wanted = history(api).await;
    wait::until("every event at the site", || {
        let received = site.received();
        let found = by_job(&received);
        (found == wanted).then_some(received)
    })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_bridge_carries_both_ways_over_trouble_on_either_side() {
    let dir = tempfile::tempdir().unwrap();
    let site = Site::start(dir.path(), "127.0.0.1:0");
    let running = daemon(dir.path(), &site.address, "");
    for number in 1..=3 {
        let booking = json!({"external_id": format!("A-{number}"), "display_name": format!("Car {number}"),
            "customer": {"display_name": "A. Customer", "phone": "0123"}});
        site.post("/bookings", &booking);
    }
    let carried = site.bridge(&running.address).ended_with(0);
    assert_eq!(carried.stdout, "A-1 created\nA-2 created\nA-3 created\n");
    // The bridge forgets its place: all comes twice, and late.
    std::fs::remove_file(dir.path().join("place")).unwrap();
    site.post(
        "/bookings",
        &json!({"external_id": "A-2", "display_name": "Car 2, later"}),
    );
    let carried = site.bridge(&running.address).ended_with(0);
    assert_eq!(
        carried.stdout,
        "A-1 unchanged\nA-2 unchanged\nA-3 unchanged\nA-2 updated\n"
    );
    std::fs::remove_file(dir.path().join("place")).unwrap();
    let carried = site.bridge(&running.address).ended_with(0);
    assert_eq!(
        carried.stdout,
        "A-1 unchanged\nA-2 outdated\nA-3 unchanged\nA-2 unchanged\n"
    );
    let api = running.client().await;
    let received = delivered(&api, &site).await;
    assert_eq!(received.len(), 4);
    assert!(
        received
            .iter()
            .all(|event| !event.to_string().contains("Customer")),
        "{received:?}"
    );
    assert_eq!(received[0]["created"]["displayName"], "Car 1");

    // The site answers "try later" for a while.
    site.post("/trouble", &json!({"refuse": 7}));
    let jobs: Vec<String> = history(&api).await.into_keys().collect();
    for job in &jobs {
        shop::advance(&api, job, "CANCELLED").await;
    }
    delivered(&api, &site).await;

    let stages = site.status();
    assert_eq!(
        stages,
        json!({"A-1": "STAGE_CANCELLED", "A-2": "STAGE_CANCELLED", "A-3": "STAGE_CANCELLED"})
    );

    // It is down while things happen, the daemon is killed and comes back, more
    // happens, and then the site is there again.
    let address = site.stop();
    let job = shop::new_job(&api, "while it is down").await;
    shop::append(&api, &job, shop::LONG_AGO, "note", json!({"text": "first"})).await;
    wait::until("a delivery that failed", || {
        running.stderr().contains("a delivery failed").then_some(())
    });
    running.kill();
    let running = daemon(dir.path(), &address, "");
    let api = running.client().await;
    for text in ["second", "third"] {
        shop::append(&api, &job, shop::LONG_AGO, "note", json!({"text": text})).await;
    }
    let other = shop::new_job(&api, "also then").await;
    assert!(running.terminate().success());
    let running = daemon(dir.path(), &address, "");
    let site = Site::start(dir.path(), &address);
    let api = running.client().await;
    let received = delivered(&api, &site).await;
    assert_eq!(by_job(&received)[&job].len(), 4);
    assert_eq!(by_job(&received)[&other].len(), 1);
    let state = wait::ready("an outbox that has caught up", async {
        loop {
            let state = outbox(&api).await;
            // Zeros are left out of the JSON.
            if state["waiting_job_count"].is_null() {
                return state;
            }
            tokio::task::yield_now().await;
        }
    })
    .await;
    assert_eq!(state["dead_letter_count"], json!(null));
    assert_eq!(state["configured"], true);

    // Nothing is sent again after a quiet restart.
    assert!(running.terminate().success());
    let running = daemon(dir.path(), &address, "");
    let api = running.client().await;
    shop::append(&api, &job, shop::LONG_AGO, "note", json!({"text": "last"})).await;
    let after = delivered(&api, &site).await;
    assert_eq!(after.len(), received.len() + 1);
    drop(running);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_dead_letter_stops_only_its_own_job_until_it_is_retried_or_given_up() {
    let dir = tempfile::tempdir().unwrap();
    let site = Site::start(dir.path(), "127.0.0.1:0");
    let running = daemon(
        dir.path(),
        &site.address,
        "attempts = 3\ninclude_customer = true\n",
    );
    let api = running.client().await;
    let (bad, good) = ("jobs/bad-1", "jobs/good-1");
    site.post("/trouble", &json!({"never": bad}));
    for id in ["bad-1", "good-1"] {
        let customer = json!({"display_name": "A. Customer"});
        let job = json!({"job": {"display_name": id, "customer": customer}, "job_id": id});
        api.ok("JobService/CreateJob", job).await;
    }
    let dead = async |daemon: &Daemon| {
        let api = daemon.client().await;
        wait::ready("a dead letter", async {
            loop {
                let listed = api.ok("OutboxService/ListDeadLetters", json!({})).await;
                if let Some(letters) = listed["dead_letters"].as_array().filter(|l| !l.is_empty()) {
                    return letters.clone();
                }
                tokio::task::yield_now().await;
            }
        })
        .await
    };
    let letters = dead(&running).await;
    assert_eq!(letters.len(), 1);
    assert_eq!(
        (
            &letters[0]["job"],
            &letters[0]["sequence"],
            &letters[0]["attempts"]
        ),
        (&json!(bad), &json!("1"), &json!(3))
    );
    assert!(
        letters[0]["last_error"].as_str().unwrap().contains("422"),
        "{letters:?}"
    );
    for job in [bad, good] {
        shop::append(&api, job, shop::LONG_AGO, "note", json!({"text": "later"})).await;
    }
    wait::until("both events of the other job", || {
        (by_job(&site.received()).get(good).map(Vec::len) == Some(2)).then_some(())
    });
    assert_eq!(by_job(&site.received()).get(bad), None);
    assert!(site.received()[0].to_string().contains("A. Customer"));
    let shown = running.lamella(["booking", "dead-letters"]).ended_with(0);
    assert!(
        shown.stdout.contains("jobs/bad-1  event 1  3 attempts"),
        "{shown}"
    );

    // It is still one after a restart, and nothing else can be retried.
    assert!(running.terminate().success());
    let running = daemon(dir.path(), &site.address, "attempts = 3\n");
    let api = running.client().await;
    assert_eq!(dead(&running).await, letters);
    let refused = api
        .refused("OutboxService/RetryDeadLetter", json!({"job": good}))
        .await;
    assert_eq!(
        (refused.code, refused.reason.as_str()),
        (Code::NotFound, "RESOURCE_NOT_FOUND")
    );

    // Given up: the next one is tried, and dies as well; then the site takes it.
    let given_up = running
        .lamella(["booking", "retry", "bad-1", "--discard"])
        .ended_with(0);
    assert_eq!(given_up.stdout, "event 1 of jobs/bad-1 is given up\n");
    let letters = dead(&running).await;
    assert_eq!(letters[0]["sequence"], "3", "{letters:?}");
    site.post("/trouble", &json!({"again": bad}));
    let retried = running.lamella(["booking", "retry", "bad-1"]).ended_with(0);
    assert_eq!(retried.stdout, "event 3 of jobs/bad-1 is sent again\n");
    wait::until("the dead letter", || {
        (by_job(&site.received()).get(bad) == Some(&vec![3])).then_some(())
    });
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_site_refuses_what_is_not_signed_with_its_secret() {
    let dir = tempfile::tempdir().unwrap();
    let site = Site::start(dir.path(), "127.0.0.1:0");
    let elsewhere = tempfile::tempdir().unwrap();
    let running = daemon(elsewhere.path(), &site.address, "attempts = 1\n");
    assert!(running.terminate().success());
    let config = std::fs::read_to_string(elsewhere.path().join("lamella.toml")).unwrap();
    std::fs::write(elsewhere.path().join("secret"), "another secret, also long").unwrap();
    std::fs::write(elsewhere.path().join("other.toml"), config).unwrap();
    let running = Daemon::builder()
        .data_dir(&elsewhere.path().join("data"))
        .arg("--config")
        .arg(elsewhere.path().join("other.toml"))
        .start();
    let api = running.client().await;
    shop::new_job(&api, "forged").await;
    wait::until("the refusal", || {
        running.stderr().contains("401").then_some(())
    });
    assert_eq!(site.received().len(), 0);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn https_is_spoken_and_only_trusted_certificates_are() {
    let dir = tempfile::tempdir().unwrap();
    let (ca, received) = (dir.path().join("ca.pem"), dir.path().join("received.jsonl"));
    let mut command = cli::clean(&python::interpreter());
    command
        .arg(python::script("https_site.py"))
        .args([&ca, &received]);
    let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap())
        .read_line(&mut line)
        .unwrap();
    let address = line
        .trim()
        .strip_prefix("ready address=")
        .expect(&line)
        .to_owned();
    // Dropped at the end of the test, which ends the process.
    let site = Site {
        child,
        address: address.clone(),
        dir: dir.path().to_owned(),
    };
    let url = |more: &str| {
        let secret = dir.path().join("secret");
        std::fs::write(&secret, SECRET).unwrap();
        let config = dir.path().join("https.toml");
        let text = format!(
            "[outbox]\nurl = \"https://{address}/job-events\"\nsecret_file = {secret:?}\n\
             retry_base_ms = 20\nretry_max_ms = 100\n{more}"
        );
        std::fs::write(&config, text).unwrap();
        let data = dir.path().join("data");
        Daemon::builder()
            .data_dir(&data)
            .arg("--config")
            .arg(config)
            .start()
    };
    // Its CA is none of the public ones.
    let running = url("");
    let api = running.client().await;
    shop::new_job(&api, "Blue estate").await;
    wait::until("a certificate that is not trusted", || {
        running.stderr().contains("UnknownIssuer").then_some(())
    });
    assert_eq!(site.received().len(), 0);
    assert!(running.terminate().success());
    let running = url(&format!("ca_file = {ca:?}\n"));
    let api = running.client().await;
    delivered(&api, &site).await;
}
