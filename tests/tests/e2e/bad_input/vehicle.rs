//! VehicleService.

use lamella_tests::shop;
use serde_json::{Value, json};
use tonic::Code;

use super::table::{
    DELETED, EXISTS, NOT_FOUND, PAGE_TOKEN, REUSED, Row, STALE, Stock, bad_ids, bad_names,
    bad_or_no_text, bad_page_sizes, bad_request_ids, bad_text, invalid, longer_than, no_quantity,
    nothing_or_less, refused, spoiled, unknown_numbers, with,
};

const CREATE: &str = "VehicleService/CreateVehicle";
const GET: &str = "VehicleService/GetVehicle";
const LIST: &str = "VehicleService/ListVehicles";
const UPDATE: &str = "VehicleService/UpdateVehicle";
const LEDGER: &str = "VehicleService/ListPaintLedger";
const DELETE: &str = "VehicleService/DeleteVehicle";
const UNDELETE: &str = "VehicleService/UndeleteVehicle";

pub(crate) fn rows(stock: &Stock) -> Vec<Row> {
    let mut vehicle = shop::vehicle();
    let create = json!({"vehicle": vehicle});
    vehicle["name"] = json!(stock.vehicle);
    let update = json!({"vehicle": vehicle});
    let mut rows = fields(CREATE, &create);
    rows.extend(ledger(stock));
    rows.extend(fields(UPDATE, &update));
    rows.extend(spoiled(
        CREATE,
        &create,
        "/vehicle/display_name",
        &bad_or_no_text(200),
        "vehicle.display_name",
    ));
    rows.extend(spoiled(
        CREATE,
        &create,
        "/vehicle_id",
        &bad_ids(),
        "vehicle_id",
    ));
    rows.extend(spoiled(
        UPDATE,
        &update,
        "/vehicle/name",
        &bad_names("vehicles"),
        "vehicle.name",
    ));
    let masked = |mask: &str| json!({"vehicle": {"name": stock.vehicle}, "update_mask": mask});
    let named = |name: &str| with(&update, "/vehicle/name", json!(name));
    rows.extend([
        invalid(CREATE, "nothing", json!({}), &["vehicle"]),
        invalid(
            CREATE,
            "an empty vehicle",
            json!({"vehicle": {}}),
            &["vehicle.display_name"],
        ),
        refused(
            CREATE,
            "an id that is taken",
            with(&create, "/vehicle_id", json!("taken")),
            EXISTS,
            &[],
        ),
        invalid(UPDATE, "nothing", json!({}), &["vehicle", "vehicle.name"]),
        invalid(UPDATE, "an unknown mask", masked("stage"), &["update_mask"]),
        invalid(
            UPDATE,
            "the name cleared",
            masked("displayName"),
            &["vehicle.display_name"],
        ),
        refused(
            UPDATE,
            "an unknown vehicle",
            named("vehicles/none"),
            NOT_FOUND,
            &[],
        ),
        refused(
            UPDATE,
            "a deleted vehicle",
            named(&stock.deleted_vehicle),
            DELETED,
            &[],
        ),
        refused(
            UPDATE,
            "a stale etag",
            with(&update, "/vehicle/etag", json!("0")),
            STALE,
            &[],
        ),
    ]);
    rows.extend(reading(stock));
    rows.extend(removing(stock));
    for (method, good) in [(CREATE, &create), (UPDATE, &update)] {
        let taken = with(good, "/request_id", json!("taken"));
        rows.push(refused(
            method,
            "a taken request id",
            taken,
            REUSED,
            &["request_id"],
        ));
        rows.extend(spoiled(
            method,
            good,
            "/request_id",
            &bad_request_ids(),
            "request_id",
        ));
    }
    rows
}

/// Every field of a vehicle with what may not be there.
fn fields(method: &'static str, good: &Value) -> Vec<Row> {
    let panel = |number: usize| json!({"panel_id": format!("panel-{number}")});
    let too_many: Vec<Value> = (0..201).map(panel).collect();
    let all = [
        ("registration", bad_text(32), "registration"),
        ("color", bad_text(200), "color"),
        ("note", bad_text(4000), "note"),
        ("panels", vec![json!(too_many)], "panels"),
        ("panels/1/panel_id", bad_ids(), "panels[1].panel_id"),
        (
            "panels/1/panel_id",
            vec![json!(""), json!("hood")],
            "panels[1].panel_id",
        ),
        (
            "panels/1/display_name",
            bad_text(200),
            "panels[1].display_name",
        ),
        ("panels/1/note", bad_text(4000), "panels[1].note"),
        (
            "panels/1/substrate",
            unknown_numbers(),
            "panels[1].substrate",
        ),
        ("panels/1/finish", unknown_numbers(), "panels[1].finish"),
        (
            "panels/1/condition",
            unknown_numbers(),
            "panels[1].condition",
        ),
        ("panels/1/area_m2", nothing_or_less(), "panels[1].area_m2"),
    ];
    let mut rows = Vec::new();
    for (pointer, values, field) in all {
        let (pointer, field) = (format!("/vehicle/{pointer}"), format!("vehicle.{field}"));
        rows.extend(spoiled(method, good, &pointer, &values, &field));
    }
    let mut bad = good.clone();
    bad["vehicle"]["display_name"] = longer_than(200);
    bad["vehicle"]["registration"] = longer_than(32);
    bad["vehicle"]["panels"] = json!([{"substrate": 99}]);
    let wanted = [
        "vehicle.display_name",
        "vehicle.registration",
        "vehicle.panels[0].panel_id",
        "vehicle.panels[0].substrate",
    ];
    rows.push(invalid(method, "much wrong at once", bad, &wanted));
    rows
}

