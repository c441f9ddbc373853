//! All that a plugin for Lamella needs. A plugin is one type that implements a trait
//! and is handed to a macro:
//!
//! - a price rule: [`Pricing`] and [`export_pricing!`]; it returns a [`Draft`] of
//!   lines, and the amounts, taxes and totals follow from those (`draft`)
//! - a product list: [`ProductList`] and [`export_products!`]
//! - [`Settings`] reads what the shop has set, and says all that is wrong with it at once
//! - [`divide_rounded`] rounds as the shop does (`round`)
//! - [`log`](log()) writes a line to the shop's log
//!
//! Everything that a price depends on is a whole number: minor units of the currency,
//! thousandths of a unit, millionths of a tax rate. So the same request gives the same
//! cents on any machine and in any language.

#[doc(hidden)]
pub mod bindings;
mod draft;
mod log;
mod pricing;
mod products;
mod round;
mod settings;

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
pub use draft::{Draft, DraftLine, line};
pub use log::{Level, log};
pub use pricing::Pricing;
pub use products::ProductList;
pub use round::{PPM, THOUSANDTHS, divide_rounded};
pub use settings::Settings;

/// Describes a plugin: its name and version from its `Cargo.toml`, and one sentence.
#[macro_export]
macro_rules! about {
    ($summary:expr) => {
        $crate::About {
            name: env!("CARGO_PKG_NAME").into(),
            version: env!("CARGO_PKG_VERSION").into(),
            summary: $summary.into(),
        }
    };
}

/// Makes a component of world `pricing` from a type that is [`Pricing`].
#[macro_export]
macro_rules! export_pricing {
    ($plugin:ty) => {
        type LamellaPlugin = $crate::bindings::ForPricing<$plugin>;
        $crate::bindings::pricing::export_pricing_world!(
            LamellaPlugin with_types_in $crate::bindings::pricing
        );
    };
}

/// Makes a component of world `product-list` from a type that is [`ProductList`].
#[macro_export]
macro_rules! export_products {
    ($plugin:ty) => {
        type LamellaPlugin = $crate::bindings::ForProducts<$plugin>;
        $crate::bindings::product_list::export_products_world!(
            LamellaPlugin with_types_in $crate::bindings::product_list
        );
    };
}
