//! Jobs and vehicles on top of the store: every change is decided by
//! `lamella-jobs` on the store's writer thread and becomes one journal entry.
//!
//! - `jobs`, `vehicles`: what changes something
//! - `bookings`, `schedule`: bookings of other systems, and when cars are here
//! - `photos`: a job's photos; their files are not here
//! - `change`: how a change is made and a retry recognised
//! - `plugins`: which plugins there are
//! - `quotes`: what a job costs, and what was said yes to
//! - `queries`: what only reads
//! - `happenings`: what happened in a span of time, for exports
//! - `paint`: a vehicle's paint over all its jobs
//! - `projector`, `keys`: what the projection holds, and where
//! - `naming`: which components the journal names
//! - `error`: why something was not done

mod bookings;
mod change;
mod error;
mod happenings;
mod jobs;
pub(crate) mod keys;
mod load;
mod naming;
mod paint;
mod photos;
mod plugins;
mod projector;
mod queries;
mod quotes;
mod schedule;
mod vehicles;

use std::sync::Arc;

use lamella_store::Store;

pub use self::bookings::{BookingQuery, Upserted};
pub use self::change::RequestKey;
pub(crate) use self::change::same_etag;
pub use self::error::LedgerError;
pub use self::happenings::{Happening, Happenings};
pub use self::jobs::StageMove;
pub use self::naming::Naming;
pub use self::paint::{Origin, PaintQuery, PanelLedger};
pub use self::photos::PhotoFile;
pub(crate) use self::plugins::components;
pub use self::projector::JobProjector;
pub use self::queries::{JobQuery, Page};
pub use self::quotes::{Acceptance, JobFacts};
pub use self::schedule::{ScheduleQuery, Visit};
use crate::clock::Clock;

/// Jobs and vehicles, kept in a store. Cheap to clone.
#[derive(Clone)]
pub struct Ledger {
    store: Arc<Store>,
    clock: Clock,
}

impl Ledger {
    /// A ledger on an open store.
    pub fn new(store: Arc<Store>, clock: Clock) -> Self {
        Self { store, clock }
    }

    /// The store below.
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// The clock that dates every change.
    pub fn clock(&self) -> &Clock {
        &self.clock
    }
}
