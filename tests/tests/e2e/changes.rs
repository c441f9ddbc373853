//! Updates, etags, going back, cancelling, deleting.

use lamella_tests::daemon::Daemon;
use lamella_tests::shop;
use serde_json::{Value, json};
use tonic::Code;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_update_writes_the_fields_of_its_mask_and_no_other() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;
    let full = json!({
        "name": job, "display_name": "Red coupe", "wishes": "no shine on the trim",
        "arrival_condition": "dusty", "customer": {"display_name": "a test customer"},
        "promise_time": "2030-05-02T15:00:00Z", "services": shop::services(),
    });
    // Named fields only.
    let request = json!({"job": full, "update_mask": "displayName,wishes"});
    let updated = api.ok("JobService/UpdateJob", request).await;
    assert_eq!(updated["display_name"], "Red coupe");
    assert_eq!(updated["wishes"], "no shine on the trim");
    assert!(
        updated.get("customer").is_none() && updated.get("services").is_none(),
        "{updated:#}"
    );
    // No mask: every field that is set.
    let updated = api.ok("JobService/UpdateJob", json!({"job": full})).await;
    for field in ["customer", "services", "promise_time", "arrival_condition"] {
        assert_eq!(updated[field], full[field], "{field}");
    }
    // A named field that is not set is cleared.
    let request = json!({"job": {"name": job}, "update_mask": "customer,promiseTime"});
    let updated = api.ok("JobService/UpdateJob", request).await;
    assert!(updated.get("customer").is_none() && updated.get("promise_time").is_none());
    assert_eq!(updated["wishes"], "no shine on the trim");
    // Output-only fields cannot be written.
    let request = json!({"job": {"name": job}, "update_mask": "stage"});
    let refused = api.refused("JobService/UpdateJob", request).await;
    assert_eq!(refused.field_names(), ["update_mask"]);
    let sneaky = json!({"name": job, "stage": "STAGE_READY", "create_time": "2001-01-01T00:00:00Z",
        "wishes": "more"});
    let after = api.ok("JobService/UpdateJob", json!({"job": sneaky})).await;
    assert_eq!(after["stage"], "STAGE_BOOKED");
    assert_eq!(after["create_time"], updated["create_time"]);
}

