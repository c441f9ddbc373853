//! Quotes: priced by a plugin, stored, made once more, compared, accepted.
//!
//! Expected amounts are worked out by hand from the rule as `plugins/tiered-pricing`
//! states it in words, and rounded as Python's `decimal` rounds.

use lamella_tests::api::Api;
use lamella_tests::daemon::Daemon;
use lamella_tests::plugins::{self, installed};
use lamella_tests::shop::{self, LONG_AGO};
use serde_json::{Value, json};
use tonic::Code;

/// What the rule makes of [`priced_job`], code and minor units of each line:
/// 1.5 m2 at 60.00 in light condition, 0.4 m of film at 55.00, 0.1 l at 40.00,
/// 1.5 h at 65.00.
const LINES: [(&str, &str); 4] = [
    ("correct", "9000"),
    ("film", "2200"),
    ("chemical", "400"),
    ("labour", "9750"),
];
/// Their sum.
const NET: &str = "21350";

/// A job on a car with one measured panel, and a record of each kind that costs.
async fn priced_job(api: &Api) -> String {
    let car = json!({"display_name": "Blue estate", "panels": [
        {"panel_id": "hood", "substrate": "SUBSTRATE_STEEL", "finish": "FINISH_CLEAR_COAT",
         "area_m2": 1.5, "condition": "PANEL_CONDITION_LIGHT"},
        {"panel_id": "roof", "substrate": "SUBSTRATE_STEEL", "finish": "FINISH_CLEAR_COAT"},
    ]});
    let car = api.ok("VehicleService/CreateVehicle", json!({"vehicle": car}));
    let job = json!({
        "display_name": "Blue estate", "vehicle": shop::name(&car.await),
        "customer": {"display_name": "Kept Secret", "phone": "555 0100"},
        "services": [{"code": "correct", "description": "Correction", "panels": ["hood"]}],
    });
    let job = shop::name(&api.ok("JobService/CreateJob", json!({"job": job})).await);
    for (kind, entry) in [
        (
            "film_piece",
            json!({"panel": "hood", "film": "clear film", "width_mm": 600, "length_mm": 400}),
        ),
        (
            "mix",
            json!({"product": "pre-wash", "concentrate_ml": 100, "diluent_ml": 900}),
        ),
        (
            "labour",
            json!({"worker": "first worker", "activity": "tape up",
                   "from_time": "2024-01-15T08:00:00Z", "to_time": "2024-01-15T09:30:00Z"}),
        ),
    ] {
        shop::append(api, &job, LONG_AGO, kind, entry).await;
    }
    job
}

async fn with_rule(daemon: &Daemon) -> Api {
    let api = daemon.client().await;
    installed(&api, "prices", &plugins::prebuilt("tiered-pricing")).await;
    api
}

async fn quote(api: &Api, job: &str) -> Value {
    api.ok("QuoteService/CreateQuote", json!({"parent": job}))
        .await
}

fn lines(quote: &Value) -> Vec<(&str, &str)> {
    let lines = quote["lines"].as_array().expect("a quote has lines");
    lines
        .iter()
        .map(|line| {
            let amount = line["amount"]["minor_units"].as_str();
            (line["code"].as_str().unwrap(), amount.unwrap_or("0"))
        })
        .collect()
}

fn total<'a>(quote: &'a Value, field: &str) -> &'a str {
    // Zero is left out of the JSON.
    quote[field]["minor_units"].as_str().unwrap_or("0")
}

