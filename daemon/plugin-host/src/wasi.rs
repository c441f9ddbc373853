//! A WASI 0.2 in which there is nothing, and nothing that differs between two calls.
//! Guests from languages whose runtime imports WASI get it; others get none.

use crate::log::{Log, LogLevel};
use crate::state::CallState;
use bytes::Bytes;
use sha2::{Digest, Sha256};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use wasmtime::component::{HasData, Linker, Resource, ResourceTable};
use wasmtime_wasi::cli::{WasiCli, WasiCliView};
use wasmtime_wasi::clocks::{WasiClocks, WasiClocksView};
use wasmtime_wasi::filesystem::{WasiFilesystem, WasiFilesystemView};
use wasmtime_wasi::p2::bindings::{cli, clocks, filesystem, random, sockets, sync};
use wasmtime_wasi::p2::{
    DynOutputStream, DynPollable, OutputStream, Pollable, StreamResult, subscribe,
};
use wasmtime_wasi::random::{Deterministic, WasiRandom};
use wasmtime_wasi::sockets::{WasiSockets, WasiSocketsView};
use wasmtime_wasi::{
    HostMonotonicClock, HostWallClock, WasiCtx, WasiCtxBuilder, WasiCtxView, WasiView,
};

/// Packages that it has.
pub(crate) const PACKAGES: [&str; 6] = [
    "wasi:cli/",
    "wasi:clocks/",
    "wasi:filesystem/",
    "wasi:io/",
    "wasi:random/",
    "wasi:sockets/",
];

/// Handles (streams, pollables) that one call may hold.
pub(crate) const MAX_HANDLES: usize = 10_000;

/// Most random bytes that one call of the guest gets.
const MAX_RANDOM_BYTES: u64 = 64 << 10;

/// Bytes that one write to standard output or error may have.
const WRITE_BYTES: usize = 4 << 10;

/// The WASI of one call.
pub(crate) struct EmptyWasi {
    ctx: WasiCtx,
    table: ResourceTable,
}

impl EmptyWasi {
    pub(crate) fn new() -> Self {
        let mut table = ResourceTable::new();
        table.set_max_capacity(MAX_HANDLES);
        let ctx = WasiCtxBuilder::new()
            .wall_clock(StoppedClock)
            .monotonic_clock(StoppedClock)
            .secure_random(Deterministic::new(seed_bytes(b"secure")))
            .insecure_random(Deterministic::new(seed_bytes(b"insecure")))
            .insecure_random_seed(0)
            .max_random_size(MAX_RANDOM_BYTES)
            .allow_tcp(false)
            .allow_udp(false)
            .allow_ip_name_lookup(false)
            .build();
        Self { ctx, table }
    }

    pub(crate) fn view(&mut self) -> WasiCtxView<'_> {
        WasiCtxView {
            ctx: &mut self.ctx,
            table: &mut self.table,
        }
    }
}

/// Offers it to guests: all that `wasi:cli/imports` names, but with a clock of our
/// own, because the library's would really sleep and no deadline reaches a sleeping host.
pub(crate) fn add_to_linker(linker: &mut Linker<CallState>) -> wasmtime::Result<()> {
    type T = CallState;
    let l = linker;
    sync::io::poll::add_to_linker::<T, Table>(l, |state| state.ctx().table)?;
    sync::io::streams::add_to_linker::<T, Table>(l, |state| state.ctx().table)?;
    wasmtime_wasi::p2::bindings::io::error::add_to_linker::<T, Table>(l, |state| {
        state.ctx().table
    })?;
    clocks::monotonic_clock::add_to_linker::<T, StoppedClocks>(l, |state| StoppedTime {
        table: state.ctx().table,
    })?;
    clocks::wall_clock::add_to_linker::<T, WasiClocks>(l, T::clocks)?;
    random::random::add_to_linker::<T, WasiRandom>(l, |state| state.ctx().ctx.random())?;
    random::insecure::add_to_linker::<T, WasiRandom>(l, |state| state.ctx().ctx.random())?;
    random::insecure_seed::add_to_linker::<T, WasiRandom>(l, |state| state.ctx().ctx.random())?;
    cli::exit::add_to_linker::<T, WasiCli>(l, T::cli)?;
    cli::environment::add_to_linker::<T, WasiCli>(l, T::cli)?;
    cli::stdin::add_to_linker::<T, WasiCli>(l, T::cli)?;
    cli::stdout::add_to_linker::<T, LogOutputs>(l, outputs)?;
    cli::stderr::add_to_linker::<T, LogOutputs>(l, outputs)?;
    cli::terminal_input::add_to_linker::<T, WasiCli>(l, T::cli)?;
    cli::terminal_output::add_to_linker::<T, WasiCli>(l, T::cli)?;
    cli::terminal_stdin::add_to_linker::<T, WasiCli>(l, T::cli)?;
    cli::terminal_stdout::add_to_linker::<T, WasiCli>(l, T::cli)?;
    cli::terminal_stderr::add_to_linker::<T, WasiCli>(l, T::cli)?;
    filesystem::preopens::add_to_linker::<T, WasiFilesystem>(l, T::filesystem)?;
    sync::filesystem::types::add_to_linker::<T, WasiFilesystem>(l, T::filesystem)?;
    sockets::instance_network::add_to_linker::<T, WasiSockets>(l, T::sockets)?;
    sockets::network::add_to_linker::<T, WasiSockets>(
        l,
        &sockets::network::LinkOptions::default(),
        T::sockets,
    )?;
    sockets::ip_name_lookup::add_to_linker::<T, WasiSockets>(l, T::sockets)?;
    sockets::tcp_create_socket::add_to_linker::<T, WasiSockets>(l, T::sockets)?;
    sync::sockets::tcp::add_to_linker::<T, WasiSockets>(l, T::sockets)?;
    sync::sockets::udp_create_socket::add_to_linker::<T, WasiSockets>(l, T::sockets)?;
    sync::sockets::udp::add_to_linker::<T, WasiSockets>(l, T::sockets)?;
    Ok(())
}

