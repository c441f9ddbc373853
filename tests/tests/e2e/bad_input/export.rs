//! ExportService.

use serde_json::{Value, json};

use super::table::{Row, invalid, spoiled, unknown_numbers};

const EXPORT: &str = "ExportService/ExportDay";

pub(crate) fn rows() -> Vec<Row> {
    let good = json!({"from_date": "2026-03-01", "to_date": "2026-03-31", "format": "EXPORT_FORMAT_CSV", "datasets": ["EXPORT_DATASET_JOBS"]});
    let no_days: Vec<Value> = [
        "2026-02-30",
        "2026-3-1",
        "20260301",
        "2026-03-01T00:00:00Z",
        "tomorrow",
        "+002026-03-01",
        "1970-01-01",
        "9999-12-31",
        "\u{0}",
    ]
    .map(|day| json!(day))
    .to_vec();
    let mut rows = vec![
        invalid(EXPORT, "nothing", json!({}), &["from_date", "format"]),
        invalid(
            EXPORT,
            "days that run backwards",
            json!({"from_date": "2026-03-02", "to_date": "2026-03-01", "format": "EXPORT_FORMAT_CSV"}),
            &["to_date"],
        ),
        invalid(
            EXPORT,
            "more than a year",
            json!({"from_date": "2026-01-01", "to_date": "2027-01-02", "format": "EXPORT_FORMAT_CSV"}),
            &["to_date"],
        ),
        invalid(
            EXPORT,
            "a dataset twice, and one unknown",
            json!({"from_date": "today", "format": "EXPORT_FORMAT_CSV", "datasets": [1, 1, 99]}),
            &["datasets[1]", "datasets[2]"],
        ),
        invalid(
            EXPORT,
            "everything at once",
            json!({"from_date": "x", "to_date": "y", "format": 99, "datasets": [0]}),
            &["from_date", "to_date", "format", "datasets[0]"],
        ),
    ];
    rows.extend(spoiled(EXPORT, &good, "/from_date", &no_days, "from_date"));
    rows.extend(spoiled(EXPORT, &good, "/to_date", &no_days, "to_date"));
    rows.extend(spoiled(
        EXPORT,
        &good,
        "/format",
        &unknown_numbers(),
        "format",
    ));
    rows.extend(spoiled(
        EXPORT,
        &good,
        "/datasets/0",
        &unknown_numbers(),
        "datasets[0]",
    ));
    let zones = ["Europe/Nowhere", "../etc/passwd", "+01:00", "\u{0}"].map(|zone| json!(zone));
    rows.extend(spoiled(
        EXPORT,
        &json!({"from_date": "today", "format": 1, "time_zone": ""}),
        "/time_zone",
        &zones,
        "time_zone",
    ));
    rows
}
