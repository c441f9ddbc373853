//! `lamellad demo`: takes one invented car from booking to hand-over over real
//! gRPC, on a temporary store and a free loopback port.
//!
//! Each step prints the `lamella` command that a person would have typed, the
//! answer and its cautions. The demo's clock starts three days ago and is set
//! forward where the shop would wait, so that cures can run out.

mod story;
mod teller;

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};

use anyhow::Context as _;
use jiff::SignedDuration;
use lamella_plugin_host::HostConfig;
use lamella_store::{Store, StoreConfig};
use tokio::sync::watch;

use self::teller::Teller;
use crate::clock::Clock;
use crate::condition::About;
use crate::config::{Listen, Money, PhotoLimits, Shop, TaxClass};
use crate::convert;
use crate::ledger::{JobProjector, Ledger};
use crate::metrics::Metrics;
use crate::outbox::Outbox;
use crate::photos::PhotoFiles;
use crate::plugins::Plugins;
use crate::server::{App, Listener, serve};
use crate::web::Web;

/// Runs the demo in `keep`, or in a directory that is removed afterwards.
///
/// # Errors
/// When any step does not go as told.
pub async fn run(keep: Option<PathBuf>) -> anyhow::Result<ExitCode> {
    let begun = Instant::now();
    let temporary = tempfile::tempdir().context("a temporary directory")?;
    let dir = keep.clone().unwrap_or_else(|| temporary.path().to_owned());
    let clock = Clock::moved_by(SignedDuration::from_hours(-72));
    let config = StoreConfig {
        lock_note: "lamellad demo".to_owned(),
        ..StoreConfig::default()
    };
    let (store, recovery) = Store::open(&dir, config, Arc::new(JobProjector))
        .with_context(|| format!("cannot open {}", dir.display()))?;
    let store = Arc::new(store);
    let ledger = Ledger::new(Arc::clone(&store), clock.clone());
    let money = taxed();
    let rules = convert::quote::money_to_host(&money);
    let plugins = Plugins::open(&dir, HostConfig::default(), rules, ledger)?;
    plugins.start().await?;
    let photos = PhotoFiles::open(&dir, PhotoLimits::default().max_mib)?;
    let listener = Listener::bind(&Listen::Tcp("127.0.0.1:0".to_owned())).await?;
    let about = About {
        start_time: clock.now(),
        listen: listener.address(),
        data_dir: dir.clone(),
        web_root_served: false,
        recovery,
    };
    let address = listener.address().to_string();
    let (stop, stopping) = watch::channel(false);
    let grace = Duration::from_secs(2);
    let server = tokio::spawn(serve(
        listener,
        App {
            about,
            store: Arc::clone(&store),
            clock: clock.clone(),
            shop: Shop::default(),
            plugins,
            money,
            outbox: Outbox::off(),
            photos: Arc::new(photos),
            web: Web::default(),
            metrics: Metrics::default(),
        },
        stopping,
        grace,
    ));
    let mut teller = Teller::connect(&address, clock).await?;
    teller.say(&format!(
        "lamellad serves on {address}, data in {}",
        dir.display()
    ));
    teller.say(&format!(
        "To type along elsewhere: export LAMELLA_SERVER={address}"
    ));
    let told = story::tell(&mut teller).await;
    // Nobody listens any more when serving has ended by itself.
    let _ = stop.send(true);
    server.await.context("the server task")??;
    store.close().await;
    told?;
    let seconds = begun.elapsed().as_secs_f64();
    teller.say(&format!(
        "{} steps in {seconds:.1} s, every one as told.",
        teller.steps()
    ));
    if let Some(keep) = keep {
        teller.say(&format!(
            "The store is kept: lamellad --data-dir {}",
            keep.display()
        ));
    }
    Ok(ExitCode::SUCCESS)
}

/// The demo's shop reckons in euros with one tax of 19 %, as `[money]` in a
/// configuration file would say.
fn taxed() -> Money {
    Money {
        tax_classes: vec![TaxClass {
            name: "standard".to_owned(),
            rate_ppm: 190_000,
        }],
        tax_configured: true,
        ..Money::default()
    }
}
