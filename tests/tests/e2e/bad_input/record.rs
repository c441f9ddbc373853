//! AppendRecord, with every kind of record.

use lamella_tests::shop::{self, LONG_AGO};
use serde_json::{Value, json};
use tonic::Code;

use super::table::{
    DELETED, NOT_FOUND, REUSED, Row, Stock, bad_ids, bad_names, bad_or_no_text, bad_request_ids,
    bad_text, bad_times, invalid, no_quantity, no_temperature, nothing_or_less, path, refused,
    spoiled, unknown_numbers, with, without,
};

const APPEND: &str = "JobService/AppendRecord";

pub(crate) fn rows(stock: &Stock) -> Vec<Row> {
    let mut rows = whole(stock);
    for (kind, entry) in shop::records() {
        let good = json!({"parent": stock.job, "record": {"record_time": LONG_AGO, kind: entry}});
        for (pointer, values) in spoils(kind) {
            let path = format!("record.{kind}.{}", path(pointer));
            let pointer = format!("/record/{kind}/{pointer}");
            rows.extend(spoiled(APPEND, &good, &pointer, &values, &path));
        }
        for pointer in required(kind) {
            let field = format!("record.{kind}.{}", path(pointer));
            let request = without(&good, &format!("/record/{kind}/{pointer}"));
            // Without air, what it would have to hold is named as well.
            let inside: &[&str] = if *pointer == "air" {
                &["air_c", "relative_humidity_percent"]
            } else {
                &[]
            };
            let inside: Vec<String> = inside
                .iter()
                .map(|name| format!("{field}.{name}"))
                .collect();
            let wanted: Vec<&str> = std::iter::once(&field)
                .chain(&inside)
                .map(String::as_str)
                .collect();
            rows.push(invalid(APPEND, format!("no {field}"), request, &wanted));
        }
    }
    rows.extend(together(stock));
    rows
}

/// What is wrong with the request or the record as a whole.
fn whole(stock: &Stock) -> Vec<Row> {
    let note = json!({"text": "dusty"});
    let to = |job: &str, kind: &str, entry: &Value| json!({"parent": job, "record": {kind: entry}});
    let good = to(&stock.job, "note", &note);
    let off = json!({"part": "badge", "kept_at": "tray"});
    let mix = &shop::records()[2].1;
    let mut rows = vec![
        invalid(APPEND, "nothing", json!({}), &["parent", "record"]),
        invalid(
            APPEND,
            "no entry",
            json!({"parent": stock.job, "record": {}}),
            &["record.entry"],
        ),
        refused(
            APPEND,
            "an unknown job",
            to("jobs/none", "note", &note),
            NOT_FOUND,
            &[],
        ),
        refused(
            APPEND,
            "a deleted job",
            to(&stock.deleted_job, "note", &note),
            DELETED,
            &[],
        ),
        refused(
            APPEND,
            "a job that is over",
            to(&stock.cancelled_job, "part_off", &off),
            (Code::FailedPrecondition, "JOB_CLOSED"),
            &[],
        ),
        invalid(
            APPEND,
            "a panel, but no vehicle",
            to(&stock.bare_job, "mix", mix),
            &["record.mix.panels[0]"],
        ),
        refused(
            APPEND,
            "a part that is not off",
            to(&stock.job, "part_refit", &json!({"part": "badge"})),
            (Code::FailedPrecondition, "CONDITIONS_UNMET"),
            &["parts/badge"],
        ),
        refused(
            APPEND,
            "a taken request id",
            with(&good, "/request_id", json!("taken")),
            REUSED,
            &["request_id"],
        ),
        invalid(
            APPEND,
            "a time far ahead",
            with(&good, "/record/record_time", json!("2500-01-01T00:00:00Z")),
            &["record.record_time"],
        ),
    ];
    rows.extend(spoiled(
        APPEND,
        &good,
        "/parent",
        &bad_names("jobs"),
        "parent",
    ));
    rows.extend(spoiled(
        APPEND,
        &good,
        "/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    rows.extend(spoiled(
        APPEND,
        &good,
        "/record/author",
        &bad_text(200),
        "record.author",
    ));
    let times = bad_times();
    rows.extend(spoiled(
        APPEND,
        &good,
        "/record/record_time",
        &times,
        "record.record_time",
    ));
    rows
}

