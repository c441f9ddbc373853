//! Resources as text, for the commands that share them.

pub(crate) mod booking;
pub(crate) mod event;
pub(crate) mod job;
pub(crate) mod open;
pub(crate) mod paint;
pub(crate) mod paint_ledger;
pub(crate) mod photo;
pub(crate) mod plugin;
pub(crate) mod quote;
pub(crate) mod record;
pub(crate) mod shop_products;
pub(crate) mod vehicle;
