//! Pages, filters, history.

use std::collections::BTreeSet;

use lamella_tests::api::Api;
use lamella_tests::daemon::Daemon;
use lamella_tests::shop::{self, LONG_AGO};
use serde_json::{Value, json};

/// All pages of a list, and how many there were.
async fn pages(api: &Api, method: &str, items: &str, request: &Value) -> (Vec<Value>, usize) {
    let (mut all, mut count) = (Vec::new(), 0);
    let mut request = request.clone();
    loop {
        let mut page = api.ok(method, request.clone()).await;
        let found = page[items]
            .as_array_mut()
            .map(std::mem::take)
            .unwrap_or_default();
        let size = request["page_size"].as_u64().unwrap();
        assert!(
            found.len() as u64 <= size,
            "{} on a page of {size}",
            found.len()
        );
        all.extend(found);
        count += 1;
        match page["next_page_token"].as_str() {
            Some(token) if !token.is_empty() => request["page_token"] = json!(token),
            Some(_) | None => return (all, count),
        }
    }
}

async fn listed(api: &Api, filter: Value) -> Vec<String> {
    // Small pages, so that every filter is also tested across pages.
    let request = json!({"page_size": 2, "filter": filter});
    let (jobs, _) = pages(api, "JobService/ListJobs", "jobs", &request).await;
    jobs.iter()
        .map(|job| job["display_name"].as_str().unwrap().to_owned())
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_job_is_on_exactly_one_page_in_order_of_creation() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let mut created = Vec::new();
    for number in 0..57 {
        created.push(shop::new_job(&api, &format!("Car {number}")).await);
    }
    for (size, expected_pages) in [(1, 57), (10, 6), (19, 3), (57, 1), (1000, 1)] {
        let request = json!({"page_size": size});
        let (jobs, count) = pages(&api, "JobService/ListJobs", "jobs", &request).await;
        let names: Vec<String> = jobs.iter().map(shop::name).collect();
        assert_eq!(names, created, "pages of {size}");
        assert_eq!(count, expected_pages, "pages of {size}");
    }
    // Unset: 100, so all of them.
    let all = api.ok("JobService/ListJobs", json!({})).await;
    assert_eq!(all["jobs"].as_array().map(Vec::len), Some(57));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn jobs_created_or_moved_between_pages_do_not_shift_the_others() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let mut created = Vec::new();
    for number in 0..9 {
        created.push(shop::new_job(&api, &format!("Car {number}")).await);
    }
    let first = api.ok("JobService/ListJobs", json!({"page_size": 3})).await;
    api.ok("JobService/DeleteJob", json!({"name": created[0]}))
        .await;
    shop::advance(&api, &created[4], "CANCELLED").await;
    let late = shop::new_job(&api, "late").await;
    let request = json!({"page_size": 3, "page_token": first["next_page_token"]});
    let (rest, _) = pages(&api, "JobService/ListJobs", "jobs", &request).await;
    let seen: Vec<String> = first["jobs"]
        .as_array()
        .unwrap()
        .iter()
        .chain(&rest)
        .map(shop::name)
        .collect();
    created.push(late);
    assert_eq!(seen, created);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn filters_select_by_stage_vehicle_text_and_time() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let (wagon, van) = (shop::new_vehicle(&api).await, shop::new_vehicle(&api).await);
    for (display_name, vehicle, promise) in [
        ("Blue estate", wagon.as_str(), "2030-05-02T15:00:00Z"),
        ("blue estate again", wagon.as_str(), "2030-05-03T15:00:00Z"),
        ("White van", van.as_str(), "2030-05-04T15:00:00Z"),
        ("Red coupé", "", ""),
    ] {
        let mut job = json!({"display_name": display_name, "vehicle": vehicle});
        if !promise.is_empty() {
            job["promise_time"] = json!(promise);
        }
        let job = shop::name(&api.ok("JobService/CreateJob", json!({"job": job})).await);
        if display_name == "White van" {
            shop::advance(&api, &job, "RECEIVED").await;
        }
        if display_name == "blue estate again" {
            shop::advance(&api, &job, "CANCELLED").await;
        }
    }
    let all = ["Blue estate", "blue estate again", "White van", "Red coupé"];
    let cases = [
        (json!({}), vec![0, 1, 2, 3]),
        (json!({"stages": ["STAGE_BOOKED"]}), vec![0, 3]),
        // Two stages, still in order of creation.
        (
            json!({"stages": ["STAGE_CANCELLED", "STAGE_BOOKED"]}),
            vec![0, 1, 3],
        ),
        (json!({"stages": ["STAGE_READY"]}), vec![]),
        (json!({"vehicle": wagon}), vec![0, 1]),
        (
            json!({"vehicle": wagon, "stages": ["STAGE_BOOKED"]}),
            vec![0],
        ),
        (json!({"vehicle": "vehicles/none"}), vec![]),
        (json!({"text": "ESTATE"}), vec![0, 1]),
        (json!({"text": "COUPÉ"}), vec![3]),
        (
            json!({"text": "estate", "stages": ["STAGE_CANCELLED"]}),
            vec![1],
        ),
        (json!({"promised_from": "2030-05-03T15:00:00Z"}), vec![1, 2]),
        (json!({"promised_before": "2030-05-03T15:00:00Z"}), vec![0]),
        (
            json!({"promised_from": "2030-05-02T15:00:00Z", "promised_before": "2030-05-04T15:00:00Z"}),
            vec![0, 1],
        ),
        (json!({"created_before": "2001-01-01T00:00:00Z"}), vec![]),
        (
            json!({"created_from": "2001-01-01T00:00:00Z", "text": "van"}),
            vec![2],
        ),
    ];
    for (filter, expected) in cases {
        let expected: Vec<&str> = expected.into_iter().map(|index| all[index]).collect();
        assert_eq!(listed(&api, filter.clone()).await, expected, "{filter}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_filter_over_many_jobs_finds_each_match_once() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    // More than an index is read at a time, and two stages that alternate.
    let mut writers = tokio::task::JoinSet::new();
    for writer in 0..8 {
        let api = api.clone();
        writers.spawn(async move {
            for number in 0..75 {
                let job = shop::new_job(&api, &format!("Car {writer}-{number}")).await;
                if number % 2 == 0 {
                    shop::advance(&api, &job, "CANCELLED").await;
                }
            }
        });
    }
    writers.join_all().await;
    for (stages, expected) in [
        (json!(["STAGE_BOOKED"]), 8 * 37),
        (json!(["STAGE_CANCELLED"]), 8 * 38),
        (json!(["STAGE_BOOKED", "STAGE_CANCELLED"]), 8 * 75),
    ] {
        let request = json!({"page_size": 70, "filter": {"stages": stages}});
        let (jobs, _) = pages(&api, "JobService/ListJobs", "jobs", &request).await;
        let names: BTreeSet<String> = jobs.iter().map(shop::name).collect();
        assert_eq!((jobs.len(), names.len()), (expected, expected), "{stages}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn records_and_history_come_back_as_they_went_in() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "IN_WORK").await;
    let before = api
        .ok("JobService/ListRecords", json!({"parent": job}))
        .await;
    let before = before["records"].as_array().map_or(0, Vec::len);
    let mut stored = Vec::new();
    for (kind, entry) in shop::records() {
        let record = shop::append(&api, &job, LONG_AGO, kind, entry.clone()).await;
        contains(&record[kind], &entry, kind);
        assert_eq!(record["record_time"], LONG_AGO, "{kind}");
        assert_eq!(record["author"], "first worker", "{kind}");
        stored.push(record);
    }
    let request = json!({"parent": job, "page_size": 3});
    let (records, _) = pages(&api, "JobService/ListRecords", "records", &request).await;
    assert_eq!(records[before..], stored);

    api.ok(
        "JobService/UpdateJob",
        json!({"job": {"name": job, "wishes": "quick"}}),
    )
    .await;
    api.ok("JobService/DeleteJob", json!({"name": job})).await;
    api.ok("JobService/UndeleteJob", json!({"name": job})).await;
    let request = json!({"name": job, "page_size": 4});
    let (events, _) = pages(&api, "JobService/ListJobHistory", "events", &request).await;
    let kinds: Vec<&str> = events
        .iter()
        .map(|event| {
            [
                "created",
                "updated",
                "stage_changed",
                "recorded",
                "deleted",
                "undeleted",
            ]
            .into_iter()
            .find(|kind| event.get(*kind).is_some())
            .unwrap()
        })
        .collect();
    let mut expected = vec!["created", "stage_changed", "recorded", "recorded"];
    expected.extend(["stage_changed"; 3]);
    expected.extend(["recorded"; 10]);
    expected.extend(["updated", "deleted", "undeleted"]);
    assert_eq!(kinds, expected);
    let sequences: Vec<u64> = events
        .iter()
        .map(|e| e["sequence"].as_str().unwrap().parse().unwrap())
        .collect();
    assert!(
        sequences.windows(2).all(|pair| pair[0] < pair[1]),
        "{sequences:?}"
    );
    assert_eq!(
        events.last().unwrap()["undeleted"],
        api.ok("JobService/GetJob", json!({"name": job})).await
    );
    let moved = &events[1]["stage_changed"];
    assert_eq!(
        (&moved["from_stage"], &moved["to_stage"]),
        (&json!("STAGE_BOOKED"), &json!("STAGE_RECEIVED"))
    );
    assert_eq!(moved["note"], "as agreed");
}

/// Whether `whole` says all that `part` says; figures as figures.
fn contains(whole: &Value, part: &Value, path: &str) {
    match (whole, part) {
        (Value::Object(whole), Value::Object(part)) => {
            for (key, value) in part {
                contains(
                    whole.get(key).unwrap_or(&Value::Null),
                    value,
                    &format!("{path}.{key}"),
                );
            }
        }
        (Value::Array(whole), Value::Array(part)) => {
            assert_eq!(whole.len(), part.len(), "{path}");
            for (index, (whole, part)) in whole.iter().zip(part).enumerate() {
                contains(whole, part, &format!("{path}[{index}]"));
            }
        }
        (Value::Number(whole), Value::Number(part)) => {
            // What was written must come back to the last bit.
            assert_eq!(
                whole.as_f64().map(f64::to_bits),
                part.as_f64().map(f64::to_bits),
                "{path}"
            );
        }
        _ => assert_eq!(whole, part, "{path}"),
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn vehicles_are_paged_too() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let mut created = Vec::new();
    for _ in 0..7 {
        created.push(shop::new_vehicle(&api).await);
    }
    api.ok("VehicleService/DeleteVehicle", json!({"name": created[2]}))
        .await;
    let request = json!({"page_size": 2, "show_deleted": true});
    let (all, _) = pages(&api, "VehicleService/ListVehicles", "vehicles", &request).await;
    assert_eq!(all.iter().map(shop::name).collect::<Vec<_>>(), created);
    created.remove(2);
    let request = json!({"page_size": 2});
    let (live, _) = pages(&api, "VehicleService/ListVehicles", "vehicles", &request).await;
    assert_eq!(live.iter().map(shop::name).collect::<Vec<_>>(), created);
    contains(&live[0], &shop::vehicle(), "vehicle");
}
