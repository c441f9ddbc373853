//! Days as files. The judges are foreign: Python's csv and json modules, pandas,
//! DuckDB, pyarrow and a spreadsheet library read what was written, and work out
//! from the API's own answers what should be there.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use lamella_proto::v1::export_service_client::ExportServiceClient;
use lamella_proto::v1::{self, export_day_response::Part};
use lamella_tests::api::Api;
use lamella_tests::cli::Ran;
use lamella_tests::daemon::Daemon;
use lamella_tests::{binaries, cli, python, shop, wait};
use serde_json::{Value, json};

const ZONE: &str = "Europe/Vienna";
const FORMATS: [&str; 3] = ["csv", "jsonl", "parquet"];

/// A daemon whose shop is in Vienna.
fn daemon() -> (Daemon, tempfile::TempDir) {
    let dir = tempfile::tempdir().unwrap();
    let config = dir.path().join("shop.toml");
    std::fs::write(&config, format!("[shop]\ntime_zone = \"{ZONE}\"\n")).unwrap();
    let daemon = Daemon::builder().arg("--config").arg(config).start();
    (daemon, dir)
}

/// A car from booking to hand-over, and a past full of nasty text around the
/// clock changes of 2024-03-31 and 2024-10-27 (IANA time zone database).
async fn history(api: &Api) -> String {
    let job = shop::job_at(api, "READY").await;
    let records = shop::records();
    let mix = |product: &str, lot: &str| {
        let mut mix = records[2].1.clone();
        mix["product"] = json!(product);
        mix["lot"] = json!(lot);
        mix["concentrate_ml"] = json!(33.3335);
        mix
    };
    let nasty = [
        ("=HYPERLINK(\"x\")", "+1"),
        ("-2+3", "@here"),
        ("two\nlines, \"quoted\"", "semi;colon"),
        ("crème brûlée 光沢 🚗", "'quoted"),
        ("＝full width", "0123"),
    ];
    for (product, lot) in nasty {
        shop::append(
            api,
            &job,
            "2024-03-31T00:59:59.5Z",
            "mix",
            mix(product, lot),
        )
        .await;
    }
    let mut film = records[3].1.clone();
    film["width_mm"] = json!(701.25);
    film["length_mm"] = json!(402.001);
    shop::append(api, &job, "2024-03-31T01:00:00Z", "film_piece", film).await;
    let coat = records[4].1.clone();
    shop::append(api, &job, "2024-10-27T00:30:00Z", "coat_layer", coat).await;
    // The edges of the day, and one second on either side.
    for (from, to) in [
        ("2024-03-30T22:59:59Z", "2024-03-30T23:30:00Z"),
        ("2024-03-30T23:00:00Z", "2024-03-30T23:20:00Z"),
        ("2024-03-31T21:59:59Z", "2024-03-31T23:00:00Z"),
        ("2024-03-31T22:00:00Z", "2024-04-01T00:00:00.001Z"),
        ("2024-10-26T22:00:00Z", "2024-10-27T01:00:00Z"),
        ("2024-10-27T22:59:59Z", "2024-10-27T23:00:00Z"),
    ] {
        let labour = json!({"worker": "first, worker", "activity": "=wash", "from_time": from, "to_time": to});
        shop::append(api, &job, to, "labour", labour).await;
    }
    shop::advance(api, &job, "HANDED_OVER").await;
    let second = shop::new_job(api, "+Second \"car\", red").await;
    shop::advance(api, &second, "CANCELLED").await;
    job
}

fn export(daemon: &Daemon, days: &[&str], format: &str, out: &Path) -> Ran {
    let mut args = vec!["export", "--format", format, "--out", out.to_str().unwrap()];
    args.extend(days);
    daemon.lamella(args)
}

/// Exports days in every format; the folders.
fn export_all(daemon: &Daemon, days: &[&str], to: &Path) -> Vec<PathBuf> {
    let one = |format: &str| {
        let out = to.join(format);
        export(daemon, days, format, &out).ended_with(0);
        out
    };
    FORMATS.map(one).to_vec()
}

/// Has Python judge exports in three formats; the rows of each dataset.
fn judged(folders: &[PathBuf], api_json: &Path) -> BTreeMap<String, u64> {
    let mut command = cli::clean(&python::interpreter());
    command.arg(python::script("read_exports.py"));
    command.arg(ZONE).arg(api_json).args(folders);
    let ran = cli::run(command, "").ended_with(0);
    serde_json::from_str(ran.stdout.trim()).expect(&ran.stdout)
}

