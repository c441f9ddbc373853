//! Types and calls generated from the contract in `wit`, and what joins them to the
//! traits of this crate. Authors use the traits; this is public for the macros only.

use crate::{Pricing, ProductList};
use std::marker::PhantomData;

/// Generated for world `pricing`.
#[expect(missing_docs, reason = "generated; the contract documents each field")]
pub mod pricing {
    wit_bindgen::generate!({
        path: "../wit/shop-1.0.0",
        world: "pricing",
        additional_derives: [PartialEq],
        pub_export_macro: true,
        export_macro_name: "export_pricing_world",
    });
}

/// Generated for world `product-list`, with the types of [`pricing`].
#[expect(missing_docs, reason = "generated; the contract documents each field")]
pub mod product_list {
    wit_bindgen::generate!({
        path: "../wit/shop-1.0.0",
        world: "product-list",
        additional_derives: [PartialEq],
        pub_export_macro: true,
        export_macro_name: "export_products_world",
        with: {
            "lamella:shop/types@1.0.0": super::pricing::lamella::shop::types,
            "lamella:shop/log@1.0.0": super::pricing::lamella::shop::log,
        },
    });
}

/// Calls a [`Pricing`] from the generated side.
pub struct ForPricing<P>(PhantomData<P>);

impl<P: Pricing + 'static> pricing::Guest for ForPricing<P> {
    fn describe() -> crate::About {
        P::describe()
    }
}

impl<P: Pricing + 'static> pricing::exports::lamella::shop::price::Guest for ForPricing<P> {
    fn quote_job(request: crate::PricingRequest) -> Result<crate::Quote, crate::Refusal> {
        P::quote(&request)?.finish(&request.money)
    }
}

/// Calls a [`ProductList`] from the generated side.
pub struct ForProducts<P>(PhantomData<P>);

impl<P: ProductList + 'static> product_list::Guest for ForProducts<P> {
    fn describe() -> crate::About {
        P::describe()
    }
}

impl<P: ProductList + 'static> product_list::exports::lamella::shop::products::Guest
    for ForProducts<P>
{
    fn list_products(settings: Vec<crate::Setting>) -> Result<crate::ProductSet, String> {
        P::list(&settings)
    }
}
