//! The page that Prometheus reads, on a port of its own, so that who may read
//! figures need not be let near the jobs.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use prometheus_client::encoding::{prometheus_text, text};
use prometheus_client::registry::Registry;
use tokio::net::TcpListener;
use tokio::sync::watch;

/// OpenMetrics, for who asks for it.
const OPEN_METRICS: &str = "application/openmetrics-text";
const OPEN_METRICS_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// A bound page of metrics.
#[derive(Debug)]
pub(crate) struct Scrapes {
    listener: TcpListener,
    address: SocketAddr,
}

impl Scrapes {
    /// Binds its address.
    ///
    /// # Errors
    /// The system's answer.
    pub(crate) async fn bind(address: &str) -> std::io::Result<Self> {
        let listener = TcpListener::bind(address).await?;
        let address = listener.local_addr()?;
        Ok(Self { listener, address })
    }

    /// Where it is, with the port that was chosen.
    pub(crate) fn address(&self) -> SocketAddr {
        self.address
    }

    /// Serves until `stopping` turns true.
    pub(crate) async fn serve(self, registry: Registry, mut stopping: watch::Receiver<bool>) {
        let page = axum::Router::new()
            .route("/metrics", get(metrics))
            .with_state(Arc::new(registry));
        let stopped = async move {
            // An error means that the sender is gone, which is a stop as well.
            let _ = stopping.wait_for(|stop| *stop).await;
        };
        let served = axum::serve(self.listener, page).with_graceful_shutdown(stopped);
        if let Err(error) = served.await {
            tracing::error!(%error, "the metrics can no longer be read");
        }
    }
}

async fn metrics(State(registry): State<Arc<Registry>>, headers: HeaderMap) -> Response {
    let open = wants_open_metrics(&headers);
    // Off the async threads: the outbox's lock is held while its file is written.
    let written = tokio::task::spawn_blocking(move || write(&registry, open)).await;
    match written {
        Ok(Ok(page)) => {
            let kind = if open {
                OPEN_METRICS_TYPE
            } else {
                prometheus_text::CONTENT_TYPE
            };
            ([(header::CONTENT_TYPE, kind)], page).into_response()
        }
        Ok(Err(_)) | Err(_) => {
            tracing::error!("the metrics could not be written");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

fn write(registry: &Registry, open: bool) -> Result<String, std::fmt::Error> {
    let mut page = String::new();
    if open {
        text::encode(&mut page, registry)?;
    } else {
        prometheus_text::encode(&mut page, registry)?;
    }
    Ok(page)
}

fn wants_open_metrics(headers: &HeaderMap) -> bool {
    headers.get_all(header::ACCEPT).iter().any(|accept| {
        accept
            .to_str()
            .is_ok_and(|accept| accept.contains(OPEN_METRICS))
    })
}
