//! Dilute.

use serde_json::{Value, json};

use super::super::table::{Row, invalid, no_quantity, nothing_or_less, unknown_numbers, with};
use super::{infeasible, spoil_each};

const DILUTE: &str = "CalculatorService/Dilute";

pub(super) fn rows() -> Vec<Row> {
    let percents = [nothing_or_less(), vec![json!(100.01)]].concat();
    let good = json!({
        "stock": {"percent": 91}, "target": {"percent": 35}, "total_ml": 1000,
        "existing": {"volume_ml": 100, "strength": {"percent": 35}},
    });
    let mut rows = spoil_each(
        DILUTE,
        &good,
        &[
            ("stock/percent", percents.clone()),
            ("target/percent", percents.clone()),
            ("existing/strength/percent", percents),
            ("existing/volume_ml", nothing_or_less()),
            ("total_ml", nothing_or_less()),
            ("substance", unknown_numbers()),
        ],
    );
    let parts = with(
        &good,
        "/target",
        json!({"parts": {"product": 1, "water": 10}}),
    );
    let all = [
        ("target/parts/product", nothing_or_less()),
        ("target/parts/water", no_quantity()),
    ];
    rows.extend(spoil_each(DILUTE, &parts, &all));
    let injector = json!({
        "stock": {"percent": 100}, "target": {"percent": 1}, "total_ml": 1000,
        "injector": {"water_l_per_min": 8, "draw_l_per_min": 0.5},
    });
    let all = [
        ("injector/water_l_per_min", nothing_or_less()),
        ("injector/draw_l_per_min", nothing_or_less()),
    ];
    rows.extend(spoil_each(DILUTE, &injector, &all));
    let labels = [
        "",
        "abc",
        "40:60",
        "1:0:1",
        "-1:10",
        "1:",
        "NaN%",
        "150%",
        "1 in 0",
        "1\u{0}:10",
    ];
    let mut labels: Vec<Value> = labels.iter().map(|label| json!(label)).collect();
    labels.push(json!("1:10 ".repeat(20)));
    let label = with(&good, "/target", json!({"label": "1:10"}));
    rows.extend(spoil_each(DILUTE, &label, &[("target/label", labels)]));
    let wanted = ["injector.water_l_per_min", "injector.draw_l_per_min"];
    rows.extend([
        invalid(
            DILUTE,
            "nothing",
            json!({}),
            &["stock", "target", "total_ml"],
        ),
        invalid(
            DILUTE,
            "a strength of no form",
            with(&good, "/stock", json!({})),
            &["stock"],
        ),
        invalid(
            DILUTE,
            "an empty bottle description",
            with(&good, "/existing", json!({})),
            &["existing.volume_ml", "existing.strength"],
        ),
        invalid(
            DILUTE,
            "an empty injector",
            with(&injector, "/injector", json!({})),
            &wanted,
        ),
        infeasible(
            DILUTE,
            "a target stronger than the stock",
            json!({"stock": {"percent": 35}, "target": {"percent": 91}, "total_ml": 1000}),
            "TARGET_ABOVE_STOCK",
            "target.percent",
        ),
        infeasible(
            DILUTE,
            "more in the bottle than it is to hold",
            with(&good, "/existing/volume_ml", json!(1001)),
            "EXISTING_ABOVE_TOTAL",
            "existing.volume_ml",
        ),
        infeasible(
            DILUTE,
            "an injector that thins more than the stock allows",
            with(&injector, "/target/percent", json!(50)),
            "BOTTLE_ABOVE_STOCK",
            "target.percent",
        ),
    ]);
    rows
}
