//! Held against PsychroLib and published tables; the source stands beside each.

use proptest::prelude::*;

use super::*;

fn air(air_c: f64, humidity: f64) -> AirInput {
    AirInput {
        air_c,
        relative_humidity_percent: humidity,
        pressure_pa: None,
        altitude_m: None,
    }
}

/// PsychroLib 2.5.0: `GetTDewPointFromRelHum`, `GetTWetBulbFromRelHum`,
/// `GetHumRatioFromRelHum` at 101 325 Pa.
const PSYCHROLIB: [(f64, f64, f64, f64, f64); 13] = [
    (5.0, 80.0, 1.841, 3.588, 0.004_314),
    (10.0, 50.0, 0.063, 5.536, 0.003_792),
    (10.0, 90.0, 8.437, 9.157, 0.006_859),
    (15.0, 60.0, 7.307, 10.818, 0.006_345),
    (20.0, 50.0, 9.272, 13.783, 0.007_262),
    (20.0, 65.0, 13.227, 15.800, 0.009_473),
    (20.0, 85.0, 17.403, 18.278, 0.012_447),
    (25.0, 60.0, 16.701, 19.471, 0.011_895),
    (25.0, 85.0, 22.302, 23.060, 0.016_987),
    (30.0, 40.0, 14.936, 20.064, 0.010_603),
    (30.0, 70.0, 23.928, 25.503, 0.018_795),
    (35.0, 80.0, 31.025, 31.814, 0.028_920),
    (-5.0, 70.0, -9.108, -6.335, 0.001_731),
];

/// The same calls over the whole range in which agreement is promised, run
/// for this test.
const PSYCHROLIB_RANGE: [(f64, f64, f64, f64, f64); 32] = [
    (-20.0, 5.0, -47.787, -21.463, 0.000_032),
    (-20.0, 30.0, -31.952, -21.076, 0.000_190),
    (-20.0, 60.0, -25.213, -20.612, 0.000_381),
    (-20.0, 100.0, -20.000, -20.000, 0.000_634),
    (-10.0, 5.0, -39.897, -13.163, 0.000_080),
    (-10.0, 30.0, -22.894, -12.309, 0.000_479),
    (-10.0, 60.0, -15.630, -11.305, 0.000_959),
    (-10.0, 100.0, -10.000, -10.000, 0.001_599),
    (0.5, 5.0, -31.737, -5.579, 0.000_195),
    (0.5, 30.0, -13.474, -3.872, 0.001_169),
    (0.5, 60.0, -5.642, -1.934, 0.002_343),
    (0.5, 100.0, 0.500, 0.500, 0.003_915),
    (10.0, 5.0, -25.303, 0.919, 0.000_377),
    (10.0, 30.0, -6.010, 3.561, 0.002_270),
    (10.0, 60.0, 2.600, 6.481, 0.004_556),
    (10.0, 100.0, 10.000, 10.000, 0.007_630),
    (20.0, 5.0, -18.697, 6.731, 0.000_719),
    (20.0, 30.0, 1.914, 10.853, 0.004_337),
    (20.0, 60.0, 12.007, 15.144, 0.008_734),
    (20.0, 100.0, 20.000, 20.000, 0.014_695),
    (30.0, 5.0, -12.259, 11.914, 0.001_306),
    (30.0, 30.0, 10.548, 17.972, 0.007_918),
    (30.0, 60.0, 21.388, 23.812, 0.016_041),
    (30.0, 100.0, 30.000, 30.000, 0.027_203),
    (40.0, 5.0, -5.986, 16.649, 0.002_274),
    (40.0, 30.0, 19.125, 25.093, 0.013_900),
    (40.0, 60.0, 30.741, 32.561, 0.028_436),
    (40.0, 100.0, 40.000, 40.000, 0.048_883),
    (50.0, 5.0, 0.141, 21.101, 0.003_813),
    (50.0, 30.0, 27.646, 32.330, 0.023_605),
    (50.0, 60.0, 40.067, 41.407, 0.049_072),
    (50.0, 100.0, 50.000, 50.000, 0.086_327),
];

