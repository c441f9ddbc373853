//! Why a plugin could not be loaded or gave no answer, with a reason code that stays
//! the same between releases.

use crate::config::HostConfig;
use crate::limiter::{LimitHit, Resource};
use crate::load::World;
use crate::log::cut;
use crate::money::QuoteFault;
use crate::products::ProductFault;
use crate::report::CallReport;
use std::path::PathBuf;
use wasmtime::{PoolConcurrencyLimitError, Trap};
use wasmtime_wasi::I32Exit;

/// The longest text of a plugin's that an error repeats, bytes.
const TEXT_BYTES: usize = 2_000;

/// Why there is no plugin, or no answer from one.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PluginError {
    /// The host's own configuration is out of range.
    #[error("bad plugin host configuration: {}", .faults.join("; "))]
    BadConfig {
        /// One fragment for each figure at fault.
        faults: Vec<String>,
    },
    /// The engine could not be started on this machine.
    #[error("wasm engine could not start: {detail}")]
    EngineUnavailable {
        /// What the engine said.
        detail: String,
    },
    /// The folder for compiled code cannot be used.
    #[error("cache folder `{}` cannot be used: {detail}", .dir.display())]
    CacheUnavailable {
        /// The folder.
        dir: PathBuf,
        /// What went wrong.
        detail: String,
    },
    /// The component is larger than the host takes.
    #[error("component of {bytes} bytes is larger than the limit of {limit_bytes}")]
    ComponentTooLarge {
        /// Its size.
        bytes: usize,
        /// [`HostConfig::component_bytes`].
        limit_bytes: usize,
    },
    /// The bytes are not those that were announced.
    #[error("component has SHA-256 {found}, expected {expected}")]
    HashMismatch {
        /// What was announced, in hexadecimal.
        expected: String,
        /// What the bytes have.
        found: String,
    },
    /// The bytes are not a valid Wasm component.
    #[error("not a valid wasm component: {detail}")]
    NotAComponent {
        /// What is wrong with them.
        detail: String,
    },
    /// The component declares more instances, memories or tables than the host offers.
    #[error("component needs more than the host offers: {detail}")]
    ResourceLimit {
        /// What it needs and what there is.
        detail: String,
    },
    /// The component does not export one of the contract's worlds, or it was asked
    /// for what its world does not have.
    #[error("component does not fit world {expected}: {detail}")]
    WrongWorld {
        /// The world or worlds that would do.
        expected: String,
        /// What it has instead, or lacks.
        detail: String,
    },
    /// The component was built against another version of the contract.
    #[error("component uses {found}, this host has version {offered}")]
    WrongVersion {
        /// The interfaces at fault with their versions.
        found: String,
        /// The contract's version here.
        offered: String,
    },
    /// The component imports what the host does not offer.
    #[error("component imports what is not offered: {}", .imports.join(", "))]
    ImportNotOffered {
        /// The imports at fault.
        imports: Vec<String>,
    },
    /// What the plugin says of itself breaks the contract.
    #[error("plugin describes itself wrongly: {}", .faults.join("; "))]
    BadDescription {
        /// One fragment for each field at fault.
        faults: Vec<String>,
    },
    /// As many calls as the host allows are running already.
    #[error("all {pool_slots} plugin slots are in use")]
    HostBusy {
        /// [`HostConfig::pool_slots`].
        pool_slots: u32,
    },
    /// The call burnt its fuel.
    #[error("plugin used up its {fuel_units} units of fuel")]
    FuelExhausted {
        /// What it was given.
        fuel_units: u64,
    },
    /// The call took too long.
    #[error("plugin did not answer within {deadline_ms} ms")]
    DeadlineExceeded {
        /// What it was given.
        deadline_ms: u64,
    },
    /// The call asked for more memory than it may have.
    #[error("plugin asked for too much: {detail}")]
    MemoryLimit {
        /// What it asked for, held, and might have had.
        detail: String,
    },
    /// The call asked for a larger table than it may have.
    #[error("plugin asked for too much: {detail}")]
    TableLimit {
        /// What it asked for, held, and might have had.
        detail: String,
    },
    /// The call nested its functions too deep.
    #[error("plugin used up its {stack_bytes} bytes of stack")]
    StackOverflow {
        /// [`HostConfig::stack_bytes`].
        stack_bytes: usize,
    },
    /// The plugin handed over more data than the host takes at one time.
    #[error("plugin handed over more than {output_bytes} bytes at one time")]
    OutputTooLarge {
        /// [`HostConfig::output_bytes`].
        output_bytes: usize,
    },
    /// A text from the plugin is not valid UTF-8.
    #[error("plugin gave a text that is not UTF-8: {detail}")]
    InvalidUtf8 {
        /// Where in the text.
        detail: String,
    },
    /// The plugin broke off, or broke the calling convention.
    #[error("plugin trapped: {detail}")]
    Trapped {
        /// Why.
        detail: String,
    },
    /// The plugin answered that it cannot do this.
    #[error("plugin refused, {kind}: {text}")]
    Refused {
        /// What kind of refusal.
        kind: RefusalKind,
        /// The plugin's own words, at most 2 000 bytes.
        text: String,
    },
    /// The plugin gave a quote that breaks the rules of money.
    #[error("quote does not add up: {}", joined(.faults))]
    QuoteDoesNotAddUp {
        /// Each fault in it.
        faults: Vec<QuoteFault>,
    },
    /// The plugin gave products outside the ranges of the contract.
    #[error("product list is not valid: {}", joined(.faults))]
    ProductsNotValid {
        /// Each fault in it.
        faults: Vec<ProductFault>,
    },
}

