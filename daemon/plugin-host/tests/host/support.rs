//! What the tests share: a host, a request, and the check that a host outlives a guest.

use crate::guest::{Guest, honest};
use lamella_plugin_host::{
    CallFailure, CallLimits, CallReport, HostConfig, Job, LoadOptions, Measure, MoneyRules, Plugin,
    PluginHost, PricingRequest, Quote, Rounding, Service, Setting, TaxBasis, TaxClass,
};
use std::sync::OnceLock;

/// Small limits, so that the tests that reach them are quick.
pub(crate) fn config() -> HostConfig {
    HostConfig {
        fuel_units: 20_000_000,
        deadline_ms: 10_000,
        memory_bytes: 4 << 20,
        table_elements: 1_000,
        output_bytes: 100_000,
        log_lines: 10,
        log_bytes: 1_000,
        log_line_bytes: 100,
        stack_bytes: 128 << 10,
        // More than any machine runs tests at a time.
        pool_slots: 64,
        ..HostConfig::default()
    }
}

/// A host with [`config`], one for all tests.
pub(crate) fn host() -> &'static PluginHost {
    static HOST: OnceLock<PluginHost> = OnceLock::new();
    HOST.get_or_init(|| PluginHost::try_new(config()).unwrap())
}

/// An honest plugin on [`host`], which has to go on serving whatever others do.
pub(crate) fn bystander() -> &'static Plugin {
    static PLUGIN: OnceLock<Plugin> = OnceLock::new();
    PLUGIN.get_or_init(|| load(&honest()))
}

pub(crate) fn load(guest: &Guest) -> Plugin {
    host()
        .load(&guest.build(), &LoadOptions::default())
        .unwrap()
}

/// Loads a guest that must load, lets it fail, and sees that the bystander still serves.
pub(crate) fn fails(guest: &Guest, reason: &str) -> CallFailure {
    fails_within(guest, CallLimits::default(), reason)
}

pub(crate) fn fails_within(guest: &Guest, limits: CallLimits, reason: &str) -> CallFailure {
    let plugin = load(guest);
    let before = serve();
    let failure = plugin.quote(&request(3), limits).unwrap_err();
    assert_eq!(failure.reason(), reason, "{failure}");
    assert_eq!(serve(), before);
    *failure
}

/// Loads bytes that must not load, and sees that the bystander still serves.
pub(crate) fn does_not_load(bytes: &[u8], options: &LoadOptions, reason: &str) -> String {
    let before = serve();
    let failure = host().load(bytes, options).unwrap_err();
    assert_eq!(failure.reason(), reason, "{failure}");
    assert_eq!(serve(), before);
    failure.to_string()
}

pub(crate) fn serves(guest: &Guest) -> (Quote, CallReport) {
    load(guest)
        .quote(&request(3), CallLimits::default())
        .unwrap()
}

fn serve() -> Quote {
    bystander()
        .quote(&request(3), CallLimits::default())
        .unwrap()
        .0
}

/// A job with so many measures: 1.500, 2.500, 3.500, … hours of labour.
pub(crate) fn request(measures: i64) -> PricingRequest {
    let text = str::to_owned;
    PricingRequest {
        job: Job {
            id: text("job-1"),
            name: text("Blue estate"),
            booked_at: text("2026-03-02T09:00:00+01:00"),
            promised_at: None,
            arrival_condition: text("light swirls"),
            wishes: String::new(),
            services: vec![Service {
                code: text("correct"),
                description: text("One-step correction"),
                panels: Vec::new(),
            }],
            panels: Vec::new(),
        },
        measures: (1..=measures)
            .map(|number| Measure {
                kind: text("labour"),
                item: format!("step-{number}"),
                quantity: number * 1_000 + 500,
                unit: text("h"),
            })
            .collect(),
        money: euro_rules(),
        settings: vec![Setting {
            key: text("bay"),
            value: text("2"),
        }],
    }
}

pub(crate) fn euro_rules() -> MoneyRules {
    MoneyRules {
        currency: "EUR".into(),
        minor_digits: 2,
        rounding: Rounding::HalfUp,
        tax_basis: TaxBasis::Class,
        tax_classes: vec![TaxClass {
            name: "standard".into(),
            rate_ppm: 190_000,
        }],
    }
}
