//! Gathers what is to be seen of a daemon. Whatever it does not answer is noted
//! as not answered; only the connection itself is needed.

use std::time::Instant;

use lamella_proto::v1;
use tonic::Code;
use tonic::transport::Channel;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::{HealthCheckRequest, health_client::HealthClient};

use super::{Answers, Health, Seen, StatusAnswer, Told, Unreached};
use crate::clock;
use crate::errors::CliError;
use crate::session::Session;

/// Looks at the daemon of this session.
pub(crate) async fn look(session: &Session) -> Seen {
    Seen {
        server: session.server.to_string(),
        zone: session.view.zone.clone(),
        server_seen: answers(session).await,
    }
}

async fn answers(session: &Session) -> Result<Answers, Unreached> {
    let channel = session.channel().await;
    let channel = channel.map_err(|error| Unreached::of_connection(&error))?;
    let begun = Instant::now();
    let health = health(session, channel.clone()).await?;
    let round_trip = begun.elapsed();
    let status = status(session).await;
    let (plugins, outbox) = match &status {
        StatusAnswer::Told(told) => (told.status.plugins.clone(), told.status.outbox.clone()),
        StatusAnswer::Unimplemented | StatusAnswer::Failed(_) => {
            (plugins(session).await, outbox(session).await)
        }
    };
    Ok(Answers {
        round_trip,
        health,
        status,
        plugins,
        outbox,
    })
}

/// What the health service says of the daemon as a whole.
async fn health(session: &Session, channel: Channel) -> Result<Health, Unreached> {
    let mut client = HealthClient::new(channel);
    let request = session.request(HealthCheckRequest::default());
    match session.answer(client.check(request)).await {
        Ok(answer) => Ok(match answer.status() {
            ServingStatus::Serving => Health::Serving,
            ServingStatus::NotServing => Health::NotServing,
            ServingStatus::Unknown | ServingStatus::ServiceUnknown => {
                Health::Unknown("its answer is neither yes nor no".to_owned())
            }
        }),
        Err(error) => match Unreached::of_call(&error) {
            Some(why) => Err(why),
            None => Ok(Health::Unknown(in_words(&error))),
        },
    }
}

async fn status(session: &Session) -> StatusAnswer {
    let asked = async {
        let mut client = session.status().await?;
        let request = session.request(v1::GetStatusRequest {});
        let begun = Instant::now();
        let status = session.answer(client.get_status(request)).await?;
        Ok(Told {
            status,
            received: clock::now(),
            round_trip: begun.elapsed(),
        })
    };
    match asked.await {
        Ok(told) => StatusAnswer::Told(Box::new(told)),
        Err(CliError::Refused(status)) if status.code() == Code::Unimplemented => {
            StatusAnswer::Unimplemented
        }
        Err(error) => StatusAnswer::Failed(in_words(&error)),
    }
}

/// The same of a daemon that only lists its plugins.
async fn plugins(session: &Session) -> Option<v1::PluginsStatus> {
    let mut client = session.plugins().await.ok()?;
    let mut found = v1::PluginsStatus::default();
    let mut page_token = String::new();
    loop {
        let request = session.request(v1::ListPluginsRequest {
            page_size: 1_000,
            page_token,
        });
        let page = session.answer(client.list_plugins(request)).await.ok()?;
        for plugin in page.plugins {
            found.installed_count += 1;
            if plugin.state() == v1::PluginState::Enabled {
                found.serving_count += 1;
            }
            if plugin.state() == v1::PluginState::Failed {
                let current = plugin.current.unwrap_or_default();
                found.failed.push(v1::FailedPlugin {
                    plugin: plugin.name,
                    display_name: current.name,
                    version: current.version,
                    failure: plugin.failure,
                });
            }
        }
        if page.next_page_token.is_empty() {
            return Some(found);
        }
        page_token = page.next_page_token;
    }
}

/// The same of a daemon that only tells how far deliveries have come.
async fn outbox(session: &Session) -> Option<v1::OutboxStatus> {
    let mut client = session.outbox().await.ok()?;
    let request = session.request(v1::GetOutboxRequest {});
    let outbox = session.answer(client.get_outbox(request)).await.ok()?;
    Some(v1::OutboxStatus {
        configured: outbox.configured,
        delivered_sequence: outbox.sequence,
        waiting_job_count: outbox.waiting_job_count,
        dead_letter_count: outbox.dead_letter_count,
        ..Default::default()
    })
}

/// The first line of what a command would print about it.
fn in_words(error: &CliError) -> String {
    error.report().lines().next().unwrap_or_default().to_owned()
}
