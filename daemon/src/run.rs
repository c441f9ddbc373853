//! The daemon's life: open, bind, serve, drain, close.

use std::process::ExitCode;
use std::sync::Arc;

use anyhow::Context as _;
use lamella_store::{ProjectionRecovery, Store, StoreConfig, SyncHook};
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::watch;

use crate::clock::Clock;
use crate::condition::About;
use crate::config::{Listen, Settings};
use crate::convert;
use crate::ledger::{JobProjector, Ledger};
use crate::metrics::{Metrics, Sampled, Scrapes};
use crate::outbox::Outbox;
use crate::photos::PhotoFiles;
use crate::plugins::Plugins;
use crate::server::{App, Ending, Listener, serve};
use crate::systemd::{self, Handed};
use crate::web::{Hosts, Web};

/// Runs the daemon until SIGTERM or SIGINT; a second signal ends it at once. It
/// listens on the socket that it was `handed`, or else where `settings` say.
///
/// # Errors
/// When the data directory cannot be opened or the address cannot be bound.
pub async fn run(settings: Settings, handed: Option<Handed>) -> anyhow::Result<ExitCode> {
    let clock = Clock::system();
    let started = clock.now();
    // Bound first: an address in use must not cost a replay.
    let listener = match handed {
        Some(handed) => Listener::adopt(handed)?,
        None => Listener::bind(&settings.listen).await?,
    };
    let scrapes = bind_scrapes(settings.metrics_listen.as_deref()).await?;
    let starting = systemd::Starting::begin();
    let address = listener.address();
    warn_if_open(&address);
    let hosts = Hosts::new(&[&settings.listen, &address], &settings.allowed_hosts);
    let web = Web::try_new(settings.web_root.as_deref(), hosts)?;
    let metrics = Metrics::default();
    let config = StoreConfig {
        lock_note: format!("lamellad on {address} since {started}"),
        on_sync: Some(on_sync(&metrics)),
        ..StoreConfig::default()
    };
    let dir = settings.data_dir.clone();
    let opened =
        tokio::task::spawn_blocking(move || Store::open(&dir, config, Arc::new(JobProjector)));
    let (store, recovery) = opened
        .await
        .context("opening the store")?
        .with_context(|| {
            format!(
                "cannot open the data directory {}",
                settings.data_dir.display()
            )
        })?;
    let store = Arc::new(store);
    if recovery.truncated_bytes > 0 {
        tracing::warn!(
            bytes = recovery.truncated_bytes,
            "cut a torn tail off the journal"
        );
    }
    log_projection(&recovery.projection);
    let plugins = open_plugins(&settings, &store, &clock, &metrics).await?;
    let outbox = Outbox::open(settings.outbox, &settings.data_dir, store.last_seq())?;
    let photos = PhotoFiles::open(&settings.data_dir, settings.photos.max_mib)
        .context("cannot prepare the photos")?;
    let (stop, stopping) = watch::channel(false);
    // Caught from here on: a script may stop the daemon right after the ready line.
    let signals = catch_signals();
    if let Some(scrapes) = scrapes {
        let registry = metrics.registry(Sampled {
            store: Arc::clone(&store),
            plugins: plugins.clone(),
            outbox: outbox.clone(),
            started,
        });
        tracing::info!(address = %scrapes.address(), "serving metrics");
        tokio::spawn(scrapes.serve(registry, stopping.clone()));
    }
    let feeding = tokio::spawn(systemd::feed_watchdog(Arc::clone(&store)));
    drop(starting);
    systemd::ready(&address.to_string());
    // Printed whatever the log filter says: scripts wait for this line.
    eprintln!("ready address={address} sequence={}", recovery.last_seq);
    tokio::spawn(stop_on_signal(signals, stop));
    let about = About {
        start_time: started,
        listen: address,
        data_dir: settings.data_dir,
        web_root_served: settings.web_root.is_some(),
        recovery,
    };
    let ending = serve(
        listener,
        App {
            about,
            store: Arc::clone(&store),
            clock,
            shop: settings.shop,
            plugins,
            money: settings.money,
            outbox,
            photos: Arc::new(photos),
            web,
            metrics,
        },
        stopping,
        settings.grace,
    )
    .await?;
    match ending {
        Ending::Drained => tracing::info!("stopped: every call was answered"),
        Ending::CutOff => tracing::warn!(
            grace_seconds = settings.grace.as_secs(),
            "stopped: calls were cut off after the grace period"
        ),
    }
    store.close().await;
    // Last, since closing may take longer than the watchdog waits.
    feeding.abort();
    Ok(ExitCode::SUCCESS)
}

