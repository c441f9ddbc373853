//! Prices a request with a plugin, for its author:
//!
//! ```text
//! cargo run -p lamella-plugin-host --example price -- [--wasi] [--cache] plugin.wasm [request.json]
//! cargo run -p lamella-plugin-host --example price -- --sample > request.json
//! ```
//!
//! `--cache` keeps the compiled code in `price-cache` of the folder for temporary files.
//! Without a request it prices the sample. A plugin of world `product-list` lists its
//! products instead. The answer goes to standard output as JSON, the rest to standard error.
#![expect(clippy::print_stdout, reason = "an example answers on standard output")]

use lamella_plugin_host::{
    CallFailure, CallLimits, CallReport, Condition, Finish, HostConfig, Job, LoadOptions, Measure,
    MoneyRules, Panel, PluginHost, PricingRequest, Rounding, Service, Substrate, TaxBasis,
    TaxClass, Wasi, World,
};
use std::error::Error;
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn Error>> {
    let mut wasi = Wasi::None;
    let mut cache_dir = None;
    let mut files = Vec::new();
    for argument in std::env::args_os().skip(1) {
        match argument.to_str() {
            Some("--wasi") => wasi = Wasi::EmptyDeterministic,
            Some("--cache") => cache_dir = Some(std::env::temp_dir().join("price-cache")),
            Some("--sample") => {
                println!("{}", serde_json::to_string_pretty(&sample())?);
                return Ok(());
            }
            _ => files.push(PathBuf::from(argument)),
        }
    }
    let mut files = files.into_iter();
    let component = files
        .next()
        .ok_or("usage: price [--wasi] [--cache] plugin.wasm [request.json]")?;
    let request = match files.next() {
        Some(file) => serde_json::from_slice(&std::fs::read(file)?)?,
        None => sample(),
    };
    let host = PluginHost::try_new(HostConfig {
        cache_dir,
        ..HostConfig::default()
    })?;
    let options = LoadOptions {
        wasi,
        ..LoadOptions::default()
    };
    let plugin = host
        .load(&std::fs::read(component)?, &options)
        .map_err(|failure| told(&failure))?;
    eprintln!(
        "{} {}: {}",
        plugin.about().name,
        plugin.about().version,
        plugin.about().summary
    );
    let limits = CallLimits::default();
    let answer = match plugin.world() {
        World::Pricing => {
            let (quote, report) = plugin
                .quote(&request, limits)
                .map_err(|failure| told(&failure))?;
            tell(&report);
            serde_json::to_string_pretty(&quote)?
        }
        World::ProductList => {
            let (products, report) = plugin
                .list_products(&request.settings, limits)
                .map_err(|failure| told(&failure))?;
            tell(&report);
            serde_json::to_string_pretty(&products)?
        }
    };
    println!("{answer}");
    Ok(())
}

fn told(failure: &CallFailure) -> String {
    tell(&failure.report);
    format!("{}: {failure}", failure.reason())
}

fn tell(report: &CallReport) {
    for line in &report.log_lines {
        eprintln!("  {:?}: {}", line.level, line.text);
    }
    eprintln!(
        "fuel {}, {} us, {} log lines dropped",
        report.fuel_used, report.micros, report.dropped_lines
    );
}

/// A job with a bit of everything.
fn sample() -> PricingRequest {
    let panel = |id: &str, condition, area_cm2| Panel {
        id: id.into(),
        name: id.into(),
        substrate: Substrate::Steel,
        finish: Finish::ClearCoat,
        condition,
        area_cm2,
    };
    let measure = |kind: &str, item: &str, quantity, unit: &str| Measure {
        kind: kind.into(),
        item: item.into(),
        quantity,
        unit: unit.into(),
    };
    PricingRequest {
        job: Job {
            id: "sample".into(),
            name: "Blue estate".into(),
            booked_at: "2026-03-02T09:00:00+01:00".into(),
            promised_at: Some("2026-03-04T17:00:00+01:00".into()),
            arrival_condition: "light swirls all over".into(),
            wishes: "gloss, and the hood protected".into(),
            services: vec![
                Service {
                    code: "correct".into(),
                    description: "One-step correction".into(),
                    panels: Vec::new(),
                },
                Service {
                    code: "film".into(),
                    description: "Protection film".into(),
                    panels: vec!["hood".into()],
                },
            ],
            panels: vec![
                panel("hood", Condition::Moderate, Some(16_500)),
                panel("door-left", Condition::Light, Some(9_800)),
                panel("roof", Condition::Good, Some(17_200)),
            ],
        },
        measures: vec![
            measure("film", "clear-film", 2_150, "m"),
            measure("chemical", "compound", 120_000, "ml"),
            measure("labour", "correct", 6_500, "h"),
        ],
        money: MoneyRules {
            currency: "EUR".into(),
            minor_digits: 2,
            rounding: Rounding::HalfUp,
            tax_basis: TaxBasis::Class,
            tax_classes: vec![TaxClass {
                name: "standard".into(),
                rate_ppm: 190_000,
            }],
        },
        // Each plugin knows its own.
        settings: Vec::new(),
    }
}