/// What is wrong only in company, and several things at once.
fn together(stock: &Stock) -> Vec<Row> {
    let to = |kind: &str, entry: Value| json!({"parent": stock.job, "record": {kind: entry}});
    let labour = |from: &str, until: &str| {
        let entry = json!({
            "worker": "first worker", "activity": "wash", "from_time": from, "to_time": until,
        });
        to("labour", entry)
    };
    let mut half_window = shop::records()[4].1.clone();
    half_window["coating"]
        .as_object_mut()
        .unwrap()
        .remove("recoat_close_hours");
    let mut twice = shop::records()[4].1.clone();
    twice["panels"] = json!(["hood", "hood"]);
    let mut backwards = shop::records()[4].1.clone();
    backwards["coating"]["recoat_open_hours"] = json!(30);
    vec![
        invalid(
            APPEND,
            "work that ends before it begins",
            labour("2024-01-15T09:00:00Z", "2024-01-15T08:00:00Z"),
            &["record.labour.to_time"],
        ),
        invalid(
            APPEND,
            "a day and a second of work",
            labour("2024-01-15T08:00:00Z", "2024-01-16T08:00:01Z"),
            &["record.labour.to_time"],
        ),
        invalid(
            APPEND,
            "half a recoat window",
            to("coat_layer", half_window),
            &["record.coat_layer.coating.recoat_close_hours"],
        ),
        invalid(
            APPEND,
            "a recoat window that ends before it opens",
            to("coat_layer", backwards),
            &["record.coat_layer.coating.recoat_close_hours"],
        ),
        invalid(
            APPEND,
            "a panel twice",
            to("coat_layer", twice),
            &["record.coat_layer.panels[1]"],
        ),
        invalid(
            APPEND,
            "an empty pass",
            to("pass", json!({})),
            &[
                "record.pass.panel",
                "record.pass.setup",
                "record.pass.outcome",
            ],
        ),
        invalid(
            APPEND,
            "an empty mix",
            to("mix", json!({})),
            &[
                "record.mix.product",
                "record.mix.concentrate_ml",
                "record.mix.diluent_ml",
            ],
        ),
        invalid(
            APPEND,
            "empty readings",
            to("gauge_readings", json!({})),
            &[
                "record.gauge_readings.panel",
                "record.gauge_readings.readings_um",
            ],
        ),
        invalid(
            APPEND,
            "501 readings",
            to(
                "gauge_readings",
                json!({"panel": "hood", "readings_um": vec![100; 501]}),
            ),
            &["record.gauge_readings.readings_um"],
        ),
        invalid(
            APPEND,
            "three wrong readings of four",
            to(
                "gauge_readings",
                json!({"panel": "hood", "readings_um": [0, 100, "NaN", 5001]}),
            ),
            &[
                "record.gauge_readings.readings_um[0]",
                "record.gauge_readings.readings_um[2]",
                "record.gauge_readings.readings_um[3]",
            ],
        ),
    ]
}

fn panel_ids() -> Vec<Value> {
    let mut all = bad_ids();
    // Well formed, but not a panel of this vehicle.
    all.push(json!("left-wing"));
    all
}

