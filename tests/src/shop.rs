//! Invented workshop data, and a car taken from stage to stage through the API.

use serde_json::{Value, json};

use crate::api::Api;

/// A moment long past, so that whatever cured then is dry now.
pub const LONG_AGO: &str = "2024-01-15T08:00:00Z";

/// A car with a panel of every kind: read by a gauge on site (steel,
/// aluminium), by none (composite, plastic), and without paint.
pub fn vehicle() -> Value {
    json!({
        "display_name": "Blue estate",
        "registration": "TEST 123",
        "color": "mid blue",
        "panels": [
            {"panel_id": "hood", "substrate": "SUBSTRATE_STEEL", "finish": "FINISH_CLEAR_COAT", "area_m2": 1.5, "condition": "PANEL_CONDITION_LIGHT"},
            {"panel_id": "roof", "substrate": "SUBSTRATE_ALUMINIUM", "finish": "FINISH_CLEAR_COAT"},
            {"panel_id": "tailgate", "substrate": "SUBSTRATE_COMPOSITE", "finish": "FINISH_CLEAR_COAT"},
            {"panel_id": "rear-bumper", "substrate": "SUBSTRATE_PLASTIC", "finish": "FINISH_CLEAR_COAT"},
            {"panel_id": "sill-trim", "substrate": "SUBSTRATE_PLASTIC", "finish": "FINISH_UNPAINTED"},
        ],
    })
}

/// The work to be done on it.
pub fn services() -> Value {
    json!([
        {"code": "correct-one-step", "description": "One-step correction", "panels": ["hood", "tailgate"]},
        {"code": "coat-two-layers", "description": "Hard coating in two layers"},
    ])
}

/// The customer's yes.
pub fn approval() -> Value {
    json!({
        "approved_by": "the owner", "note": "by phone",
        "amount": {"currency_code": "EUR", "minor_units": "89000"},
    })
}

/// Product data of a coating that is dry after `dry_hours` at 20 C.
pub fn coating(dry_hours: f64) -> Value {
    json!({
        "product": "hard coating", "reference_c": 20, "activation_energy_kj_per_mol": 60,
        "wipe_earliest_minutes": 2, "wipe_latest_minutes": 10,
        "recoat_open_hours": 1, "recoat_close_hours": 24,
        "dry_hours": dry_hours, "wash_hours": 7.0 * 24.0, "full_cure_hours": 14.0 * 24.0,
    })
}

/// A setup at the gentle end.
pub fn gentle_setup() -> Value {
    json!({
        "machine": {"name": "random-orbital machine", "rank": 1},
        "pad": {"name": "soft finishing pad", "rank": 1},
        "liquid": {"name": "finishing polish", "rank": 1},
        "speed": 2, "pressure_kpa": 2, "seconds": 30,
    })
}

/// Every kind of record once, each valid on [`vehicle`].
pub fn records() -> Vec<(&'static str, Value)> {
    vec![
        (
            "gauge_readings",
            json!({"panel": "hood", "spot": "centre", "readings_um": [108, 111, 107], "gauge": "magnetic"}),
        ),
        (
            "pass",
            json!({"panel": "hood", "setup": gentle_setup(), "panel_c": 27, "removal_um": 0.4, "outcome": "PASS_OUTCOME_IMPROVED"}),
        ),
        (
            "mix",
            json!({"product": "water-based pre-wash concentrate", "concentrate_ml": 100, "diluent_ml": 900, "strength_percent": 10, "panels": ["hood"]}),
        ),
        (
            "film_piece",
            json!({"panel": "rear-bumper", "film": "clear film", "roll": "60 in", "width_mm": 700, "length_mm": 400}),
        ),
        (
            "coat_layer",
            json!({"panels": ["hood", "roof"], "coating": coating(12.0), "layer": 1, "panel_c": 21, "air": {"air_c": 21, "relative_humidity_percent": 50}}),
        ),
        (
            "bay_air",
            json!({"air": {"air_c": 21, "relative_humidity_percent": 50}, "panel_c": 20}),
        ),
        (
            "labour",
            json!({"worker": "first worker", "activity": "wash", "from_time": "2024-01-15T08:00:00Z", "to_time": "2024-01-15T09:30:00Z"}),
        ),
        (
            "part_off",
            json!({"part": "front badge", "fasteners": "2 clips", "kept_at": "tray 3"}),
        ),
        (
            "part_refit",
            json!({"part": "front badge", "note": "one clip replaced"}),
        ),
        (
            "note",
            json!({"text": "swirls on the hood, deep scratch on the tailgate", "panel": "hood"}),
        ),
    ]
}

/// Creates the car; its name.
///
/// # Panics
/// When it is refused.
pub async fn new_vehicle(api: &Api) -> String {
    let created = api
        .ok(
            "VehicleService/CreateVehicle",
            json!({"vehicle": vehicle()}),
        )
        .await;
    name(&created)
}

