//! SIGKILL: under 32 writers, and while the daemon opens its store.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};

use lamella_proto::v1::{ListJobsRequest, job_event::Change};
use lamella_tests::api::Api;
use lamella_tests::daemon::Daemon;
use lamella_tests::watch::Watch;
use lamella_tests::{binaries, cli, shop, wait};

use crate::random::Random;
use crate::store;
use crate::writers::Writers;

const WRITERS: usize = 32;
const KILLS: usize = 50;
/// A kill comes after up to so many acknowledgements, and then up to so much
/// later: anywhere between and within the daemon's batches.
const ACKNOWLEDGED_BEFORE_KILL: usize = 64;
const THEN_WITHIN: Duration = Duration::from_millis(10);

/// Name and display name of a job.
type Named = (String, String);

/// What the kills did, for the report.
#[derive(Debug, Default)]
struct Tally {
    left_clean: usize,
    kept_unacknowledged: usize,
    torn_tails: usize,
    rebuilds: Vec<String>,
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_acknowledged_survives_fifty_kills_exactly_once() {
    let mut random = Random::of_this_run();
    let dir = tempfile::tempdir().unwrap();
    let mut writers = Writers::start(WRITERS);
    let mut kept = Vec::new();
    let mut tally = Tally::default();
    let mut daemon = Daemon::start_on(dir.path());
    for kill in 1..=KILLS {
        writers.serve(&daemon.address);
        writers
            .acknowledge(random.within(0..=ACKNOWLEDGED_BEFORE_KILL))
            .await;
        // Not to wait for something, but to hit any moment.
        std::thread::sleep(random.time_up_to(THEN_WITHIN));
        daemon.kill();

        let when = format!("after kill {kill}");
        look_at_what_a_kill_leaves(dir.path(), &when, &mut tally);
        daemon = Daemon::start_on(dir.path());
        tally.rebuilds.extend(store::rebuilds(&daemon));
        tally.torn_tails += usize::from(daemon.stderr().contains("cut a torn tail"));
        writers.take_in();
        kept = check(&daemon, &writers, &kept, &when).await;
        tally.kept_unacknowledged += kept.len() - writers.acknowledged.len();
        if kill % 10 == 0 {
            assert!(daemon.terminate().success(), "{when}");
            store::verify_clean(dir.path(), &when);
            daemon = Daemon::start_on(dir.path());
        }
    }

    let (acknowledged, met) = writers.finish(&daemon.address).await;
    // Nobody waits for an answer any more: all that is kept was acknowledged.
    let kept = check_list(&daemon, &kept, "at the end").await;
    let mut named: Vec<Named> = acknowledged
        .iter()
        .map(|(display_name, name)| (name.clone(), display_name.clone()))
        .collect();
    let mut sorted = kept.clone();
    named.sort();
    sorted.sort();
    assert_eq!(sorted, named);
    assert!(daemon.terminate().success());
    store::verify_clean(dir.path(), "at the end");
    println!(
        "{KILLS} kills: {} jobs acknowledged, each kept once; {} calls left unanswered, {} jobs \
         found that were not acknowledged yet; {} times left clean, {} torn tails, {} rebuilds {:#?}",
        acknowledged.len(),
        met.unanswered,
        tally.kept_unacknowledged,
        tally.left_clean,
        tally.torn_tails,
        tally.rebuilds.len(),
        tally.rebuilds,
    );
    // Else the kills came where nothing was under way, and proved nothing.
    assert!(met.unanswered > 0);
}

/// Before anything is repaired: the journal is never damaged. A torn tail and
/// a projection to be rebuilt are what a kill may leave.
fn look_at_what_a_kill_leaves(data_dir: &Path, when: &str, tally: &mut Tally) {
    let ran = store::verify(data_dir);
    assert!(!ran.stdout.contains("DAMAGE"), "{when}: {ran}");
    if ran.code == Some(0) {
        tally.left_clean += 1;
    } else {
        let excused = ran.stdout.contains("torn tail: ")
            || (ran.stdout.contains("projection: ") && !ran.stdout.contains("equals a replay"));
        assert!(excused && ran.code == Some(1), "{when}: {ran}");
    }
}

/// The jobs that the daemon has: all that were acknowledged, none twice, those
/// of before in their order, and the same in the replay of a watch.
async fn check(daemon: &Daemon, writers: &Writers, before: &[Named], when: &str) -> Vec<Named> {
    let kept = check_list(daemon, before, when).await;
    let set: BTreeSet<&Named> = kept.iter().collect();
    let lost: Vec<_> = writers
        .acknowledged
        .iter()
        .filter(|(display_name, name)| !set.contains(&((*name).clone(), (*display_name).clone())))
        .collect();
    assert!(lost.is_empty(), "{when}: acknowledged and lost: {lost:?}");
    kept
}

async fn check_list(daemon: &Daemon, before: &[Named], when: &str) -> Vec<Named> {
    let api = daemon.client().await;
    let kept = listed(&api).await;
    let display_names: BTreeSet<&str> = kept.iter().map(|(_, display)| display.as_str()).collect();
    assert_eq!(
        display_names.len(),
        kept.len(),
        "{when}: a job is there twice: {kept:?}"
    );
    assert!(
        kept.starts_with(before),
        "{when}: {before:?} does not begin {kept:?}"
    );
    assert_eq!(
        replayed(&api).await,
        kept,
        "{when}: the watch tells another story"
    );
    kept
}

/// All jobs as the list has them.
async fn listed(api: &Api) -> Vec<Named> {
    let mut jobs = Vec::new();
    let mut request = ListJobsRequest {
        page_size: 1000,
        ..ListJobsRequest::default()
    };
    loop {
        let page = wait::ready("ListJobs", api.jobs().list_jobs(request.clone())).await;
        let page = page.unwrap().into_inner();
        jobs.extend(
            page.jobs
                .into_iter()
                .map(|job| (job.name, job.display_name)),
        );
        if page.next_page_token.is_empty() {
            return jobs;
        }
        request.page_token = page.next_page_token;
    }
}

/// All jobs as a watch from the very first event has them.
async fn replayed(api: &Api) -> Vec<Named> {
    let events = Watch::begin(api, "0", "").await.unwrap().missed().await;
    let created = events.into_iter().zip(1..).map(|(event, sequence)| {
        assert_eq!(
            event.sequence, sequence,
            "events are numbered without a gap"
        );
        match event.change {
            Some(Change::Created(job)) => (job.name, job.display_name),
            other => panic!("only creations were asked for: {other:?}"),
        }
    });
    created.collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn kills_while_it_opens_cost_nothing_but_a_rebuild() {
    let mut random = Random::of_this_run();
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    store::fill(&api).await;
    store::add_notes(&api, 200).await;
    let before = shop::everything(&api).await;
    daemon.kill();
    let begun = Instant::now();
    Daemon::start_on(dir.path()).kill();
    let opening = begun.elapsed();
    let mut rebuilt = 0;
    for kill in 1..=20 {
        kill_while_opening(dir.path(), random.time_up_to(opening));
        let daemon = Daemon::start_on(dir.path());
        rebuilt += store::rebuilds(&daemon).len();
        assert_eq!(
            shop::last_sequence(&daemon.client().await).await,
            before["sequence"],
            "{kill}"
        );
        // Stopped hard in turn, so that sled never has a quiet moment.
        daemon.kill();
    }
    assert_eq!(store::answers(dir.path()).await, before);
    store::verify_clean(dir.path(), "at the end");
    println!("20 kills within the {opening:?} of opening: {rebuilt} rebuilds");
}

fn kill_while_opening(data_dir: &Path, after: Duration) {
    let mut command = cli::clean(&binaries::lamellad());
    command
        .arg("--data-dir")
        .arg(data_dir)
        .args(["--listen", "127.0.0.1:0"]);
    let mut opening = command
        .stdin(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    std::thread::sleep(after);
    opening.kill().unwrap();
    opening.wait().unwrap();
}
