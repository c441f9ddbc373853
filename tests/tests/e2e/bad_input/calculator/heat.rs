//! PredictHeat.

use serde_json::json;

use super::super::table::{
    Row, invalid, no_quantity, no_temperature, nothing_or_less, unknown_numbers, without,
};
use super::spoil_each;

const HEAT: &str = "CalculatorService/PredictHeat";

pub(super) fn rows() -> Vec<Row> {
    let good = json!({
        "panel": {"substrate": "SUBSTRATE_STEEL", "thickness_mm": 0.8},
        "start_c": 20, "air_c": 20, "pad_mm": 150,
        "motion": {"dual_action": {"orbits_per_min": 4000, "orbit_mm": 15, "turns_per_min": 200}},
        "segments": [{"seconds": 20, "pressure_kpa": 3}, {"seconds": 20}],
        "observations": [{"after_s": 10, "panel_c": 24}, {"after_s": 20, "panel_c": 28}],
        "ceiling_c": 50,
    });
    let orbit = "motion/dual_action/orbits_per_min";
    let mut rows = spoil_each(
        HEAT,
        &good,
        &[
            ("panel/substrate", unknown_numbers()),
            ("panel/thickness_mm", nothing_or_less()),
            ("start_c", no_temperature()),
            ("air_c", no_temperature()),
            ("pad_mm", vec![json!("NaN"), json!(-1), json!(0)]),
            ("area_cm2", nothing_or_less()),
            ("friction", nothing_or_less()),
            ("share_to_panel", nothing_or_less()),
            ("segments/0/pressure_kpa", no_quantity()),
            ("observations/0/panel_c", no_temperature()),
            (orbit, no_quantity()),
        ],
    );
    // Without observations, whose times would then lie beyond the segments.
    let ahead = without(&good, "/observations");
    let all = [("segments/0/seconds", nothing_or_less())];
    rows.extend(spoil_each(HEAT, &ahead, &all));
    rows.push(invalid(
        HEAT,
        "nothing",
        json!({}),
        &["motion", "start_c", "air_c", "pad_mm", "segments"],
    ));
    rows
}
