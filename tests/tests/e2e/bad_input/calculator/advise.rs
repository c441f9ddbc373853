//! AdvisePass.

use lamella_tests::shop;
use serde_json::{Value, json};

use super::super::table::{
    Row, bad_or_no_text, bad_text, invalid, no_quantity, no_temperature, nothing_or_less,
    unknown_numbers, with,
};
use super::spoil_each;

const ADVISE: &str = "CalculatorService/AdvisePass";

pub(super) fn rows() -> Vec<Row> {
    let good = json!({
        "substrate": "SUBSTRATE_STEEL", "clear_um": 45, "floor_um": 30, "ceiling_c": 50,
        "panel_now_c": 25,
        "passes": [{"rung": 1, "panel_c": 27, "removal_um": 0.5, "outcome": "PASS_OUTCOME_UNCHANGED"}],
    });
    let mut rows = spoil_each(
        ADVISE,
        &good,
        &[
            ("substrate", unknown_numbers()),
            ("clear_um", nothing_or_less()),
            ("floor_um", no_quantity()),
            ("ceiling_c", no_temperature()),
            ("panel_now_c", no_temperature()),
            (
                "passes/0/rung",
                vec![json!(0), json!(-1), json!(1000), json!(i32::MAX)],
            ),
            ("passes/0/panel_c", no_temperature()),
            ("passes/0/removal_um", no_quantity()),
            (
                "passes/0/outcome",
                [unknown_numbers(), vec![json!(0)]].concat(),
            ),
            ("override_reason", bad_text(1000)),
        ],
    );
    let pass = good["passes"][0].clone();
    let mut harder = shop::gentle_setup();
    harder["speed"] = json!(3);
    let ladder = |rungs: Value| with(&good, "/ladder", rungs);
    let own = ladder(json!([shop::gentle_setup(), harder]));
    let ranks = || vec![json!(0), json!(-1), json!(21)];
    // The first rung, alone, so that no step is at fault as well.
    let alone = ladder(json!([shop::gentle_setup()]));
    rows.extend(spoil_each(
        ADVISE,
        &alone,
        &[
            ("ladder/0/machine/name", bad_or_no_text(200)),
            ("ladder/0/machine/rank", ranks()),
            ("ladder/0/pad/rank", ranks()),
            ("ladder/0/liquid/rank", ranks()),
            ("ladder/0/speed", vec![json!(0), json!(-1), json!(11)]),
            ("ladder/0/pressure_kpa", nothing_or_less()),
            ("ladder/0/seconds", nothing_or_less()),
        ],
    ));
    let mut two_at_once = own.clone();
    two_at_once["ladder"][1]["seconds"] = json!(45);
    let mut milder = own.clone();
    milder["ladder"][1]["speed"] = json!(1);
    rows.extend([
        invalid(
            ADVISE,
            "201 passes",
            with(&good, "/passes", json!(vec![pass; 201])),
            &["passes"],
        ),
        invalid(
            ADVISE,
            "a rung that raises two factors",
            two_at_once,
            &["ladder[1]"],
        ),
        invalid(ADVISE, "a rung that is milder", milder, &["ladder[1]"]),
        invalid(
            ADVISE,
            "101 rungs",
            ladder(json!(vec![shop::gentle_setup(); 101])),
            &["ladder"],
        ),
        invalid(
            ADVISE,
            "a rung above an own ladder",
            with(&own, "/passes/0/rung", json!(3)),
            &["passes[0].rung"],
        ),
        invalid(
            ADVISE,
            "two things at once",
            json!({"substrate": 99, "clear_um": -1, "passes": [{"rung": 0, "outcome": 0}]}),
            &[
                "substrate",
                "clear_um",
                "passes[0].rung",
                "passes[0].outcome",
            ],
        ),
    ]);
    rows
}
