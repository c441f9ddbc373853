//! TimeCure and DewPoint.

use lamella_tests::shop;
use serde_json::json;

use super::super::table::{
    Row, bad_or_no_text, bad_times, invalid, no_quantity, no_temperature, nothing_or_less, with,
    without,
};
use super::spoil_each;

const CURE: &str = "CalculatorService/TimeCure";
const DEW: &str = "CalculatorService/DewPoint";

pub(super) fn rows() -> Vec<Row> {
    [cure(), dew()].concat()
}

fn cure() -> Vec<Row> {
    let good = json!({
        "coating": shop::coating(12.0), "panel_c": 20,
        "air": {"air_c": 20, "relative_humidity_percent": 50},
        "applied_time": "2024-01-15T08:00:00Z",
    });
    let mut rows = spoil_each(
        CURE,
        &good,
        &[
            ("panel_c", no_temperature()),
            ("applied_time", bad_times()),
            ("air/air_c", no_temperature()),
            ("air/relative_humidity_percent", nothing_or_less()),
            ("air/pressure_pa", nothing_or_less()),
            ("coating/product", bad_or_no_text(200)),
            ("coating/reference_c", no_temperature()),
            ("coating/activation_energy_kj_per_mol", nothing_or_less()),
            ("coating/dry_hours", nothing_or_less()),
            ("coating/wash_hours", no_quantity()),
            ("coating/full_cure_hours", no_quantity()),
            ("coating/wipe_earliest_minutes", no_quantity()),
            ("coating/recoat_open_hours", no_quantity()),
            ("coating/min_panel_c", no_temperature()),
            ("coating/max_panel_c", no_temperature()),
            ("coating/max_relative_humidity_percent", no_quantity()),
        ],
    );
    let mut q10 = without(&good, "/coating/activation_energy_kj_per_mol");
    q10["coating"]["q10"] = json!(2);
    rows.extend(spoil_each(
        CURE,
        &q10,
        &[("coating/q10", nothing_or_less())],
    ));
    let after = "coating.recoat_close_hours";
    rows.extend([
        invalid(CURE, "nothing", json!({}), &["coating", "panel_c"]),
        invalid(
            CURE,
            "half a window",
            without(&good, "/coating/recoat_close_hours"),
            &[after],
        ),
        invalid(
            CURE,
            "a window that ends first",
            with(&good, "/coating/recoat_open_hours", json!(25)),
            &[after],
        ),
        invalid(
            CURE,
            "no dry time",
            without(&good, "/coating/dry_hours"),
            &["coating.dry_hours"],
        ),
        invalid(
            CURE,
            "air of no temperature",
            without(&good, "/air/air_c"),
            &["air.air_c"],
        ),
    ]);
    rows
}

fn dew() -> Vec<Row> {
    let good = json!({
        "air_c": 25, "relative_humidity_percent": 60, "pressure_pa": 101_325, "panel_c": 20,
    });
    let mut rows = spoil_each(
        DEW,
        &good,
        &[
            ("air_c", no_temperature()),
            (
                "relative_humidity_percent",
                [nothing_or_less(), vec![json!(100.01)]].concat(),
            ),
            ("pressure_pa", nothing_or_less()),
            ("panel_c", no_temperature()),
        ],
    );
    rows.extend([
        invalid(DEW, "nothing", json!({}), &["air_c", "relative_humidity_percent"]),
        invalid(
            DEW,
            "all wrong at once",
            json!({"air_c": "NaN", "relative_humidity_percent": 0, "pressure_pa": 1, "panel_c": -300}),
            &["air_c", "relative_humidity_percent", "pressure_pa", "panel_c"],
        ),
    ]);
    rows
}
