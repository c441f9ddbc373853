//! Bookings of other systems: twice, late, out of order, after a kill; what the
//! shop does meanwhile stands.

use lamella_tests::api::Api;
use lamella_tests::cli;
use lamella_tests::daemon::Daemon;
use lamella_tests::shop;
use serde_json::{Value, json};
use tonic::Code;

const UPSERT: &str = "BookingService/UpsertBooking";

/// Version `sequence` of booking A-17.
fn version(sequence: i32, fields: &Value) -> Value {
    let mut booking = json!({
        "source": "web-form", "external_id": "A-17", "display_name": "Blue estate",
        "revision": {"sequence": sequence, "time": "2026-03-01T10:00:00Z"},
        "arrival_time": "2026-03-10T08:00:00Z", "promise_time": "2026-03-10T16:00:00Z",
        "services": [{"code": "wash"}],
    });
    for (name, value) in fields.as_object().unwrap() {
        booking[name] = value.clone();
    }
    json!({"booking": booking})
}

/// Hands a version in: what it did, and the booking.
async fn hand_in(api: &Api, request: Value) -> (String, Value) {
    let answer = api.ok(UPSERT, request).await;
    let outcome = answer["outcome"].as_str().unwrap();
    let outcome = outcome.strip_prefix("BOOKING_OUTCOME_").unwrap().to_owned();
    (outcome, answer["booking"].clone())
}

async fn job_of(api: &Api, booking: &Value) -> Value {
    api.ok("JobService/GetJob", json!({"name": booking["job"]}))
        .await
}

