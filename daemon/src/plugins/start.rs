//! Loading the enabled plugins when the daemon starts.

use std::sync::Arc;

use lamella_proto::v1;

use super::serving::{Failed, Serving};
use super::{Plugins, PluginsError, wasi_of};

impl Plugins {
    /// Loads every enabled plugin, several at a time. One that does not load does
    /// not keep the daemon from starting: it is failed, and says why.
    ///
    /// # Errors
    /// Where the journal's state cannot be read.
    pub async fn start(&self) -> Result<(), PluginsError> {
        let _changing = self.inner.changing.lock().await;
        let mut loading = tokio::task::JoinSet::new();
        for message in self.inner.ledger.all_plugins().await? {
            if message.state() == v1::PluginState::Enabled {
                let inner = Arc::clone(&self.inner);
                loading.spawn_blocking(move || {
                    let current = message.current.clone().unwrap_or_default();
                    let loaded = inner.load_kept(&current.sha256, wasi_of(current.wasi()));
                    (message, loaded)
                });
            }
        }
        while let Some(loaded) = loading.join_next().await {
            let (message, loaded) = loaded.map_err(PluginsError::Lost)?;
            let Some(id) = message.name.strip_prefix("plugins/").map(str::to_owned) else {
                continue;
            };
            let entry = loaded
                .map(|plugin| Serving {
                    message: message.clone(),
                    plugin,
                })
                .map_err(|error| {
                    let failure = error.failure();
                    tracing::error!(
                        plugin = id,
                        reason = failure.reason,
                        message = failure.message,
                        "an enabled plugin could not be loaded and does not serve"
                    );
                    Failed { message, failure }
                });
            self.swap(|serves| {
                serves.by_id.insert(id, entry);
            });
        }
        Ok(())
    }
}
