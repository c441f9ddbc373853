//! The job store.
