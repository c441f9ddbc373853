//! One car from booking to hand-over, and every refusal on the way: each names
//! all conditions that are not met, and nothing moves.

use lamella_tests::api::{Api, Refused};
use lamella_tests::daemon::Daemon;
use lamella_tests::shop::{self, LONG_AGO};
use serde_json::{Value, json};
use tonic::Code;

/// Tries a move that must be refused by its gate.
async fn gate(api: &Api, job: &str, stage: &str) -> Refused {
    let before = api.ok("JobService/GetJob", json!({"name": job})).await;
    let refused = api
        .refused("JobService/AdvanceStage", shop::to_stage(job, stage))
        .await;
    assert_eq!(refused.code, Code::FailedPrecondition, "{refused:#?}");
    assert_eq!(refused.reason, "CONDITIONS_UNMET", "{refused:#?}");
    for (code, subject, description) in &refused.unmet {
        assert!(!code.is_empty() && !subject.is_empty(), "{refused:#?}");
        // Said in the message as well, for clients that show nothing else.
        assert!(
            refused.message.contains(description.as_str()),
            "{refused:#?}"
        );
    }
    assert_eq!(
        api.ok("JobService/GetJob", json!({"name": job})).await,
        before
    );
    refused
}

async fn update_job(api: &Api, job: &str, mut fields: Value) -> Value {
    fields["name"] = json!(job);
    api.ok("JobService/UpdateJob", json!({"job": fields})).await
}

async fn set_panels(api: &Api, vehicle: &str, panels: Value) {
    let request = json!({"vehicle": {"name": vehicle, "panels": panels}});
    api.ok("VehicleService/UpdateVehicle", request).await;
}

