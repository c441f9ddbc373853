//! Installing, upgrading, enabling, disabling and removing. Each change is checked
//! and called once first, then committed, then swapped in; nothing can fail between
//! the last two, and a caller who hangs up does not stop it half way.

use std::sync::Arc;

use lamella_plugin_host::{Plugin, World};
use lamella_proto::v1;

use super::serving::Serving;
use super::upload::Received;
use super::{Plugins, PluginsError, blocking, sample, wasi_of};
use crate::convert;
use crate::ledger::{LedgerError, RequestKey};

/// Earlier versions that are listed with a plugin.
const EARLIER: usize = 20;

/// What is to be installed.
pub(crate) struct Install {
    /// The last segment of its name.
    pub(crate) id: String,
    /// SHA-256 that it must have.
    pub(crate) sha256: String,
    /// Which WASI it is given.
    pub(crate) wasi: v1::PluginWasi,
    /// What it is told; empty on an upgrade: as before.
    pub(crate) settings: Vec<v1::PluginSetting>,
    /// Keep nothing.
    pub(crate) validate_only: bool,
    /// Must match, unless empty.
    pub(crate) etag: String,
    /// What makes a retry recognisable.
    pub(crate) request: RequestKey,
}

impl Plugins {
    /// Installs a plugin, or a new version of it. One that is disabled stays so.
    ///
    /// # Errors
    /// Where it does not load or does not answer its first call, the etag is stale,
    /// or it cannot be kept. The version before goes on serving.
    pub(crate) async fn install(
        &self,
        install: Install,
        received: Received,
    ) -> Result<v1::Plugin, PluginsError> {
        let this = self.clone();
        self.uninterrupted(async move {
            let ledger = &this.inner.ledger;
            if let Some(done) = ledger.plugin_by_request(&install.request).await? {
                return Ok(done);
            }
            let before = this.found(&install.id, &install.etag).await?;
            let settings = match &before {
                Some(before) if install.settings.is_empty() => before.settings.clone(),
                Some(_) | None => install.settings,
            };
            let (wasi, sha256) = (install.wasi, install.sha256);
            let (received, serving) = {
                let (inner, settings, hash) =
                    (Arc::clone(&this.inner), settings.clone(), sha256.clone());
                let id = install.id.clone();
                blocking(move || {
                    let plugin = received.load(&inner.host, wasi_of(wasi), &hash)?;
                    let serving = inner.first_call(&id, plugin, &settings)?;
                    Ok::<_, PluginsError>((received, serving))
                })
                .await?
            };
            let current = version_of(&serving.plugin, wasi, received.size_bytes);
            let message = successor(&install.id, before, current, settings);
            if install.validate_only {
                return Ok(stamped(message, ledger.clock().now()));
            }
            let inner = Arc::clone(&this.inner);
            blocking(move || inner.files.keep(received.file, &sha256)).await?;
            let message = ledger.put_plugin(message, install.request).await?;
            this.serve(&message, serving);
            tracing::info!(
                plugin = install.id,
                sha256 = message.current.as_ref().map(|v| v.sha256.as_str()),
                "installed a plugin"
            );
            Ok(message)
        })
        .await
    }

