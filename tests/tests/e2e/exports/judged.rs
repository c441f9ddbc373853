//! What is in the files, by foreign readers and the API's own answers.

use lamella_tests::api::Api;
use lamella_tests::{plugins, shop};
use serde_json::{Value, json};

use super::{daemon, export, export_all, files, history, judged, rows};

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

/// A car of which one panel is corrected: 1.5 m2 at 60.00, as the rule of
/// `plugins/tiered-pricing` has it for light condition; its job, up to ASSESSED.
async fn assessed(api: &Api) -> String {
    let vehicle = shop::new_vehicle(api).await;
    let services = json!([{"code": "correct", "description": "Correction", "panels": ["hood"]}]);
    let job = json!({"display_name": "Blue estate", "vehicle": vehicle, "services": services});
    let job = shop::name(&api.ok("JobService/CreateJob", json!({"job": job})).await);
    shop::advance(api, &job, "RECEIVED").await;
    shop::measure(api, &job).await;
    shop::advance(api, &job, "ASSESSED").await;
    job
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_quote_by_a_plugin_is_taken_and_booked_as_python_and_the_api_say() {
    let (daemon, dir) = daemon();
    let api = daemon.client().await;
    plugins::installed(&api, "prices", &plugins::prebuilt("tiered-pricing")).await;
    let job = assessed(&api).await;
    let quote = api.ok("QuoteService/CreateQuote", json!({"parent": job}));
    let quote = quote.await;
    let accept = json!({"name": quote["name"], "approved_by": "the owner"});
    api.ok("QuoteService/AcceptQuote", accept).await;
    for stage in ["APPROVED", "IN_WORK"] {
        shop::advance(&api, &job, stage).await;
    }
    let coat = shop::records()[4].1.clone();
    shop::append(&api, &job, shop::LONG_AGO, "coat_layer", coat).await;
    for stage in ["CURING", "READY", "HANDED_OVER"] {
        shop::advance(&api, &job, stage).await;
    }
    let api_json = dir.path().join("api.json");
    std::fs::write(&api_json, shop::everything(&api).await.to_string()).unwrap();
    let days = ["--from", "yesterday", "--to", "today"];
    let folders = export_all(&daemon, &days, &dir.path().join("now"));
    let counts = judged(&folders, &api_json);
    assert_eq!(
        (counts["quotes"], counts["takings"], counts["journal"]),
        (2, 1, 3)
    );

    let lines = |name: &str| -> Vec<Value> {
        let text = std::fs::read_to_string(folders[1].join(name)).unwrap();
        let lines = text.lines().map(serde_json::from_str);
        lines.map(Result::unwrap).collect()
    };
    let taking = &lines("takings.jsonl")[0];
    assert_eq!(
        (&taking["basis"], &taking["quote"]),
        (&json!("quote"), &quote["name"])
    );
    for total in ["net", "tax", "gross"] {
        let said = quote[format!("{total}_total")]["minor_units"].as_str();
        let minor = taking[format!("{total}_minor")].to_string();
        assert_eq!(Some(minor.as_str()), said, "{total}");
    }
    // 90.00 and 19 % of it, by hand.
    let shown = |line: &Value| {
        ["account", "tax_class", "debit", "credit"].map(|column| line[column].clone())
    };
    let journal: Vec<[Value; 4]> = lines("journal.jsonl").iter().map(shown).collect();
    let wanted = [
        [
            json!("receivable"),
            Value::Null,
            json!("107.10"),
            Value::Null,
        ],
        [
            json!("revenue"),
            json!("standard"),
            Value::Null,
            json!("90.00"),
        ],
        [
            json!("tax-payable"),
            json!("standard"),
            Value::Null,
            json!("17.10"),
        ],
    ];
    assert_eq!(journal, wanted);
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