#[test]
fn agrees_with_psychrolib() {
    for (air_c, humidity, dew, wet, ratio) in PSYCHROLIB.into_iter().chain(PSYCHROLIB_RANGE) {
        let found = dew_point(&air(air_c, humidity), None).unwrap();
        assert!(
            (found.dew_point_c - dew).abs() < 0.05,
            "{air_c} {humidity}: {found:?}"
        );
        assert!(
            (found.wet_bulb_c - wet).abs() < 0.05,
            "{air_c} {humidity}: {found:?}"
        );
        assert!(
            (found.humidity_ratio - ratio).abs() < 5e-6,
            "{air_c} {humidity}: {found:?}"
        );
    }
}

#[test]
fn saturation_pressure_agrees_with_the_published_table() {
    // ASHRAE Fundamentals 2017, chapter 1, table 3 (secondary: PsychroLib's own tests);
    // the formula holds within 300 ppm of it.
    for (celsius, pa) in [
        (-20.0, 103.24),
        (-5.0, 401.74),
        (5.0, 872.6),
        (25.0, 3169.7),
        (50.0, 12351.3),
    ] {
        let error = (saturation_pa(celsius) / pa - 1.0).abs();
        assert!(error < 3e-4, "{celsius} C: {error}");
    }
}

#[test]
fn absolute_humidity_agrees_with_the_computed_value() {
    // Check values, section 2: 25 C, 50 % RH holds 69.2 grains/lb and 11.5 g/m3.
    let found = dew_point(&air(25.0, 50.0), None).unwrap();
    assert!(
        (found.absolute_humidity_g_per_m3 - 11.5).abs() < 0.05,
        "{found:?}"
    );
    assert!((found.grains_per_lb - 69.2).abs() < 0.05, "{found:?}");
}

#[test]
fn published_examples_agree() {
    // PsychroLib documentation example: 25 C, 80 %: 21.3094 C.
    let found = dew_point(&air(25.0, 80.0), None).unwrap();
    assert!((found.dew_point_c - 21.3094).abs() < 5e-4, "{found:?}");
    // ASHRAE Fundamentals 2017, chapter 1, example 1 (secondary: PsychroLib's own tests):
    // 40 C, 14 % RH: W 0.0065, wet bulb 20 C, dew point 7 C, all rounded; the dew point
    // agrees only to 0.5 K.
    let found = dew_point(&air(40.0, 14.0), None).unwrap();
    assert!((found.humidity_ratio - 0.0065).abs() < 1e-4, "{found:?}");
    assert!((found.wet_bulb_c - 20.0).abs() < 0.1, "{found:?}");
    assert!((found.dew_point_c - 7.0).abs() < 0.5, "{found:?}");
}

#[test]
fn thin_air_holds_more_vapour_per_kilogram() {
    // Standard atmosphere at 1000 m, 89 875 Pa: ASHRAE Fundamentals 2017, chapter 1, table 1
    // (secondary: PsychroLib's own tests). PsychroLib 2.5.0, run for this test:
    // W at 25 C and 50 % there.
    let high = AirInput {
        pressure_pa: Some(89_875.0),
        ..air(25.0, 50.0)
    };
    let found = dew_point(&high, None).unwrap();
    assert!((found.humidity_ratio - 0.011_162).abs() < 1e-6, "{found:?}");
    let low = dew_point(&air(25.0, 50.0), None).unwrap();
    assert!((found.dew_point_c - low.dew_point_c).abs() < 1e-12);
}

/// `GetTWetBulbFromRelHum` of PsychroLib 2.5.0, run for this test, where a wet bulb over ice
/// and one over water both answer.
#[test]
fn near_freezing_the_wet_bulb_is_the_one_of_psychrolib() {
    for (air_c, humidity, pressure_pa, wet) in [
        (10.1, 5.0, 89_875.0, 0.3297),
        (9.5, 5.0, 101_325.0, 0.6086),
        (5.0, 35.0, 101_325.0, 0.1825),
    ] {
        let input = AirInput {
            pressure_pa: Some(pressure_pa),
            ..air(air_c, humidity)
        };
        let found = dew_point(&input, None).unwrap();
        assert!(
            (found.wet_bulb_c - wet).abs() < 0.002,
            "{air_c} {humidity}: {found:?}"
        );
    }
}

