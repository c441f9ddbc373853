//! The host, and the plugins that it has loaded.

use crate::bindings::pricing::lamella::shop::types::About;
use crate::config::{CallLimits, HostConfig, LoadOptions, Wasi};
use crate::engine;
use crate::error::{self, CallFailure, PluginError};
use crate::load::{self, Linked, Linkers, World};
use crate::observe::{CallSeen, Observer, Observing};
use crate::products::is_id;
use crate::report::CallReport;
use crate::state::{CallState, finish, new_store};
use std::sync::Arc;
use std::time::Instant;
use wasmtime::{Cache, Engine, Store};

/// The longest version that a plugin may give itself, bytes.
const VERSION_BYTES: usize = 64;

/// The longest summary that a plugin may give itself, bytes.
const SUMMARY_BYTES: usize = 1_000;

/// Runs plugins. One for the whole program: it holds the pool of instances.
pub struct PluginHost {
    shared: Arc<Shared>,
    linkers: Linkers,
}

/// A plugin that is ready to be called. Clones are cheap and stand for the same plugin;
/// calls under way go on when the rest of them are dropped.
#[derive(Clone)]
pub struct Plugin {
    shared: Arc<Shared>,
    linked: Linked,
    about: About,
    sha256: [u8; 32],
    wasi: Wasi,
}

struct Shared {
    engine: Engine,
    config: HostConfig,
    cache: Option<Cache>,
    observing: Observing,
}

impl PluginHost {
    /// Starts the engine.
    ///
    /// # Errors
    /// Where the configuration is out of range (every fault is told), the cache folder
    /// cannot be used, or the machine cannot reserve the address space: about
    /// 8 GiB for each pool slot.
    pub fn try_new(config: HostConfig) -> Result<Self, PluginError> {
        let (engine, cache) = engine::start(&config)?;
        let linkers =
            Linkers::try_new(&engine).map_err(|error| PluginError::EngineUnavailable {
                detail: error.to_string(),
            })?;
        Ok(Self {
            shared: Arc::new(Shared {
                engine,
                config,
                cache,
                observing: Observing::default(),
            }),
            linkers,
        })
    }

    /// Compiles, checks and links a component, and asks it what it is. Blocks; a large
    /// component takes seconds the first time and milliseconds from the cache.
    ///
    /// # Errors
    /// [`CallFailure`] with the reason; nothing that the host was serving is touched.
    pub fn load(&self, bytes: &[u8], options: &LoadOptions) -> Result<Plugin, Box<CallFailure>> {
        let shared = &self.shared;
        let (linked, sha256) = load::link(
            &shared.engine,
            &self.linkers,
            &shared.config,
            bytes,
            options,
        )
        .map_err(without_report)?;
        let mut plugin = Plugin {
            shared: Arc::clone(shared),
            linked,
            about: About {
                name: String::new(),
                version: String::new(),
                summary: String::new(),
            },
            sha256,
            wasi: options.wasi,
        };
        plugin.about = plugin.describe()?;
        Ok(plugin)
    }

    /// Tells `observer` of every call from now on. Calls that ask a component what
    /// it is, before it has a name, are left out.
    pub fn observe(&self, observer: Observer) {
        self.shared.observing.begin(observer);
    }

    /// The limits it runs under.
    #[must_use]
    pub fn config(&self) -> &HostConfig {
        &self.shared.config
    }

    /// How often compiled code was found in the cache folder, and how often not, since
    /// this host started. Both 0 where there is no cache folder.
    #[must_use]
    pub fn cache_hits_and_misses(&self) -> (usize, usize) {
        self.shared
            .cache
            .as_ref()
            .map_or((0, 0), |cache| (cache.cache_hits(), cache.cache_misses()))
    }
}

impl Plugin {
    /// What it says of itself.
    #[must_use]
    pub fn about(&self) -> &About {
        &self.about
    }

    /// The SHA-256 of its component.
    #[must_use]
    pub fn sha256(&self) -> [u8; 32] {
        self.sha256
    }

    /// Which world it is of.
    #[must_use]
    pub fn world(&self) -> World {
        self.linked.world()
    }

    /// Whether it is given WASI.
    #[must_use]
    pub fn wasi(&self) -> Wasi {
        self.wasi
    }

