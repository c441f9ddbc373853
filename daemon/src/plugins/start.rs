//! Loading the enabled plugins when the daemon starts.

use std::sync::Arc;

use lamella_proto::v1;

use crate::ledger::components;

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
        let plugins = self.inner.ledger.all_plugins().await?;
        self.sweep(&plugins).await?;
        let mut loading = tokio::task::JoinSet::new();
        for message in plugins {
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
                .map(|plugin| Serving::new(message.clone(), plugin))
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

    /// Removes components that neither a plugin nor a quote names: those of removed
    /// plugins, and one that was kept when the daemon was killed before it could say
    /// so in the journal. Only at the start, when no quote can be on its way.
    async fn sweep(&self, plugins: &[v1::Plugin]) -> Result<(), PluginsError> {
        let mut spare = self.inner.files.kept()?;
        for version in plugins.iter().flat_map(components) {
            spare.remove(&version.sha256);
        }
        // Old quotes are many, and most of the time there is nothing to ask them.
        if spare.is_empty() {
            return Ok(());
        }
        let quoted = self.inner.ledger.quoted_components().await?;
        for sha256 in spare.difference(&quoted) {
            self.inner.files.remove(sha256)?;
            tracing::info!(sha256, "removed a component that nothing needs any more");
        }
        Ok(())
    }
}
