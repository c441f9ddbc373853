//! The wasmtime engine: pooled instances, fuel, and a deadline by epochs.

use crate::config::HostConfig;
use crate::error::PluginError;
use std::path::Path;
use std::thread::{self, JoinHandle};
use std::time::Duration;
use wasmtime::{
    Cache, CacheConfig, Config, Engine, InstanceAllocationStrategy, PoolingAllocationConfig,
};

/// Core instances, memories and tables that all running calls may have together,
/// for each pool slot. Guests made by one compiler need one or two of each; the
/// Python and JavaScript runtimes are linked from a dozen modules.
const CORE_INSTANCES_PER_SLOT: u32 = 32;
const MEMORIES_PER_SLOT: u32 = 2;
const TABLES_PER_SLOT: u32 = 4;

/// Makes the engine and starts the thread that tells running guests the time. The
/// thread ends by itself, at the next tick after the last use of the engine.
pub(crate) fn start(config: &HostConfig) -> Result<(Engine, Option<Cache>), PluginError> {
    let faults = config.faults();
    if !faults.is_empty() {
        return Err(PluginError::BadConfig { faults });
    }
    let cache = config.cache_dir.as_deref().map(open_cache).transpose()?;
    let mut wasm = Config::new();
    wasm.cache(cache.clone())
        .consume_fuel(true)
        .epoch_interruption(true)
        .max_wasm_stack(config.stack_bytes)
        .allocation_strategy(InstanceAllocationStrategy::Pooling(pool(config)))
        // The same rule must give the same cents on every machine.
        .cranelift_nan_canonicalization(true)
        .relaxed_simd_deterministic(true);
    let engine = Engine::new(&wasm).map_err(|error| PluginError::EngineUnavailable {
        detail: format!("{error:#}"),
    })?;
    // The thread is left to itself: it ends with the engine.
    drop(start_ticker(
        &engine,
        Duration::from_millis(config.tick_ms),
    )?);
    Ok((engine, cache))
}

fn pool(config: &HostConfig) -> PoolingAllocationConfig {
    let slots = config.pool_slots;
    let mut pool = PoolingAllocationConfig::new();
    // A memory's size is left to the limiter, which says why it refuses.
    pool.total_component_instances(slots)
        .total_core_instances(slots.saturating_mul(CORE_INSTANCES_PER_SLOT))
        .total_memories(slots.saturating_mul(MEMORIES_PER_SLOT))
        .total_tables(slots.saturating_mul(TABLES_PER_SLOT))
        .max_tables_per_module(TABLES_PER_SLOT)
        .max_memories_per_component(MEMORIES_PER_SLOT)
        .table_elements(config.table_elements);
    pool
}

/// Opens wasmtime's own store of compiled code. It is keyed by the component's
/// bytes, the wasmtime version and the compiler's settings, it is written to a
/// temporary file and renamed, and it is the only one that needs no `unsafe` here.
fn open_cache(dir: &Path) -> Result<Cache, PluginError> {
    let unavailable = |detail: String| PluginError::CacheUnavailable {
        dir: dir.into(),
        detail,
    };
    make_private(dir).map_err(|error| unavailable(error.to_string()))?;
    let mut config = CacheConfig::new();
    config.with_directory(dir);
    Cache::new(config).map_err(|error| unavailable(format!("{error:#}")))
}

/// Makes the folder if it is missing, for its owner only: its files are run as code.
fn make_private(dir: &Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(dir)
}

fn start_ticker(engine: &Engine, tick: Duration) -> Result<JoinHandle<()>, PluginError> {
    let engine = engine.weak();
    let run = move || {
        loop {
            thread::sleep(tick);
            match engine.upgrade() {
                Some(engine) => engine.increment_epoch(),
                None => break,
            }
        }
    };
    thread::Builder::new()
        .name("plugin-ticks".into())
        .spawn(run)
        .map_err(|error| PluginError::EngineUnavailable {
            detail: error.to_string(),
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ticker_ends_with_the_engine() {
        let engine = Engine::default();
        let ticker = start_ticker(&engine, Duration::from_millis(1)).unwrap();
        assert!(!ticker.is_finished());
        drop(engine);
        // Hangs for ever if the thread keeps the engine alive.
        ticker.join().unwrap();
    }
}