/// What kind of refusal a plugin gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RefusalKind {
    /// Its rule does not cover this.
    NotCovered,
    /// Something must be known first.
    Missing,
    /// A setting is wrong.
    BadSetting,
    /// It cannot list its products.
    NotListed,
}

impl std::fmt::Display for RefusalKind {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(match self {
            Self::NotCovered => "not covered",
            Self::Missing => "something is missing",
            Self::BadSetting => "bad setting",
            Self::NotListed => "no products",
        })
    }
}

impl PluginError {
    /// The stable code of this error, in capitals, for programs.
    #[must_use]
    pub fn reason(&self) -> &'static str {
        match self {
            Self::BadConfig { .. } => "BAD_CONFIG",
            Self::EngineUnavailable { .. } => "ENGINE_UNAVAILABLE",
            Self::CacheUnavailable { .. } => "CACHE_UNAVAILABLE",
            Self::ComponentTooLarge { .. } => "COMPONENT_TOO_LARGE",
            Self::HashMismatch { .. } => "HASH_MISMATCH",
            Self::NotAComponent { .. } => "NOT_A_COMPONENT",
            Self::ResourceLimit { .. } => "RESOURCE_LIMIT",
            Self::WrongWorld { .. } => "WRONG_WORLD",
            Self::WrongVersion { .. } => "WRONG_VERSION",
            Self::ImportNotOffered { .. } => "IMPORT_NOT_OFFERED",
            Self::BadDescription { .. } => "BAD_DESCRIPTION",
            Self::HostBusy { .. } => "HOST_BUSY",
            Self::FuelExhausted { .. } => "FUEL_EXHAUSTED",
            Self::DeadlineExceeded { .. } => "DEADLINE_EXCEEDED",
            Self::MemoryLimit { .. } => "MEMORY_LIMIT",
            Self::TableLimit { .. } => "TABLE_LIMIT",
            Self::StackOverflow { .. } => "STACK_OVERFLOW",
            Self::OutputTooLarge { .. } => "OUTPUT_TOO_LARGE",
            Self::InvalidUtf8 { .. } => "INVALID_UTF8",
            Self::Trapped { .. } => "TRAPPED",
            Self::Refused { .. } => "REFUSED",
            Self::QuoteDoesNotAddUp { .. } => "QUOTE_DOES_NOT_ADD_UP",
            Self::ProductsNotValid { .. } => "PRODUCTS_NOT_VALID",
        }
    }

    /// A refusal in the plugin's own words, shortened where they are long.
    pub(crate) fn refused(kind: RefusalKind, text: &str) -> Self {
        Self::Refused {
            kind,
            text: cut(text, TEXT_BYTES).to_owned(),
        }
    }

    /// A plugin of one world was asked for what another world does.
    pub(crate) fn not_that_world(wanted: World, has: World) -> Self {
        Self::WrongWorld {
            expected: wanted.to_string(),
            detail: format!("this plugin is of world {has}"),
        }
    }
}

