//! What the daemon tells of itself, and how.

use schemars::JsonSchema;
use serde::Deserialize;

use super::{ConfigError, DEFAULT_LOG};

/// How log lines are written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, JsonSchema, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
pub enum LogFormat {
    /// A line for people.
    #[default]
    Text,
    /// One JSON object a line, for programs.
    Json,
}

/// What is logged and traced.
#[derive(Debug, Clone)]
pub struct LogSettings {
    /// Log filter.
    pub filter: String,
    /// How lines are written.
    pub format: LogFormat,
    /// Where traces go, if anywhere: `http://HOST:PORT`.
    pub otlp_endpoint: Option<String>,
}

impl LogSettings {
    /// The same without traces, for a command that soon ends.
    #[must_use]
    pub fn without_traces(self) -> Self {
        Self {
            otlp_endpoint: None,
            ..self
        }
    }

    /// # Errors
    /// [`ConfigError::Value`] for a collector's address that cannot be used.
    pub(super) fn try_new(
        filter: Option<String>,
        format: Option<LogFormat>,
        otlp_endpoint: Option<String>,
    ) -> Result<Self, ConfigError> {
        if let Some(endpoint) = &otlp_endpoint {
            check_endpoint(endpoint)?;
        }
        Ok(Self {
            filter: filter.unwrap_or_else(|| DEFAULT_LOG.to_owned()),
            format: format.unwrap_or_default(),
            otlp_endpoint,
        })
    }
}

/// Without TLS: a collector beside the daemon, or one behind a tunnel.
fn check_endpoint(endpoint: &str) -> Result<(), ConfigError> {
    let uri = endpoint.parse::<http::Uri>().ok();
    let usable = uri.is_some_and(|uri| {
        uri.scheme_str() == Some("http") && uri.host().is_some_and(|host| !host.is_empty())
    });
    if usable {
        return Ok(());
    }
    Err(ConfigError::Value {
        key: "otlp_endpoint",
        value: endpoint.to_owned(),
        reason: "expected http://HOST:PORT of a collector that takes OTLP over gRPC".to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_collector_is_named_by_scheme_and_host() {
        for good in ["http://127.0.0.1:4317", "http://collector:4317/"] {
            assert!(check_endpoint(good).is_ok(), "{good}");
        }
        for bad in ["", "127.0.0.1:4317", "https://collector:4317", "http://"] {
            let error = check_endpoint(bad).unwrap_err().to_string();
            assert!(
                error.contains("expected http://HOST:PORT"),
                "{bad}: {error}"
            );
        }
    }
}