    pub(crate) fn linked(&self) -> &Linked {
        &self.linked
    }

    pub(crate) fn wrong_world(&self, wanted: World) -> Box<CallFailure> {
        without_report(PluginError::not_that_world(wanted, self.world()))
    }

    /// Runs one call in a store of its own. `run` makes the instance and calls it;
    /// `judge` turns what came back into an answer or an error.
    pub(crate) fn call<A, T>(
        &self,
        limits: CallLimits,
        run: impl FnOnce(&mut Store<CallState>) -> wasmtime::Result<A>,
        judge: impl FnOnce(A) -> Result<T, PluginError>,
    ) -> Result<(T, CallReport), Box<CallFailure>> {
        let started = Instant::now();
        let called = self.call_unseen(limits, run, judge);
        if !self.about.name.is_empty() {
            self.shared.observing.tell(CallSeen {
                plugin: &self.about.name,
                took: started.elapsed(),
                failure: called.as_ref().err().map(|failure| failure.reason()),
            });
        }
        called
    }

    fn call_unseen<A, T>(
        &self,
        limits: CallLimits,
        run: impl FnOnce(&mut Store<CallState>) -> wasmtime::Result<A>,
        judge: impl FnOnce(A) -> Result<T, PluginError>,
    ) -> Result<(T, CallReport), Box<CallFailure>> {
        let config = &self.shared.config;
        let fuel_units = limits.fuel_units.unwrap_or(config.fuel_units);
        let deadline_ms = limits.deadline_ms.unwrap_or(config.deadline_ms);
        let started = Instant::now();
        let of_call =
            |error: &wasmtime::Error| error::of_call(error, config, fuel_units, deadline_ms);
        let mut store = new_store(&self.shared.engine, config, limits)
            .map_err(|error| without_report(of_call(&error)))?;
        let ran = run(&mut store);
        let fuel_left = store.get_fuel().unwrap_or(0);
        let (log_lines, dropped_lines) = finish(store);
        let report = CallReport {
            fuel_used: fuel_units.saturating_sub(fuel_left),
            micros: u64::try_from(started.elapsed().as_micros()).unwrap_or(u64::MAX),
            log_lines,
            dropped_lines,
        };
        match ran.map_err(|error| of_call(&error)).and_then(judge) {
            Ok(answer) => Ok((answer, report)),
            Err(error) => Err(Box::new(CallFailure { error, report })),
        }
    }

    /// Makes an instance, checks that its functions have the contract's types, and asks
    /// it what it is.
    fn describe(&self) -> Result<About, Box<CallFailure>> {
        self.call(
            CallLimits::default(),
            |store| self.linked.describe(store),
            |answer| match answer {
                Ok(about) => check_about(about),
                Err(detail) => Err(PluginError::WrongWorld {
                    expected: self.world().to_string(),
                    detail,
                }),
            },
        )
        .map(|(about, _)| about)
    }
}

impl std::fmt::Debug for PluginHost {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.debug_struct("PluginHost")
            .field("config", &self.shared.config)
            .finish_non_exhaustive()
    }
}

impl std::fmt::Debug for Plugin {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.debug_struct("Plugin")
            .field("about", &self.about)
            .field("world", &self.world())
            .field("sha256", &hex::encode(self.sha256))
            .finish_non_exhaustive()
    }
}

fn check_about(about: About) -> Result<About, PluginError> {
    let mut faults = Vec::new();
    if !is_id(&about.name) {
        faults.push("name is not 1 to 64 lower-case letters, digits and hyphens".to_owned());
    }
    for (field, text, limit) in [
        ("version", &about.version, VERSION_BYTES),
        ("summary", &about.summary, SUMMARY_BYTES),
    ] {
        if text.trim().is_empty() || text.len() > limit {
            faults.push(format!(
                "{field} of {} bytes is not 1 to {limit}",
                text.len()
            ));
        }
    }
    if faults.is_empty() {
        Ok(about)
    } else {
        Err(PluginError::BadDescription { faults })
    }
}

fn without_report(error: PluginError) -> Box<CallFailure> {
    Box::new(CallFailure {
        error,
        report: CallReport::default(),
    })
}
