//! The shop's plugins: which ones serve, and the bytes that they and old quotes
//! were made with.
//!
//! - [`Plugins`]: what serves, by id or by hash
//! - `upload`: a component on its way in
//! - `change`: installing, upgrading, enabling, disabling, removing
//! - `products`: what the product lists hold together
//! - `start`: loading them when the daemon starts
//! - `files`: components on disk by their SHA-256
//! - `sample`: the call that a plugin must survive before it serves
//! - `log`: what plugins write
//! - `error`: why there is no plugin, or no answer
//!
//! Whether a plugin is enabled, and its settings, stand in the journal; what is
//! held here is made from that and can be made again.

mod change;
mod error;
mod files;
mod log;
mod products;
mod sample;
mod serving;
mod start;
mod upload;

use std::path::PathBuf;
use std::sync::{Arc, PoisonError, RwLock};

use lamella_plugin_host::{
    HostConfig, LoadOptions, MoneyRules, Observer, Plugin, PluginHost, Wasi,
};
use lamella_proto::v1;

pub(crate) use self::change::{Install, stamped, version_of};
pub use self::error::PluginsError;
use self::files::Files;
pub use self::files::{Check, check};
pub use self::sample::default_money;
pub(crate) use self::sample::settings;
pub(crate) use self::serving::Serving;
use self::serving::{Kept, Serves};
pub(crate) use self::upload::Received;
use crate::ledger::{Ledger, Page};

/// The shop's plugins. Cheap to clone.
#[derive(Clone)]
pub struct Plugins {
    inner: Arc<Inner>,
}

struct Inner {
    host: PluginHost,
    files: Files,
    ledger: Ledger,
    money: MoneyRules,
    /// What serves. A plain lock, because it is held to look up or swap an entry,
    /// never during a call or an await.
    serves: RwLock<Serves>,
    /// Plugins that were loaded for old quotes, newest last.
    kept: Kept,
    /// Held by whoever changes a plugin, from its first look at the journal until
    /// what serves is what the journal says.
    changing: tokio::sync::Mutex<()>,
}

impl Plugins {
    /// Starts the host and makes ready the folder of components. Nothing serves
    /// before [`start`](Self::start). Blocks.
    ///
    /// # Errors
    /// Where the host cannot start or the folder cannot be used.
    pub fn open(
        data_dir: &std::path::Path,
        mut config: HostConfig,
        money: MoneyRules,
        ledger: Ledger,
    ) -> Result<Self, PluginsError> {
        let files = Files::open(data_dir)?;
        config.cache_dir = Some(files.cache_dir());
        let host = PluginHost::try_new(config)?;
        Ok(Self {
            inner: Arc::new(Inner {
                host,
                files,
                ledger,
                money,
                serves: RwLock::default(),
                kept: Kept::default(),
                changing: tokio::sync::Mutex::default(),
            }),
        })
    }

    /// Tells `observer` of every call of a plugin.
    pub(crate) fn observe(&self, observer: Observer) {
        self.inner.host.observe(observer);
    }

    /// How many enabled plugins serve, and how many do not.
    pub(crate) fn count(&self) -> (u64, u64) {
        self.serves(|serves| {
            let serving = serves.by_id.values().filter(|one| one.is_ok()).count() as u64;
            (serving, serves.by_id.len() as u64 - serving)
        })
    }

    /// The plugin to price with: the one of that id, or, where none is named, the
    /// only enabled one that prices.
    ///
    /// # Errors
    /// [`PluginsError::NoneEnabled`], [`PluginsError::Ambiguous`],
    /// [`PluginsError::NotServing`].
    pub(crate) fn pricing(&self, id: Option<&str>) -> Result<Serving, PluginsError> {
        self.serves(|serves| serves.pricing(id))
    }

