//! How files come: in chunks, whole or not at all, and every night by a script.

use lamella_proto::v1::export_service_client::ExportServiceClient;
use lamella_proto::v1::{self, export_day_response::Part};
use lamella_tests::{binaries, cli, shop, wait};
use serde_json::{Value, json};

use super::{daemon, export, files, history};

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
