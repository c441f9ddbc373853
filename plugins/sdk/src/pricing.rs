//! World `pricing`: turning a job into an itemised price.

use crate::{About, Draft, PricingRequest, Refusal};

/// A price rule. It keeps nothing between calls: each call gets a fresh instance.
pub trait Pricing {
    /// What the plugin says of itself; `about!("...")` fills it from `Cargo.toml`.
    fn describe() -> About;

    /// The lines of the quote. Amounts, taxes and totals are worked out from them.
    ///
    /// # Errors
    /// Why there is no price. A rule that does not know refuses; it does not guess.
    fn quote(request: &PricingRequest) -> Result<Draft, Refusal>;
}
