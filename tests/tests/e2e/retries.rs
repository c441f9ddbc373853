//! Request ids: a retry gets the first answer again, on every method that
//! changes something, also after a restart; another request is refused.

use lamella_tests::api::Api;
use lamella_tests::daemon::Daemon;
use lamella_tests::plugins;
use lamella_tests::shop;
use serde_json::{Value, json};
use tonic::Code;

/// A method, a request, and a request of the same kind with another body.
type Mutation = (&'static str, Value, Value);

/// Every method that changes something, in an order in which each succeeds.
async fn mutations(api: &Api) -> Vec<Mutation> {
    let (job, vehicle) = (
        shop::job_at(api, "BOOKED").await,
        shop::new_vehicle(api).await,
    );
    let (other_job, other) = (
        shop::new_job(api, "other").await,
        shop::new_vehicle(api).await,
    );
    plugins::installed(api, "prices", &plugins::prebuilt("tiered-pricing")).await;
    let hours = |thousandths: &str| {
        let labour = json!({"kind": "labour", "item": "polish", "quantity_thousandths": thousandths, "unit": "h"});
        json!({"parent": other_job, "measures": [labour]})
    };
    let quote = shop::name(&api.ok("QuoteService/CreateQuote", hours("500")).await);
    let note = |text: &str| json!({"parent": job, "record": {"note": {"text": text}}});
    let named = |name: &str| json!({"name": name});
    vec![
        (
            "JobService/CreateJob",
            json!({"job": {"display_name": "Blue estate"}}),
            json!({"job": {"display_name": "Red coupe"}}),
        ),
        (
            "JobService/UpdateJob",
            json!({"job": {"name": job, "wishes": "quick"}}),
            json!({"job": {"name": job, "wishes": "slow"}}),
        ),
        ("JobService/AdvanceStage", named(&job), named(&other_job)),
        ("JobService/AppendRecord", note("dusty"), note("clean")),
        ("QuoteService/CreateQuote", hours("1000"), hours("2000")),
        (
            "QuoteService/AcceptQuote",
            json!({"name": quote, "approved_by": "the owner"}),
            json!({"name": quote, "approved_by": "the driver"}),
        ),
        ("JobService/DeleteJob", named(&job), named(&other_job)),
        ("JobService/UndeleteJob", named(&job), named(&other_job)),
        (
            "VehicleService/CreateVehicle",
            json!({"vehicle": {"display_name": "Blue estate"}}),
            json!({"vehicle": {"display_name": "Red coupe"}}),
        ),
        (
            "VehicleService/UpdateVehicle",
            json!({"vehicle": {"name": vehicle, "note": "old"}}),
            json!({"vehicle": {"name": vehicle, "note": "new"}}),
        ),
        (
            "VehicleService/DeleteVehicle",
            named(&vehicle),
            named(&other),
        ),
        (
            "VehicleService/UndeleteVehicle",
            named(&vehicle),
            named(&other),
        ),
    ]
}

fn with_id(request: &Value, id: &str) -> Value {
    let mut request = request.clone();
    request["request_id"] = json!(id);
    request
}

async fn refused_as_reused(api: &Api, method: &str, request: Value) {
    let refused = api.refused(method, request).await;
    assert_eq!(refused.code, Code::AlreadyExists, "{method}: {refused:?}");
    assert_eq!(refused.reason, "REQUEST_ID_REUSED", "{method}");
    assert_eq!(refused.field_names(), ["request_id"], "{method}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_change_can_be_retried_also_after_a_restart() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    let mutations = mutations(&api).await;
    let mut done = Vec::new();
    for (index, (method, request, other)) in mutations.iter().enumerate() {
        let id = format!("request-{index}");
        let first = api.ok(method, with_id(request, &id)).await;
        let sequence = shop::last_sequence(&api).await;
        assert_eq!(
            api.ok(method, with_id(request, &id)).await,
            first,
            "{method}"
        );
        refused_as_reused(&api, method, with_id(other, &id)).await;
        // Another method may not have it either.
        let (elsewhere, request, _) = &mutations[(index + 1) % mutations.len()];
        refused_as_reused(&api, elsewhere, with_id(request, &id)).await;
        assert_eq!(
            shop::last_sequence(&api).await,
            sequence,
            "{method}: a retry changes nothing"
        );
        done.push((id, first));
    }
    let before = shop::everything(&api).await;
    daemon.kill();

    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    for ((method, request, other), (id, first)) in mutations.iter().zip(&done) {
        // Long overtaken by later changes, and still the first answer.
        assert_eq!(
            &api.ok(method, with_id(request, id)).await,
            first,
            "{method}"
        );
        refused_as_reused(&api, method, with_id(other, id)).await;
    }
    assert_eq!(shop::everything(&api).await, before);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_refused_request_does_not_use_up_its_id() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;
    let advance = with_id(&json!({"name": job, "to_stage": "STAGE_RECEIVED"}), "once");
    let refused = api
        .refused("JobService/AdvanceStage", advance.clone())
        .await;
    assert_eq!(refused.unmet_codes(), ["VEHICLE_MISSING"]);
    let vehicle = shop::new_vehicle(&api).await;
    api.ok(
        "JobService/UpdateJob",
        json!({"job": {"name": job, "vehicle": vehicle}}),
    )
    .await;
    let moved = api.ok("JobService/AdvanceStage", advance).await;
    assert_eq!(moved["job"]["stage"], "STAGE_RECEIVED");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_request_sent_sixteen_times_at_once_is_done_once() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let mut senders = tokio::task::JoinSet::new();
    for _ in 0..16 {
        let api = Api::connect(&daemon.address).await;
        senders.spawn(async move {
            let request = with_id(&json!({"job": {"display_name": "Blue estate"}}), "together");
            api.ok("JobService/CreateJob", request).await
        });
    }
    let answers = senders.join_all().await;
    assert!(
        answers.iter().all(|answer| *answer == answers[0]),
        "{answers:?}"
    );
    assert_eq!(shop::all_jobs(&api).await, [answers[0].clone()]);
    assert_eq!(shop::last_sequence(&api).await, 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_chosen_id_is_taken_once() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    for (method, request, name) in [
        (
            "JobService/CreateJob",
            json!({"job": {"display_name": "Blue estate"}, "job_id": "blue-1"}),
            "jobs/blue-1",
        ),
        (
            "VehicleService/CreateVehicle",
            json!({"vehicle": {"display_name": "Blue estate"}, "vehicle_id": "blue-1"}),
            "vehicles/blue-1",
        ),
    ] {
        assert_eq!(api.ok(method, request.clone()).await["name"], name);
        let refused = api.refused(method, request).await;
        assert_eq!(refused.code, Code::AlreadyExists, "{refused:?}");
        assert_eq!(
            (refused.reason.as_str(), refused.resource.as_str()),
            ("RESOURCE_EXISTS", name)
        );
    }
}
