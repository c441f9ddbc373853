//! How a change is made: decided on the store's writer thread, on the state
//! that the next sequence number will follow, and kept as one journal entry.

use jiff::Timestamp;
use lamella_proto::store::v1::{Entry, RequestKey as StoredKey, entry::Change};
use lamella_store::{CommandTx, Commit, KvRead};
use prost::Message as _;

use super::error::LedgerError;
use super::{Ledger, keys, load};
use crate::convert;

/// What makes a retry recognisable: see `CreateJobRequest.request_id`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RequestKey {
    /// The client's id for the request; empty when it gave none.
    pub request_id: String,
    /// The method.
    pub method: &'static str,
    /// SHA-256 of the request without its id.
    pub digest: Vec<u8>,
}

/// What a command sees besides its own arguments.
pub(super) struct Context<'a, 'b> {
    pub(super) tx: &'a CommandTx<'b>,
    pub(super) seq: u64,
    pub(super) now: Timestamp,
}

impl Ledger {
    /// Runs `decide` on the writer thread and commits its change, or answers a
    /// repeated request with the change that it caused the first time.
    pub(super) async fn change<F>(
        &self,
        request: RequestKey,
        decide: F,
    ) -> Result<Change, LedgerError>
    where
        F: FnOnce(&Context<'_, '_>) -> Result<Change, LedgerError> + Send + 'static,
    {
        let clock = self.clock.clone();
        let committed = self
            .store
            .execute(move |tx| {
                if let Some(change) = already_done(tx, &request)? {
                    return Ok(Commit::nothing(change));
                }
                let now = clock.now();
                let change = decide(&Context {
                    tx,
                    seq: tx.next_seq(),
                    now,
                })?;
                let entry = Entry {
                    entry_time: Some(convert::time::to_pb(now)),
                    request: (!request.request_id.is_empty()).then(|| StoredKey {
                        request_id: request.request_id,
                        method: request.method.to_owned(),
                        digest: request.digest,
                    }),
                    change: Some(change.clone()),
                    booking: None,
                };
                Ok(Commit::new(vec![entry.encode_to_vec()], change))
            })
            .await?;
        committed.map(|committed| committed.reply)
    }
}

/// The change that this very request caused before, if it did.
pub(super) fn already_done(
    tx: &impl KvRead,
    request: &RequestKey,
) -> Result<Option<Change>, LedgerError> {
    if request.request_id.is_empty() {
        return Ok(None);
    }
    let Some(stored) = tx.get(&keys::request(&request.request_id)) else {
        return Ok(None);
    };
    let what = || format!("request {}", request.request_id);
    let entry = Entry::decode(stored.as_slice()).map_err(|e| load::unreadable(what(), &e))?;
    let same = entry
        .request
        .as_ref()
        .is_some_and(|key| key.method == request.method && key.digest == request.digest);
    if !same {
        return Err(LedgerError::RequestReused {
            request_id: request.request_id.clone(),
            method: entry.request.map(|key| key.method).unwrap_or_default(),
        });
    }
    entry
        .change
        .map(Some)
        .ok_or_else(|| load::unreadable(what(), &"it holds no change"))
}

/// A new id: sortable by time, and random enough never to meet another.
pub(super) fn new_id(now: Timestamp) -> String {
    let time = std::time::UNIX_EPOCH
        + std::time::Duration::from_millis(u64::try_from(now.as_millisecond()).unwrap_or(0));
    ulid::Ulid::from_datetime(time).to_string().to_lowercase()
}

pub(crate) fn same_etag(name: &str, current: &str, given: &str) -> Result<(), LedgerError> {
    if given.is_empty() || given == current {
        return Ok(());
    }
    Err(LedgerError::EtagStale {
        name: name.to_owned(),
        current: current.to_owned(),
        given: given.to_owned(),
    })
}

/// A resource's version is the sequence number of its last change.
pub(super) fn etag(seq: u64) -> String {
    format!("{seq:x}")
}

/// The method of a replayed request is compared before, so this would be a bug.
pub(super) fn unexpected(wanted: &str) -> LedgerError {
    load::unreadable(
        "a repeated request".to_owned(),
        &format!("it does not hold {wanted}"),
    )
}