fn caution_codes(quote: &Value) -> Vec<&str> {
    let cautions = quote["cautions"].as_array();
    let cautions = cautions.map(Vec::as_slice).unwrap_or_default();
    cautions.iter().filter_map(|c| c["code"].as_str()).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_quote_is_itemised_stored_and_says_what_it_was_made_from() {
    let daemon = Daemon::start();
    let api = with_rule(&daemon).await;
    let job = priced_job(&api).await;
    let quote = quote(&api, &job).await;
    assert_eq!(lines(&quote), LINES);
    assert_eq!(total(&quote, "net_total"), NET);
    assert_eq!(total(&quote, "tax_total"), "0");
    assert_eq!(total(&quote, "gross_total"), NET);
    assert_eq!(caution_codes(&quote), ["TAX_NOT_CONFIGURED"]);
    assert_eq!(quote["plugin"], "plugins/prices");
    let hash = plugins::sha256(&plugins::prebuilt("tiered-pricing"));
    assert_eq!(quote["plugin_version"]["sha256"], json!(hash));
    assert!(quote["create_time"].is_string());
    assert!(quote["accept_time"].is_null());
    assert!(!quote.to_string().contains("Secret"), "{quote:#}");
    let inputs = &quote["inputs"];
    assert_eq!(inputs["measures"].as_array().unwrap().len(), 3);
    assert_eq!(inputs["panels"][0]["area_m2"], 1.5);
    let stored = api.ok("JobService/GetJob", json!({"name": job})).await;
    assert_eq!(inputs["job_etag"], stored["etag"]);

    let name = shop::name(&quote);
    assert!(name.starts_with(&format!("{job}/quotes/")), "{name}");
    let named = json!({"name": name});
    assert_eq!(api.ok("QuoteService/GetQuote", named).await, quote);
    let second = api.ok(
        "QuoteService/CreateQuote",
        json!({"parent": job, "settings": [{"key": "labour-per-h", "value": "7000"}],
               "measures": [{"kind": "film", "item": "clear film",
                             "quantity_thousandths": "2000", "unit": "m"}]}),
    );
    let second = second.await;
    // 2 m at 55.00 in place of 0.4 m, 1.5 h at 70.00.
    let expected = [LINES[0], ("film", "11000"), LINES[2], ("labour", "10500")];
    assert_eq!(lines(&second), expected);

    let page = json!({"parent": job, "page_size": 1});
    let first_page = api.ok("QuoteService/ListQuotes", page).await;
    assert_eq!(first_page["quotes"], json!([quote]));
    let token = first_page["next_page_token"].clone();
    let page = json!({"parent": job, "page_size": 1, "page_token": token});
    let last_page = api.ok("QuoteService/ListQuotes", page).await;
    assert_eq!(last_page["quotes"], json!([second]));
    assert_eq!(last_page["next_page_token"].as_str().unwrap_or(""), "");

    let both = json!({"name": quote["name"], "other": second["name"]});
    let compared = api.ok("QuoteService/CompareQuotes", both).await;
    let differences = compared["differences"].as_array().unwrap();
    let difference = |field: &str| {
        let found = differences.iter().find(|one| one["field"] == field);
        let found = found.unwrap_or_else(|| panic!("{field} in {compared:#}"));
        let text = |side: &str| found[side].as_str().unwrap_or_default().to_owned();
        (text("before"), text("after"))
    };
    let pair = |before: &str, after: &str| (before.to_owned(), after.to_owned());
    assert_eq!(
        difference("inputs.settings[labour-per-h]"),
        pair("", "7000")
    );
    assert_eq!(
        difference("inputs.measures[film:clear film].quantity"),
        pair("0.4 m", "2 m")
    );
    assert_eq!(
        difference("lines[3].amount"),
        pair("97.50 EUR", "105.00 EUR")
    );
    assert_eq!(difference("gross_total"), pair("213.50 EUR", "309.00 EUR"));
    let itself = json!({"name": quote["name"], "other": quote["name"]});
    let same = api.ok("QuoteService/CompareQuotes", itself).await;
    assert_eq!(same, json!({}));
}

/// Sums by hand, rounded as Python's `decimal` does: 213.50 * 0.19 = 40.565, which is
/// 40.57 with ROUND_HALF_UP and 40.56 with ROUND_HALF_EVEN; 21350 * 0.10 = 2135;
/// 21.350 * 0.05 = 1.0675, which is 1.068 both ways; line by line, 97.50 * 0.19 =
/// 18.525 is 18.53 or 18.52. Minor units: ISO 4217:2015, table A.1.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn tax_and_rounding_are_as_configured() {
    for (currency, digits, rate, rounding, basis, tax, gross) in [
        ("EUR", 2, "19.0", "half-up", "class", "4057", "25407"),
        ("EUR", 2, "19.0", "half-even", "class", "4056", "25406"),
        ("EUR", 2, "19", "half-even", "line", "4056", "25406"),
        ("JPY", 0, "10", "half-up", "class", "2135", "23485"),
        ("KWD", 3, "5.0000", "half-even", "class", "1068", "22418"),
    ] {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("lamella.toml");
        let text = format!(
            "[money]\ncurrency = \"{currency}\"\nrounding = \"{rounding}\"\n\
             tax_basis = \"{basis}\"\n[[money.tax_classes]]\nname = \"standard\"\n\
             rate_percent = \"{rate}\"\n"
        );
        std::fs::write(&file, &text).unwrap();
        let daemon = Daemon::builder().arg("--config").arg(&file).start();
        let api = with_rule(&daemon).await;
        let job = priced_job(&api).await;
        let quote = quote(&api, &job).await;
        assert_eq!(lines(&quote), LINES, "{text}");
        assert_eq!(total(&quote, "tax_total"), tax, "{text}");
        assert_eq!(total(&quote, "gross_total"), gross, "{text}");
        assert_eq!(quote["gross_total"]["currency_code"], currency);
        let rules = &quote["inputs"]["money"];
        assert_eq!(
            rules["minor_digits"].as_i64().unwrap_or(0),
            digits,
            "{text}"
        );
        assert_eq!(caution_codes(&quote), [""; 0], "{text}");
    }
}

