//! Rust types and calls generated from the contract in `plugins/wit`; nothing
//! here is written by hand. The two worlds share one set of types.

pub(crate) mod pricing {
    wasmtime::component::bindgen!({
        path: "../../plugins/wit/shop-1.0.0",
        world: "pricing",
        additional_derives: [PartialEq, serde::Deserialize, serde::Serialize],
    });
}

pub(crate) mod product_list {
    wasmtime::component::bindgen!({
        path: "../../plugins/wit/shop-1.0.0",
        world: "product-list",
        additional_derives: [PartialEq, serde::Deserialize, serde::Serialize],
        with: {
            "lamella:shop/types": super::pricing::lamella::shop::types,
            "lamella:shop/log": super::pricing::lamella::shop::log,
        },
    });
}