/// What may not be where, in each kind of record.
fn spoils(kind: &str) -> Vec<(&'static str, Vec<Value>)> {
    let ranks = || vec![json!(0), json!(-1), json!(21), json!(i32::MAX)];
    match kind {
        "gauge_readings" => vec![
            ("panel", panel_ids()),
            ("spot", bad_text(200)),
            ("gauge", bad_text(200)),
            ("readings_um/1", nothing_or_less()),
        ],
        "pass" => vec![
            ("panel", panel_ids()),
            ("panel_c", no_temperature()),
            ("removal_um", no_quantity()),
            ("override_reason", bad_text(1000)),
            ("outcome", [unknown_numbers(), vec![json!(0)]].concat()),
            ("setup/machine/name", bad_or_no_text(200)),
            ("setup/machine/rank", ranks()),
            ("setup/pad/rank", ranks()),
            ("setup/liquid/rank", ranks()),
            ("setup/speed", vec![json!(0), json!(-1), json!(11)]),
            ("setup/pressure_kpa", nothing_or_less()),
            ("setup/seconds", nothing_or_less()),
        ],
        "mix" => vec![
            ("product", bad_or_no_text(200)),
            ("concentrate_ml", nothing_or_less()),
            ("diluent_ml", no_quantity()),
            (
                "strength_percent",
                [nothing_or_less(), vec![json!(100.01)]].concat(),
            ),
            ("lot", bad_text(200)),
            ("panels/0", panel_ids()),
        ],
        "film_piece" => vec![
            ("panel", panel_ids()),
            ("film", bad_or_no_text(200)),
            ("roll", bad_text(200)),
            ("lot", bad_text(200)),
            ("width_mm", nothing_or_less()),
            ("length_mm", nothing_or_less()),
            ("settle_hours", no_quantity()),
        ],
        "coat_layer" => vec![
            ("panels/1", panel_ids()),
            ("lot", bad_text(200)),
            ("layer", vec![json!(-1), json!(21)]),
            ("panel_c", no_temperature()),
            ("air/air_c", no_temperature()),
            (
                "air/relative_humidity_percent",
                [nothing_or_less(), vec![json!(100.01)]].concat(),
            ),
            ("air/pressure_pa", nothing_or_less()),
            ("coating/product", bad_or_no_text(200)),
            ("coating/reference_c", no_temperature()),
            ("coating/activation_energy_kj_per_mol", nothing_or_less()),
            ("coating/dry_hours", nothing_or_less()),
            ("coating/min_panel_c", no_temperature()),
            ("coating/max_relative_humidity_percent", no_quantity()),
        ],
        "bay_air" => vec![
            ("panel_c", no_temperature()),
            ("air/air_c", no_temperature()),
            ("air/relative_humidity_percent", nothing_or_less()),
            ("air/pressure_pa", nothing_or_less()),
        ],
        "labour" => vec![
            ("worker", bad_or_no_text(200)),
            ("activity", bad_or_no_text(200)),
            ("from_time", bad_times()),
            ("to_time", bad_times()),
        ],
        "part_off" => vec![
            ("part", bad_or_no_text(200)),
            ("fasteners", bad_text(1000)),
            ("kept_at", bad_or_no_text(200)),
        ],
        "part_refit" => vec![("part", bad_or_no_text(200)), ("note", bad_text(1000))],
        "note" => vec![("text", bad_or_no_text(4000)), ("panel", panel_ids())],
        other => panic!("no bad values for {other}"),
    }
}

/// What must be there, in each kind of record.
fn required(kind: &str) -> &'static [&'static str] {
    match kind {
        "gauge_readings" => &["panel", "readings_um"],
        "pass" => &["panel", "setup", "outcome"],
        "mix" => &["product", "concentrate_ml", "diluent_ml"],
        "film_piece" => &["panel", "film", "width_mm", "length_mm"],
        "coat_layer" => &[
            "panels",
            "coating",
            "panel_c",
            "coating/product",
            "coating/dry_hours",
        ],
        "bay_air" => &["air", "air/air_c", "air/relative_humidity_percent"],
        "labour" => &["worker", "activity", "from_time", "to_time"],
        "part_off" => &["part", "kept_at"],
        "part_refit" => &["part"],
        "note" => &["text"],
        other => panic!("nothing required of {other}"),
    }
}
