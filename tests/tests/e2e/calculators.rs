//! Every calculator through the API, held against figures from outside.

use lamella_proto::v1::{
    AdviceAction, AdvisePassRequest, AdvisePassResponse, DiluteRequest, Factor, Parts, PassDone,
    PassOutcome, StepSize, Strength, Substrate, strength::Form,
};
use lamella_tests::api::Api;
use lamella_tests::daemon::Daemon;
use lamella_tests::expected::{self, HEAT_LED_F, WIPE_DOWN, WIPE_DOWN_AGREES_WITHIN, celsius};
use serde_json::json;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_figure_is_what_its_source_says() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let mut wrong = Vec::new();
    for case in expected::cases() {
        let answer = match api.call(case.method, case.request.clone()).await {
            Ok(answer) => answer,
            Err(refused) => {
                wrong.push(format!("{}: refused: {refused:?}", case.what));
                continue;
            }
        };
        for (pointer, expected, tolerance) in case.figures {
            // A figure of exactly 0 is left out of the JSON.
            let got = answer
                .pointer(pointer)
                .map_or(Some(0.0), serde_json::Value::as_f64);
            if got.is_none_or(|got| (got - expected).abs() > tolerance) {
                let what = format!("{}: {pointer} is {got:?}, expected {expected}", case.what);
                wrong.push(format!("{what} within {tolerance} ({})", case.source));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_two_usual_wipe_downs_agree() {
    let daemon = Daemon::start();
    let mut calculator = daemon.client().await.calculator();
    let mut strengths = Vec::new();
    for (stock, product, water, expected) in WIPE_DOWN {
        let request = DiluteRequest {
            stock: Some(Strength {
                form: Some(Form::Percent(stock)),
            }),
            target: Some(Strength {
                form: Some(Form::Parts(Parts { product, water })),
            }),
            total_ml: Some(500.0),
            ..DiluteRequest::default()
        };
        let mix = calculator.dilute(request).await.unwrap().into_inner();
        assert!((mix.strength_percent - expected).abs() < 1e-9, "{mix:?}");
        strengths.push(mix.strength_percent);
    }
    assert!(
        (strengths[0] - strengths[1]).abs() <= WIPE_DOWN_AGREES_WITHIN,
        "{strengths:?}"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_ratio_that_can_be_read_both_ways_is_refused_with_both_readings() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let request =
        json!({"stock": {"percent": 100}, "target": {"label": "40:60"}, "total_ml": 1000});
    let refused = api.refused("CalculatorService/Dilute", request).await;
    assert_eq!(refused.field_names(), ["target.label"], "{refused:?}");
    // 40 of product to 60 of water, or 40 of water to 60 of product.
    let text = &refused.fields[0].1;
    assert!(
        text.contains("40") && text.contains("60") && text.contains('%'),
        "{text}"
    );

    // "1:10" is used as parts and shown beside "one in ten".
    let request = json!({"stock": {"percent": 100}, "target": {"label": "1:10"}, "total_ml": 1000});
    let mix = api.ok("CalculatorService/Dilute", request).await;
    let readings = mix["readings"].as_array().unwrap();
    let percents: Vec<(f64, bool)> = readings
        .iter()
        .map(|r| {
            (
                r["percent"].as_f64().unwrap(),
                r["used"].as_bool().unwrap_or_default(),
            )
        })
        .collect();
    assert!(
        percents
            .iter()
            .any(|(p, used)| (p - 100.0 / 11.0).abs() < 1e-9 && *used),
        "{mix:#}"
    );
    assert!(
        percents
            .iter()
            .any(|(p, used)| (p - 10.0).abs() < 1e-9 && !*used),
        "{mix:#}"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn film_that_fits_no_roll_names_the_piece() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let request = json!({
        "pieces": [
            {"piece": "hood", "rectangle": {"width_mm": 1400, "height_mm": 1000}},
            {"piece": "roof", "rectangle": {"width_mm": 1600, "height_mm": 2000}},
        ],
        "rolls": [{"roll": "60 in", "width_mm": 1524}],
    });
    let refused = api.refused("CalculatorService/MeasureFilm", request).await;
    assert_eq!(refused.code, tonic::Code::FailedPrecondition, "{refused:?}");
    assert!(refused.message.contains("roof"), "{refused:?}");
    assert!(!refused.message.contains("hood"), "{refused:?}");
}

/// Advice for a composite panel of unknown clear thickness.
async fn advise(api: &Api, passes: &[PassDone], ceiling_c: Option<f64>) -> AdvisePassResponse {
    let request = AdvisePassRequest {
        substrate: Substrate::Composite.into(),
        ceiling_c,
        passes: passes.to_vec(),
        ..AdvisePassRequest::default()
    };
    api.calculator()
        .advise_pass(request)
        .await
        .unwrap()
        .into_inner()
}

/// Heat-led correction (common practice, no source): the panel warms with each
/// half step, and the advice follows the heat, one rung and one factor at a
/// time, until the ceiling.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn heat_led_correction_on_a_composite_of_unknown_thickness() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let ceiling_c = celsius(HEAT_LED_F[2]);
    let mut passes: Vec<PassDone> = Vec::new();
    let mut setup = None;
    for observed_f in HEAT_LED_F {
        let advice = advise(&api, &passes, Some(ceiling_c)).await;
        assert!(
            advice.cap_rung > 0,
            "unknown thickness caps the ladder: {advice:?}"
        );
        assert!(advice.rung <= advice.cap_rung, "{advice:?}");
        let last_rung = passes.last().map_or(0, |pass| pass.rung);
        assert_eq!(advice.rung, last_rung + 1, "no rung is skipped: {advice:?}");
        let next = advice.setup.clone().unwrap();
        if let Some(last) = &setup {
            assert_eq!(advice.action(), AdviceAction::StepUp, "{advice:?}");
            assert_eq!(
                advice.step(),
                StepSize::Half,
                "half steps come first: {advice:?}"
            );
            assert_eq!(
                changed(last, &next),
                [advice.changed()],
                "one factor at a time"
            );
        } else {
            assert_eq!(advice.action(), AdviceAction::Start, "{advice:?}");
        }
        setup = Some(next);
        passes.push(PassDone {
            rung: advice.rung,
            panel_c: Some(celsius(observed_f)),
            removal_um: None,
            outcome: PassOutcome::Unchanged.into(),
            ..PassDone::default()
        });
    }
    let advice = advise(&api, &passes, Some(ceiling_c)).await;
    assert_eq!(advice.action(), AdviceAction::Stop, "{advice:?}");
    assert_eq!(advice.reason, "CEILING_REACHED", "{advice:?}");
    assert!(advice.setup.is_none() && advice.rung == 0, "{advice:?}");
    assert!(!advice.sentence.is_empty());

    // With 5 K more to go the same passes lead on, still by one rung.
    let advice = advise(&api, &passes, Some(ceiling_c + 5.0)).await;
    if advice.action() == AdviceAction::StepUp {
        assert_eq!(advice.rung, 4, "{advice:?}");
    }
    // 95 F is 35 C exactly.
    assert!(
        (advice.headroom_k.unwrap() - 5.0).abs() < 1e-9,
        "{advice:?}"
    );
}

/// Which factors differ between two setups.
fn changed(last: &lamella_proto::v1::Setup, next: &lamella_proto::v1::Setup) -> Vec<Factor> {
    let all = [
        (last.machine != next.machine, Factor::Machine),
        (last.pad != next.pad, Factor::Pad),
        (last.liquid != next.liquid, Factor::Liquid),
        (last.speed != next.speed, Factor::Speed),
        (
            last.pressure_kpa.total_cmp(&next.pressure_kpa).is_ne(),
            Factor::Pressure,
        ),
        (last.seconds.total_cmp(&next.seconds).is_ne(), Factor::Time),
    ];
    all.into_iter()
        .filter_map(|(differs, factor)| differs.then_some(factor))
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_stop_rule_needs_a_reason_to_be_passed_and_says_so() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let request = |reason: &str| {
        json!({
            "substrate": "SUBSTRATE_STEEL", "clear_um": 45, "override_reason": reason,
            "passes": [{"rung": 1, "panel_c": 60, "outcome": "PASS_OUTCOME_UNCHANGED"}],
        })
    };
    let stopped = api.ok("CalculatorService/AdvisePass", request("")).await;
    assert_eq!(stopped["action"], "ADVICE_ACTION_STOP");
    let passed = api
        .ok(
            "CalculatorService/AdvisePass",
            request("test panel, to be scrapped"),
        )
        .await;
    assert_eq!(passed["action"], "ADVICE_ACTION_STEP_UP", "{passed:#}");
    assert_eq!(passed["rung"], 2, "an override never skips a rung");
    assert_eq!(passed["overridden"], "test panel, to be scrapped");
    assert!(!passed["cautions"].as_array().unwrap().is_empty());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn cautions_travel_as_data() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let solvent = json!({
        "stock": {"percent": 91}, "target": {"percent": 35}, "total_ml": 1000,
        "substance": "SUBSTANCE_ISOPROPYL_ALCOHOL",
    });
    let damp = json!({"air_c": 20, "relative_humidity_percent": 90, "panel_c": 19});
    for (method, request) in [
        ("CalculatorService/Dilute", solvent),
        ("CalculatorService/DewPoint", damp),
    ] {
        let answer = api.ok(method, request).await;
        let cautions = answer["cautions"].as_array().unwrap();
        assert!(!cautions.is_empty(), "{method}: {answer:#}");
        for caution in cautions {
            let code = caution["code"].as_str().unwrap();
            assert!(
                code.chars()
                    .all(|c| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '_')
            );
            for field in ["severity", "text", "basis"] {
                assert!(
                    caution[field].as_str().is_some_and(|t| !t.is_empty()),
                    "{caution:#}"
                );
            }
        }
    }
}
