//! BlendStrengths.

use serde_json::json;

use super::super::table::{Row, invalid, no_quantity, nothing_or_less, unknown_numbers, with};
use super::{infeasible, spoil_each};

const BLEND: &str = "CalculatorService/BlendStrengths";

pub(super) fn rows() -> Vec<Row> {
    let good = json!({
        "liquids": [{"percent": 70}, {"percent": 20}], "target_percent": 30, "total_ml": 1000,
    });
    let mut rows = spoil_each(
        BLEND,
        &good,
        &[
            ("liquids/0/percent", no_quantity()),
            ("target_percent", no_quantity()),
            ("total_ml", nothing_or_less()),
            ("substance", unknown_numbers()),
        ],
    );
    let by_amount = json!({"liquids": [{"percent": 70}, {"percent": 20, "volume_ml": 500}], "target_percent": 30});
    let all = [("liquids/1/volume_ml", nothing_or_less())];
    rows.extend(spoil_each(BLEND, &by_amount, &all));
    rows.extend([
        invalid(BLEND, "nothing", json!({}), &["liquids"]),
        infeasible(
            BLEND,
            "a target outside both strengths",
            with(&good, "/target_percent", json!(80)),
            "TARGET_OUTSIDE_STRENGTHS",
            "target_percent",
        ),
    ]);
    rows
}
