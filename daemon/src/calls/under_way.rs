//! One call until it is over. Whatever becomes of it, its end is noted once:
//! where nothing says how it ended, its caller has gone.

use std::time::Instant;

use http::HeaderMap;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;
use tracing::Span;

use super::methods::Method;
use crate::metrics::Metrics;
use crate::telemetry;

/// The module that log filters name, whichever file of it writes.
const TARGET: &str = "lamella_daemon::calls";

/// A call that is being answered.
#[derive(Debug)]
pub(super) struct UnderWay {
    metrics: Metrics,
    method: Method,
    span: Span,
    begun: Instant,
    over: bool,
}

impl UnderWay {
    /// A call that has come.
    pub(super) fn begin(metrics: Metrics, method: Method, span: Span) -> Self {
        metrics.call_begun(method.labels());
        Self {
            metrics,
            method,
            span,
            begun: Instant::now(),
            over: false,
        }
    }

    /// What happens for it, in the log, happens in here.
    pub(super) fn span(&self) -> &Span {
        &self.span
    }

    /// Its answer begins. One without a body says in its headers how it ended.
    pub(super) fn answered(&mut self, headers: &HeaderMap) {
        self.metrics
            .call_answered(self.method.labels(), self.begun.elapsed());
        if let Some(status) = Status::from_header_map(headers) {
            self.ended(&status);
        }
    }

    /// These trailers end it.
    pub(super) fn trailers(&mut self, trailers: &HeaderMap) {
        let status = Status::from_header_map(trailers);
        self.ended(&status.unwrap_or_else(|| Status::unknown("no status")));
    }

    fn ended(&mut self, status: &Status) {
        if self.over {
            return;
        }
        self.over = true;
        self.metrics
            .call_ended(self.method.labels(), code(status.code()));
        self.span.in_scope(|| self.tell(status));
        telemetry::end_call(&self.span, status.code());
    }

    fn tell(&self, status: &Status) {
        let code_name = code(status.code());
        let reason = status.get_details_error_info().map(|info| info.reason);
        let reason = reason.as_deref();
        let elapsed_ms = self.begun.elapsed().as_millis();
        match status.code() {
            Code::Ok if self.method.is_housekeeping() => {
                tracing::debug!(target: TARGET, code = code_name, elapsed_ms, "answered");
            }
            Code::Ok => tracing::info!(target: TARGET, code = code_name, elapsed_ms, "answered"),
            Code::Internal | Code::Unknown | Code::DataLoss => {
                // The daemon's own fault: here the message is what helps.
                let message = status.message();
                tracing::error!(target: TARGET, code = code_name, reason, elapsed_ms, message, "failed");
            }
            Code::Unavailable | Code::ResourceExhausted => {
                tracing::warn!(target: TARGET, code = code_name, reason, elapsed_ms, "not served");
            }
            Code::Cancelled
            | Code::InvalidArgument
            | Code::DeadlineExceeded
            | Code::NotFound
            | Code::AlreadyExists
            | Code::PermissionDenied
            | Code::FailedPrecondition
            | Code::Aborted
            | Code::OutOfRange
            | Code::Unimplemented
            | Code::Unauthenticated => {
                tracing::info!(target: TARGET, code = code_name, reason, elapsed_ms, "refused");
                tracing::debug!(target: TARGET, message = status.message(), "what was said");
            }
        }
    }
}

impl Drop for UnderWay {
    fn drop(&mut self) {
        self.ended(&Status::cancelled("the caller has gone"));
    }
}

/// The code's canonical name.
fn code(code: Code) -> &'static str {
    match code {
        Code::Ok => "OK",
        Code::Cancelled => "CANCELLED",
        Code::Unknown => "UNKNOWN",
        Code::InvalidArgument => "INVALID_ARGUMENT",
        Code::DeadlineExceeded => "DEADLINE_EXCEEDED",
        Code::NotFound => "NOT_FOUND",
        Code::AlreadyExists => "ALREADY_EXISTS",
        Code::PermissionDenied => "PERMISSION_DENIED",
        Code::ResourceExhausted => "RESOURCE_EXHAUSTED",
        Code::FailedPrecondition => "FAILED_PRECONDITION",
        Code::Aborted => "ABORTED",
        Code::OutOfRange => "OUT_OF_RANGE",
        Code::Unimplemented => "UNIMPLEMENTED",
        Code::Internal => "INTERNAL",
        Code::Unavailable => "UNAVAILABLE",
        Code::DataLoss => "DATA_LOSS",
        Code::Unauthenticated => "UNAUTHENTICATED",
    }
}
