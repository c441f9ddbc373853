//! What serves at the moment, and what was loaded for old quotes.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use lamella_plugin_host::{Plugin, Wasi, World};
use lamella_proto::v1;

use super::PluginsError;

/// Plugins kept loaded for old quotes.
const KEPT: usize = 8;

/// A plugin that serves. A clone goes on working whatever becomes of the plugin.
#[derive(Clone)]
pub(crate) struct Serving {
    /// As the API shows it.
    pub(crate) message: v1::Plugin,
    /// As the host runs it.
    pub(crate) plugin: Plugin,
    /// Its products, once it has been asked for them.
    pub(super) listed: Arc<OnceLock<Arc<v1::ShopProducts>>>,
}

impl Serving {
    pub(super) fn new(message: v1::Plugin, plugin: Plugin) -> Self {
        Self {
            message,
            plugin,
            listed: Arc::default(),
        }
    }
}

/// An enabled plugin that does not serve.
#[derive(Clone)]
pub(super) struct Failed {
    pub(super) message: v1::Plugin,
    pub(super) failure: v1::PluginFailure,
}

/// All enabled plugins by id.
#[derive(Default)]
pub(super) struct Serves {
    pub(super) by_id: BTreeMap<String, Result<Serving, Failed>>,
}

impl Serves {
    pub(super) fn pricing(&self, id: Option<&str>) -> Result<Serving, PluginsError> {
        let found = match id {
            Some(id) => self.by_id.get(id).ok_or_else(|| PluginsError::NotServing {
                name: crate::convert::names::plugin(id),
                why: "it is not installed and enabled".to_owned(),
            })?,
            None => self.only_pricing()?,
        };
        match found {
            Ok(serving) if serving.plugin.world() == World::Pricing => Ok(serving.clone()),
            Ok(serving) => Err(PluginsError::NotPricing {
                name: serving.message.name.clone(),
            }),
            Err(failed) => Err(PluginsError::NotServing {
                name: failed.message.name.clone(),
                why: failed.failure.message.clone(),
            }),
        }
    }

    /// One that could not be loaded counts as well: another one's price must not
    /// come in its place unasked.
    fn only_pricing(&self) -> Result<&Result<Serving, Failed>, PluginsError> {
        let pricing = self.of_world(v1::PluginWorld::Pricing);
        match pricing.as_slice() {
            [] => Err(PluginsError::NoneEnabled),
            [one] => Ok(one),
            [..] => Err(PluginsError::Ambiguous {
                names: pricing
                    .iter()
                    .map(|one| message_of(one).name.clone())
                    .collect(),
            }),
        }
    }

    /// All enabled ones of a world, in order of their ids.
    pub(super) fn of_world(&self, world: v1::PluginWorld) -> Vec<&Result<Serving, Failed>> {
        let is_of = |one: &&Result<Serving, Failed>| {
            let current = message_of(one).current.as_ref();
            current.is_some_and(|version| version.world() == world)
        };
        self.by_id.values().filter(is_of).collect()
    }

    pub(super) fn is_serving(&self, id: &str) -> bool {
        self.by_id.get(id).is_some_and(Result::is_ok)
    }

    pub(super) fn failure(&self, id: &str) -> Option<&v1::PluginFailure> {
        let failed = self.by_id.get(id)?.as_ref().err()?;
        Some(&failed.failure)
    }

    pub(super) fn remove(&mut self, id: &str) {
        self.by_id.remove(id);
    }

    pub(super) fn at_hash(&self, sha256: &str, wasi: Wasi) -> Option<Plugin> {
        self.by_id
            .values()
            .filter_map(|one| one.as_ref().ok())
            .map(|serving| &serving.plugin)
            .find(|plugin| hex::encode(plugin.sha256()) == sha256 && plugin.wasi() == wasi)
            .cloned()
    }
}

/// A few plugins by hash, the one used last at the end.
#[derive(Default)]
pub(super) struct Kept {
    /// Held for a look-up only.
    plugins: Mutex<Vec<(String, Plugin)>>,
}

impl Kept {
    pub(super) fn get(&self, sha256: &str, wasi: Wasi) -> Option<Plugin> {
        let mut plugins = self.plugins.lock().unwrap_or_else(PoisonError::into_inner);
        let at = plugins
            .iter()
            .position(|(hash, plugin)| hash == sha256 && plugin.wasi() == wasi)?;
        let found = plugins.remove(at);
        let plugin = found.1.clone();
        plugins.push(found);
        Some(plugin)
    }

    pub(super) fn put(&self, sha256: &str, plugin: Plugin) {
        let mut plugins = self.plugins.lock().unwrap_or_else(PoisonError::into_inner);
        if plugins.len() >= KEPT {
            plugins.remove(0);
        }
        plugins.push((sha256.to_owned(), plugin));
    }
}

fn message_of(one: &Result<Serving, Failed>) -> &v1::Plugin {
    match one {
        Ok(serving) => &serving.message,
        Err(failed) => &failed.message,
    }
}
