//! World `product-list`: what the shop works with.

use crate::{About, ProductSet, Setting};

/// A product list. It keeps nothing between calls: each call gets a fresh instance.
pub trait ProductList {
    /// What the plugin says of itself; `about!("...")` fills it from `Cargo.toml`.
    fn describe() -> About;

    /// The products.
    ///
    /// # Errors
    /// Why they cannot be listed, in words.
    fn list(settings: &[Setting]) -> Result<ProductSet, String>;
}
