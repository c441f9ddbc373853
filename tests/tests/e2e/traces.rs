//! Traces as an OpenTelemetry collector gets them: OTLP over gRPC into a small
//! collector here, spans joined to their caller's by W3C Trace Context.

use std::sync::{Arc, Mutex};

use lamella_tests::daemon::Daemon;
use lamella_tests::{shop, wait};
use opentelemetry_proto::tonic::collector::trace::v1::trace_service_server::{
    TraceService, TraceServiceServer,
};
use opentelemetry_proto::tonic::collector::trace::v1::{
    ExportTraceServiceRequest, ExportTraceServiceResponse,
};
use opentelemetry_proto::tonic::common::v1::any_value::Value;
use opentelemetry_proto::tonic::trace::v1::Span;
use opentelemetry_proto::tonic::trace::v1::span::SpanKind;
use tokio::net::TcpListener;
use tokio_stream::wrappers::TcpListenerStream;
use tonic::metadata::MetadataValue;
use tonic::{Request, Response, Status};

/// The example of the W3C Trace Context recommendation, section 3.2.2.
const TRACEPARENT: &str = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01";
const TRACE_ID: &str = "4bf92f3577b34da6a3ce929d0e0e4736";
const PARENT_ID: &str = "00f067aa0ba902b7";

/// A collector that keeps what it is sent.
#[derive(Clone, Default)]
struct Collector {
    got: Arc<Mutex<Vec<ExportTraceServiceRequest>>>,
}

#[tonic::async_trait]
impl TraceService for Collector {
    async fn export(
        &self,
        request: Request<ExportTraceServiceRequest>,
    ) -> Result<Response<ExportTraceServiceResponse>, Status> {
        self.got.lock().unwrap().push(request.into_inner());
        Ok(Response::new(ExportTraceServiceResponse::default()))
    }
}

impl Collector {
    /// Serves on a free port; its address.
    async fn start(&self) -> String {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = format!("http://{}", listener.local_addr().unwrap());
        let serving = tonic::transport::Server::builder()
            .add_service(TraceServiceServer::new(self.clone()))
            .serve_with_incoming(TcpListenerStream::new(listener));
        tokio::spawn(serving);
        address
    }

    /// Every span, and the name of the service that sent it.
    fn spans(&self) -> Vec<(String, Span)> {
        let got = self.got.lock().unwrap();
        let mut spans = Vec::new();
        for of_service in got.iter().flat_map(|request| &request.resource_spans) {
            let resource = of_service.resource.as_ref().unwrap();
            let service = text(&resource.attributes, "service.name").unwrap();
            for span in of_service.scope_spans.iter().flat_map(|scope| &scope.spans) {
                spans.push((service.clone(), span.clone()));
            }
        }
        spans
    }
}

type Attributes = [opentelemetry_proto::tonic::common::v1::KeyValue];

fn value<'a>(attributes: &'a Attributes, key: &str) -> Option<&'a Value> {
    let found = attributes.iter().find(|attribute| attribute.key == key)?;
    found.value.as_ref()?.value.as_ref()
}

fn text(attributes: &Attributes, key: &str) -> Option<String> {
    match value(attributes, key)? {
        Value::StringValue(text) => Some(text.clone()),
        _ => None,
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_collector_gets_a_span_for_each_call_within_its_callers_trace() {
    let collector = Collector::default();
    let endpoint = collector.start().await;
    let daemon = Daemon::builder()
        .arg("--otlp-endpoint")
        .arg(endpoint)
        .start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "The one for Wilhelmina Quist").await;
    let mut request = Request::new(lamella_proto::v1::GetJobRequest { name: job.clone() });
    let metadata = request.metadata_mut();
    metadata.insert("traceparent", MetadataValue::from_static(TRACEPARENT));
    metadata.insert("x-request-id", MetadataValue::from_static("run-7"));
    api.jobs().get_job(request).await.unwrap();
    // Spans that are still waiting are sent at the end.
    assert!(daemon.terminate().success());

    let spans = wait::until("the spans", || {
        let spans = collector.spans();
        (spans.len() >= 2).then_some(spans)
    });
    let of = |name: &str| {
        let found = spans.iter().find(|(_, span)| span.name == name);
        found.unwrap_or_else(|| panic!("no span {name} in {spans:#?}"))
    };
    let (service, get) = of("lamella.v1.JobService/GetJob");
    assert_eq!(service, "lamellad");
    assert_eq!(hex::encode(&get.trace_id), TRACE_ID);
    assert_eq!(hex::encode(&get.parent_span_id), PARENT_ID);
    assert_eq!(get.kind, i32::from(SpanKind::Server));
    assert!(get.end_time_unix_nano > get.start_time_unix_nano);
    let id = job.strip_prefix("jobs/").unwrap();
    assert_eq!(text(&get.attributes, "job").as_deref(), Some(id));
    assert_eq!(
        text(&get.attributes, "request_id").as_deref(),
        Some("run-7")
    );
    let code = value(&get.attributes, "rpc.grpc.status_code");
    assert_eq!(code, Some(&Value::IntValue(0)));
    // One without a caller's trace begins its own.
    let (_, create) = of("lamella.v1.JobService/CreateJob");
    assert_ne!(hex::encode(&create.trace_id), TRACE_ID);
    assert!(create.parent_span_id.is_empty(), "{create:#?}");
    assert!(!format!("{spans:?}").contains("Quist"), "{spans:#?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_a_collector_calls_are_answered_and_the_log_says_so() {
    // A port that was free a moment ago: nobody listens there.
    let nobody = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let endpoint = format!("http://{}", nobody.local_addr().unwrap());
    drop(nobody);
    let mut daemon = Daemon::builder()
        .arg("--otlp-endpoint")
        .arg(endpoint)
        .start();
    shop::new_job(&daemon.client().await, "Blue estate").await;
    daemon.ask_to_stop();
    wait::until("what became of the traces", || {
        let stderr = daemon.stderr();
        stderr
            .lines()
            .any(|line| line.contains("WARN") || line.contains("ERROR"))
            .then_some(())
    });
    assert!(daemon.wait().success());
}

#[test]
fn a_collectors_address_of_another_kind_is_refused() {
    let daemon = Daemon::builder()
        .arg("--otlp-endpoint")
        .arg("127.0.0.1:4317");
    let ended = daemon.try_start().unwrap_err();
    assert_eq!(ended.status.code(), Some(1));
    assert!(
        ended.stderr.contains("expected http://HOST:PORT"),
        "{}",
        ended.stderr
    );
}
