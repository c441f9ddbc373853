//! Plugins in the journal: which there are, and whether they are enabled.

use lamella_proto::v1;
use lamella_store::KvRead as _;
use prost::Message as _;

use super::error::LedgerError;
use super::{Ledger, keys, load};

impl Ledger {
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
}

fn decode(key: &[u8], stored: &[u8]) -> Result<v1::Plugin, LedgerError> {
    v1::Plugin::decode(stored)
        .map_err(|error| load::unreadable(String::from_utf8_lossy(key).into_owned(), &error))
}
