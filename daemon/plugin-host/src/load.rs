//! From bytes to a plugin: every check that can be made before the first price.

use crate::bindings::pricing::lamella::shop::types::About;
use crate::bindings::{pricing, product_list};
use crate::config::{HostConfig, LoadOptions, Wasi};
use crate::error::{PluginError, root_text, whole_text};
use crate::state::CallState;
use crate::{log, wasi};
use sha2::{Digest, Sha256};
use wasmtime::component::types::ComponentItem;
use wasmtime::component::{Component, InstancePre, Linker};
use wasmtime::{Engine, Store};

/// The contract's version.
pub const CONTRACT_VERSION: &str = "1.0.0";

/// What the interfaces of the contract begin with.
const PACKAGE: &str = "lamella:shop/";

/// The worlds of the contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum World {
    /// Prices jobs.
    Pricing,
    /// Lists products.
    ProductList,
}

impl World {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Pricing, Self::ProductList];

    /// Its name in the contract.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Pricing => "pricing",
            Self::ProductList => "product-list",
        }
    }

    /// The interface that tells it from the others.
    fn export(self) -> &'static str {
        match self {
            Self::Pricing => "price",
            Self::ProductList => "products",
        }
    }
}

impl std::fmt::Display for World {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(self.name())
    }
}

/// A component with its imports linked and its exports checked.
#[derive(Clone)]
pub(crate) enum Linked {
    Pricing(pricing::PricingPre<CallState>),
    ProductList(product_list::ProductListPre<CallState>),
}

impl Linked {
    pub(crate) fn world(&self) -> World {
        match self {
            Self::Pricing(_) => World::Pricing,
            Self::ProductList(_) => World::ProductList,
        }
    }

    /// Makes an instance and asks it what it is. The inner error says which function
    /// has other types than the contract's; the engine finds that only now.
    pub(crate) fn describe(
        &self,
        store: &mut Store<CallState>,
    ) -> wasmtime::Result<Result<About, String>> {
        match self {
            Self::Pricing(pre) => {
                let instance = pre.instance_pre().instantiate(&mut *store)?;
                match pricing::Pricing::new(&mut *store, &instance) {
                    Ok(plugin) => plugin.call_describe(store).map(Ok),
                    Err(error) => Ok(Err(whole_text(&error))),
                }
            }
            Self::ProductList(pre) => {
                let instance = pre.instance_pre().instantiate(&mut *store)?;
                match product_list::ProductList::new(&mut *store, &instance) {
                    Ok(plugin) => plugin.call_describe(store).map(Ok),
                    Err(error) => Ok(Err(whole_text(&error))),
                }
            }
        }
    }
}

/// What the host offers to guests, with and without WASI.
pub(crate) struct Linkers {
    plain: Linker<CallState>,
    with_wasi: Linker<CallState>,
}

impl Linkers {
    pub(crate) fn try_new(engine: &Engine) -> wasmtime::Result<Self> {
        let mut plain = Linker::new(engine);
        log::add_to_linker(&mut plain)?;
        let mut with_wasi = plain.clone();
        wasi::add_to_linker(&mut with_wasi)?;
        Ok(Self { plain, with_wasi })
    }

    fn of(&self, wasi: Wasi) -> &Linker<CallState> {
        match wasi {
            Wasi::None => &self.plain,
            Wasi::EmptyDeterministic => &self.with_wasi,
        }
    }
}

/// Checks and links a component; gives it back with its SHA-256.
pub(crate) fn link(
    engine: &Engine,
    linkers: &Linkers,
    config: &HostConfig,
    bytes: &[u8],
    options: &LoadOptions,
) -> Result<(Linked, [u8; 32]), PluginError> {
    if bytes.len() > config.component_bytes {
        return Err(PluginError::ComponentTooLarge {
            bytes: bytes.len(),
            limit_bytes: config.component_bytes,
        });
    }
    let sha256: [u8; 32] = Sha256::digest(bytes).into();
    if let Some(expected) = options
        .expected_sha256
        .filter(|expected| *expected != sha256)
    {
        return Err(PluginError::HashMismatch {
            expected: hex::encode(expected),
            found: hex::encode(sha256),
        });
    }
    check_preamble(bytes)?;
    let component = Component::from_binary(engine, bytes).map_err(|error| of_compiling(&error))?;
    let (exports, imports) = names(engine, &component);
    let world = check_exports(&exports)?;
    check_imports(&imports, options.wasi)?;
    let linked = linkers
        .of(options.wasi)
        .instantiate_pre(&component)
        .map_err(|error| PluginError::ImportNotOffered {
            imports: vec![whole_text(&error)],
        })?;
    Ok((check_types(world, linked)?, sha256))
}