/// Tells `metrics` of every sync of the journal.
fn on_sync(metrics: &Metrics) -> SyncHook {
    let metrics = metrics.clone();
    SyncHook::new(move |took| metrics.synced(took))
}

/// The page of metrics, if it is asked for.
async fn bind_scrapes(address: Option<&str>) -> anyhow::Result<Option<Scrapes>> {
    let Some(address) = address else {
        return Ok(None);
    };
    let scrapes = Scrapes::bind(address).await;
    scrapes
        .map(Some)
        .with_context(|| format!("cannot serve metrics on {address}"))
}

/// The plugins, with every enabled one loaded.
async fn open_plugins(
    settings: &Settings,
    store: &Arc<Store>,
    clock: &Clock,
    metrics: &Metrics,
) -> anyhow::Result<Plugins> {
    let ledger = Ledger::new(Arc::clone(store), clock.clone());
    let (dir, config) = (settings.data_dir.clone(), settings.plugins.clone());
    let money = convert::quote::money_to_host(&settings.money);
    let opening = tokio::task::spawn_blocking(move || Plugins::open(&dir, config, money, ledger));
    let plugins = opening.await.context("opening the plugins")??;
    let metrics = metrics.clone();
    plugins.observe(Arc::new(move |seen| metrics.plugin_called(seen)));
    plugins.start().await?;
    Ok(plugins)
}

/// SIGTERM and SIGINT, caught instead of ending the process.
fn catch_signals() -> std::io::Result<(Signal, Signal)> {
    Ok((
        signal(SignalKind::terminate())?,
        signal(SignalKind::interrupt())?,
    ))
}

async fn stop_on_signal(signals: std::io::Result<(Signal, Signal)>, stop: watch::Sender<bool>) {
    let (mut term, mut int) = match signals {
        Ok(signals) => signals,
        Err(error) => {
            tracing::error!(%error, "cannot listen for signals; only SIGKILL will stop this");
            std::future::pending().await
        }
    };
    let mut next = async || {
        tokio::select! {
            _ = term.recv() => {}
            _ = int.recv() => {}
        }
    };
    next().await;
    systemd::stopping();
    tracing::info!("stopping: answering the calls that are under way");
    // Nobody listens any more when serving has ended by itself.
    let _ = stop.send(true);
    next().await;
    tracing::warn!("stopped at once by a second signal");
    std::process::exit(1);
}

/// Says what became of the projection, so that a slow start explains itself.
fn log_projection(projection: &ProjectionRecovery) {
    match projection {
        ProjectionRecovery::Created => tracing::info!("a new store"),
        ProjectionRecovery::Opened => tracing::debug!("the projection was sound"),
        ProjectionRecovery::CaughtUp { from } => {
            tracing::info!(
                from,
                "the projection was behind the journal and was caught up"
            );
        }
        ProjectionRecovery::Rebuilt { why, from_snapshot } => tracing::warn!(
            %why,
            snapshot = from_snapshot.unwrap_or_default(),
            "the projection was rebuilt from the journal; nothing is lost"
        ),
    }
}

fn warn_if_open(address: &Listen) {
    let Listen::Tcp(address) = address else {
        return;
    };
    let loopback = address
        .parse::<std::net::SocketAddr>()
        .is_ok_and(|address| address.ip().is_loopback());
    if !loopback {
        tracing::warn!(
            address,
            "listening beyond this machine: anyone on the network can read and change jobs"
        );
    }
}