fn outputs(state: &mut CallState) -> Outputs<'_> {
    let log = state.log();
    Outputs {
        log,
        table: state.ctx().table,
    }
}

/// Bytes that look random and are the same every time.
fn seed_bytes(purpose: &[u8]) -> Vec<u8> {
    (0..16_u8)
        .flat_map(|block| {
            Sha256::new()
                .chain_update(purpose)
                .chain_update([block])
                .finalize()
        })
        .collect()
}

struct Table;

impl HasData for Table {
    type Data<'a> = &'a mut ResourceTable;
}

/// A clock that always shows zero.
struct StoppedClock;

impl HostWallClock for StoppedClock {
    fn resolution(&self) -> Duration {
        Duration::from_nanos(1)
    }

    fn now(&self) -> Duration {
        Duration::ZERO
    }
}

impl HostMonotonicClock for StoppedClock {
    fn resolution(&self) -> u64 {
        1
    }

    fn now(&self) -> u64 {
        0
    }
}

struct StoppedClocks;

impl HasData for StoppedClocks {
    type Data<'a> = StoppedTime<'a>;
}

struct StoppedTime<'a> {
    table: &'a mut ResourceTable,
}

impl StoppedTime<'_> {
    fn at_once(&mut self) -> wasmtime::Result<Resource<DynPollable>> {
        let ended = self.table.push(Ended)?;
        subscribe(self.table, ended)
    }
}

impl clocks::monotonic_clock::Host for StoppedTime<'_> {
    fn now(&mut self) -> wasmtime::Result<u64> {
        Ok(0)
    }

    fn resolution(&mut self) -> wasmtime::Result<u64> {
        Ok(1)
    }

    fn subscribe_instant(&mut self, _when: u64) -> wasmtime::Result<Resource<DynPollable>> {
        self.at_once()
    }

    fn subscribe_duration(&mut self, _for: u64) -> wasmtime::Result<Resource<DynPollable>> {
        self.at_once()
    }
}

/// A sleep that is over.
struct Ended;

#[wasmtime_wasi::async_trait]
impl Pollable for Ended {
    async fn ready(&mut self) {}
}

/// Standard output and error, going to the log.
struct LogOutputs;

impl HasData for LogOutputs {
    type Data<'a> = Outputs<'a>;
}

struct Outputs<'a> {
    log: Arc<Mutex<Log>>,
    table: &'a mut ResourceTable,
}

impl Outputs<'_> {
    fn open(&mut self, level: LogLevel) -> wasmtime::Result<Resource<DynOutputStream>> {
        let line_bytes = self
            .log
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .line_bytes();
        let log = Arc::clone(&self.log);
        let stream: DynOutputStream = Box::new(LogStream {
            log,
            level,
            line_bytes,
            rest: Vec::new(),
        });
        Ok(self.table.push(stream)?)
    }
}

impl cli::stdout::Host for Outputs<'_> {
    fn get_stdout(&mut self) -> wasmtime::Result<Resource<DynOutputStream>> {
        self.open(LogLevel::Info)
    }
}

impl cli::stderr::Host for Outputs<'_> {
    fn get_stderr(&mut self) -> wasmtime::Result<Resource<DynOutputStream>> {
        self.open(LogLevel::Warn)
    }
}

/// Cuts what is written into lines; the last one is written when the call ends.
struct LogStream {
    log: Arc<Mutex<Log>>,
    level: LogLevel,
    line_bytes: usize,
    rest: Vec<u8>,
}

impl LogStream {
    fn write_line(&mut self) {
        let text = String::from_utf8_lossy(&self.rest);
        self.log
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .push(self.level, &text);
        self.rest.clear();
    }
}

impl Drop for LogStream {
    fn drop(&mut self) {
        if !self.rest.is_empty() {
            self.write_line();
        }
    }
}

#[wasmtime_wasi::async_trait]
impl Pollable for LogStream {
    async fn ready(&mut self) {}
}

#[wasmtime_wasi::async_trait]
impl OutputStream for LogStream {
    fn write(&mut self, bytes: Bytes) -> StreamResult<()> {
        for piece in bytes.split_inclusive(|byte| *byte == b'\n') {
            let text = piece.strip_suffix(b"\n").unwrap_or(piece);
            // Room for one byte more than is kept, so that the log sees that it was cut.
            let room = (self.line_bytes + 1).saturating_sub(self.rest.len());
            self.rest.extend_from_slice(&text[..text.len().min(room)]);
            if piece.ends_with(b"\n") {
                self.write_line();
            }
        }
        Ok(())
    }

    fn flush(&mut self) -> StreamResult<()> {
        Ok(())
    }

    fn check_write(&mut self) -> StreamResult<usize> {
        Ok(WRITE_BYTES)
    }
}
