//! Plugins in the journal: which there are, whether they are enabled, and which
//! components old quotes still need.

use std::collections::BTreeSet;

use lamella_proto::store::v1::entry::Change;
use lamella_proto::v1;
use lamella_store::KvRead as _;
use prost::Message as _;

use super::change::{self, RequestKey};
use super::error::LedgerError;
use super::queries::Page;
use super::{Ledger, keys, load};
use crate::convert;
use crate::plugins::stamped;

impl Ledger {
    /// One plugin.
    ///
    /// # Errors
    /// When there is none of that id.
    pub async fn plugin(&self, id: String) -> Result<v1::Plugin, LedgerError> {
        self.read(move |view| {
            let key = keys::plugin(&id);
            let stored = view.get(&key).ok_or_else(|| LedgerError::NotFound {
                name: convert::names::plugin(&id),
            })?;
            decode(&key, &stored)
        })
        .await
    }

    /// Plugins in order of their ids.
    ///
    /// # Errors
    /// A page token that no list gave out.
    pub async fn plugins(
        &self,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<v1::Plugin>, LedgerError> {
        self.read(move |view| {
            let first = hex::decode(&page_token)
                .ok()
                .and_then(|id| String::from_utf8(id).ok())
                .ok_or(LedgerError::PageToken)?;
            let first = keys::plugin(&first);
            let found = view.scan_prefix(keys::PLUGINS, Some(&first), page_size.saturating_add(1));
            let next = found
                .get(page_size)
                .map(|(key, _)| hex::encode(key.strip_prefix(keys::PLUGINS).unwrap_or_default()));
            let items: Result<_, _> = found
                .iter()
                .take(page_size)
                .map(|(key, stored)| decode(key, stored))
                .collect();
            Ok(Page {
                items: items?,
                next_page_token: next.unwrap_or_default(),
            })
        })
        .await
    }

    /// All plugins in order of their ids.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn all_plugins(&self) -> Result<Vec<v1::Plugin>, LedgerError> {
        self.read(|view| {
            view.scan_all(keys::PLUGINS)
                .iter()
                .map(|(key, stored)| decode(key, stored))
                .collect()
        })
        .await
    }

    /// SHA-256 of every component that a quote was made with.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn quoted_components(&self) -> Result<BTreeSet<String>, LedgerError> {
        self.read(|view| {
            let mut hashes = BTreeSet::new();
            for (key, stored) in view.scan_all(keys::QUOTES) {
                let quote = v1::Quote::decode(stored.as_slice()).map_err(|error| {
                    load::unreadable(String::from_utf8_lossy(&key).into_owned(), &error)
                })?;
                hashes.extend(quote.plugin_version.map(|version| version.sha256));
            }
            Ok(hashes)
        })
        .await
    }

    /// The plugin in the change that this very request caused before, if it did.
    ///
    /// # Errors
    /// When the id was used for another request.
    pub async fn plugin_by_request(
        &self,
        request: &RequestKey,
    ) -> Result<Option<v1::Plugin>, LedgerError> {
        let request = request.clone();
        self.read(move |view| {
            change::already_done(view, &request)?
                .map(plugin_after)
                .transpose()
        })
        .await
    }

    /// Puts a plugin in the journal as it is to be, with the times and the etag of now.
    ///
    /// # Errors
    /// When the store does not take it.
    pub async fn put_plugin(
        &self,
        plugin: v1::Plugin,
        request: RequestKey,
    ) -> Result<v1::Plugin, LedgerError> {
        let change = self
            .change(request, move |context| {
                let mut plugin = stamped(plugin, context.now);
                plugin.etag = change::etag(context.seq);
                Ok(Change::Plugin(plugin))
            })
            .await?;
        plugin_after(change)
    }

    /// Takes a plugin out; the entry keeps it as it was.
    ///
    /// # Errors
    /// When the store does not take it.
    pub async fn remove_plugin(
        &self,
        plugin: v1::Plugin,
        request: RequestKey,
    ) -> Result<v1::Plugin, LedgerError> {
        let change = self
            .change(request, move |_| Ok(Change::PluginRemoved(plugin)))
            .await?;
        plugin_after(change)
    }
}

/// The components that a plugin names: what serves, and what served before.
pub(crate) fn components(plugin: &v1::Plugin) -> impl Iterator<Item = &v1::PluginVersion> {
    plugin.current.iter().chain(&plugin.earlier)
}

fn plugin_after(change: Change) -> Result<v1::Plugin, LedgerError> {
    match change {
        Change::Plugin(plugin) | Change::PluginRemoved(plugin) => Ok(plugin),
        Change::Job(_) | Change::Vehicle(_) => Err(change::unexpected("a plugin")),
    }
}

fn decode(key: &[u8], stored: &[u8]) -> Result<v1::Plugin, LedgerError> {
    v1::Plugin::decode(stored)
        .map_err(|error| load::unreadable(String::from_utf8_lossy(key).into_owned(), &error))
}