    /// Gives a plugin other settings; it is called with them first.
    ///
    /// # Errors
    /// No such plugin, a stale etag, or one that does not work with them.
    pub(crate) async fn set_settings(
        &self,
        id: String,
        settings: Vec<v1::PluginSetting>,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Plugin, PluginsError> {
        let this = self.clone();
        self.uninterrupted(async move {
            let ledger = &this.inner.ledger;
            if let Some(done) = ledger.plugin_by_request(&request).await? {
                return Ok(this.shown(done));
            }
            let mut message = this.existing(&id, &etag).await?;
            message.settings = settings;
            let serving = this.tried(&id, &message).await?;
            let message = ledger.put_plugin(message, request).await?;
            this.serve(&message, serving);
            Ok(message)
        })
        .await
    }

    /// Lets a plugin serve.
    ///
    /// # Errors
    /// No such plugin, a stale etag, or one that does not load or answer.
    pub(crate) async fn enable(
        &self,
        id: String,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Plugin, PluginsError> {
        let this = self.clone();
        self.uninterrupted(async move {
            let ledger = &this.inner.ledger;
            if let Some(done) = ledger.plugin_by_request(&request).await? {
                return Ok(this.shown(done));
            }
            let mut message = this.existing(&id, &etag).await?;
            let enabled = message.state() == v1::PluginState::Enabled;
            if enabled && this.serves(|serves| serves.is_serving(&id)) {
                return Ok(message);
            }
            let serving = this.tried(&id, &message).await?;
            message.set_state(v1::PluginState::Enabled);
            let message = ledger.put_plugin(message, request).await?;
            this.serve(&message, serving);
            Ok(message)
        })
        .await
    }

    /// Takes a plugin out of service. Calls under way are answered.
    ///
    /// # Errors
    /// No such plugin, a stale etag.
    pub(crate) async fn disable(
        &self,
        id: String,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Plugin, PluginsError> {
        let this = self.clone();
        self.uninterrupted(async move {
            let ledger = &this.inner.ledger;
            if let Some(done) = ledger.plugin_by_request(&request).await? {
                return Ok(this.shown(done));
            }
            let mut message = this.existing(&id, &etag).await?;
            if message.state() == v1::PluginState::Disabled {
                return Ok(message);
            }
            message.set_state(v1::PluginState::Disabled);
            let message = ledger.put_plugin(message, request).await?;
            this.swap(|serves| serves.remove(&id));
            Ok(message)
        })
        .await
    }

    /// Removes a plugin. Its components stay for the quotes that name them; the rest
    /// go at the next start.
    ///
    /// # Errors
    /// No such plugin, a stale etag.
    pub(crate) async fn remove(
        &self,
        id: String,
        etag: String,
        request: RequestKey,
    ) -> Result<v1::Plugin, PluginsError> {
        let this = self.clone();
        self.uninterrupted(async move {
            let ledger = &this.inner.ledger;
            if let Some(done) = ledger.plugin_by_request(&request).await? {
                return Ok(done);
            }
            let message = this.existing(&id, &etag).await?;
            let shown = this.shown(message.clone());
            ledger.remove_plugin(message, request).await?;
            this.swap(|serves| serves.remove(&id));
            tracing::info!(plugin = id, "removed a plugin");
            Ok(shown)
        })
        .await
    }

    /// The plugin of that id with an etag that fits, if there is one.
    async fn found(&self, id: &str, etag: &str) -> Result<Option<v1::Plugin>, PluginsError> {
        match self.existing(id, etag).await {
            Ok(found) => Ok(Some(found)),
            // With an etag, somebody expects a plugin there.
            Err(PluginsError::Ledger(LedgerError::NotFound { .. })) if etag.is_empty() => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// The plugin of that id, as the journal has it.
    async fn existing(&self, id: &str, etag: &str) -> Result<v1::Plugin, PluginsError> {
        let plugin = self.inner.ledger.plugin(id.to_owned()).await?;
        crate::ledger::same_etag(&plugin.name, &plugin.etag, etag)?;
        Ok(plugin)
    }

    /// What would serve of a plugin as it stands in `message`, called once.
    async fn tried(&self, id: &str, message: &v1::Plugin) -> Result<Serving, PluginsError> {
        let (inner, id) = (Arc::clone(&self.inner), id.to_owned());
        let current = message.current.clone().unwrap_or_default();
        let settings = message.settings.clone();
        let loaded = self.serves(|serves| serves.at_hash(&current.sha256, wasi_of(current.wasi())));
        blocking(move || {
            let plugin = match loaded {
                Some(plugin) => plugin,
                None => inner.load_kept(&current.sha256, wasi_of(current.wasi()))?,
            };
            inner.first_call(&id, plugin, &settings)
        })
        .await
    }

    /// Puts what the journal now says in place of what served.
    fn serve(&self, message: &v1::Plugin, mut serving: Serving) {
        let Some(id) = message.name.strip_prefix("plugins/").map(str::to_owned) else {
            return;
        };
        serving.message = message.clone();
        self.swap(|serves| {
            if message.state() == v1::PluginState::Enabled {
                serves.by_id.insert(id, Ok(serving));
            } else {
                serves.remove(&id);
            }
        });
    }

    /// Runs a change to its end, also when the caller hangs up, and no other beside it.
    async fn uninterrupted<T: Send + 'static>(
        &self,
        change: impl Future<Output = Result<T, PluginsError>> + Send + 'static,
    ) -> Result<T, PluginsError> {
        let inner = Arc::clone(&self.inner);
        let task = tokio::spawn(async move {
            let _changing = inner.changing.lock().await;
            change.await
        });
        task.await.map_err(PluginsError::Lost)?
    }
}

impl super::Inner {
    /// Calls a plugin for the first time with these settings: a product list must list
    /// its products, a price rule must price the sample or say why it does not. Blocks.
    pub(super) fn first_call(
        &self,
        id: &str,
        plugin: Plugin,
        settings: &[v1::PluginSetting],
    ) -> Result<Serving, PluginsError> {
        let serving = Serving::new(
            v1::Plugin {
                name: convert::names::plugin(id),
                settings: settings.to_vec(),
                ..v1::Plugin::default()
            },
            plugin,
        );
        match serving.plugin.world() {
            World::ProductList => {
                serving.products()?;
            }
            World::Pricing => sample::price(&serving, &self.money)?,
        }
        Ok(serving)
    }
}

/// The plugin as it is to be: a new one is enabled, an upgraded one stays as it was.
fn successor(
    id: &str,
    before: Option<v1::Plugin>,
    current: v1::PluginVersion,
    settings: Vec<v1::PluginSetting>,
) -> v1::Plugin {
    let mut plugin = before.unwrap_or_else(|| v1::Plugin {
        name: convert::names::plugin(id),
        state: v1::PluginState::Enabled.into(),
        ..v1::Plugin::default()
    });
    // The same bytes again are the same version.
    let last = plugin
        .current
        .take()
        .filter(|last| last.sha256 != current.sha256);
    plugin.earlier.splice(0..0, last);
    plugin.current = Some(current);
    plugin.earlier.truncate(EARLIER);
    plugin.settings = settings;
    plugin
}

/// The plugin with the times that a commit at `now` gives it.
pub(crate) fn stamped(mut plugin: v1::Plugin, now: jiff::Timestamp) -> v1::Plugin {
    let now = convert::time::to_pb(now);
    plugin.create_time.get_or_insert(now);
    plugin.update_time = Some(now);
    if let Some(current) = &mut plugin.current {
        current.install_time.get_or_insert(now);
    }
    plugin
}

/// What a loaded plugin says of itself.
pub(crate) fn version_of(
    plugin: &Plugin,
    wasi: v1::PluginWasi,
    size_bytes: usize,
) -> v1::PluginVersion {
    let about = plugin.about();
    let wasi = match wasi {
        v1::PluginWasi::Unspecified | v1::PluginWasi::None => v1::PluginWasi::None,
        v1::PluginWasi::Empty => v1::PluginWasi::Empty,
    };
    let world = match plugin.world() {
        World::Pricing => v1::PluginWorld::Pricing,
        World::ProductList => v1::PluginWorld::ProductList,
    };
    v1::PluginVersion {
        name: about.name.clone(),
        version: about.version.clone(),
        summary: about.summary.clone(),
        sha256: hex::encode(plugin.sha256()),
        size_bytes: i64::try_from(size_bytes).unwrap_or(i64::MAX),
        wasi: wasi.into(),
        world: world.into(),
        install_time: None,
    }
}