/// A component that does the same and has another hash: with a custom section, which
/// means nothing, at its end.
fn another_version(component: &[u8]) -> Vec<u8> {
    let mut bytes = component.to_vec();
    bytes.extend_from_slice(b"\x00\x05\x04note");
    bytes
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_old_quote_is_made_once_more_with_the_component_that_made_it() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = with_rule(&daemon).await;
    let job = priced_job(&api).await;
    let old = quote(&api, &job).await;
    let rerun = async |api: &Api| {
        let again = api.ok("QuoteService/RerunQuote", json!({"name": old["name"]}));
        let again = again.await;
        assert_eq!(again["same"], true, "{again:#}");
        assert!(again["differences"].is_null(), "{again:#}");
        for field in [
            "lines",
            "taxes",
            "gross_total",
            "inputs",
            "plugin_version",
            "fuel_used",
        ] {
            assert_eq!(again["quote"][field], old[field], "{field}");
        }
        assert!(again["quote"]["name"].is_null(), "it is not stored");
    };
    rerun(&api).await;

    // Upgraded with other settings, and the job has moved on.
    let component = plugins::prebuilt("tiered-pricing");
    let newer = another_version(&component);
    let mut header = plugins::header("prices", &newer);
    header.settings = vec![plugins::setting("labour-per-h", "9900")];
    plugins::install(&api, header, &newer).await.unwrap();
    let more = json!({"product": "compound", "concentrate_ml": 500, "diluent_ml": 0});
    shop::append(&api, &job, LONG_AGO, "mix", more).await;
    rerun(&api).await;
    let new = quote(&api, &job).await;
    assert_eq!(
        new["plugin_version"]["sha256"],
        json!(plugins::sha256(&newer))
    );
    assert_ne!(lines(&new), LINES);

    // Removed, and the daemon started again.
    api.ok(
        "PluginService/DeletePlugin",
        json!({"name": "plugins/prices"}),
    )
    .await;
    daemon.kill();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    rerun(&api).await;
    daemon.terminate();

    // It really is that component: without its bytes there is no price, and another
    // one's is not given in its place.
    let file = plugins::folder(dir.path()).join(format!("{}.wasm", plugins::sha256(&component)));
    std::fs::remove_file(file).unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    let refused = api.refused("QuoteService/RerunQuote", json!({"name": old["name"]}));
    let refused = refused.await;
    assert_eq!(
        (refused.code, refused.reason.as_str()),
        (Code::FailedPrecondition, "PLUGIN_NOT_KEPT")
    );
    // What was stored is still there to be read.
    let stored = api.ok("QuoteService/GetQuote", json!({"name": old["name"]}));
    assert_eq!(stored.await, old);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_accepted_quote_opens_the_gate_and_only_one_is_accepted() {
    let daemon = Daemon::start();
    let api = with_rule(&daemon).await;
    let job = priced_job(&api).await;
    shop::advance(&api, &job, "RECEIVED").await;
    shop::measure(&api, &job).await;
    shop::advance(&api, &job, "ASSESSED").await;
    let approved = shop::to_stage(&job, "APPROVED");
    let refused = api.refused("JobService/AdvanceStage", approved.clone());
    assert_eq!(refused.await.reason, "CONDITIONS_UNMET");

    let (first, second) = (quote(&api, &job).await, quote(&api, &job).await);
    let accept = |quote: &Value| json!({"name": quote["name"], "approved_by": "the owner", "note": "by phone"});
    let stale = json!({"name": first["name"], "approved_by": "the owner", "etag": "0"});
    let refused = api.refused("QuoteService/AcceptQuote", stale).await;
    assert_eq!(
        (refused.code, refused.reason.as_str()),
        (Code::Aborted, "ETAG_STALE")
    );

    let done = api.ok("QuoteService/AcceptQuote", accept(&first)).await;
    let approval = &done["job"]["approval"];
    assert_eq!(approval["quote"], first["name"]);
    assert_eq!(approval["amount"], first["gross_total"]);
    assert_eq!(approval["approved_by"], "the owner");
    assert_eq!(done["quote"]["accept_time"], approval["approve_time"]);
    api.ok("JobService/AdvanceStage", approved).await;

    let accepted = async || {
        let page = api.ok("QuoteService/ListQuotes", json!({"parent": job}));
        let page = page.await;
        let quotes = page["quotes"].as_array().unwrap().iter();
        quotes
            .filter(|quote| quote["accept_time"].is_string())
            .map(shop::name)
            .collect::<Vec<_>>()
    };
    assert_eq!(accepted().await, [shop::name(&first)]);
    // More work is agreed on while the car is here.
    api.ok("QuoteService/AcceptQuote", accept(&second)).await;
    assert_eq!(accepted().await, [shop::name(&second)]);

    // The job written back as it was read keeps its quote.
    let mut read = api.ok("JobService/GetJob", json!({"name": job})).await;
    read["wishes"] = json!("quick");
    let update = json!({"job": read});
    let written = api.ok("JobService/UpdateJob", update).await;
    assert_eq!(written["approval"]["quote"], second["name"]);
    assert_eq!(accepted().await, [shop::name(&second)]);
    // A yes by hand is another one, to no quote.
    let by_hand = json!({"job": {"name": job, "approval": {
        "approved_by": "the owner", "quote": first["name"],
        "amount": {"currency_code": "EUR", "minor_units": "20000"},
    }}});
    let written = api.ok("JobService/UpdateJob", by_hand).await;
    assert_eq!(written["approval"]["quote"].as_str().unwrap_or(""), "");
    assert_eq!(accepted().await, [""; 0]);

    let history = api.ok("JobService/ListJobHistory", json!({"name": job}));
    let history = history.await;
    let events = history["events"].as_array().unwrap();
    let quoted: Vec<&Value> = events.iter().map(|e| &e["quoted"]).collect();
    assert!(quoted.contains(&&first) && quoted.contains(&&second));
    let yes = events.iter().filter(|e| e["quote_accepted"].is_object());
    assert_eq!(yes.count(), 2);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_plugin_that_refuses_is_an_error_and_nothing_is_stored() {
    let daemon = Daemon::start();
    let api = with_rule(&daemon).await;
    let job = priced_job(&api).await;
    let services = json!([{"code": "correct", "panels": ["hood", "roof"]}]);
    api.ok(
        "JobService/UpdateJob",
        json!({"job": {"name": job, "services": services}}),
    )
    .await;
    let before = shop::everything(&api).await;
    let refused = api.refused("QuoteService/CreateQuote", json!({"parent": job}));
    let refused = refused.await;
    assert_eq!(
        (refused.code, refused.reason.as_str()),
        (Code::FailedPrecondition, "REFUSED")
    );
    for part in ["area of panel `roof`", "condition of panel `roof`"] {
        assert!(refused.message.contains(part), "{refused:?}");
    }
    let request = json!({"parent": job, "settings": [{"key": "labour-per-h", "value": "x"}]});
    let refused = api.refused("QuoteService/CreateQuote", request).await;
    assert!(refused.message.contains("labour-per-h"), "{refused:?}");
    assert_eq!(shop::everything(&api).await, before);

    // Only priced: what is known of the hood, and nothing is stored.
    let services = json!([{"code": "correct", "panels": ["hood"]}]);
    api.ok(
        "JobService/UpdateJob",
        json!({"job": {"name": job, "services": services}}),
    )
    .await;
    let before = shop::everything(&api).await;
    let request = json!({"parent": job, "validate_only": true});
    let priced = api.ok("QuoteService/CreateQuote", request).await;
    assert_eq!(lines(&priced), LINES);
    assert!(priced["name"].is_null() && priced["create_time"].is_null());
    assert_eq!(shop::everything(&api).await, before);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn which_plugin_prices_is_never_guessed() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = priced_job(&api).await;
    let refused = async |request: Value, reason: &str| {
        let refused = api.refused("QuoteService/CreateQuote", request).await;
        let got = (refused.code, refused.reason.as_str());
        assert_eq!(got, (Code::FailedPrecondition, reason), "{refused:?}");
        refused.message
    };
    let any = json!({"parent": job});
    let named = |plugin: &str| json!({"parent": job, "plugin": format!("plugins/{plugin}")});
    refused(any.clone(), "PLUGIN_NONE_ENABLED").await;
    let component = plugins::prebuilt("tiered-pricing");
    installed(&api, "one", &component).await;
    installed(&api, "two", &component).await;
    installed(&api, "list", &plugins::prebuilt("workshop-products")).await;
    let message = refused(any.clone(), "PLUGIN_AMBIGUOUS").await;
    assert!(message.contains("plugins/one, plugins/two"), "{message}");
    let quote = api.ok("QuoteService/CreateQuote", named("two")).await;
    assert_eq!(quote["plugin"], "plugins/two");
    refused(named("list"), "PLUGIN_NOT_PRICING").await;
    refused(named("none"), "PLUGIN_NOT_SERVING").await;
    api.ok(
        "PluginService/DisablePlugin",
        json!({"name": "plugins/two"}),
    )
    .await;
    refused(named("two"), "PLUGIN_NOT_SERVING").await;
    assert_eq!(
        api.ok("QuoteService/CreateQuote", any).await["plugin"],
        "plugins/one"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_retry_gets_the_first_quote_and_is_not_priced_again() {
    let daemon = Daemon::start();
    let api = with_rule(&daemon).await;
    let job = priced_job(&api).await;
    let request = json!({"parent": job, "request_id": "once"});
    let first = api.ok("QuoteService/CreateQuote", request.clone()).await;
    let name = json!({"name": "plugins/prices"});
    api.ok("PluginService/DeletePlugin", name).await;
    // Nothing is left to price with, so the answer can only be the first one.
    assert_eq!(api.ok("QuoteService/CreateQuote", request).await, first);
    let accept = json!({"name": first["name"], "approved_by": "the owner", "request_id": "yes"});
    let accepted = api.ok("QuoteService/AcceptQuote", accept.clone()).await;
    assert_eq!(api.ok("QuoteService/AcceptQuote", accept).await, accepted);
    let other = json!({"parent": job, "request_id": "yes"});
    let refused = api.refused("QuoteService/CreateQuote", other).await;
    assert_eq!(refused.reason, "REQUEST_ID_REUSED");
}
