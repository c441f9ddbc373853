//! The plugins of `plugins/`, as they are shipped and as they are built here, through the
//! host. A thousand drawn jobs are priced by each; what is expected comes from
//! `plugins/vectors/generate.py`, which works the rule out in decimal arithmetic (Python's
//! `decimal`: General Decimal Arithmetic Specification, IEEE 754).
//!
//! What is not built, or not at hand, is skipped and said. The root manifest has the
//! compiler of guests optimised in every profile, or large ones would take minutes. What
//! is compiled is kept below `target` for the next run.

use lamella_plugin_host::{
    CallLimits, HostConfig, LoadOptions, Plugin, PluginError, PluginHost, PricingRequest, Quote,
    RefusalKind, Wasi,
};
use serde_json::Value;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

const JOBS: usize = 1_000;

#[test]
fn shipped_rule_agrees_with_decimal_arithmetic() {
    agrees("prebuilt/tiered-pricing.wasm", Wasi::None);
}

#[test]
#[ignore = "needs plugins/build all; tests/run plugins does both"]
fn rule_built_from_rust_agrees_with_decimal_arithmetic() {
    agrees("dist/tiered-pricing.wasm", Wasi::None);
}

#[test]
#[ignore = "needs plugins/build all; tests/run plugins does both"]
fn rule_built_from_python_agrees_with_decimal_arithmetic() {
    agrees("dist/tiered-pricing-python.wasm", Wasi::EmptyDeterministic);
}

/// Without WASI: its optional features are left out when it is built.
#[test]
#[ignore = "needs plugins/build all; tests/run plugins does both"]
fn rule_built_from_javascript_agrees_with_decimal_arithmetic() {
    agrees("dist/tiered-pricing-javascript.wasm", Wasi::None);
}

/// The host checks every figure against the ranges of the contract.
#[test]
fn shipped_product_list_is_valid_and_whole() {
    let plugin = load("prebuilt/workshop-products.wasm", Wasi::None).unwrap();
    let (products, _) = plugin.list_products(&[], CallLimits::default()).unwrap();
    let text = std::fs::read_to_string(plugins().join("workshop-products/products.toml")).unwrap();
    let sections = |name: &str| text.matches(&format!("\n[[{name}]]")).count();
    assert_eq!(products.chemicals.len(), sections("chemical"));
    assert_eq!(products.films.len(), sections("film"));
    assert_eq!(products.coatings.len(), sections("coating"));
    assert_eq!(products.setups.len(), sections("setup"));
}

/// A quote or a refusal in the plugin's own words; or a failure, which no job expects.
#[derive(Debug, PartialEq)]
enum Outcome {
    Quote(Quote),
    Refused(RefusalKind, String),
    Failed(String),
}

/// Prices every job and compares with what is expected, and word for word, reasons and
/// notes too, with the shipped plugin.
fn agrees(file: &str, wasi: Wasi) {
    let Some(plugin) = load(file, wasi) else {
        return skip(&format!("{file} is not built: plugins/build"));
    };
    let Some(vectors) = vectors() else {
        return skip(&format!("{file} is not compared: python3 is not at hand"));
    };
    assert_eq!(vectors.len(), JOBS);
    let shipped = load("prebuilt/tiered-pricing.wasm", Wasi::None).unwrap();
    let mut refused = Vec::new();
    for (request, expected) in &vectors {
        let outcome = price(&plugin, request);
        assert_eq!(bare(&outcome), *expected, "{request:#?}\n{outcome:#?}");
        assert_eq!(outcome, price(&shipped, request), "{request:#?}");
        if let Outcome::Refused(kind, _) = outcome {
            refused.push(kind);
        }
    }
    for kind in [
        RefusalKind::BadSetting,
        RefusalKind::Missing,
        RefusalKind::NotCovered,
    ] {
        assert!(refused.contains(&kind), "no job drawn is refused as {kind}");
    }
    assert!(refused.len() < JOBS / 2, "most jobs have a price");
}

fn price(plugin: &Plugin, request: &PricingRequest) -> Outcome {
    match plugin.quote(request, CallLimits::default()) {
        Ok((quote, _)) => Outcome::Quote(quote),
        Err(failure) => match PluginError::from(failure) {
            PluginError::Refused { kind, text } => Outcome::Refused(kind, text),
            other => Outcome::Failed(format!("{}: {other}", other.reason())),
        },
    }
}

/// As the vectors have it: without what is said in words only.
fn bare(outcome: &Outcome) -> Value {
    match outcome {
        Outcome::Failed(why) => serde_json::json!({ "failed": why }),
        Outcome::Refused(kind, _) => serde_json::json!({ "refusal": format!("{kind:?}") }),
        Outcome::Quote(quote) => {
            let mut quote = serde_json::to_value(quote).unwrap();
            quote.as_object_mut().unwrap().remove("notes");
            for line in quote["lines"].as_array_mut().unwrap() {
                line.as_object_mut().unwrap().remove("reason");
            }
            serde_json::json!({ "quote": quote })
        }
    }
}

fn load(file: &str, wasi: Wasi) -> Option<Plugin> {
    let bytes = std::fs::read(plugins().join(file)).ok()?;
    let config = HostConfig {
        cache_dir: Some(Path::new(env!("CARGO_TARGET_TMPDIR")).join("guests")),
        ..HostConfig::default()
    };
    let options = LoadOptions {
        wasi,
        ..LoadOptions::default()
    };
    let host = PluginHost::try_new(config).unwrap();
    Some(host.load(&bytes, &options).unwrap())
}

/// Requests, each with what is expected; `None` where there is no Python.
fn vectors() -> Option<Vec<(PricingRequest, Value)>> {
    let python = std::env::var_os("LAMELLA_TEST_PYTHON").unwrap_or_else(|| "python3".into());
    let output = Command::new(python)
        .arg(plugins().join("vectors/generate.py"))
        .args(["--count", &JOBS.to_string()])
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .env("PYTHONUTF8", "1")
        .output()
        .ok()?;
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{told}");
    let text = String::from_utf8(output.stdout).unwrap();
    let vector = |line: &str| {
        let mut vector: Value = serde_json::from_str(line).unwrap();
        let request = serde_json::from_value(vector["request"].take()).unwrap();
        (request, vector["expected"].take())
    };
    Some(text.lines().map(vector).collect())
}

/// Says so where it is seen: `tests/run` shows the lines of the file that it names.
fn skip(what: &str) {
    eprintln!("SKIPPED: {what}");
    if let Some(list) = std::env::var_os("LAMELLA_RUN_SKIPS") {
        let mut list = std::fs::OpenOptions::new().append(true).open(list).unwrap();
        writeln!(list, "plugins: {what}").unwrap();
    }
}

fn plugins() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../plugins")
}
