//! Generated types of the Lamella API, and nothing else.
//!
//! [`v1`] is the public contract, [`store`] what the daemon's journal holds.
//! The protos beside this crate carry the documentation of every message and
//! field: meaning, unit, range.

/// The public API, package `lamella.v1`.
#[allow(
    clippy::all,
    clippy::semicolon_if_nothing_returned,
    reason = "generated code"
)]
pub mod v1 {
    tonic::include_proto!("lamella.v1");
}

/// Journal entries, package `lamella.store.v1`. Not part of the public API.
pub mod store {
    /// Version 1 of the journal's entries.
    #[allow(clippy::all, reason = "generated code")]
    pub mod v1 {
        tonic::include_proto!("lamella.store.v1");
    }
}

/// The encoded `FileDescriptorSet` of [`v1`], comments included: what
/// reflection serves. The store's own entries are left out on purpose.
pub const FILE_DESCRIPTOR_SET: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/lamella.v1.bin"));