fn subjects(refused: &Refused) -> Vec<(&str, &str)> {
    refused
        .unmet
        .iter()
        .map(|(code, subject, _)| (code.as_str(), subject.as_str()))
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_car_is_booked_worked_on_and_handed_over() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;

    // Received: the car is known.
    let refused = gate(&api, &job, "RECEIVED").await;
    assert_eq!(subjects(&refused), [("VEHICLE_MISSING", job.as_str())]);
    let plain = json!({"vehicle": {"display_name": "Blue estate"}});
    let vehicle = shop::name(&api.ok("VehicleService/CreateVehicle", plain).await);
    update_job(&api, &job, json!({"vehicle": vehicle})).await;
    shop::advance(&api, &job, "RECEIVED").await;

    // Assessed: panels listed, their material known, the readable ones read.
    let refused = gate(&api, &job, "ASSESSED").await;
    assert_eq!(subjects(&refused), [("PANELS_MISSING", vehicle.as_str())]);
    let mut panels = shop::vehicle()["panels"].clone();
    panels[2]["substrate"] = json!("SUBSTRATE_UNSPECIFIED");
    set_panels(&api, &vehicle, panels).await;
    let service = json!([{"code": "correct-one-step", "panels": ["hod"]}, {"code": "wash"}]);
    update_job(&api, &job, json!({"services": service})).await;
    let refused = gate(&api, &job, "ASSESSED").await;
    assert_eq!(
        subjects(&refused),
        [
            ("SERVICE_PANEL_UNKNOWN", "services/correct-one-step"),
            ("PANEL_NOT_MEASURED", "panels/hood"),
            ("PANEL_NOT_MEASURED", "panels/roof"),
            ("SUBSTRATE_UNKNOWN", "panels/tailgate"),
        ]
    );
    set_panels(&api, &vehicle, shop::vehicle()["panels"].clone()).await;
    let mask = json!({"job": {"name": job}, "update_mask": "services"});
    api.ok("JobService/UpdateJob", mask).await;
    shop::measure(&api, &job).await;
    let assessed = shop::advance(&api, &job, "ASSESSED").await;
    // The panels that no gauge on site reads are cautioned, the trim is not.
    let cautions = assessed["cautions"].as_array().unwrap();
    let unknown: Vec<&str> = cautions
        .iter()
        .map(|c| c["text"].as_str().unwrap())
        .collect();
    assert_eq!(unknown.len(), 2, "{assessed:#}");
    assert!(
        unknown[0].contains("tailgate") && unknown[1].contains("rear-bumper"),
        "{unknown:?}"
    );

    // Approved: work and price agreed.
    let refused = gate(&api, &job, "APPROVED").await;
    assert_eq!(
        refused.unmet_codes(),
        ["SERVICES_MISSING", "APPROVAL_MISSING"]
    );
    update_job(&api, &job, json!({"services": shop::services()})).await;
    let refused = gate(&api, &job, "APPROVED").await;
    assert_eq!(refused.unmet_codes(), ["APPROVAL_MISSING"]);
    let approved = update_job(&api, &job, json!({"approval": shop::approval()})).await;
    assert!(
        approved["approval"]["approve_time"].is_string(),
        "dated by the daemon: {approved:#}"
    );
    shop::advance(&api, &job, "APPROVED").await;
    // Without a stage: the next one.
    let moved = api
        .ok("JobService/AdvanceStage", json!({"name": job}))
        .await;
    assert_eq!(moved["job"]["stage"], "STAGE_IN_WORK");

    // Curing: something cures.
    let refused = gate(&api, &job, "CURING").await;
    assert_eq!(refused.unmet_codes(), ["NOTHING_TO_CURE"]);
    for (kind, entry) in shop::records() {
        if kind != "part_refit" {
            let stored = shop::append(&api, &job, LONG_AGO, kind, entry).await;
            assert!(
                stored["name"]
                    .as_str()
                    .unwrap()
                    .starts_with(&format!("{job}/records/"))
            );
        }
    }
    shop::advance(&api, &job, "CURING").await;

    // Ready: every part back on.
    let refused = gate(&api, &job, "READY").await;
    assert_eq!(subjects(&refused), [("PART_OFF", "parts/front badge")]);
    assert!(
        refused.message.contains("tray 3"),
        "where it is kept: {refused:?}"
    );
    let refit = json!({"part": "front badge"});
    shop::append(&api, &job, LONG_AGO, "part_refit", refit).await;
    shop::advance(&api, &job, "READY").await;

    // Handed over: the same again for what happened since.
    let off = json!({"part": "rear badge", "kept_at": "tray 4"});
    shop::append(&api, &job, LONG_AGO, "part_off", off).await;
    let refused = gate(&api, &job, "HANDED_OVER").await;
    assert_eq!(refused.unmet_codes(), ["PART_OFF"]);
    shop::append(
        &api,
        &job,
        LONG_AGO,
        "part_refit",
        json!({"part": "rear badge"}),
    )
    .await;
    let done = shop::advance(&api, &job, "HANDED_OVER").await;
    assert_eq!(done["job"]["stage"], "STAGE_HANDED_OVER");

    over(&api, &job).await;
}