fn reading(stock: &Stock) -> Vec<Row> {
    let good = json!({"name": stock.vehicle});
    let mut rows = vec![
        invalid(GET, "nothing", json!({}), &["name"]),
        refused(
            GET,
            "an unknown vehicle",
            json!({"name": "vehicles/none"}),
            NOT_FOUND,
            &[],
        ),
    ];
    rows.extend(spoiled(GET, &good, "/name", &bad_names("vehicles"), "name"));
    rows.extend(spoiled(
        LIST,
        &json!({}),
        "/page_size",
        &bad_page_sizes(),
        "page_size",
    ));
    for token in ["zz", "-1", "\u{0}"] {
        let request = json!({"page_token": token});
        let what = format!("page token {token:?}");
        rows.push(refused(LIST, what, request, PAGE_TOKEN, &["page_token"]));
    }
    rows
}

fn removing(stock: &Stock) -> Vec<Row> {
    const NOT_DELETED: (Code, &str) = (Code::FailedPrecondition, "RESOURCE_NOT_DELETED");
    const UNMET: (Code, &str) = (Code::FailedPrecondition, "CONDITIONS_UNMET");
    let mut rows = vec![
        refused(
            DELETE,
            "a live job",
            json!({"name": stock.vehicle}),
            UNMET,
            &[&stock.job],
        ),
        refused(
            DELETE,
            "a deleted vehicle",
            json!({"name": stock.deleted_vehicle}),
            DELETED,
            &[],
        ),
        refused(
            UNDELETE,
            "one that is not deleted",
            json!({"name": stock.vehicle}),
            NOT_DELETED,
            &[],
        ),
    ];
    for (method, name) in [(DELETE, &stock.vehicle), (UNDELETE, &stock.deleted_vehicle)] {
        let good = json!({"name": name});
        rows.extend([
            invalid(method, "nothing", json!({}), &["name"]),
            refused(
                method,
                "an unknown vehicle",
                json!({"name": "vehicles/none"}),
                NOT_FOUND,
                &[],
            ),
            refused(
                method,
                "a stale etag",
                json!({"name": name, "etag": "0"}),
                STALE,
                &[],
            ),
            refused(
                method,
                "a taken request id",
                json!({"name": name, "request_id": "taken"}),
                REUSED,
                &["request_id"],
            ),
        ]);
        rows.extend(spoiled(
            method,
            &good,
            "/name",
            &bad_names("vehicles"),
            "name",
        ));
        rows.extend(spoiled(
            method,
            &good,
            "/request_id",
            &bad_request_ids(),
            "request_id",
        ));
    }
    rows
}

fn ledger(stock: &Stock) -> Vec<Row> {
    let good = json!({"name": stock.vehicle, "floor_um": 30, "gauge": {"limit_um": 1}});
    let mut rows = spoiled(LEDGER, &good, "/name", &bad_names("vehicles"), "name");
    rows.extend(spoiled(
        LEDGER,
        &good,
        "/page_size",
        &bad_page_sizes(),
        "page_size",
    ));
    rows.extend(spoiled(LEDGER, &good, "/panel", &bad_ids(), "panel"));
    rows.extend(spoiled(
        LEDGER,
        &good,
        "/floor_um",
        &no_quantity(),
        "floor_um",
    ));
    rows.extend(spoiled(
        LEDGER,
        &good,
        "/gauge/limit_um",
        &no_quantity(),
        "gauge.limit_um",
    ));
    rows.extend([
        refused(
            LEDGER,
            "no such vehicle",
            json!({"name": "vehicles/none"}),
            NOT_FOUND,
            &[],
        ),
        refused(
            LEDGER,
            "a token of nobody",
            with(&good, "/page_token", json!("zz")),
            PAGE_TOKEN,
            &["page_token"],
        ),
    ]);
    rows
}