fn rows(counts: &BTreeMap<String, u64>, wanted: [(&str, u64); 9]) {
    let wanted: BTreeMap<String, u64> = wanted
        .map(|(name, rows)| (name.to_owned(), rows))
        .into_iter()
        .collect();
    assert_eq!(*counts, wanted);
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).unwrap().map(Result::unwrap);
    entries
        .map(|entry| {
            let name = entry.file_name().into_string().unwrap();
            (name, std::fs::read(entry.path()).unwrap())
        })
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn python_reads_the_same_in_every_format_and_as_the_api_says() {
    let (daemon, dir) = daemon();
    let api = daemon.client().await;
    history(&api).await;
    let api_json = dir.path().join("api.json");
    std::fs::write(&api_json, shop::everything(&api).await.to_string()).unwrap();

    // The short day: from midnight to midnight in Vienna, and nothing beside it.
    let short = export_all(&daemon, &["--day", "2024-03-31"], &dir.path().join("short"));
    rows(
        &judged(&short, &api_json),
        [
            ("jobs", 1),
            ("stage_changes", 0),
            ("labour", 2),
            ("mixes", 5),
            ("film", 1),
            ("coatings", 0),
            ("quotes", 0),
            ("takings", 0),
            ("journal", 0),
        ],
    );
    // The long day.
    let long = export_all(&daemon, &["--day", "2024-10-27"], &dir.path().join("long"));
    let counts = judged(&long, &api_json);
    assert_eq!((counts["labour"], counts["coatings"]), (2, 1));
    // The year, with coat and readings of `shop::LONG_AGO`.
    let year = ["--from", "2024-01-01", "--to", "2024-12-31"];
    let counts = judged(
        &export_all(&daemon, &year, &dir.path().join("year")),
        &api_json,
    );
    assert_eq!((counts["labour"], counts["coatings"]), (6, 2));
    // What the daemon's clock dated: stages, and the hand-over with its price.
    let now = ["--from", "yesterday", "--to", "today"];
    let now = export_all(&daemon, &now, &dir.path().join("now"));
    rows(
        &judged(&now, &api_json),
        [
            ("jobs", 2),
            ("stage_changes", 10),
            ("labour", 0),
            ("mixes", 0),
            ("film", 0),
            ("coatings", 0),
            ("quotes", 0),
            ("takings", 1),
            ("journal", 2),
        ],
    );
    // What was approved: EUR 890.00.
    let takings = std::fs::read_to_string(now[0].join("takings.csv")).unwrap();
    assert!(
        takings.ends_with("\r\n") && takings.contains(",89000,890.00,EUR,"),
        "{takings}"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_same_days_give_the_same_bytes_whatever_happens_on_others() {
    let (daemon, dir) = daemon();
    let api = daemon.client().await;
    let job = history(&api).await;
    let year = ["--from", "2024-01-01", "--to", "2024-12-31"];
    let before = export_all(&daemon, &year, &dir.path().join("before"));
    // The job is renamed, deleted, and another one is worked on.
    let renamed =
        json!({"job": {"name": job, "display_name": "Renamed"}, "update_mask": "displayName"});
    let renamed = api.call("JobService/UpdateJob", renamed).await;
    assert!(renamed.is_err(), "a job that is over cannot be renamed");
    api.ok("JobService/DeleteJob", json!({"name": job})).await;
    let other = shop::new_job(&api, "Another day").await;
    let labour = shop::records()[6].1.clone();
    shop::append(
        &api,
        &other,
        "2023-01-15T09:30:00Z",
        "labour",
        with_year(&labour, "2023"),
    )
    .await;
    let after = export_all(&daemon, &year, &dir.path().join("after"));
    for (before, after) in before.iter().zip(&after) {
        let (before, after) = (files(before), files(after));
        assert_eq!(before.len(), 10, "nine files and the manifest");
        for (name, bytes) in &before {
            assert_eq!(after.get(name), Some(bytes), "{name}");
        }
    }
    let short = ["--day", "2024-03-31"];
    let once = export_all(&daemon, &short, &dir.path().join("once"));
    let twice = export_all(&daemon, &short, &dir.path().join("twice"));
    let over = export_all(&daemon, &short, &dir.path().join("once"));
    for folders in once.iter().zip(&twice).chain(once.iter().zip(&over)) {
        assert_eq!(files(folders.0), files(folders.1));
    }
    // In another zone the same day is another span.
    let tokyo = dir.path().join("tokyo");
    export(
        &daemon,
        &["--day", "2024-03-31", "--zone", "Asia/Tokyo"],
        "csv",
        &tokyo,
    )
    .ended_with(0);
    let manifest = files(&tokyo).remove("manifest.json").unwrap();
    let manifest: Value = serde_json::from_slice(&manifest).unwrap();
    assert_eq!(manifest["from_time"], "2024-03-30T15:00:00Z");
}

fn with_year(labour: &Value, year: &str) -> Value {
    let text = labour.to_string().replace("2024-", &format!("{year}-"));
    serde_json::from_str(&text).unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn files_come_in_small_chunks_and_a_caller_that_goes_stops_the_work() {
    let (daemon, _dir) = daemon();
    let api = daemon.client().await;
    // Some 4 MB, more than all buffers on the way together: coats on 200 panels
    // with the longest ids there are.
    let panels: Vec<String> = (0..200).map(|n| format!("{n:0>63}")).collect();
    let described: Vec<Value> = panels.iter().map(|id| json!({"panel_id": id})).collect();
    let vehicle = json!({"vehicle": {"display_name": "Long car", "panels": described}});
    let vehicle = shop::name(&api.ok("VehicleService/CreateVehicle", vehicle).await);
    let mut coat = shop::records()[4].1.clone();
    coat["panels"] = json!(panels);
    for n in 0..10 {
        let job = json!({"job": {"display_name": format!("Car {n}"), "vehicle": vehicle}});
        let job = shop::name(&api.ok("JobService/CreateJob", job).await);
        for _ in 0..30 {
            shop::append(&api, &job, shop::LONG_AGO, "coat_layer", coat.clone()).await;
        }
    }
    let request = v1::ExportDayRequest {
        from_date: "2024-01-15".to_owned(),
        datasets: vec![v1::ExportDataset::Coatings.into()],
        format: v1::ExportFormat::Csv.into(),
        ..Default::default()
    };
    let mut exports = ExportServiceClient::new(api.channel());
    let mut stream = exports
        .export_day(request.clone())
        .await
        .unwrap()
        .into_inner();
    let (mut chunks, mut bytes, mut ended) = (0, 0, None);
    while let Some(message) = wait::ready("a message", stream.message()).await.unwrap() {
        match message.part.unwrap() {
            Part::Started(started) => assert_eq!(started.files.len(), 1),
            Part::Chunk(chunk) => {
                assert!(ended.is_none() && (1..=65_536).contains(&chunk.len()));
                (chunks, bytes) = (chunks + 1, bytes + chunk.len());
            }
            Part::FileEnded(end) => ended = Some(end),
        }
    }
    let ended = ended.unwrap();
    assert_eq!(ended.row_count, 300);
    assert!(bytes > 3_900_000, "{bytes} bytes");
    assert_eq!(usize::try_from(ended.size_bytes).unwrap(), bytes);
    assert_eq!(chunks, bytes.div_ceil(65_536));

    // A caller that reads one message and goes ends the work: a call that still
    // waited to send would be cut off when the daemon stops.
    let mut stream = exports.export_day(request).await.unwrap().into_inner();
    wait::ready("a message", stream.message()).await.unwrap();
    drop(stream);
    drop((exports, api));
    let mut daemon = daemon;
    daemon.ask_to_stop();
    let daemon = tokio::task::spawn_blocking(move || {
        assert_eq!(daemon.wait().code(), Some(0));
        daemon
    });
    let told = daemon.await.unwrap().stderr();
    assert!(told.contains("stopped: every call was answered"), "{told}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_cannot_be_written_or_is_refused_leaves_nothing_behind() {
    let (daemon, dir) = daemon();
    let file = dir.path().join("file");
    std::fs::write(&file, "in the way").unwrap();
    export(&daemon, &["--day", "today"], "csv", &file.join("below")).ended_with(1);
    let out = dir.path().join("out");
    export(&daemon, &["--day", "2026-02-30"], "csv", &out).ended_with(3);
    export(&daemon, &["--from", "today"], "csv", &out).ended_with(2);
    assert!(!out.exists());
    let only = ["--day", "today", "--dataset", "labour,stage-changes"];
    let ran = export(&daemon, &only, "jsonl", &out).ended_with(0);
    assert!(ran.stdout.contains("labour.jsonl"), "{ran}");
    let names: Vec<String> = files(&out).into_keys().collect();
    assert_eq!(
        names,
        ["labour.jsonl", "manifest.json", "stage_changes.jsonl"]
    );
    let address = daemon.address.clone();
    drop(daemon);
    let args = [
        "export",
        "--day",
        "today",
        "--format",
        "csv",
        "--out",
        out.to_str().unwrap(),
    ];
    cli::lamella(&address, args).ended_with(5);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_end_of_day_script_writes_a_folder_for_the_day_and_may_be_repeated() {
    let (daemon, dir) = daemon();
    let api = daemon.client().await;
    history(&api).await;
    let script = binaries::repository().join("examples/end-of-day/end-of-day");
    let run = |address: &str, day: &[&str]| {
        let mut command = cli::clean(&script);
        command.args(day);
        command.env("LAMELLA_SERVER", address);
        command.env("LAMELLA", binaries::lamella());
        command.env("LAMELLA_EXPORT_DIR", dir.path().join("exports"));
        command.env("LAMELLA_EXPORT_FORMATS", "csv parquet");
        cli::run(command, "")
    };
    run(&daemon.address, &["2024-03-31"]).ended_with(0);
    let folder = dir.path().join("exports/2024-03-31/csv");
    let first = files(&folder);
    let mixes = String::from_utf8(first["mixes.csv"].clone()).unwrap();
    assert!(mixes.contains(",'-2+3,'@here,33.334,"), "{mixes}");
    assert!(files(&dir.path().join("exports/2024-03-31/parquet")).contains_key("film.parquet"));
    run(&daemon.address, &["2024-03-31"]).ended_with(0);
    assert_eq!(files(&folder), first);
    // Without a day it is yesterday, when nothing had happened yet.
    let ran = run(&daemon.address, &[]).ended_with(0);
    assert!(ran.stdout.contains("jobs.csv           0 rows"), "{ran}");
    // What the timer acts on: the client's exit code.
    let address = daemon.address.clone();
    drop(daemon);
    run(&address, &[]).ended_with(5);
}
