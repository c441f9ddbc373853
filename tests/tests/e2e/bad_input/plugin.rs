//! PluginService.

use lamella_tests::api::Api;
use lamella_tests::plugins;
use serde_json::{Value, json};
use tonic::Code;

use super::table::{
    NOT_FOUND, PAGE_TOKEN, Row, STALE, bad_ids, bad_names, bad_page_sizes, bad_request_ids,
    invalid, longer_than, refused, spoiled, unknown_numbers, with,
};

const INSTALL: &str = "PluginService/InstallPlugin";
const GET: &str = "PluginService/GetPlugin";
const LIST: &str = "PluginService/ListPlugins";
const UPDATE: &str = "PluginService/UpdatePlugin";
const ENABLE: &str = "PluginService/EnablePlugin";
const DISABLE: &str = "PluginService/DisablePlugin";
const DELETE: &str = "PluginService/DeletePlugin";
const PRODUCTS: &str = "PluginService/ListShopProducts";

/// Puts a plugin there.
pub(crate) async fn lay_in(api: &Api) {
    plugins::installed(api, "prices", &plugins::prebuilt("tiered-pricing")).await;
}

pub(crate) fn rows() -> Vec<Row> {
    [installing(), updating(), moving(), reading()].concat()
}

fn installing() -> Vec<Row> {
    let good = json!({"header": {
        "plugin_id": "rule",
        "sha256": "0".repeat(64),
        "settings": [{"key": "a", "value": "1"}],
    }});
    let mut hashes: Vec<Value> = ["", "ab", &"g".repeat(64), &"A".repeat(64), &"0".repeat(65)]
        .map(|text| json!(text))
        .into();
    hashes.push(json!("\u{0}"));
    let mut ids = bad_ids();
    ids.push(json!(""));
    let mut rows = vec![
        invalid(INSTALL, "nothing", json!({}), &["header"]),
        invalid(
            INSTALL,
            "bytes first",
            json!({"chunk": "AA=="}),
            &["header"],
        ),
        invalid(
            INSTALL,
            "an empty header",
            json!({"header": {}}),
            &["header.plugin_id", "header.sha256"],
        ),
        invalid(INSTALL, "a header and no bytes", good.clone(), &["chunk"]),
    ];
    rows.extend(spoiled(
        INSTALL,
        &good,
        "/header/plugin_id",
        &ids,
        "header.plugin_id",
    ));
    rows.extend(spoiled(
        INSTALL,
        &good,
        "/header/sha256",
        &hashes,
        "header.sha256",
    ));
    rows.extend(spoiled(
        INSTALL,
        &good,
        "/header/wasi",
        &unknown_numbers(),
        "header.wasi",
    ));
    rows.extend(spoiled(
        INSTALL,
        &good,
        "/header/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    rows.extend(settings(
        INSTALL,
        &good,
        "/header/settings",
        "header.settings",
    ));
    rows
}

fn updating() -> Vec<Row> {
    let good = json!({
        "plugin": {"name": "plugins/prices", "settings": [{"key": "a", "value": "1"}]},
        "update_mask": "settings",
    });
    let named = |name: &str| with(&good, "/plugin/name", json!(name));
    let mut rows = vec![
        invalid(UPDATE, "nothing", json!({}), &["plugin", "plugin.name"]),
        invalid(
            UPDATE,
            "no field",
            json!({"plugin": {"name": "plugins/prices"}}),
            &["update_mask"],
        ),
        invalid(
            UPDATE,
            "another mask",
            with(&good, "/update_mask", json!("state")),
            &["update_mask"],
        ),
        refused(
            UPDATE,
            "an unknown plugin",
            named("plugins/none"),
            NOT_FOUND,
            &[],
        ),
        refused(
            UPDATE,
            "a stale etag",
            with(&good, "/plugin/etag", json!("0")),
            STALE,
            &[],
        ),
        refused(
            UPDATE,
            "a setting that the plugin does not take",
            with(
                &good,
                "/plugin/settings",
                json!([{"key": "labour-per-h", "value": "x"}]),
            ),
            (Code::FailedPrecondition, "REFUSED"),
            &[],
        ),
    ];
    rows.extend(spoiled(
        UPDATE,
        &good,
        "/plugin/name",
        &bad_names("plugins"),
        "plugin.name",
    ));
    rows.extend(spoiled(
        UPDATE,
        &good,
        "/request_id",
        &bad_request_ids(),
        "request_id",
    ));
    rows.extend(settings(
        UPDATE,
        &good,
        "/plugin/settings",
        "plugin.settings",
    ));
    rows
}

fn settings(method: &'static str, good: &Value, pointer: &str, field: &'static str) -> Vec<Row> {
    let many: Vec<Value> = (0..201).map(|n| json!({"key": n.to_string()})).collect();
    let row = |what: &str, settings: Value, at: &str| {
        invalid(
            method,
            what,
            with(good, pointer, settings),
            &[&format!("{field}{at}")],
        )
    };
    vec![
        row("201 settings", json!(many), ""),
        row(
            "a setting without a key",
            json!([{"value": "1"}]),
            "[0].key",
        ),
        row("a long key", json!([{"key": longer_than(200)}]), "[0].key"),
        row(
            "a long value",
            json!([{"key": "a", "value": longer_than(4000)}]),
            "[0].value",
        ),
        row(
            "a key twice",
            json!([{"key": "a"}, {"key": "a"}]),
            "[1].key",
        ),
    ]
}

fn moving() -> Vec<Row> {
    let mut rows = Vec::new();
    for method in [ENABLE, DISABLE, DELETE] {
        let good = json!({"name": "plugins/prices"});
        rows.push(invalid(method, "nothing", json!({}), &["name"]));
        rows.push(refused(
            method,
            "an unknown plugin",
            json!({"name": "plugins/none"}),
            NOT_FOUND,
            &[],
        ));
        rows.push(refused(
            method,
            "a stale etag",
            with(&good, "/etag", json!("0")),
            STALE,
            &[],
        ));
        rows.extend(spoiled(
            method,
            &good,
            "/name",
            &bad_names("plugins"),
            "name",
        ));
        rows.extend(spoiled(
            method,
            &good,
            "/request_id",
            &bad_request_ids(),
            "request_id",
        ));
    }
    rows
}

fn reading() -> Vec<Row> {
    let mut rows = vec![
        invalid(GET, "nothing", json!({}), &["name"]),
        refused(
            GET,
            "an unknown plugin",
            json!({"name": "plugins/none"}),
            NOT_FOUND,
            &[],
        ),
    ];
    let good = json!({"name": "plugins/prices"});
    rows.extend(spoiled(GET, &good, "/name", &bad_names("plugins"), "name"));
    rows.extend(spoiled(
        LIST,
        &json!({}),
        "/page_size",
        &bad_page_sizes(),
        "page_size",
    ));
    for token in ["zz", "-1", "f", "ff", "\u{0}"] {
        let request = json!({"page_token": token});
        let what = format!("page token {token:?}");
        rows.push(refused(LIST, what, request, PAGE_TOKEN, &["page_token"]));
    }
    rows
}

/// Methods whose request has nothing in it that could be wrong.
pub(crate) const NOTHING_TO_GET_WRONG: [&str; 1] = [PRODUCTS];
