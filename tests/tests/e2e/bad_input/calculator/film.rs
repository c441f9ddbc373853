//! MeasureFilm.

use serde_json::{Value, json};

use super::super::table::{Row, bad_text, invalid, no_quantity, nothing_or_less, with, without};
use super::{infeasible, spoil_each};

const FILM: &str = "CalculatorService/MeasureFilm";

pub(super) fn rows() -> Vec<Row> {
    let good = json!({
        "pieces": [
            {"piece": "hood", "rectangle": {"width_mm": 1400, "height_mm": 1000}, "overwrap_mm": [10, 10, 10, 10]},
            {"piece": "mirror", "polygon": {"points": [
                {"x_mm": 0, "y_mm": 0}, {"x_mm": 200, "y_mm": 0}, {"x_mm": 100, "y_mm": 150},
            ]}},
        ],
        "rolls": [{"roll": "60 in", "width_mm": 1524, "length_mm": 15000}],
        "handling_margin_mm": 20, "gap_mm": 5,
    });
    let coordinates = vec![
        json!("NaN"),
        json!("Infinity"),
        json!("-Infinity"),
        json!(1e300),
    ];
    // One without a name is given one.
    let mut bad_or_blank = bad_text(200);
    bad_or_blank.push(json!(" \t "));
    let mut rows = spoil_each(
        FILM,
        &good,
        &[
            ("pieces/0/piece", bad_or_blank.clone()),
            ("pieces/0/rectangle/width_mm", nothing_or_less()),
            ("pieces/0/rectangle/height_mm", nothing_or_less()),
            ("pieces/0/overwrap_mm/2", no_quantity()),
            (
                "pieces/0/overwrap_mm",
                vec![json!([1, 2]), json!([1, 2, 3, 4, 5])],
            ),
            ("pieces/0/quantity", vec![json!(-1), json!(501)]),
            ("pieces/1/polygon/points/1/x_mm", coordinates.clone()),
            ("pieces/1/polygon/points/1/y_mm", coordinates),
            ("rolls/0/roll", bad_or_blank),
            ("rolls/0/width_mm", nothing_or_less()),
            ("rolls/0/length_mm", nothing_or_less()),
            ("handling_margin_mm", no_quantity()),
            ("gap_mm", no_quantity()),
        ],
    );
    let corners = |points: Value| with(&good, "/pieces/1/polygon/points", points);
    let crossing = json!([
        {"x_mm": 0, "y_mm": 0}, {"x_mm": 100, "y_mm": 100}, {"x_mm": 100, "y_mm": 0}, {"x_mm": 0, "y_mm": 100},
    ]);
    let piece = |number: usize| json!({"piece": format!("p{number}"), "rectangle": {"width_mm": 10, "height_mm": 10}});
    let many: Vec<Value> = (0..501).map(piece).collect();
    let roll = |number: usize| json!({"roll": format!("r{number}"), "width_mm": 1524});
    let rolls: Vec<Value> = (0..51).map(roll).collect();
    let points = "pieces[1].polygon.points";
    rows.extend([
        invalid(FILM, "nothing", json!({}), &["pieces", "rolls"]),
        invalid(
            FILM,
            "a piece without a shape",
            with(&good, "/pieces/0", json!({"piece": "hood"})),
            &["pieces[0].shape"],
        ),
        invalid(
            FILM,
            "a polygon of no corners",
            corners(json!([])),
            &[points],
        ),
        invalid(
            FILM,
            "a polygon of two corners",
            corners(json!([{"x_mm": 1}, {"y_mm": 1}])),
            &[points],
        ),
        invalid(
            FILM,
            "a polygon that crosses itself",
            corners(crossing),
            &[points],
        ),
        invalid(
            FILM,
            "a roll without a width",
            without(&good, "/rolls/0/width_mm"),
            &["rolls[0].width_mm"],
        ),
        invalid(
            FILM,
            "501 pieces",
            with(&good, "/pieces", json!(many)),
            &["pieces"],
        ),
        invalid(
            FILM,
            "51 rolls",
            with(&good, "/rolls", json!(rolls)),
            &["rolls"],
        ),
        infeasible(
            FILM,
            "a piece wider than any roll",
            with(&good, "/pieces/0/rectangle/width_mm", json!(1600)),
            "PIECE_FITS_NO_ROLL",
            "pieces[0]",
        ),
        infeasible(
            FILM,
            "a roll too short",
            with(&good, "/rolls/0/length_mm", json!(500)),
            "NO_ROLL_TAKES_ALL",
            "rolls",
        ),
    ]);
    rows
}