/// A call that gave no answer, and what is known of it all the same.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{error}")]
pub struct CallFailure {
    /// Why there is no answer.
    pub error: PluginError,
    /// What the call used and wrote.
    pub report: CallReport,
}

impl CallFailure {
    /// The stable code of its error.
    #[must_use]
    pub fn reason(&self) -> &'static str {
        self.error.reason()
    }
}

impl From<Box<CallFailure>> for PluginError {
    fn from(failure: Box<CallFailure>) -> Self {
        failure.error
    }
}

/// Sorts what the engine says of a call that broke off.
pub(crate) fn of_call(
    error: &wasmtime::Error,
    config: &HostConfig,
    fuel_units: u64,
    deadline_ms: u64,
) -> PluginError {
    if let Some(hit) = error.downcast_ref::<LimitHit>() {
        let detail = hit.to_string();
        return match hit.what {
            Resource::Memory => PluginError::MemoryLimit { detail },
            Resource::Table => PluginError::TableLimit { detail },
        };
    }
    if error.is::<PoolConcurrencyLimitError>() {
        return PluginError::HostBusy {
            pool_slots: config.pool_slots,
        };
    }
    if let Some(utf8) = error.downcast_ref::<std::str::Utf8Error>() {
        return PluginError::InvalidUtf8 {
            detail: utf8.to_string(),
        };
    }
    if let Some(utf16) = error.downcast_ref::<std::char::DecodeUtf16Error>() {
        return PluginError::InvalidUtf8 {
            detail: utf16.to_string(),
        };
    }
    if let Some(exit) = error.downcast_ref::<I32Exit>() {
        return PluginError::Trapped {
            detail: format!("it exited with code {}", exit.0),
        };
    }
    match error.downcast_ref::<Trap>() {
        Some(Trap::OutOfFuel) => PluginError::FuelExhausted { fuel_units },
        Some(Trap::Interrupt) => PluginError::DeadlineExceeded { deadline_ms },
        Some(Trap::StackOverflow) => PluginError::StackOverflow {
            stack_bytes: config.stack_bytes,
        },
        Some(trap) => PluginError::Trapped {
            detail: trap.to_string(),
        },
        None if is_output_limit(error) => PluginError::OutputTooLarge {
            output_bytes: config.output_bytes,
        },
        None => PluginError::Trapped {
            detail: root_text(error),
        },
    }
}

/// The engine's error for this is private to it, so it is known by its text; a test
/// in `tests/host/limits.rs` fails if that text changes.
fn is_output_limit(error: &wasmtime::Error) -> bool {
    error
        .root_cause()
        .to_string()
        .contains("fuel allocated for hostcalls")
}

/// The innermost cause, shortened: the outer ones say only which function was called.
pub(crate) fn root_text(error: &wasmtime::Error) -> String {
    cut(&error.root_cause().to_string(), TEXT_BYTES).to_owned()
}

/// All causes, outermost first, shortened.
pub(crate) fn whole_text(error: &wasmtime::Error) -> String {
    cut(&format!("{error:#}"), TEXT_BYTES).to_owned()
}

fn joined<T: std::fmt::Display>(faults: &[T]) -> String {
    faults
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join("; ")
}