    /// The plugin whose component has this SHA-256 (64 hexadecimal digits), whether
    /// it serves or not.
    ///
    /// # Errors
    /// Where its component is no longer kept, is damaged, or does not load.
    pub(crate) async fn at_hash(
        &self,
        sha256: &str,
        wasi: v1::PluginWasi,
    ) -> Result<Plugin, PluginsError> {
        let wasi = wasi_of(wasi);
        if let Some(plugin) = self.serves(|serves| serves.at_hash(sha256, wasi)) {
            return Ok(plugin);
        }
        if let Some(plugin) = self.inner.kept.get(sha256, wasi) {
            return Ok(plugin);
        }
        let (inner, sha256) = (Arc::clone(&self.inner), sha256.to_owned());
        blocking(move || {
            let plugin = inner.load_kept(&sha256, wasi)?;
            inner.kept.put(&sha256, plugin.clone());
            Ok(plugin)
        })
        .await
    }

    /// One plugin, as the API shows it.
    ///
    /// # Errors
    /// When there is none of that id.
    pub(crate) async fn get(&self, id: String) -> Result<v1::Plugin, PluginsError> {
        Ok(self.shown(self.inner.ledger.plugin(id).await?))
    }

    /// Plugins in order of their ids, as the API shows them.
    ///
    /// # Errors
    /// A page token that no list gave out.
    pub(crate) async fn list(
        &self,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<v1::Plugin>, PluginsError> {
        let page = self.inner.ledger.plugins(page_size, page_token).await?;
        Ok(Page {
            items: page
                .items
                .into_iter()
                .map(|plugin| self.shown(plugin))
                .collect(),
            next_page_token: page.next_page_token,
        })
    }

    /// All plugins in order of their ids, as the API shows them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(crate) async fn all(&self) -> Result<Vec<v1::Plugin>, PluginsError> {
        let all = self.inner.ledger.all_plugins().await?;
        Ok(all.into_iter().map(|plugin| self.shown(plugin)).collect())
    }

    /// A plugin of the journal with what became of it here.
    fn shown(&self, mut plugin: v1::Plugin) -> v1::Plugin {
        let id = plugin.name.strip_prefix("plugins/").unwrap_or_default();
        if plugin.state() == v1::PluginState::Enabled
            && let Some(failure) = self.serves(|serves| serves.failure(id).cloned())
        {
            plugin.failure = Some(failure);
            plugin.set_state(v1::PluginState::Failed);
        }
        plugin
    }

    /// Looks at what serves. `look` must not call a plugin.
    fn serves<T>(&self, look: impl FnOnce(&Serves) -> T) -> T {
        look(
            &self
                .inner
                .serves
                .read()
                .unwrap_or_else(PoisonError::into_inner),
        )
    }

    /// Changes what serves.
    fn swap(&self, change: impl FnOnce(&mut Serves)) {
        change(
            &mut self
                .inner
                .serves
                .write()
                .unwrap_or_else(PoisonError::into_inner),
        );
    }
}

impl Inner {
    /// Loads a kept component and checks that its bytes are still those. Blocks.
    fn load_kept(&self, sha256: &str, wasi: Wasi) -> Result<Plugin, PluginsError> {
        let bytes = self.files.read(sha256)?;
        let options = LoadOptions {
            wasi,
            expected_sha256: files::digest(sha256),
        };
        Ok(self.host.load(&bytes, &options)?)
    }
}

/// Runs what blocks on a thread that may.
pub(crate) async fn blocking<T, E>(
    work: impl FnOnce() -> Result<T, E> + Send + 'static,
) -> Result<T, E>
where
    T: Send + 'static,
    E: From<PluginsError> + Send + 'static,
{
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(error) => Err(PluginsError::Lost(error).into()),
    }
}

/// The host's word for it; not said: none.
pub(crate) fn wasi_of(wasi: v1::PluginWasi) -> Wasi {
    match wasi {
        v1::PluginWasi::Unspecified | v1::PluginWasi::None => Wasi::None,
        v1::PluginWasi::Empty => Wasi::EmptyDeterministic,
    }
}

/// Where components lie in a data directory.
#[must_use]
pub fn dir(data_dir: &std::path::Path) -> PathBuf {
    data_dir.join("plugins")
}
