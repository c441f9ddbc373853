//! A price rule: panels by size and condition, services at a price each, film by the
//! metre, chemicals by the litre, labour by the hour.
//!
//! README.md beside this file states the rule in words; the plugins in Python and
//! JavaScript keep to the same words, and all three give the same cents.
//! `prices` reads the settings, `rule` applies them.

mod prices;
mod rule;

use lamella_plugin_sdk::{About, Draft, Pricing, PricingRequest, Refusal, about, export_pricing};

struct TieredPricing;

impl Pricing for TieredPricing {
    fn describe() -> About {
        about!(
            "Prices panels by size and condition, film by the metre, chemicals by the litre, \
             labour by the hour"
        )
    }

    fn quote(request: &PricingRequest) -> Result<Draft, Refusal> {
        let prices = prices::Prices::read(&request.settings, &request.money)?;
        rule::apply(request, &prices)
    }
}

export_pricing!(TieredPricing);
