//! Why the ledger did not do what it was asked to.

use lamella_jobs::refusal::Refusal;
use lamella_store::{StoreError, WatchError};

/// Why the ledger did not do what it was asked to. Nothing has changed.
#[derive(Debug, thiserror::Error)]
pub enum LedgerError {
    /// The job's own rules say no.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// There is no such resource.
    #[error("there is no {name}")]
    NotFound {
        /// The resource asked for.
        name: String,
    },
    /// The id is taken.
    #[error("{name} exists already")]
    Exists {
        /// The resource.
        name: String,
    },
    /// Somebody else changed it in between.
    #[error(
        "{name} has changed: its etag is `{current}`, the request says `{given}`; read it again"
    )]
    EtagStale {
        /// The resource.
        name: String,
        /// The etag it has.
        current: String,
        /// The etag in the request.
        given: String,
    },
    /// What was computed of a job no longer fits it.
    #[error("{name} changed while it was priced; try again")]
    JobChanged {
        /// The job.
        name: String,
    },
    /// The same `request_id` came with another request.
    #[error("request_id `{request_id}` was used for another {method} request; choose a new one")]
    RequestReused {
        /// The id.
        request_id: String,
        /// The method it was first used with.
        method: String,
    },
    /// A page token that this daemon did not give out.
    #[error("page_token is not one that a list returned")]
    PageToken,
    /// A resume token that cannot be served.
    #[error(transparent)]
    Watch(#[from] WatchError),
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// What is stored cannot be understood: written by a newer daemon, or a
    /// bug.
    #[error("what is stored under {what} cannot be read: {reason}")]
    Unreadable {
        /// Which resource or entry.
        what: String,
        /// Why.
        reason: String,
    },
}
