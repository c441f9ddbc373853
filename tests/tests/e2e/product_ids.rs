//! Calculators and records that take products by id. What a product fills in is
//! compared with the same figures typed by hand, from
//! `plugins/workshop-products/products.toml`.

use lamella_tests::api::Api;
use lamella_tests::daemon::Daemon;
use lamella_tests::plugins::{self, installed};
use lamella_tests::shop;
use serde_json::{Value, json};

async fn stocked(daemon: &Daemon) -> Api {
    let api = daemon.client().await;
    installed(&api, "stock", &plugins::prebuilt("workshop-products")).await;
    api
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_product_stands_for_its_figures() {
    let daemon = Daemon::start();
    let api = stocked(&daemon).await;
    let listed = api.ok("PluginService/ListShopProducts", json!({})).await;
    let coating = listed["products"]["coatings"][0].clone();
    assert_eq!(coating["product_id"], "hard-coating");
    let ladder: Vec<Value> = listed["products"]["setups"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["setup"].clone())
        .collect();
    let piece = json!({"piece": "hood", "rectangle": {"width_mm": 1400, "height_mm": 1000}});
    for (method, by_id, typed) in [
        (
            "CalculatorService/Dilute",
            json!({"product_id": "pre-wash", "use_for": "hand sprayer", "total_ml": 1020}),
            json!({
                "stock": {"percent": 100},
                "target": {"parts": {"product": 1, "water": 50}},
                "substance": "SUBSTANCE_SHAMPOO",
                "stock_density_g_per_ml": 1.02,
                "total_ml": 1020,
            }),
        ),
        // Its only dilution is the one that is meant.
        (
            "CalculatorService/Dilute",
            json!({"product_id": "shampoo", "total_ml": 501}),
            json!({
                "stock": {"percent": 100},
                "target": {"parts": {"product": 1, "water": 500}},
                "substance": "SUBSTANCE_SHAMPOO",
                "stock_density_g_per_ml": 1.01,
                "total_ml": 501,
            }),
        ),
        // What the request says comes before what the list says.
        (
            "CalculatorService/Dilute",
            json!({"product_id": "panel-wipe-base", "target": {"percent": 20}, "total_ml": 500}),
            json!({
                "stock": {"percent": 99.9},
                "target": {"percent": 20},
                "substance": "SUBSTANCE_ISOPROPYL_ALCOHOL",
                "stock_density_g_per_ml": 0.7856,
                "total_ml": 500,
            }),
        ),
        (
            "CalculatorService/MeasureFilm",
            json!({"pieces": [piece], "rolls": [{"film_id": "clear-film"}]}),
            json!({"pieces": [piece], "rolls": [{
                "roll": "Clear gloss film, wide roll",
                "width_mm": 1520,
                "length_mm": 15000,
            }]}),
        ),
        (
            "CalculatorService/TimeCure",
            json!({"coating": {"product_id": "hard-coating"}, "panel_c": 18}),
            json!({"coating": coating["coating"], "panel_c": 18}),
        ),
        (
            "CalculatorService/AdvisePass",
            json!({"shop_setups": true, "clear_um": 50}),
            json!({"ladder": ladder, "clear_um": 50}),
        ),
    ] {
        let answer = api.ok(method, by_id.clone()).await;
        assert_eq!(answer, api.ok(method, typed).await, "{method} {by_id}");
    }
    // 1 + 50 parts of 1020 ml: 20 ml.
    let request = json!({"product_id": "pre-wash", "use_for": "hand sprayer", "total_ml": 1020});
    let mix = api.ok("CalculatorService/Dilute", request).await;
    assert_eq!(mix["concentrate_ml"], 20.0);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_no_list_holds_is_refused_beside_what_they_hold() {
    let daemon = Daemon::start();
    let api = stocked(&daemon).await;
    let job = shop::new_job(&api, "Blue estate").await;
    let record = |entry: Value| json!({"parent": job, "record": entry});
    let piece = json!({"piece": "hood", "rectangle": {"width_mm": 1400, "height_mm": 1000}});
    for (method, request, fields, says) in [
        (
            "CalculatorService/Dilute",
            json!({"product_id": "none", "total_ml": 100}),
            vec!["product_id"],
            "pre-wash, shampoo",
        ),
        (
            "CalculatorService/Dilute",
            json!({"product_id": "pre-wash", "total_ml": 100}),
            vec!["target"],
            "foam lance bottle",
        ),
        (
            "CalculatorService/MeasureFilm",
            json!({"pieces": [piece], "rolls": [{"film_id": "clear-film", "width_mm": 1000}]}),
            vec!["rolls[0].width_mm"],
            "film_id",
        ),
        (
            "CalculatorService/MeasureFilm",
            json!({"pieces": [piece], "rolls": [{"film_id": "none"}]}),
            vec!["rolls[0].film_id"],
            "clear-film, clear-film-narrow",
        ),
        (
            "CalculatorService/TimeCure",
            json!({"coating": {"product_id": "none"}, "panel_c": 20}),
            vec!["coating.product_id"],
            "hard-coating",
        ),
        (
            "CalculatorService/TimeCure",
            json!({"coating": {"product_id": "hard-coating", "dry_hours": 3}, "panel_c": 20}),
            vec!["coating"],
            "no other field",
        ),
        (
            "JobService/AppendRecord",
            record(json!({"film_piece": {
                "panel": "hood", "film_id": "none", "width_mm": 1, "length_mm": 1,
            }})),
            vec!["record.film_piece.film_id"],
            "clear-film",
        ),
        (
            "JobService/AppendRecord",
            record(json!({"coat_layer": {
                "panels": ["hood"], "coating": {"product_id": "none"}, "panel_c": 20,
            }})),
            vec!["record.coat_layer.coating.product_id"],
            "hard-coating",
        ),
    ] {
        let refused = api.refused(method, request.clone()).await;
        assert_eq!(refused.reason, "INPUT_INVALID", "{method} {request}");
        assert_eq!(
            refused.field_names(),
            fields,
            "{method} {request}: {refused:?}"
        );
        assert!(
            refused.message.contains(says),
            "{method} {request}: {refused:?}"
        );
    }
    let name = json!({"name": "plugins/stock"});
    api.ok("PluginService/DisablePlugin", name).await;
    let request = json!({"shop_setups": true, "clear_um": 50});
    let refused = api.refused("CalculatorService/AdvisePass", request).await;
    assert_eq!(refused.field_names(), ["shop_setups"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn records_keep_what_the_list_said_after_the_list_is_gone() {
    let daemon = Daemon::start();
    let api = stocked(&daemon).await;
    let job = shop::job_at(&api, "IN_WORK").await;
    let append = async |entry: Value| {
        let request = json!({"parent": job, "record": entry});
        api.ok("JobService/AppendRecord", request).await["record"].clone()
    };
    let film = append(json!({"film_piece": {
        "panel": "hood", "film_id": "clear-film", "width_mm": 1400, "length_mm": 1000,
    }}))
    .await;
    let piece = &film["film_piece"];
    assert_eq!(piece["film"], "Clear gloss film, wide roll");
    assert_eq!(piece["settle_hours"], 24.0);
    assert!(piece.get("settled_time").is_some() && piece.get("film_id").is_none());
    let coat = append(json!({"coat_layer": {
        "panels": ["hood"],
        "coating": {"product_id": "hard-coating"},
        "panel_c": 20,
        "air": {"air_c": 20, "relative_humidity_percent": 50},
    }}))
    .await;
    let coating = &coat["coat_layer"]["coating"];
    assert!(coating["dry_hours"].as_f64().is_some() && coating.get("product_id").is_none());
    let name = json!({"name": "plugins/stock"});
    api.ok("PluginService/DeletePlugin", name).await;
    let request = json!({"parent": job, "page_size": 1000});
    let records = api.ok("JobService/ListRecords", request).await;
    let records = records["records"].as_array().unwrap();
    assert!(records.contains(&film) && records.contains(&coat));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_client_takes_products_by_id() {
    let daemon = Daemon::start();
    let _api = stocked(&daemon).await;
    let dilute = [
        "dilute",
        "--product",
        "pre-wash",
        "--use",
        "hand sprayer",
        "--total",
        "1020ml",
    ];
    for args in [
        &dilute[..],
        &[
            "film",
            "--piece",
            "hood=1400mmx1000mm",
            "--film",
            "new=clear-film",
        ],
        &["cure", "--coating", "hard-coating", "--panel", "18C"],
        &["advise", "--shop-setups", "--clear", "50um"],
    ] {
        daemon.lamella(args).ended_with(0);
    }
    let mix = daemon
        .lamella(["--output", "json"].iter().chain(&dilute))
        .json();
    assert_eq!(mix["concentrateMl"], 20.0);
    // One or the other.
    daemon
        .lamella([
            "cure",
            "--coating",
            "hard-coating",
            "--dry",
            "12h",
            "--panel",
            "18C",
        ])
        .ended_with(2);
}
