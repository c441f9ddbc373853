//! What is asked for when somebody reads: the store's counters, which plugins
//! serve, how far the outbox has come.

use std::fmt;
use std::sync::Arc;

use jiff::Timestamp;
use lamella_store::Store;
use prometheus_client::collector::Collector;
use prometheus_client::encoding::{DescriptorEncoder, EncodeMetric};
use prometheus_client::metrics::counter::ConstCounter;
use prometheus_client::metrics::gauge::ConstGauge;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::Unit;

use crate::outbox::Outbox;
use crate::plugins::Plugins;

/// Whom to ask.
pub(crate) struct Sampled {
    /// The open store.
    pub(crate) store: Arc<Store>,
    /// The plugins.
    pub(crate) plugins: Plugins,
    /// The outbox.
    pub(crate) outbox: Outbox,
    /// When this process began.
    pub(crate) started: Timestamp,
}

/// Writes one metric after another.
struct Page<'a>(DescriptorEncoder<'a>);

impl Page<'_> {
    fn metric(
        &mut self,
        name: &str,
        help: &str,
        unit: Option<&Unit>,
        metric: &impl EncodeMetric,
    ) -> fmt::Result {
        let kind = metric.metric_type();
        // Its own sentences end in a point, as the format wants them.
        let help = format!("{help}.");
        metric.encode(self.0.encode_descriptor(name, &help, unit, kind)?)
    }

    fn gauge(&mut self, name: &str, help: &str, value: u64) -> fmt::Result {
        let value = i64::try_from(value).unwrap_or(i64::MAX);
        self.metric(name, help, None, &ConstGauge::new(value))
    }

    fn counter(&mut self, name: &str, help: &str, value: u64) -> fmt::Result {
        self.metric(name, help, None, &ConstCounter::new(value))
    }

    fn daemon(&mut self, started: Timestamp) -> fmt::Result {
        let build = Info::new([("version", env!("CARGO_PKG_VERSION"))]);
        self.metric("build", "Which version this is", None, &build)?;
        let started = ConstGauge::new(started.as_second());
        let help = "When this process began, in Unix time";
        self.metric("start_time", help, Some(&Unit::Seconds), &started)
    }

    fn store(&mut self, store: &Store) -> fmt::Result {
        let stats = store.stats();
        self.gauge(
            "journal_last_sequence",
            "Sequence number of the last event that is durable",
            stats.last_seq,
        )?;
        self.gauge(
            "journal_segments",
            "Files of the journal that are kept",
            stats.segments,
        )?;
        self.counter(
            "journal_events",
            "Events appended since the start",
            stats.records,
        )?;
        self.gauge(
            "journal_commands_waiting",
            "Changes that wait for the journal",
            stats.queued,
        )?;
        self.gauge(
            "projection_lag_events",
            "Events that are durable but cannot be read yet",
            stats.last_seq.saturating_sub(stats.applied_seq),
        )?;
        self.gauge(
            "store_read_only",
            "1 after a failure of the store, which then refuses every change",
            u64::from(store.failure().is_some()),
        )?;
        self.gauge("watchers", "Open watches of events", stats.watchers)
    }

    fn plugins(&mut self, plugins: &Plugins) -> fmt::Result {
        let (serving, failed) = plugins.count();
        self.gauge("plugins_serving", "Enabled plugins that serve", serving)?;
        self.gauge(
            "plugins_failed",
            "Enabled plugins that could not be loaded and do not serve",
            failed,
        )
    }

    fn outbox(&mut self, outbox: &Outbox, last_seq: u64) -> fmt::Result {
        let Some(progress) = outbox.progress() else {
            return Ok(());
        };
        self.gauge(
            "outbox_lag_events",
            "Events that the outbox has still to look at",
            last_seq.saturating_sub(progress.delivered_seq),
        )?;
        self.gauge(
            "outbox_jobs_waiting",
            "Jobs with an event that is to be sent again",
            progress.waiting_jobs as u64,
        )?;
        self.gauge(
            "outbox_dead_letters",
            "Jobs with an event that was given up",
            progress.dead_letters as u64,
        )
    }
}

impl Collector for Sampled {
    fn encode(&self, encoder: DescriptorEncoder<'_>) -> fmt::Result {
        let mut page = Page(encoder);
        page.daemon(self.started)?;
        page.store(&self.store)?;
        page.plugins(&self.plugins)?;
        page.outbox(&self.outbox, self.store.last_seq())
    }
}

impl fmt::Debug for Sampled {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Sampled")
            .field("started", &self.started)
            .finish_non_exhaustive()
    }
}
