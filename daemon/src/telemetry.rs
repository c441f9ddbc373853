//! What the daemon tells of itself while it runs: a log on stderr, and traces to an
//! OpenTelemetry collector where one is named.

mod people;

use std::io::IsTerminal as _;
use std::time::Duration;

use anyhow::Context as _;
use http::HeaderMap;
use opentelemetry::global;
use opentelemetry::propagation::Extractor;
use opentelemetry::trace::{Status as TraceStatus, TracerProvider as _};
use opentelemetry_otlp::{SpanExporter, WithExportConfig as _};
use opentelemetry_sdk::Resource;
use opentelemetry_sdk::propagation::TraceContextPropagator;
use opentelemetry_sdk::trace::SdkTracerProvider;
use tonic::Code;
use tracing::Span;
use tracing_opentelemetry::OpenTelemetrySpanExt as _;
use tracing_subscriber::layer::{Layer as _, SubscriberExt as _};
use tracing_subscriber::util::SubscriberInitExt as _;
use tracing_subscriber::{EnvFilter, Registry};

use self::people::ForPeople;
use crate::config::{LogFormat, LogSettings};

/// How long the end waits for traces that are not sent yet.
const FLUSH_LIMIT: Duration = Duration::from_secs(3);

/// The number that OpenTelemetry's conventions give a call's end.
const STATUS_CODE: &str = "rpc.grpc.status_code";

/// Logs and traces, while it lives.
#[derive(Debug)]
pub struct Telemetry {
    provider: Option<SdkTracerProvider>,
}

impl Telemetry {
    /// Begins to log, and to trace where `settings` say so. Once in a process, and
    /// where traces are sent, within the async runtime.
    ///
    /// # Errors
    /// For a log filter or a collector's address that cannot be used, or when the
    /// process logs already.
    pub fn start(settings: &LogSettings) -> anyhow::Result<Self> {
        let filter = EnvFilter::try_new(&settings.filter)
            .with_context(|| format!("log filter `{}`", settings.filter))?;
        let provider = settings.otlp_endpoint.as_deref().map(provider);
        let provider = provider.transpose()?;
        let tracing = provider.as_ref().map(|provider| {
            global::set_text_map_propagator(TraceContextPropagator::new());
            tracing_opentelemetry::layer()
                .with_tracer(provider.tracer("lamellad"))
                .with_location(false)
                .with_threads(false)
        });
        Registry::default()
            .with(filter)
            .with(tracing)
            .with(log(settings.format))
            .try_init()
            .context("cannot begin to log")?;
        Ok(Self { provider })
    }

    /// Sends the traces that are left. Blocks for at most three seconds.
    pub fn end(self) {
        if let Some(provider) = self.provider
            && let Err(error) = provider.shutdown_with_timeout(FLUSH_LIMIT)
        {
            tracing::warn!(%error, "the last traces were not sent");
        }
    }
}

/// The log on stderr.
fn log<S>(format: LogFormat) -> Box<dyn tracing_subscriber::Layer<S> + Send + Sync>
where
    S: tracing::Subscriber + for<'a> tracing_subscriber::registry::LookupSpan<'a> + Send + Sync,
{
    let layer = tracing_subscriber::fmt::layer()
        .with_writer(std::io::stderr)
        // It would complain on stderr, and panic where that is a file on a full disk.
        .log_internal_errors(false);
    match format {
        LogFormat::Text => {
            let color = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
            layer.with_ansi(color).fmt_fields(ForPeople).boxed()
        }
        LogFormat::Json => layer.json().flatten_event(true).boxed(),
    }
}

fn provider(endpoint: &str) -> anyhow::Result<SdkTracerProvider> {
    let exporter = SpanExporter::builder()
        .with_tonic()
        .with_endpoint(endpoint)
        .build()
        .with_context(|| format!("cannot send traces to `{endpoint}`"))?;
    let resource = Resource::builder()
        .with_service_name("lamellad")
        .with_attribute(opentelemetry::KeyValue::new(
            "service.version",
            env!("CARGO_PKG_VERSION"),
        ))
        .build();
    Ok(SdkTracerProvider::builder()
        .with_batch_exporter(exporter)
        .with_resource(resource)
        .build())
}

/// Makes a call's span part of its caller's trace, where the headers name one
/// (W3C Trace Context).
pub(crate) fn continue_trace(span: &Span, headers: &HeaderMap) {
    if headers.contains_key("traceparent") {
        let parent = global::get_text_map_propagator(|reader| reader.extract(&Headers(headers)));
        // Fails where nothing is traced.
        let _ = span.set_parent(parent);
    }
}

/// Says in the trace how a call ended. What the caller did wrong is no error here.
pub(crate) fn end_call(span: &Span, code: Code) {
    span.set_attribute(STATUS_CODE, i64::from(i32::from(code)));
    let own_fault = matches!(
        code,
        Code::Internal | Code::Unknown | Code::DataLoss | Code::Unavailable
    );
    if own_fault {
        span.set_status(TraceStatus::error(code.description()));
    }
}

/// The headers of a call, as the propagator reads them.
struct Headers<'a>(&'a HeaderMap);

impl Extractor for Headers<'_> {
    fn get(&self, key: &str) -> Option<&str> {
        self.0.get(key)?.to_str().ok()
    }

    fn keys(&self) -> Vec<&str> {
        self.0.keys().map(http::HeaderName::as_str).collect()
    }
}