/// Tells a component from a core module and from anything else by its first 8 bytes
/// (component model, binary format: magic, version 13, layer 1).
fn check_preamble(bytes: &[u8]) -> Result<(), PluginError> {
    let detail = match bytes.first_chunk::<8>() {
        Some(b"\0asm\x0d\0\x01\0") => return Ok(()),
        Some(b"\0asm\x01\0\0\0") => "it is a core module, which has yet to be made a component",
        Some([b'\0', b'a', b's', b'm', ..]) => "it is of an unknown version of the format",
        Some(_) | None => "it does not begin as wasm does",
    };
    Err(PluginError::NotAComponent {
        detail: detail.into(),
    })
}

/// The engine gives no type for a component that is sound but outgrows the pool, so
/// that is known by its text; `tests/host/load.rs` fails if the text changes.
fn of_compiling(error: &wasmtime::Error) -> PluginError {
    let detail = root_text(error);
    if detail.contains("exceeds the") {
        PluginError::ResourceLimit { detail }
    } else {
        PluginError::NotAComponent { detail }
    }
}

/// Names of its exports and imports.
fn names(engine: &Engine, component: &Component) -> (Vec<String>, Vec<String>) {
    let ty = component.component_type();
    let exports = ty
        .exports(engine)
        .map(|(name, _)| name.to_owned())
        .collect();
    let imports = ty
        .imports(engine)
        // Types alone need nothing from the host.
        .filter(|(_, import)| !is_types_only(engine, &import.ty))
        .map(|(name, _)| name.to_owned())
        .collect();
    (exports, imports)
}

fn is_types_only(engine: &Engine, item: &ComponentItem) -> bool {
    match item {
        ComponentItem::Type(_) => true,
        ComponentItem::ComponentInstance(instance) => instance
            .exports(engine)
            .all(|(_, export)| is_types_only(engine, &export.ty)),
        ComponentItem::ComponentFunc(_)
        | ComponentItem::CoreFunc(_)
        | ComponentItem::Module(_)
        | ComponentItem::Component(_)
        | ComponentItem::Resource(_) => false,
    }
}

fn check_exports(exports: &[String]) -> Result<World, PluginError> {
    let any_of = || World::ALL.map(World::name).join(" or ");
    let mut found = Vec::new();
    let mut stale = Vec::new();
    for world in World::ALL {
        for export in exports {
            match version_of(export, world.export()) {
                Some(CONTRACT_VERSION) => found.push(world),
                Some(_) => stale.push(export.clone()),
                None => {}
            }
        }
    }
    match found.as_slice() {
        [world] => Ok(*world),
        [] if stale.is_empty() => Err(PluginError::WrongWorld {
            expected: any_of(),
            detail: if exports.is_empty() {
                "it exports nothing".into()
            } else {
                format!("it exports {}", exports.join(", "))
            },
        }),
        [] => Err(wrong_version(&stale)),
        [..] => Err(PluginError::WrongWorld {
            expected: any_of(),
            detail: "it exports more than one, and a plugin is one thing".into(),
        }),
    }
}

fn check_imports(imports: &[String], wasi: Wasi) -> Result<(), PluginError> {
    let mut stale = Vec::new();
    let mut unknown = Vec::new();
    for import in imports {
        match version_of(import, "log") {
            Some(CONTRACT_VERSION) => {}
            Some(_) => stale.push(import.clone()),
            None if wasi == Wasi::EmptyDeterministic && is_offered_wasi(import) => {}
            None => unknown.push(import.clone()),
        }
    }
    if !unknown.is_empty() {
        return Err(PluginError::ImportNotOffered { imports: unknown });
    }
    if stale.is_empty() {
        Ok(())
    } else {
        Err(wrong_version(&stale))
    }
}

/// Whether it is an interface of WASI 0.2 that the empty one may have. Whether it has
/// that very interface is for the linker to say.
fn is_offered_wasi(import: &str) -> bool {
    wasi::PACKAGES
        .iter()
        .any(|package| import.starts_with(package))
        && import.contains("@0.2.")
}

/// The version in `lamella:shop/INTERFACE@VERSION`, if it is that interface.
fn version_of<'a>(name: &'a str, interface: &str) -> Option<&'a str> {
    let rest = name.strip_prefix(PACKAGE)?.strip_prefix(interface)?;
    if rest.is_empty() {
        Some("no version")
    } else {
        rest.strip_prefix('@')
    }
}

fn wrong_version(found: &[String]) -> PluginError {
    PluginError::WrongVersion {
        found: found.join(", "),
        offered: CONTRACT_VERSION.into(),
    }
}

fn check_types(world: World, linked: InstancePre<CallState>) -> Result<Linked, PluginError> {
    let checked = match world {
        World::Pricing => pricing::PricingPre::new(linked).map(Linked::Pricing),
        World::ProductList => product_list::ProductListPre::new(linked).map(Linked::ProductList),
    };
    checked.map_err(|error| PluginError::WrongWorld {
        expected: world.to_string(),
        detail: whole_text(&error),
    })
}
