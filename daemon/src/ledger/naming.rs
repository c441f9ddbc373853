//! Which components the journal names, found while it is replayed: the check of a
//! data directory must not open the store.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, PoisonError};

use lamella_proto::store::v1::{Entry, entry::Change};
use lamella_proto::v1::{self, job_event};
use lamella_store::{KvRead as _, ProjectError, Projector, Tx};
use prost::Message as _;

use super::plugins::components;
use super::{JobProjector, keys};

/// Projects as [`JobProjector`] does, and notes the components that are named.
#[derive(Debug, Default)]
pub struct Naming {
    /// Held for one entry.
    named: Mutex<Named>,
}

#[derive(Debug, Default)]
struct Named {
    /// The last entry that was noted; a replay may be repeated.
    seq: u64,
    by_plugin: BTreeMap<String, Vec<String>>,
    by_quotes: BTreeSet<String>,
}

impl Naming {
    /// SHA-256 of every component that a plugin or a quote names after the replay.
    #[must_use]
    pub fn components(&self) -> BTreeSet<String> {
        let named = self.named.lock().unwrap_or_else(PoisonError::into_inner);
        named
            .by_plugin
            .values()
            .flatten()
            .chain(&named.by_quotes)
            .cloned()
            .collect()
    }
}

impl Projector for Naming {
    fn version(&self) -> u32 {
        JobProjector.version()
    }

    fn apply(&self, seq: u64, payload: &[u8], tx: &mut Tx<'_>) -> Result<(), ProjectError> {
        {
            let mut named = self.named.lock().unwrap_or_else(PoisonError::into_inner);
            if named.seq == 0 && seq > 1 {
                // The replay begins at a snapshot, which holds what came before.
                named.seed(tx)?;
            }
            if seq > named.seq {
                named.note(&Entry::decode(payload).map_err(ProjectError::new)?);
                named.seq = seq;
            }
        }
        JobProjector.apply(seq, payload, tx)
    }
}

impl Named {
    fn seed(&mut self, tx: &Tx<'_>) -> Result<(), ProjectError> {
        for (_, stored) in tx.scan_all(keys::PLUGINS) {
            self.plugin(&v1::Plugin::decode(stored.as_slice()).map_err(ProjectError::new)?);
        }
        for (_, stored) in tx.scan_all(keys::QUOTES) {
            self.quote(&v1::Quote::decode(stored.as_slice()).map_err(ProjectError::new)?);
        }
        Ok(())
    }

    fn note(&mut self, entry: &Entry) {
        match &entry.change {
            Some(Change::Plugin(plugin)) => self.plugin(plugin),
            Some(Change::PluginRemoved(plugin)) => {
                self.by_plugin.remove(&plugin.name);
            }
            Some(Change::Job(event)) => {
                if let Some(job_event::Change::Quoted(quote)) = &event.change {
                    self.quote(quote);
                }
            }
            Some(Change::Vehicle(_)) | None => {}
        }
    }

    fn plugin(&mut self, plugin: &v1::Plugin) {
        let hashes = components(plugin).map(|version| version.sha256.clone());
        self.by_plugin.insert(plugin.name.clone(), hashes.collect());
    }

    fn quote(&mut self, quote: &v1::Quote) {
        if let Some(version) = &quote.plugin_version {
            self.by_quotes.insert(version.sha256.clone());
        }
    }
}
