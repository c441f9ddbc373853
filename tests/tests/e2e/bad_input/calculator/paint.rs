//! AssessPaint and MeasureRemoval.

use serde_json::json;

use super::super::table::{Row, bad_or_no_text, invalid, no_quantity, unknown_numbers, with};
use super::spoil_each;

const ASSESS: &str = "CalculatorService/AssessPaint";
const REMOVAL: &str = "CalculatorService/MeasureRemoval";

pub(super) fn rows() -> Vec<Row> {
    [assess(), removal()].concat()
}

fn assess() -> Vec<Row> {
    let good = json!({
        "panels": [{
            "panel": "hood", "substrate": "SUBSTRATE_STEEL",
            "spots": [{"spot": "left", "readings_um": [108, 111, 107]}],
            "removed_um": 1.5, "removed_standard_um": 0.5,
        }],
        "gauge": {"limit_um": 1, "limit_percent": 2, "resolution_um": 1},
        "target_min_um": 80, "target_max_um": 160, "floor_um": 30,
    });
    let mut rows = spoil_each(
        ASSESS,
        &good,
        &[
            ("panels/0/panel", bad_or_no_text(200)),
            ("panels/0/substrate", unknown_numbers()),
            ("panels/0/spots/0/readings_um/1", no_quantity()),
            ("panels/0/removed_um", no_quantity()),
            ("gauge/limit_um", no_quantity()),
            ("gauge/limit_percent", no_quantity()),
            ("gauge/resolution_um", no_quantity()),
            ("floor_um", no_quantity()),
        ],
    );
    let second_unit = "panels[0].spots[0].readings_mil";
    let both = with(&good, "/panels/0/spots/0/readings_mil", json!([4.2]));
    rows.extend([
        invalid(ASSESS, "nothing", json!({}), &["panels"]),
        invalid(ASSESS, "two units at once", both, &[second_unit]),
        invalid(
            ASSESS,
            "a target that ends before it begins",
            with(&good, "/target_max_um", json!(60)),
            &["target_max_um"],
        ),
    ]);
    rows
}

fn removal() -> Vec<Row> {
    let good = json!({
        "before": [{"spot": "a", "readings_um": [110, 111, 112]}],
        "after": [{"spot": "a", "readings_um": [106, 107, 108]}],
    });
    let mut rows = spoil_each(
        REMOVAL,
        &good,
        &[
            ("before/0/readings_um/0", no_quantity()),
            ("after/0/readings_um/2", no_quantity()),
        ],
    );
    rows.push(invalid(REMOVAL, "nothing", json!({}), &["before", "after"]));
    rows
}
