//! The one model of expected values: what the calculators must answer, with
//! the source beside each figure. None of it was taken from the project itself.

use serde_json::{Value, json};

/// A question, the figures that must come back, and where they are from.
#[derive(Debug, Clone)]
pub struct Case {
    /// What it is about.
    pub what: &'static str,
    /// `SERVICE/METHOD`.
    pub method: &'static str,
    /// The request.
    pub request: Value,
    /// JSON pointer into the answer, expected value, tolerance.
    pub figures: Vec<(&'static str, f64, f64)>,
    /// Where the figures are from.
    pub source: &'static str,
}

/// Millilitres in a US fluid ounce. Source: NIST Handbook 44, appendix C
/// (128 to a gallon of 231 cubic inches of 25.4 mm).
pub const US_FLUID_OUNCE_ML: f64 = 29.573_529_562_5;

/// Wipe-down mixes that must agree: 91 % stock at 40 parts to 60 of water, and
/// 70 % stock at 1 to 1, and by how many points. Common practice, no source;
/// the percentages are arithmetic: 91 x 40/100 and 70 x 1/2.
pub const WIPE_DOWN: [(f64, f64, f64, f64); 2] = [(91.0, 40.0, 60.0, 36.4), (70.0, 1.0, 1.0, 35.0)];
/// How far the two wipe-downs may lie apart, points. Common practice, no source.
pub const WIPE_DOWN_AGREES_WITHIN: f64 = 1.5;

/// Panel temperatures of a heat-led correction on a composite panel of unknown
/// clear thickness, at successive half steps, Fahrenheit. Common practice, no
/// source.
pub const HEAT_LED_F: [f64; 3] = [80.6, 87.3, 95.0];

/// Fahrenheit to Celsius. Source: NIST Special Publication 811: exact.
pub fn celsius(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}

/// Every case of every calculator that answers figures.
pub fn cases() -> Vec<Case> {
    let all = [dilutions(), injectors(), film(), cures(), airs()];
    all.into_iter().flatten().collect()
}

fn dilute(
    what: &'static str,
    request: Value,
    concentrate_ml: f64,
    diluent_ml: f64,
    source: &'static str,
) -> Case {
    // Answers are rounded to the microlitre.
    let figures = vec![
        ("/concentrate_ml", concentrate_ml, 6e-4),
        ("/diluent_ml", diluent_ml, 6e-4),
    ];
    Case {
        what,
        method: "CalculatorService/Dilute",
        request,
        figures,
        source,
    }
}

fn dilutions() -> Vec<Case> {
    const GALLON_ML: f64 = 128.0 * US_FLUID_OUNCE_ML;
    let label = |what, label: &str, ounces: f64, source| {
        let request = json!({
            "stock": {"percent": 100}, "target": {"label": label}, "total_ml": GALLON_ML,
        });
        let concentrate_ml = ounces * US_FLUID_OUNCE_ML;
        dilute(
            what,
            request,
            concentrate_ml,
            GALLON_ML - concentrate_ml,
            source,
        )
    };
    vec![
        dilute(
            "91 % to 35 %",
            json!({"stock": {"percent": 91}, "target": {"percent": 35}, "total_ml": 1000}),
            384.615,
            615.385,
            "C1 V1 = C2 V2: 1000 x 35 / 91",
        ),
        dilute(
            "1 part and 10 parts",
            json!({
                "stock": {"percent": 100}, "target": {"parts": {"product": 1, "water": 10}},
                "total_ml": 1000,
            }),
            90.909,
            909.091,
            "parts by volume: 1000 / 11",
        ),
        dilute(
            "70 % and water to 25 %",
            json!({"stock": {"percent": 70}, "target": {"percent": 25}, "total_ml": 1000}),
            357.143,
            642.857,
            "published: pharmacy-tech-study.com, alligation page, 25 : 45 parts (it rounds to \
             360 + 640; exact 1000 x 5/14)",
        ),
        dilute(
            "a half-full bottle of 50 % topped up to 70 % with 95 %",
            json!({
                "stock": {"percent": 95}, "target": {"percent": 70}, "total_ml": 900,
                "existing": {"volume_ml": 500, "strength": {"percent": 50}},
            }),
            400.0,
            0.0,
            "published: alligation handout, scribd.com 151502467: 95 % and 50 % to 70 % are 20 : 25 \
             parts",
        ),
        label(
            "1:10 in a US gallon",
            "1:10",
            128.0 / 11.0,
            "published: dilution-control chart, docslib.org 12198174: 11.5 fl oz (exact 128/11)",
        ),
        label(
            "1:4 in a US gallon",
            "1:4",
            128.0 / 5.0,
            "published: dilution-control chart, docslib.org 12198174: 25.5 fl oz (exact 128/5)",
        ),
        label(
            "1 in 10 in a US gallon",
            "1 in 10",
            12.8,
            "published: janitorial dilution table, pages.infinit.net/pbanat: ounces = 128/N",
        ),
    ]
}

fn injectors() -> Vec<Case> {
    let case = |what, water, draw, target, total_ml, figures, source| Case {
        what,
        method: "CalculatorService/Dilute",
        request: json!({
            "stock": {"percent": 100}, "target": {"percent": target}, "total_ml": total_ml,
            "injector": {"water_l_per_min": water, "draw_l_per_min": draw},
        }),
        figures,
        source,
    };
    vec![
        case(
            "a jug of 5 US quarts behind 8 parts of water",
            8.0,
            1.0,
            10.0,
            160.0 * US_FLUID_OUNCE_ML,
            vec![
                ("/injector/water_parts", 8.0, 1e-9),
                // 45 quarts leave for 5 drawn.
                ("/injector/share_percent", 100.0 * 5.0 / 45.0, 1e-9),
                ("/injector/bottle_percent", 90.0, 1e-6),
            ],
            "published: ICS Magazine, The Dilution Solution, 5 Feb 2010: 5 qt + 40 qt = 45 qt",
        ),
        case(
            "8 L/min out, 0.5 L/min drawn",
            7.5,
            0.5,
            1.25,
            1000.0,
            vec![
                ("/injector/share_percent", 6.25, 1e-9),
                ("/injector/water_parts", 15.0, 1e-9),
                ("/injector/bottle_percent", 20.0, 1e-6),
                ("/injector/bottle_minutes", 2.0, 1e-9),
            ],
            "share = draw / (draw + water); a 1 L bottle at 0.5 L/min lasts 2 min",
        ),
    ]
}

fn film() -> Vec<Case> {
    let shoelace = |what, corners: &[(f64, f64)], square_units: f64, source| {
        // A unit of the published figure is 100 mm here.
        let points: Vec<Value> = corners
            .iter()
            .map(|(x, y)| json!({"x_mm": x * 100.0, "y_mm": y * 100.0}))
            .collect();
        Case {
            what,
            method: "CalculatorService/MeasureFilm",
            request: json!({
                "pieces": [{"piece": "outline", "polygon": {"points": points}}],
                "rolls": [{"roll": "60 in", "width_mm": 1524}],
            }),
            figures: vec![("/finished_m2", square_units / 100.0, 1e-9)],
            source,
        }
    };
    vec![
        shoelace(
            "a polygon of five corners",
            &[(3.0, 4.0), (5.0, 11.0), (12.0, 8.0), (9.0, 5.0), (5.0, 6.0)],
            30.0,
            "published: Rosetta Code, shoelace formula for polygonal area",
        ),
        shoelace(
            "a polygon with a hollow side",
            &[(2.0, 5.0), (8.0, 5.0), (8.0, 9.0), (5.0, 7.0), (2.0, 9.0)],
            18.0,
            "published: studen.com 17887259",
        ),
        Case {
            what: "two door skins side by side on a 60 in roll",
            method: "CalculatorService/MeasureFilm",
            request: json!({
                "pieces": [{
                    "piece": "door", "quantity": 2,
                    "rectangle": {"width_mm": 680, "height_mm": 380}, "overwrap_mm": [10],
                }],
                "rolls": [{"roll": "60 in", "width_mm": 1524}],
            }),
            figures: vec![
                ("/finished_m2", 2.0 * 0.68 * 0.38, 1e-9),
                ("/cut_m2", 2.0 * 0.70 * 0.40, 1e-9),
                ("/layouts/0/length_to_pull_mm", 400.0, 1e-6),
                ("/layouts/0/pulled_m2", 1.524 * 0.4, 1e-9),
                (
                    "/layouts/0/waste_percent",
                    100.0 * (1.0 - 1400.0 / 1524.0),
                    1e-6,
                ),
            ],
            source: "arithmetic: 2 x 700 mm fit 1524 mm (60 in of 25.4 mm exactly), so 400 mm are \
                     pulled",
        },
    ]
}

fn cures() -> Vec<Case> {
    let case = |what, coating: Value, panel_c, figures, source| Case {
        what,
        method: "CalculatorService/TimeCure",
        request: json!({"coating": coating, "panel_c": panel_c}),
        figures,
        source,
    };
    let arrhenius = |what, ea_kj: f64, panel_c: f64, rate: f64| {
        let coating = json!({
            "product": "hard coating", "dry_hours": 1, "activation_energy_kj_per_mol": ea_kj,
        });
        let source = "computed with scipy 1.17.1: k = A exp(-Ea/RT), R = 8.314462618 J/(mol K), \
                      relative to 20 C";
        case(
            what,
            coating,
            panel_c,
            vec![("/rate", rate, rate * 1e-4)],
            source,
        )
    };
    let worth_24 = |what, panel_c: f64, hours: f64| {
        let coating = json!({
            "product": "hard coating", "dry_hours": 24, "activation_energy_kj_per_mol": 60,
        });
        let figures = vec![("/milestones/0/after_hours", hours, 2e-3)];
        let source = "computed with scipy 1.17.1: hours at a constant temperature worth 24 h at \
                      20 C, Ea 60 kJ/mol";
        case(what, coating, panel_c, figures, source)
    };
    vec![
        arrhenius("Ea 50 kJ/mol at 30 C", 50.0, 30.0, 1.9674),
        arrhenius("Ea 83.144 kJ/mol at 10 C", 83.144, 10.0, 0.2998),
        arrhenius("Ea 70 kJ/mol at 60 C", 70.0, 60.0, 31.4442),
        worth_24("24 h at 20 C, done at 30 C", 30.0, 10.655),
        worth_24("24 h at 20 C, done at 5 C", 5.0, 90.520),
        case(
            "three times as fast over 30 K",
            json!({"product": "hard coating", "dry_hours": 1, "reference_c": 40, "q10": 1.4422}),
            70.0,
            vec![("/rate", 3.0, 1e-3)],
            "published: slotimports.com, Q10 how-to: 8 at 40 C and 24 at 70 C",
        ),
    ]
}

fn airs() -> Vec<Case> {
    let case = |what, air_c: f64, humidity: f64, dew: f64, wet_bulb: f64, ratio: f64| Case {
        what,
        method: "CalculatorService/DewPoint",
        request: json!({"air_c": air_c, "relative_humidity_percent": humidity}),
        figures: vec![
            ("/dew_point_c", dew, 0.05),
            ("/wet_bulb_c", wet_bulb, 0.05),
            ("/humidity_ratio", ratio, 1e-5),
        ],
        source: "computed with psychrolib 2.5.0 at 101325 Pa (CoolProp 8.0.0 agrees within 0.005 K \
                 on the dew point)",
    };
    let mut cases = vec![
        case("a cold bay", 10.0, 90.0, 8.437, 9.157, 0.006_859),
        case("a usual bay", 20.0, 50.0, 9.272, 13.783, 0.007_262),
        case("a warm bay", 25.0, 60.0, 16.701, 19.471, 0.011_895),
        case("a hot, damp bay", 35.0, 80.0, 31.025, 31.814, 0.028_920),
        case("frost", -5.0, 70.0, -9.108, -6.335, 0.001_731),
    ];
    cases.push(Case {
        what: "water in the air",
        method: "CalculatorService/DewPoint",
        request: json!({"air_c": 25, "relative_humidity_percent": 50, "panel_c": 25}),
        figures: vec![
            // 11.5 g/m3 as printed; the margin is 25 C less the dew point.
            ("/absolute_humidity_g_per_m3", 11.5, 0.05),
            ("/dew_margin_k", 25.0 - 13.86, 0.05),
        ],
        source: "computed with psychrolib 2.5.0: 25 C and 50 % hold 11.5 g/m3; dew point 13.86 C",
    });
    cases
}
