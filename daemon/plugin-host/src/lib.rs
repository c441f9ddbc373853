//! Runs the shop's plugins: WebAssembly components of the contract in `plugins/wit`,
//! metered and boxed. It knows components; it knows no jobs, wire or store.
//!
//! - [`PluginHost`] loads a component into a [`Plugin`] (`plugin`, checks in `load`)
//! - [`Plugin::quote`] prices a job (`pricing`), [`Plugin::list_products`] lists
//!   products (`products`)
//! - [`check_quote`] says whether a quote adds up (`money`)
//! - [`HostConfig`] has every limit (`config`; kept by `engine`, `limiter`, `state`, `log`)
//! - [`Observer`] is told of every call (`observe`)
//! - [`Wasi::EmptyDeterministic`] is a WASI with nothing in it (`wasi`)
//! - [`PluginError::reason`] is a stable code (`error`)
//!
//! Calls block, at most for their deadline: an async caller makes them on a thread
//! that may block.

mod bindings;
mod config;
mod engine;
mod error;
mod limiter;
mod load;
mod log;
mod money;
mod observe;
mod plugin;
mod pricing;
mod products;
mod report;
mod state;
mod wasi;

pub use bindings::pricing::exports::lamella::shop::price::{
    Line, PricingRequest, Quote, Refusal, TaxLine,
};
pub use bindings::pricing::lamella::shop::types::{
    About, Condition, Finish, Job, Measure, MoneyRules, Panel, Rounding, Service, Setting,
    Substrate, TaxBasis, TaxClass,
};
pub use bindings::product_list::exports::lamella::shop::products::{
    Chemical, Coating, Dilution, Film, ProductSet, Ranked, Setup, Substance, TemperatureResponse,
    Window,
};
pub use config::{CallLimits, HostConfig, LoadOptions, MAX_COMPONENT_BYTES, Wasi};
pub use error::{CallFailure, PluginError, RefusalKind};
pub use load::{CONTRACT_VERSION, World};
pub use log::{LogLevel, LogLine};
pub use money::{PPM, QuoteFault, THOUSANDTHS, check_quote, divide_rounded};
pub use observe::{CallSeen, Observer};
pub use plugin::{Plugin, PluginHost};
pub use products::{ProductFault, check_products};
pub use report::CallReport;
