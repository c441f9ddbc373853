//! What the daemon counts and times, as Prometheus reads it.
//!
//! - [`Metrics`]: what is noted as it happens
//! - `sampled`: what is asked for when somebody reads
//! - `scrape`: the page that is read, on a port of its own
//!
//! No label holds what a person wrote: methods and codes are the API's own, and
//! a plugin's name is an id. So nobody's name is ever among them, and their
//! number stays small.

mod sampled;
mod scrape;

use std::sync::Arc;
use std::time::Duration;

use lamella_plugin_host::CallSeen;
use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::{Registry, Unit};

pub(crate) use self::sampled::Sampled;
pub(crate) use self::scrape::Scrapes;

/// Upper edges of the buckets of a call's time, in seconds: a read takes a
/// millisecond, a change a sync, a plugin or an export more.
const ANSWER_EDGES: [f64; 12] = [
    0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0,
];

/// The same of a sync: 0.2 ms on a fast disk, and a second on one that is failing.
const SYNC_EDGES: [f64; 11] = [
    0.000_25, 0.000_5, 0.001, 0.002_5, 0.005, 0.01, 0.025, 0.05, 0.1, 0.5, 2.0,
];

/// The same of a plugin's call, up to beyond its default deadline.
const PLUGIN_EDGES: [f64; 10] = [
    0.000_5, 0.001, 0.002_5, 0.005, 0.01, 0.05, 0.1, 0.5, 1.0, 5.0,
];

/// One RPC.
#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
pub(crate) struct MethodLabels {
    /// Full name, as `lamella.v1.JobService`.
    pub(crate) service: Arc<str>,
    /// As `GetJob`.
    pub(crate) method: Arc<str>,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct EndLabels {
    service: Arc<str>,
    method: Arc<str>,
    code: &'static str,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct PluginLabels {
    plugin: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct FailureLabels {
    plugin: String,
    reason: &'static str,
}

/// What is noted as it happens. Cheap to clone; clones count together.
#[derive(Debug, Clone)]
pub struct Metrics {
    ended: Family<EndLabels, Counter>,
    answer_seconds: Family<MethodLabels, Histogram>,
    open: Family<MethodLabels, Gauge>,
    sync_seconds: Histogram,
    plugin_seconds: Family<PluginLabels, Histogram>,
    plugin_failures: Family<FailureLabels, Counter>,
}

impl Default for Metrics {
    fn default() -> Self {
        Self {
            ended: Family::default(),
            answer_seconds: Family::new_with_constructor(|| Histogram::new(ANSWER_EDGES)),
            open: Family::default(),
            sync_seconds: Histogram::new(SYNC_EDGES),
            plugin_seconds: Family::new_with_constructor(|| Histogram::new(PLUGIN_EDGES)),
            plugin_failures: Family::default(),
        }
    }
}

impl Metrics {
    /// A call has come.
    pub(crate) fn call_begun(&self, method: &MethodLabels) {
        self.open.get_or_create(method).inc();
    }

    /// Its answer begins: for a unary call, it is there.
    pub(crate) fn call_answered(&self, method: &MethodLabels, took: Duration) {
        self.answer_seconds
            .get_or_create(method)
            .observe(took.as_secs_f64());
    }

    /// It is over, with this canonical gRPC code.
    pub(crate) fn call_ended(&self, method: &MethodLabels, code: &'static str) {
        self.open.get_or_create(method).dec();
        self.ended
            .get_or_create(&EndLabels {
                service: Arc::clone(&method.service),
                method: Arc::clone(&method.method),
                code,
            })
            .inc();
    }

    /// The journal has made an append durable.
    pub(crate) fn synced(&self, took: Duration) {
        self.sync_seconds.observe(took.as_secs_f64());
    }

    /// A plugin was called.
    pub(crate) fn plugin_called(&self, seen: CallSeen<'_>) {
        let labels = PluginLabels {
            plugin: seen.plugin.to_owned(),
        };
        self.plugin_seconds
            .get_or_create(&labels)
            .observe(seen.took.as_secs_f64());
        if let Some(reason) = seen.failure {
            let plugin = labels.plugin;
            self.plugin_failures
                .get_or_create(&FailureLabels { plugin, reason })
                .inc();
        }
    }

    /// All of it under its names, with what `sampled` asks for.
    pub(crate) fn registry(&self, sampled: Sampled) -> Registry {
        let mut registry = Registry::with_prefix("lamella");
        registry.register(
            "grpc_calls",
            "Calls that are over, by canonical gRPC code",
            self.ended.clone(),
        );
        registry.register_with_unit(
            "grpc_answer",
            "Time until the answer began; a unary call was then answered",
            Unit::Seconds,
            self.answer_seconds.clone(),
        );
        registry.register(
            "grpc_open_calls",
            "Calls that are being answered, open watches among them",
            self.open.clone(),
        );
        registry.register_with_unit(
            "journal_sync",
            "Time to append a batch to the journal and make it durable",
            Unit::Seconds,
            self.sync_seconds.clone(),
        );
        registry.register_with_unit(
            "plugin_call",
            "Time of one call of a plugin",
            Unit::Seconds,
            self.plugin_seconds.clone(),
        );
        registry.register(
            "plugin_failures",
            "Calls of a plugin that gave no answer, by stable reason",
            self.plugin_failures.clone(),
        );
        registry.register_collector(Box::new(sampled));
        registry
    }
}