/// Each change that takes an etag, with its request.
fn with_etag(name: &str, kind: &str, etag: &str) -> Vec<(String, Value)> {
    let update = if kind == "Job" {
        json!({"job": {"name": name, "wishes": "more", "etag": etag}})
    } else {
        json!({"vehicle": {"name": name, "note": "more", "etag": etag}})
    };
    let mut all = vec![
        (format!("{kind}Service/Update{kind}"), update),
        (
            format!("{kind}Service/Delete{kind}"),
            json!({"name": name, "etag": etag}),
        ),
        (
            format!("{kind}Service/Undelete{kind}"),
            json!({"name": name, "etag": etag}),
        ),
    ];
    if kind == "Job" {
        let cancel = json!({
            "name": name, "etag": etag, "to_stage": "STAGE_CANCELLED", "note": "called off",
        });
        all.push(("JobService/AdvanceStage".to_owned(), cancel));
    }
    all
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_stale_etag_is_refused_and_the_current_one_taken() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let vehicle = shop::new_vehicle(&api).await;
    let job = shop::new_job(&api, "Blue estate").await;
    for (kind, name) in [("Job", &job), ("Vehicle", &vehicle)] {
        let get = format!("{kind}Service/Get{kind}");
        let first = api.ok(&get, json!({"name": name})).await["etag"].clone();
        let stale = first.as_str().unwrap().to_owned();
        let (update, request) = with_etag(name, kind, &stale).swap_remove(0);
        let second = api.ok(&update, request).await["etag"].clone();
        assert_ne!(first, second, "a change changes the etag");
        for (method, request) in with_etag(name, kind, &stale) {
            let refused = api.refused(&method, request).await;
            assert_eq!(refused.code, Code::Aborted, "{method}: {refused:?}");
            assert_eq!(refused.reason, "ETAG_STALE", "{method}");
            assert_eq!(&refused.resource, name, "{method}");
        }
        let (delete, request) = with_etag(name, kind, second.as_str().unwrap()).swap_remove(1);
        let third = api.ok(&delete, request).await["etag"].clone();
        let (undelete, request) = with_etag(name, kind, third.as_str().unwrap()).swap_remove(2);
        api.ok(&undelete, request).await;
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_many_who_write_with_one_etag_one_wins() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;
    let etag = api.ok("JobService/GetJob", json!({"name": job})).await["etag"].clone();
    let mut writers = tokio::task::JoinSet::new();
    for writer in 0..8 {
        let (api, job, etag) = (api.clone(), job.clone(), etag.clone());
        writers.spawn(async move {
            let wish = format!("wish of {writer}");
            let request = json!({"job": {"name": job, "wishes": wish, "etag": etag}});
            api.call("JobService/UpdateJob", request)
                .await
                .map(|_| wish)
        });
    }
    let (won, lost): (Vec<_>, Vec<_>) = writers
        .join_all()
        .await
        .into_iter()
        .partition(Result::is_ok);
    assert_eq!(won.len(), 1, "{won:?}");
    assert!(
        lost.iter()
            .all(|r| r.as_ref().is_err_and(|e| e.code == Code::Aborted)),
        "{lost:?}"
    );
    let after = api.ok("JobService/GetJob", json!({"name": job})).await;
    assert_eq!(after["wishes"], won[0].as_ref().unwrap().as_str());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_record_leaves_the_jobs_own_etag_alone() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;
    let before = api.ok("JobService/GetJob", json!({"name": job})).await;
    let note = json!({"text": "the customer waits inside"});
    shop::append(&api, &job, shop::LONG_AGO, "note", note).await;
    assert_eq!(
        api.ok("JobService/GetJob", json!({"name": job})).await,
        before
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn going_back_needs_a_note_and_ends_the_approval() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    for from in ["APPROVED", "IN_WORK"] {
        let job = shop::job_at(&api, from).await;
        let back = json!({"name": job, "to_stage": "STAGE_ASSESSED"});
        let refused = api.refused("JobService/AdvanceStage", back).await;
        assert_eq!(refused.code, Code::InvalidArgument, "{refused:?}");
        assert_eq!(refused.field_names(), ["note"]);
        let moved = shop::advance(&api, &job, "ASSESSED").await;
        assert!(moved["job"].get("approval").is_none(), "{moved:#}");
        // Forward again only with a new yes.
        let refused = api
            .refused("JobService/AdvanceStage", shop::to_stage(&job, "APPROVED"))
            .await;
        assert_eq!(refused.unmet_codes(), ["APPROVAL_MISSING"]);
        let yes = json!({"job": {"name": job, "approval": shop::approval()}});
        api.ok("JobService/UpdateJob", yes).await;
        shop::advance(&api, &job, "APPROVED").await;
    }
    // Back from curing or ready to work keeps it.
    for from in ["CURING", "READY"] {
        let job = shop::job_at(&api, from).await;
        let moved = shop::advance(&api, &job, "IN_WORK").await;
        assert!(moved["job"]["approval"].is_object(), "{moved:#}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn asking_whether_a_job_could_move_moves_nothing() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let ask = |job: &str, stage: &str| json!({"name": job, "to_stage": format!("STAGE_{stage}"), "validate_only": true});
    let job = shop::new_job(&api, "Blue estate").await;
    let would = api
        .refused("JobService/AdvanceStage", ask(&job, "RECEIVED"))
        .await;
    let did = api
        .refused("JobService/AdvanceStage", shop::to_stage(&job, "RECEIVED"))
        .await;
    assert_eq!(would, did);

    let job = shop::job_at(&api, "APPROVED").await;
    let before = shop::everything(&api).await;
    // A step back needs a note, but not to be asked about.
    for stage in ["IN_WORK", "ASSESSED", "CANCELLED"] {
        let would = api.ok("JobService/AdvanceStage", ask(&job, stage)).await;
        assert_eq!(would["job"]["stage"], format!("STAGE_{stage}"));
    }
    let refused = api
        .refused("JobService/AdvanceStage", ask(&job, "READY"))
        .await;
    assert_eq!(refused.reason, "STAGE_MOVE_UNKNOWN");
    assert_eq!(shop::everything(&api).await, before);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn stages_are_not_passed_over() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "RECEIVED").await;
    for to in [
        "RECEIVED",
        "APPROVED",
        "IN_WORK",
        "CURING",
        "READY",
        "HANDED_OVER",
    ] {
        let refused = api
            .refused("JobService/AdvanceStage", shop::to_stage(&job, to))
            .await;
        assert_eq!(refused.code, Code::FailedPrecondition, "{to}: {refused:?}");
        assert_eq!(refused.reason, "STAGE_MOVE_UNKNOWN", "{to}");
        assert_eq!(refused.field_names(), ["to_stage"], "{to}");
    }
    // Work that needs no cure goes straight to ready.
    let job = shop::job_at(&api, "IN_WORK").await;
    shop::advance(&api, &job, "READY").await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_job_can_be_cancelled_from_every_stage_before_hand_over() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    for from in [
        "BOOKED", "RECEIVED", "ASSESSED", "APPROVED", "IN_WORK", "CURING", "READY",
    ] {
        let job = shop::job_at(&api, from).await;
        let silent = json!({"name": job, "to_stage": "STAGE_CANCELLED"});
        let refused = api.refused("JobService/AdvanceStage", silent).await;
        assert_eq!(refused.field_names(), ["note"], "{from}");
        let moved = shop::advance(&api, &job, "CANCELLED").await;
        assert_eq!(moved["job"]["stage"], "STAGE_CANCELLED", "{from}");
    }
    let job = shop::job_at(&api, "HANDED_OVER").await;
    let refused = api
        .refused("JobService/AdvanceStage", shop::to_stage(&job, "CANCELLED"))
        .await;
    assert_eq!(refused.reason, "STAGE_MOVE_UNKNOWN");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_deleted_job_is_hidden_kept_and_can_come_back() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let kept = shop::new_job(&api, "Blue estate").await;
    let job = shop::new_job(&api, "Red coupe").await;
    let before = api.ok("JobService/GetJob", json!({"name": job})).await;
    let deleted = api.ok("JobService/DeleteJob", json!({"name": job})).await;
    assert!(deleted["delete_time"].is_string());
    assert_eq!(
        api.ok("JobService/GetJob", json!({"name": job})).await,
        deleted
    );

    let names = |listed: Value| -> Vec<String> {
        listed["jobs"]
            .as_array()
            .unwrap()
            .iter()
            .map(shop::name)
            .collect()
    };
    let listed = names(api.ok("JobService/ListJobs", json!({})).await);
    assert_eq!(listed, std::slice::from_ref(&kept));
    let all = api
        .ok("JobService/ListJobs", json!({"show_deleted": true}))
        .await;
    assert_eq!(names(all), [kept, job.clone()]);

    let note = json!({"parent": job, "record": {"note": {"text": "x"}}});
    for (method, request) in [
        (
            "JobService/UpdateJob",
            json!({"job": {"name": job, "wishes": "x"}}),
        ),
        ("JobService/AdvanceStage", shop::to_stage(&job, "CANCELLED")),
        ("JobService/AppendRecord", note),
        ("JobService/DeleteJob", json!({"name": job})),
    ] {
        let refused = api.refused(method, request).await;
        assert_eq!(
            refused.code,
            Code::FailedPrecondition,
            "{method}: {refused:?}"
        );
        assert_eq!(refused.reason, "RESOURCE_DELETED", "{method}");
        assert_eq!(refused.resource, job, "{method}");
    }
    let back = api.ok("JobService/UndeleteJob", json!({"name": job})).await;
    assert!(back.get("delete_time").is_none());
    assert_eq!(back["display_name"], before["display_name"]);
    let refused = api
        .refused("JobService/UndeleteJob", json!({"name": job}))
        .await;
    assert_eq!(refused.reason, "RESOURCE_NOT_DELETED");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_vehicle_outlives_its_jobs_and_goes_only_without_a_live_one() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::job_at(&api, "RECEIVED").await;
    let vehicle = api.ok("JobService/GetJob", json!({"name": job})).await["vehicle"].clone();
    let delete = json!({"name": vehicle});
    let refused = api
        .refused("VehicleService/DeleteVehicle", delete.clone())
        .await;
    assert_eq!(refused.code, Code::FailedPrecondition, "{refused:?}");
    assert_eq!(refused.unmet_codes(), ["VEHICLE_HAS_LIVE_JOB"]);
    assert_eq!(refused.unmet[0].1, job);

    shop::advance(&api, &job, "CANCELLED").await;
    api.ok("VehicleService/DeleteVehicle", delete.clone()).await;
    // A new job cannot take a deleted vehicle; the old one still shows it.
    let request = json!({"job": {"display_name": "again", "vehicle": vehicle}});
    let refused = api.refused("JobService/CreateJob", request.clone()).await;
    assert_eq!(refused.reason, "RESOURCE_DELETED");
    assert_eq!(
        api.ok("JobService/GetJob", json!({"name": job})).await["vehicle"],
        vehicle
    );
    let hidden = api.ok("VehicleService/ListVehicles", json!({})).await;
    assert!(hidden.get("vehicles").is_none(), "{hidden:#}");
    let shown = api
        .ok("VehicleService/ListVehicles", json!({"show_deleted": true}))
        .await;
    assert_eq!(shown["vehicles"].as_array().map(Vec::len), Some(1));
    api.ok("VehicleService/UndeleteVehicle", delete).await;
    api.ok("JobService/CreateJob", request).await;
}
