//! The daemon. Data flows one way: `rpc` checks and converts, the calculators
//! and the jobs are pure crates below it, the `ledger` commits to the store.
//!
//! - [`config`], [`clock`]: what it is told, and what time it is
//! - [`run`], [`server`]: its life, and serving as a function
//! - [`rpc`]: one file per service
//! - [`web`]: a page beside the API, and who may ask
//! - `convert`: where messages and domain meet
//! - [`outbox`]: job events pushed to another system
//! - [`ledger`]: jobs and vehicles on top of the store
//! - [`plugins`]: the shop's plugins, loaded and kept
//! - `quoting`: pricing jobs through the plugins
//! - `export`: what happened, as the rows of files
//! - [`photos`]: the files of photos, beside the store
//! - [`demo`], [`maintenance`], [`papers`]: the other commands of `lamellad`

pub mod clock;
pub mod config;
mod convert;
pub mod demo;
mod export;
pub mod ledger;
pub mod maintenance;
pub mod outbox;
pub mod papers;
pub mod photos;
pub mod plugins;
mod quoting;
pub mod rpc;
pub mod run;
pub mod server;
pub mod web;
