//! Reading the committed state.

use std::cell::RefCell;
use std::sync::{Arc, PoisonError};

use crate::checksum::Content;
use crate::error::StoreError;
use crate::projection::Engine;
use crate::tx::{Base, Entry, KvRead};
use crate::writer::Shared;

/// A cheap, cloneable handle for reading. Goes on reading when writes are refused after a
/// failure; answers [`StoreError::Closed`] after the store was closed.
#[derive(Clone)]
pub struct ReadHandle {
    shared: Arc<Shared>,
}

/// One consistent state: no batch is half in it.
pub struct View<'a> {
    engine: &'a Engine,
    fault: RefCell<Option<StoreError>>,
}

impl ReadHandle {
    /// The value of a key.
    ///
    /// # Errors
    /// [`StoreError::Projection`] or [`StoreError::Closed`].
    pub fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        self.view(|view| view.get(key))
    }

    /// A page of entries: see [`KvRead::scan_prefix`]. For the next page pass the last key with a
    /// zero byte appended as `from`.
    ///
    /// # Errors
    /// [`StoreError::Projection`] or [`StoreError::Closed`].
    pub fn scan_prefix(
        &self,
        prefix: &[u8],
        from: Option<&[u8]>,
        limit: usize,
    ) -> Result<Vec<Entry>, StoreError> {
        self.view(|view| view.scan_prefix(prefix, from, limit))
    }

    /// Several reads of one state. Commits wait for `read`, so it must be short, must not wait,
    /// and must not ask the store for another view.
    ///
    /// # Errors
    /// [`StoreError::Projection`] or [`StoreError::Closed`].
    pub fn view<T>(&self, read: impl FnOnce(&View<'_>) -> T) -> Result<T, StoreError> {
        let engine = self
            .shared
            .engine
            .read()
            .unwrap_or_else(PoisonError::into_inner);
        let engine = engine.as_ref().ok_or(StoreError::Closed)?;
        let view = View {
            engine,
            fault: RefCell::new(None),
        };
        let result = read(&view);
        match view.fault.into_inner() {
            Some(fault) => Err(fault),
            None => Ok(result),
        }
    }

    /// Size and checksum of the whole state, as kept up to date by the commits.
    ///
    /// # Errors
    /// [`StoreError::Closed`].
    pub fn content(&self) -> Result<Content, StoreError> {
        self.view(|view| view.engine.meta().content)
    }
}

impl View<'_> {
    /// Last event in this state; 0 for none.
    #[must_use]
    pub fn last_seq(&self) -> u64 {
        self.engine.meta().last_seq
    }
}

impl KvRead for View<'_> {
    fn get(&self, key: &[u8]) -> Option<Vec<u8>> {
        self.settle(self.engine.get(key))
    }

    fn scan_prefix(&self, prefix: &[u8], from: Option<&[u8]>, limit: usize) -> Vec<Entry> {
        self.settle(self.engine.scan(prefix, from.unwrap_or(prefix), limit))
    }
}

impl ReadHandle {
    pub(crate) fn new(shared: Arc<Shared>) -> Self {
        Self { shared }
    }

    /// Last event in the projection; `None` once closed.
    pub(crate) fn applied_seq(&self) -> Option<u64> {
        self.view(|view| view.last_seq()).ok()
    }
}

impl View<'_> {
    fn settle<T: Default>(&self, read: Result<T, StoreError>) -> T {
        read.unwrap_or_else(|error| {
            self.fault.borrow_mut().get_or_insert(error);
            T::default()
        })
    }
}