#[test]
fn a_frost_point_is_called_one() {
    assert!(dew_point(&air(-5.0, 70.0), None).unwrap().frost);
    assert!(!dew_point(&air(20.0, 50.0), None).unwrap().frost);
}

#[test]
fn air_drier_than_the_formula_reaches_is_refused() {
    let error = dew_point(&air(-20.0, 1e-4), None).unwrap_err().to_string();
    assert!(
        error.starts_with("relative_humidity_percent: must leave"),
        "{error}"
    );
    assert!(dew_point(&air(20.0, 1e-3), None).is_ok());
}

#[test]
fn a_panel_near_the_dew_point_is_cautioned() {
    let near = dew_point(&air(20.0, 85.0), Some(20.0)).unwrap();
    assert_eq!(near.cautions[0].code, CautionCode::DewPointNear);
    assert!(
        near.cautions[0]
            .text
            .contains("2.6 K (4.7 F) above the dew point of 17.4 C (63.3 F)")
    );
    let wet = dew_point(&air(20.0, 50.0), Some(9.0)).unwrap();
    assert!(
        wet.cautions[0].text.contains("at or below the dew point"),
        "{wet:?}"
    );
    let humid = dew_point(&air(20.0, 85.1), None).unwrap();
    assert_eq!(humid.cautions[0].code, CautionCode::HumidityHigh);
    let dry = dew_point(&air(20.0, 50.0), Some(20.0)).unwrap();
    assert_eq!(dry.cautions, []);
}

/// Standard atmosphere: ASHRAE Fundamentals 2017, chapter 1, table 1 (secondary: PsychroLib's own
/// tests).
#[test]
fn altitude_stands_for_pressure_and_is_echoed_as_one() {
    for (altitude_m, pa) in [(0.0, 101_325.0), (500.0, 95_461.0), (1000.0, 89_875.0)] {
        let input = AirInput {
            altitude_m: Some(altitude_m),
            ..air(25.0, 50.0)
        };
        let found = dew_point(&input, None).unwrap();
        assert!((found.pressure_pa - pa).abs() < 1.0, "{found:?}");
    }
    let both = AirInput {
        pressure_pa: Some(90_000.0),
        altitude_m: Some(1000.0),
        ..air(25.0, 50.0)
    };
    let error = dew_point(&both, None).unwrap_err().to_string();
    assert!(
        error.starts_with("altitude_m: must not be given together"),
        "{error}"
    );
}

#[test]
fn every_bad_value_is_named() {
    let bad = AirInput {
        air_c: f64::NAN,
        relative_humidity_percent: 200.0,
        pressure_pa: Some(-1.0),
        altitude_m: Some(9000.0),
    };
    let error = dew_point(&bad, Some(f64::INFINITY))
        .unwrap_err()
        .to_string();
    for field in [
        "air_c",
        "relative_humidity_percent",
        "pressure_pa",
        "altitude_m",
        "panel_c",
    ] {
        assert!(error.contains(field), "{error}");
    }
}

proptest! {
    #[test]
    fn dew_point_lies_below_wet_bulb_below_air(t in -20.0..60.0f64, rh in 0.5..100.0f64) {
        let found = dew_point(&air(t, rh), None).unwrap();
        prop_assert!(found.dew_point_c <= found.wet_bulb_c + 1e-9);
        prop_assert!(found.wet_bulb_c <= t + 1e-6);
    }

    #[test]
    fn no_number_makes_it_panic(t: f64, rh: f64, p: f64, high: bool, panel: f64) {
        let (pressure_pa, altitude_m) = if high { (None, Some(p)) } else { (Some(p), None) };
        let input = AirInput { air_c: t, relative_humidity_percent: rh, pressure_pa, altitude_m };
        let _ = dew_point(&input, Some(panel));
    }
}