/// A job that is over takes notes and nothing else.
async fn over(api: &Api, job: &str) {
    let change = json!({"job": {"name": job, "wishes": "none"}});
    let record = |kind: &str, entry: Value| json!({"parent": job, "record": {kind: entry}});
    let mix = shop::records()[2].1.clone();
    for (method, request) in [
        ("JobService/UpdateJob", change),
        ("JobService/AppendRecord", record("mix", mix)),
    ] {
        let refused = api.refused(method, request).await;
        assert_eq!(
            (refused.code, refused.reason.as_str()),
            (Code::FailedPrecondition, "JOB_CLOSED")
        );
    }
    let refused = api
        .refused("JobService/AdvanceStage", shop::to_stage(job, "READY"))
        .await;
    assert_eq!(refused.reason, "STAGE_MOVE_UNKNOWN", "{refused:?}");
    let note = record("note", json!({"text": "came back for a look"}));
    api.ok("JobService/AppendRecord", note).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_car_does_not_leave_with_a_part_off_or_a_coat_that_is_wet() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "IN_WORK").await;
    let off = json!({"part": "front badge", "kept_at": "tray 3"});
    shop::append(&api, &job, LONG_AGO, "part_off", off).await;
    // Applied now, so it is wet whenever this runs.
    let coat = json!({
        "panels": ["hood", "roof"], "coating": shop::coating(12.0), "panel_c": 20,
    });
    let film = json!({
        "panel": "rear-bumper", "film": "clear film", "width_mm": 700, "length_mm": 400,
        "settle_hours": 48,
    });
    let record = json!({"parent": job, "record": {"coat_layer": coat}});
    let coat = api.ok("JobService/AppendRecord", record).await;
    let record = json!({"parent": job, "record": {"film_piece": film}});
    api.ok("JobService/AppendRecord", record).await;

    for stage in ["READY", "CURING", "READY"] {
        if stage == "CURING" {
            shop::advance(&api, &job, stage).await;
            continue;
        }
        let refused = gate(&api, &job, stage).await;
        assert_eq!(
            subjects(&refused),
            [
                ("PART_OFF", "parts/front badge"),
                ("CURE_WINDOW_OPEN", "panels/hood,roof"),
                ("CURE_WINDOW_OPEN", "panels/rear-bumper"),
            ]
        );
    }
    // The coat is dry 12 hours after it went on, at its reference temperature.
    let layer = &coat["record"]["coat_layer"];
    let dry = layer["milestones"].as_array().unwrap().iter();
    let mut dry = dry.filter(|m| m["kind"] == "CURE_MILESTONE_KIND_DRY");
    let hours = dry.next().unwrap()["after_hours"].as_f64().unwrap();
    assert!((hours - 12.0).abs() < 1e-9, "{layer:#}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn parts_come_off_once_and_go_on_only_when_off() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "IN_WORK").await;
    let refit = json!({"parent": job, "record": {"part_refit": {"part": "front badge"}}});
    let off = json!({
        "parent": job, "record": {"part_off": {"part": "front badge", "kept_at": "tray 3"}},
    });
    let refused = api.refused("JobService/AppendRecord", refit.clone()).await;
    assert_eq!(refused.unmet_codes(), ["PART_NOT_OFF"]);
    api.ok("JobService/AppendRecord", off.clone()).await;
    let refused = api.refused("JobService/AppendRecord", off).await;
    assert_eq!(refused.unmet_codes(), ["PART_ALREADY_OFF"]);
    api.ok("JobService/AppendRecord", refit).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn mistakes_are_recorded_with_their_cautions() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "IN_WORK").await;
    let mut hot = shop::records()[1].1.clone();
    hot["panel"] = json!("tailgate");
    hot["panel_c"] = json!(70);
    hot["override_reason"] = json!("test panel");
    let stored = shop::append(&api, &job, LONG_AGO, "pass", hot).await;
    let codes: Vec<&str> = stored["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["code"].as_str().unwrap())
        .collect();
    assert_eq!(codes, ["PANEL_HOT", "STOP_OVERRIDDEN"], "{stored:#}");

    // A second layer two days later, although the window closed after a day.
    let coat = |layer: i32| {
        json!({
            "panels": ["hood"], "coating": shop::coating(12.0), "layer": layer, "panel_c": 20,
        })
    };
    shop::append(&api, &job, "2024-01-15T08:00:00Z", "coat_layer", coat(1)).await;
    let late = shop::append(&api, &job, "2024-01-17T08:00:00Z", "coat_layer", coat(2)).await;
    let missed = late["cautions"].as_array().unwrap().iter();
    assert_eq!(
        missed
            .filter(|c| c["code"] == "RECOAT_WINDOW_MISSED")
            .count(),
        1,
        "{late:#}"
    );

    // The dew point is filled in: psychrolib 2.5.0 has 16.701 C here.
    let air = json!({"air": {"air_c": 25, "relative_humidity_percent": 60}, "panel_c": 18});
    let air = shop::append(&api, &job, LONG_AGO, "bay_air", air).await;
    let dew_point_c = air["bay_air"]["dew_point_c"].as_f64().unwrap();
    assert!((dew_point_c - 16.701).abs() < 0.05, "{air:#}");
    assert!(
        !air["cautions"].as_array().unwrap().is_empty(),
        "1.3 K above the dew point: {air:#}"
    );
}