/// Creates a job without a car; its name.
///
/// # Panics
/// When it is refused.
pub async fn new_job(api: &Api, display_name: &str) -> String {
    let request = json!({"job": {"display_name": display_name}});
    name(&api.ok("JobService/CreateJob", request).await)
}

/// Creates a job on a new car, with services and approval, and takes it to
/// `stage`; its name.
///
/// # Panics
/// When a step is refused.
pub async fn job_at(api: &Api, stage: &str) -> String {
    const WAY: [&str; 8] = [
        "BOOKED",
        "RECEIVED",
        "ASSESSED",
        "APPROVED",
        "IN_WORK",
        "CURING",
        "READY",
        "HANDED_OVER",
    ];
    let vehicle = new_vehicle(api).await;
    let job = json!({
        "display_name": "Blue estate", "vehicle": vehicle,
        "services": services(), "approval": approval(),
    });
    let job = name(&api.ok("JobService/CreateJob", json!({"job": job})).await);
    let end = WAY
        .iter()
        .position(|s| *s == stage)
        .expect("a stage on the way");
    for next in &WAY[1..=end] {
        match *next {
            "ASSESSED" => measure(api, &job).await,
            "CURING" => {
                append(api, &job, LONG_AGO, "coat_layer", records()[4].1.clone()).await;
            }
            _ => {}
        }
        advance(api, &job, next).await;
    }
    job
}

/// Records readings on every panel that a gauge on site reads.
///
/// # Panics
/// When they are refused.
pub async fn measure(api: &Api, job: &str) {
    for panel in ["hood", "roof"] {
        let readings = json!({"panel": panel, "readings_um": [108, 111, 107, 112, 110]});
        append(api, job, LONG_AGO, "gauge_readings", readings).await;
    }
}

/// Appends a record of some kind; the record as stored.
///
/// # Panics
/// When it is refused.
pub async fn append(api: &Api, job: &str, time: &str, kind: &str, entry: Value) -> Value {
    let record = json!({"record_time": time, "author": "first worker", kind: entry});
    let request = json!({"parent": job, "record": record});
    api.ok("JobService/AppendRecord", request).await["record"].clone()
}

/// Moves a job to a stage, given without its prefix; the answer.
///
/// # Panics
/// When it is refused.
pub async fn advance(api: &Api, job: &str, stage: &str) -> Value {
    api.ok("JobService/AdvanceStage", to_stage(job, stage))
        .await
}

/// The request that moves a job to a stage, given without its prefix.
pub fn to_stage(job: &str, stage: &str) -> Value {
    json!({"name": job, "to_stage": format!("STAGE_{stage}"), "note": "as agreed"})
}

/// A resource's name.
///
/// # Panics
/// When it has none.
pub fn name(resource: &Value) -> String {
    resource["name"]
        .as_str()
        .expect("a resource has a name")
        .to_owned()
}

/// Every job, deleted ones too, over as many pages as there are.
///
/// # Panics
/// When a page is refused.
pub async fn all_jobs(api: &Api) -> Vec<Value> {
    let mut jobs = Vec::new();
    let mut token = String::new();
    loop {
        let request = json!({"page_size": 1000, "page_token": token, "show_deleted": true});
        let mut page = api.ok("JobService/ListJobs", request).await;
        jobs.extend(
            page["jobs"]
                .as_array_mut()
                .map(std::mem::take)
                .unwrap_or_default(),
        );
        match page["next_page_token"].as_str() {
            Some(next) if !next.is_empty() => token = next.to_owned(),
            Some(_) | None => return jobs,
        }
    }
}

/// The sequence number of the last event.
///
/// # Panics
/// When the daemon does not say.
pub async fn last_sequence(api: &Api) -> u64 {
    let page = api.ok("JobService/ListJobs", json!({"page_size": 1})).await;
    // Left out of the JSON while it is the empty string, which it never is.
    page["resume_token"]
        .as_str()
        .and_then(|token| token.parse().ok())
        .expect("a resume token")
}

/// All that a daemon answers about its jobs and vehicles: jobs with records
/// and history, and vehicles, deleted ones too. Two daemons that serve the
/// same store answer the same.
///
/// # Panics
/// When a read is refused.
pub async fn everything(api: &Api) -> Value {
    let mut jobs = Vec::new();
    for job in all_jobs(api).await {
        let name = name(&job);
        let records = api.ok(
            "JobService/ListRecords",
            json!({"parent": name, "page_size": 1000}),
        );
        let records = records.await;
        let history = api.ok(
            "JobService/ListJobHistory",
            json!({"name": name, "page_size": 1000}),
        );
        let history = history.await;
        jobs.push(json!({"job": job, "records": records, "history": history}));
    }
    let request = json!({"page_size": 1000, "show_deleted": true});
    let vehicles = api.ok("VehicleService/ListVehicles", request).await;
    json!({"jobs": jobs, "vehicles": vehicles, "sequence": last_sequence(api).await})
}