async fn notes(api: &Api, job: &Value) -> Vec<String> {
    let records = api
        .ok("JobService/ListRecords", json!({"parent": job["name"]}))
        .await;
    let records = records["records"].as_array().cloned().unwrap_or_default();
    let text = |record: &Value| record["note"]["text"].as_str().unwrap().to_owned();
    records.iter().map(text).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn versions_may_come_twice_late_and_out_of_order() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let third = version(3, &json!({"wishes": "quick"}));
    let (outcome, booking) = hand_in(&api, third.clone()).await;
    assert_eq!(outcome, "CREATED");
    let job = job_of(&api, &booking).await;
    assert_eq!(job["stage"], "STAGE_BOOKED");
    assert_eq!(job["wishes"], "quick");
    assert_eq!(job["promise_time"], "2026-03-10T16:00:00Z");

    let sequence = shop::last_sequence(&api).await;
    assert_eq!(hand_in(&api, third.clone()).await.0, "UNCHANGED");
    let earlier = version(1, &json!({"display_name": "Red coupe"}));
    assert_eq!(hand_in(&api, earlier).await.0, "OUTDATED");
    let other = version(3, &json!({"display_name": "Red coupe"}));
    assert_eq!(hand_in(&api, other).await.0, "CONFLICT");
    // The same number, made earlier there.
    let mut before = version(3, &json!({"display_name": "Red coupe"}));
    before["booking"]["revision"]["time"] = json!("2026-03-01T09:59:59Z");
    assert_eq!(hand_in(&api, before).await.0, "OUTDATED");
    assert_eq!(
        shop::last_sequence(&api).await,
        sequence,
        "nothing was kept"
    );
    assert_eq!(job_of(&api, &booking).await, job);

    // Says nothing new, and is remembered all the same.
    assert_eq!(
        hand_in(&api, version(5, &json!({"wishes": "quick"})))
            .await
            .0,
        "UNCHANGED"
    );
    assert_eq!(
        hand_in(&api, version(4, &json!({"wishes": "slow"})))
            .await
            .0,
        "OUTDATED"
    );
    assert_eq!(job_of(&api, &booking).await, job);
    assert_eq!(shop::all_jobs(&api).await.len(), 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_the_shop_changed_since_stands() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let (_, booking) = hand_in(&api, version(0, &json!({}))).await;
    let shops = json!({"name": booking["job"], "promise_time": "2026-03-11T12:00:00Z"});
    api.ok("JobService/UpdateJob", json!({"job": shops})).await;

    let (outcome, booking) = hand_in(
        &api,
        version(
            1,
            &json!({"promise_time": "2026-03-10T18:00:00Z", "display_name": "Blue estate, 2 keys"}),
        ),
    )
    .await;
    assert_eq!(outcome, "UPDATED");
    assert_eq!(booking["kept_fields"], json!(["promise_time"]));
    assert_eq!(
        booking["promise_time"], "2026-03-10T18:00:00Z",
        "the booking says what it says"
    );
    let job = job_of(&api, &booking).await;
    assert_eq!(job["promise_time"], "2026-03-11T12:00:00Z");
    assert_eq!(job["display_name"], "Blue estate, 2 keys");

    // Received: from here on only notes.
    let vehicle = shop::new_vehicle(&api).await;
    let with = json!({"name": booking["job"], "vehicle": vehicle});
    api.ok("JobService/UpdateJob", json!({"job": with})).await;
    shop::advance(&api, booking["job"].as_str().unwrap(), "RECEIVED").await;
    let job = job_of(&api, &booking).await;
    let third = version(
        2,
        &json!({
            "services": [{"code": "wash"}, {"code": "wax"}],
            "customer": {"display_name": "A. Customer", "phone": "0123"},
        }),
    );
    let (outcome, _) = hand_in(&api, third.clone()).await;
    assert_eq!(outcome, "NOTED");
    assert_eq!(job_of(&api, &booking).await, job, "the job stands");
    let (outcome, _) = hand_in(&api, version(3, &json!({"cancelled": true}))).await;
    assert_eq!(outcome, "NOTED");
    assert_eq!(hand_in(&api, third).await.0, "OUTDATED");
    let notes = notes(&api, &job).await;
    assert_eq!(notes.len(), 2, "{notes:?}");
    assert!(
        notes[0].contains("services are now 2: wash, wax"),
        "{notes:?}"
    );
    assert!(notes[0].contains("customer changed"), "{notes:?}");
    assert!(!notes[0].contains("A. Customer"), "{notes:?}");
    assert!(notes[1].ends_with("it is cancelled"), "{notes:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_cancelled_booking_cancels_its_job_and_may_come_back() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let cancelled = |sequence| {
        json!({"booking": {"source": "web-form", "external_id": "A-17", "cancelled": true,
            "revision": {"sequence": sequence, "time": "2026-03-01T10:00:00Z"}}})
    };
    // Cancelled before it was ever seen: the older version comes to nothing.
    let (outcome, booking) = hand_in(&api, cancelled(2)).await;
    assert_eq!(
        (outcome.as_str(), booking["job"].as_str()),
        ("CANCELLED", None)
    );
    assert_eq!(hand_in(&api, version(1, &json!({}))).await.0, "OUTDATED");
    assert_eq!(shop::all_jobs(&api).await.len(), 0);

    let (outcome, first) = hand_in(&api, version(3, &json!({}))).await;
    assert_eq!(outcome, "CREATED");
    assert_eq!(hand_in(&api, cancelled(4)).await.0, "CANCELLED");
    let job = job_of(&api, &first).await;
    assert_eq!(job["stage"], "STAGE_CANCELLED");
    let (outcome, again) = hand_in(&api, version(5, &json!({}))).await;
    assert_eq!(outcome, "CREATED");
    assert_ne!(again["job"], first["job"]);

    // A job that the shop deleted is left alone.
    api.ok("JobService/DeleteJob", json!({"name": again["job"]}))
        .await;
    let (outcome, _) = hand_in(&api, version(6, &json!({"wishes": "quick"}))).await;
    assert_eq!(outcome, "NOTED");
    assert_eq!(shop::all_jobs(&api).await.len(), 2);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sixteen_bridges_and_a_kill_make_one_job() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let mut bridges = tokio::task::JoinSet::new();
    for bridge in 0..16 {
        let api = Api::connect(&daemon.address).await;
        bridges.spawn(async move {
            for sequence in 0..8 {
                // Each its own order.
                let sequence = (sequence * 5 + bridge) % 8;
                hand_in(
                    &api,
                    version(sequence, &json!({"wishes": format!("version {sequence}")})),
                )
                .await;
            }
        });
    }
    bridges.join_all().await;
    let api = daemon.client().await;
    let before = shop::everything(&api).await;
    let bookings = api.ok("BookingService/ListBookings", json!({})).await;
    daemon.kill();

    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    assert_eq!(shop::everything(&api).await, before);
    assert_eq!(
        api.ok("BookingService/ListBookings", json!({})).await,
        bookings
    );
    let jobs = shop::all_jobs(&api).await;
    assert_eq!(jobs.len(), 1);
    assert_eq!(jobs[0]["wishes"], "version 7");
    assert_eq!(
        hand_in(&api, version(7, &json!({"wishes": "version 7"})))
            .await
            .0,
        "UNCHANGED"
    );
    daemon.kill();

    // The projection can be made again from the journal.
    let rebuilt = cli::lamellad(["rebuild", "--data-dir", dir.path().to_str().unwrap()]);
    rebuilt.ended_with(0);
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    assert_eq!(
        api.ok("BookingService/ListBookings", json!({})).await,
        bookings
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn bookings_are_found_by_what_is_known_of_them() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let mut names = Vec::new();
    for number in 0..5 {
        let (_, booking) = hand_in(
            &api,
            version(0, &json!({"external_id": format!("B/{number}")})),
        )
        .await;
        names.push(booking["name"].clone());
    }
    let (_, other) = hand_in(&api, version(0, &json!({"source": "phone"}))).await;
    let list = async |filter: Value| {
        let mut found = Vec::new();
        let mut token = String::new();
        loop {
            let request = json!({"page_size": 2, "page_token": token, "filter": filter});
            let page = api.ok("BookingService/ListBookings", request).await;
            let bookings = page["bookings"].as_array().cloned().unwrap_or_default();
            assert!(bookings.len() <= 2);
            found.extend(bookings.iter().map(|booking| booking["name"].clone()));
            token = page["next_page_token"]
                .as_str()
                .unwrap_or_default()
                .to_owned();
            if token.is_empty() {
                return found;
            }
        }
    };
    assert_eq!(list(json!({"source": "web-form"})).await, names);
    assert_eq!(
        list(json!({"source": "web-form", "external_id": "B/3"})).await,
        [names[3].clone()]
    );
    assert_eq!(
        list(json!({"external_id": "B/3"})).await,
        [names[3].clone()]
    );
    assert_eq!(
        list(json!({"job": other["job"]})).await,
        [other["name"].clone()]
    );
    assert_eq!(
        list(json!({"job": other["job"], "source": "web-form"}))
            .await
            .len(),
        0
    );
    assert_eq!(list(json!({})).await.len(), 6);
    let got = api
        .ok("BookingService/GetBooking", json!({"name": other["name"]}))
        .await;
    assert_eq!(got, other);
    let refused = api
        .refused(
            "BookingService/UpsertBooking",
            version(9, &json!({"vehicle": "vehicles/none"})),
        )
        .await;
    assert_eq!(refused.code, Code::NotFound);
}
