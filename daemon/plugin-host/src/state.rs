//! What one call has: its limits, its log, and WASI where it was granted. A store
//! is made here and nowhere else, so none comes into being without its limits.

use crate::config::{CallLimits, HostConfig};
use crate::limiter::Limiter;
use crate::log::{Log, LogLine};
use crate::wasi::{EmptyWasi, MAX_HANDLES};
use std::sync::{Arc, Mutex, PoisonError};
use wasmtime::{Engine, Store};
use wasmtime_wasi::{WasiCtxView, WasiView};

/// The state of one call.
pub(crate) struct CallState {
    limiter: Limiter,
    // Guards the lines that the log import and the standard streams of the same
    // guest append to; held for one push only.
    log: Arc<Mutex<Log>>,
    // Made when first asked for, so that guests without WASI do not pay for it.
    wasi: Option<EmptyWasi>,
}

impl CallState {
    /// The log of this call.
    pub(crate) fn log(&self) -> Arc<Mutex<Log>> {
        Arc::clone(&self.log)
    }
}

impl WasiView for CallState {
    fn ctx(&mut self) -> WasiCtxView<'_> {
        self.wasi.get_or_insert_with(EmptyWasi::new).view()
    }
}

/// A store with every limit set: fuel, deadline, memory, tables, instances, output.
///
/// # Errors
/// Where the engine was made without fuel, which it never is.
pub(crate) fn new_store(
    engine: &Engine,
    config: &HostConfig,
    limits: CallLimits,
) -> wasmtime::Result<Store<CallState>> {
    let state = CallState {
        limiter: Limiter::new(config),
        log: Arc::new(Mutex::new(Log::new(config))),
        wasi: None,
    };
    let mut store = Store::new(engine, state);
    store.limiter(|state| &mut state.limiter);
    store.set_fuel(limits.fuel_units.unwrap_or(config.fuel_units))?;
    let deadline_ms = limits.deadline_ms.unwrap_or(config.deadline_ms);
    // One tick more, because the first may come at once.
    store.set_epoch_deadline(deadline_ms.div_ceil(config.tick_ms).saturating_add(1));
    store.set_hostcall_fuel(config.output_bytes);
    store.set_max_component_handles(MAX_HANDLES);
    Ok(store)
}

/// Ends a call: what it wrote and how many lines were dropped. The store goes first,
/// because streams that the guest left open write their last line as they are dropped.
pub(crate) fn finish(store: Store<CallState>) -> (Vec<LogLine>, u64) {
    let log = store.data().log();
    drop(store);
    log.lock().unwrap_or_else(PoisonError::into_inner).take()
}
