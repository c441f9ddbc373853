//! Every call, seen from outside: counted, timed, given an id, and told of in the
//! log when it is over. The innermost layer, so that gRPC-Web counts as what it
//! carries.
//!
//! - `methods`: the RPCs that there are, so that labels stay few
//! - `request_id`: the id of a call, given or made
//! - `under_way`: one call until it is over, and how it ended
//! - `body`: its answer, whose trailers say so
//!
//! A log line names the method, the request and the job, and of a failure its code
//! and reason. What a message says may hold what a customer told the shop, so at
//! `info` none is shown.

mod body;
mod methods;
mod request_id;
mod under_way;

use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use http::{HeaderValue, Request, Response};
use tonic::body::Body;
use tower::{Layer, Service};
use tracing::{Instrument as _, Span};

use self::body::Watched;
pub(crate) use self::methods::Methods;
use self::under_way::UnderWay;
use crate::metrics::Metrics;
use crate::telemetry;

/// The field of a call's span that names its job.
const JOB: &str = "job";

/// Says in the log which job the current call is about. The last one named stays.
pub(crate) fn about_job(id: &str) {
    Span::current().record(JOB, id);
}

/// Sees every call.
#[derive(Debug, Clone)]
pub(crate) struct Calls {
    metrics: Metrics,
    methods: Arc<Methods>,
}

/// [`Calls`] in front of the services.
#[derive(Debug, Clone)]
pub(crate) struct CallsService<S> {
    inner: S,
    calls: Calls,
}

impl Calls {
    /// Notes in `metrics` what becomes of the calls of `methods`.
    pub(crate) fn new(metrics: Metrics, methods: Methods) -> Self {
        Self {
            metrics,
            methods: Arc::new(methods),
        }
    }
}

impl<S> Layer<S> for Calls {
    type Service = CallsService<S>;

    fn layer(&self, inner: S) -> CallsService<S> {
        CallsService {
            inner,
            calls: self.clone(),
        }
    }
}

impl<S, B> Service<Request<B>> for CallsService<S>
where
    S: Service<Request<B>, Response = Response<Body>>,
    S::Future: Send + 'static,
    S::Error: Send + 'static,
{
    type Response = Response<Body>;
    type Error = S::Error;
    type Future = Pin<Box<dyn Future<Output = Result<Self::Response, S::Error>> + Send>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: Request<B>) -> Self::Future {
        let method = self.calls.methods.of(request.uri().path());
        let id = request_id::of(request.headers());
        // At the highest level, so that an error's line names its call whatever the filter.
        let span = tracing::error_span!(
            "call",
            method = method.short(),
            request_id = id.to_str().unwrap_or_default(),
            job = tracing::field::Empty,
            otel.name = method.full(),
            otel.kind = "server",
        );
        telemetry::continue_trace(&span, request.headers());
        let mut under_way = UnderWay::begin(self.calls.metrics.clone(), method, span.clone());
        let answering = self.inner.call(request).instrument(span);
        Box::pin(async move {
            let mut response = answering.await?;
            under_way.answered(response.headers());
            response
                .headers_mut()
                .insert(request_id::HEADER, HeaderValue::clone(&id));
            Ok(response.map(|body| Body::new(Watched::new(body, under_way))))
        })
    }
}
