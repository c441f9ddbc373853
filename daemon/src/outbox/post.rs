//! One attempt to deliver over HTTP.

use std::sync::Arc;

use tokio::sync::oneshot;
use ureq::Agent;
use ureq::tls::{PemItem, RootCerts, TlsConfig, parse_pem};

use super::OutboxError;
use crate::config::OutboxSettings;

/// Sends bodies to the configured address.
pub(super) struct Post {
    agent: Agent,
    url: String,
}

/// What is sent.
#[derive(Debug)]
pub(super) struct Delivery {
    /// Canonical protobuf JSON.
    pub(super) body: String,
    /// Seconds since 1970.
    pub(super) timestamp: i64,
    /// Of timestamp and body.
    pub(super) signature: String,
}

impl Post {
    pub(super) fn try_new(settings: &OutboxSettings) -> Result<Self, OutboxError> {
        let roots = match &settings.ca_pem {
            None => RootCerts::WebPki,
            Some(pem) => {
                let mut certificates = Vec::new();
                for item in parse_pem(pem) {
                    // A key in that file is none of our business.
                    if let PemItem::Certificate(certificate) =
                        item.map_err(|_| OutboxError::Certificates)?
                    {
                        certificates.push(certificate);
                    }
                }
                if certificates.is_empty() {
                    return Err(OutboxError::Certificates);
                }
                RootCerts::Specific(Arc::new(certificates))
            }
        };
        let config = Agent::config_builder()
            .timeout_global(Some(settings.timeout))
            // The answer is to come from the address that was configured.
            .max_redirects(0)
            .max_redirects_will_error(false)
            .http_status_as_error(false)
            .proxy(None)
            .user_agent(concat!("lamellad/", env!("CARGO_PKG_VERSION")))
            .tls_config(TlsConfig::builder().root_certs(roots).build())
            .build();
        Ok(Self {
            agent: Agent::new_with_config(config),
            url: settings.url.clone(),
        })
    }

    /// Sends one delivery; an answer 2xx has taken it.
    ///
    /// # Errors
    /// Why it was not taken, in words.
    pub(super) async fn send(&self, delivery: Delivery) -> Result<(), String> {
        let (agent, url) = (self.agent.clone(), self.url.clone());
        let (answer, answered) = oneshot::channel();
        // A thread and not one of the runtime's: a receiver that hangs must not
        // keep the daemon from stopping.
        std::thread::Builder::new()
            .name("outbox".to_owned())
            .spawn(move || {
                // Nobody waits any more when the daemon is stopping.
                let _ = answer.send(send(&agent, &url, &delivery));
            })
            .map_err(|error| error.to_string())?;
        answered
            .await
            .unwrap_or_else(|_| Err("the attempt was given up".to_owned()))
    }
}

fn send(agent: &Agent, url: &str, delivery: &Delivery) -> Result<(), String> {
    let sent = agent
        .post(url)
        .header("content-type", "application/json")
        .header("lamella-timestamp", delivery.timestamp.to_string())
        .header(
            "lamella-signature",
            format!("sha256={}", delivery.signature),
        )
        .send(delivery.body.as_str());
    match sent {
        Ok(answer) if answer.status().is_success() => Ok(()),
        Ok(answer) => Err(format!("the receiver answered {}", answer.status())),
        Err(error) => Err(error.to_string()),
    }
}
