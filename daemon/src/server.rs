//! The daemon as a function: a bound listener and a stop signal in, and it
//! returns when the last call has gone.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use lamella_proto::FILE_DESCRIPTOR_SET;
use lamella_proto::v1::{
    booking_service_server::BookingServiceServer,
    calculator_service_server::CalculatorServiceServer, export_service_server::ExportServiceServer,
    job_service_server::JobServiceServer, outbox_service_server::OutboxServiceServer,
    photo_service_server::PhotoServiceServer, plugin_service_server::PluginServiceServer,
    quote_service_server::QuoteServiceServer, status_service_server::StatusServiceServer,
    vehicle_service_server::VehicleServiceServer,
};
use lamella_store::Store;
use tokio::net::{TcpListener, UnixListener};
use tokio::sync::watch;
use tokio_stream::wrappers::{TcpListenerStream, UnixListenerStream};
use tonic::server::NamedService;
use tonic::transport::Server;
use tonic::transport::server::Router;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;
use tonic_web::GrpcWebLayer;
use tower::layer::util::{Identity, Stack};

use crate::calls::{Calls, Methods};
use crate::clock::Clock;
use crate::condition::{About, Observer};
use crate::config::{Listen, Money, Shop};
use crate::ledger::Ledger;
use crate::metrics::Metrics;
use crate::outbox::Outbox;
use crate::photos::PhotoFiles;
use crate::plugins::Plugins;
use crate::quoting::Quoting;
use crate::rpc::booking::Bookings;
use crate::rpc::calculator::Calculator;
use crate::rpc::condition::Conditions;
use crate::rpc::export::Exports;
use crate::rpc::job::Jobs;
use crate::rpc::outbox::Outboxes;
use crate::rpc::photo::Photos;
use crate::rpc::plugin::PluginCalls;
use crate::rpc::quote::Quotes;
use crate::rpc::vehicle::Vehicles;
use crate::rpc::watch::Watching;
use crate::systemd::Handed;
use crate::web::Web;

const JOBS: &str = <JobServiceServer<Jobs> as NamedService>::NAME;
const VEHICLES: &str = <VehicleServiceServer<Vehicles> as NamedService>::NAME;
const QUOTES: &str = <QuoteServiceServer<Quotes> as NamedService>::NAME;
const PHOTOS: &str = <PhotoServiceServer<Photos> as NamedService>::NAME;
const CALCULATOR: &str = <CalculatorServiceServer<Calculator> as NamedService>::NAME;
const PLUGINS: &str = <PluginServiceServer<PluginCalls> as NamedService>::NAME;
const EXPORTS: &str = <ExportServiceServer<Exports> as NamedService>::NAME;
const BOOKINGS: &str = <BookingServiceServer<Bookings> as NamedService>::NAME;
const OUTBOX: &str = <OutboxServiceServer<Outboxes> as NamedService>::NAME;
const STATUS: &str = <StatusServiceServer<Conditions> as NamedService>::NAME;

/// Largest request with a calendar: 4 MiB of it, and the rest of the message.
const CALENDAR_MESSAGE_BYTES: usize = lamella_ical::MAX_BYTES + 64 * 1024;

/// A bound listener.
#[derive(Debug)]
pub enum Listener {
    /// TCP.
    Tcp(TcpListener),
    /// A Unix socket.
    Unix {
        /// The socket.
        listener: UnixListener,
        /// Its file.
        path: PathBuf,
        /// Whether the file is removed when the daemon ends: one that was handed
        /// over belongs to the service manager.
        own_file: bool,
    },
}

/// How serving ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// All calls were answered.
    Drained,
    /// The grace period was over first; calls were cut off.
    CutOff,
}

/// Why the daemon could not serve.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// A socket that was handed over cannot be listened on.
    #[error("cannot listen on the socket that was handed over")]
    Adopt(#[source] std::io::Error),
    /// The API's own descriptors cannot be read.
    #[error("descriptors")]
    Descriptors(#[from] prost::DecodeError),
    /// The address cannot be bound.
    #[error("cannot listen on {address}")]
    Bind {
        /// The address.
        address: Listen,
        /// The system's answer.
        source: std::io::Error,
    },
    /// The reflection service cannot be built from the descriptors.
    #[error("reflection")]
    Reflection(#[from] tonic_reflection::server::Error),
    /// The transport failed.
    #[error("transport")]
    Transport(#[from] tonic::transport::Error),
}

impl Listener {
    /// Binds an address. A Unix socket that no one listens on any more is
    /// replaced.
    ///
    /// # Errors
    /// [`ServeError::Bind`] with the address and the system's answer.
    pub async fn bind(address: &Listen) -> Result<Self, ServeError> {
        let refused = |source| ServeError::Bind {
            address: address.clone(),
            source,
        };
        match address {
            Listen::Tcp(address) => Ok(Self::Tcp(
                TcpListener::bind(address.as_str()).await.map_err(refused)?,
            )),
            Listen::Unix(path) => {
                if path.exists() && tokio::net::UnixStream::connect(path).await.is_err() {
                    std::fs::remove_file(path).map_err(refused)?;
                }
                Ok(Self::Unix {
                    listener: UnixListener::bind(path).map_err(refused)?,
                    path: path.clone(),
                    own_file: true,
                })
            }
        }
    }

    /// Listens on a socket that was bound before.
    ///
    /// # Errors
    /// [`ServeError::Adopt`] with the system's answer.
    pub fn adopt(handed: Handed) -> Result<Self, ServeError> {
        let adopted = match handed {
            Handed::Tcp(listener) => listener
                .set_nonblocking(true)
                .and_then(|()| TcpListener::from_std(listener))
                .map(Self::Tcp),
            Handed::Unix(listener) => listener
                .set_nonblocking(true)
                .and_then(|()| UnixListener::from_std(listener))
                .and_then(|listener| {
                    let address = listener.local_addr()?;
                    let path = address.as_pathname().unwrap_or(Path::new(""));
                    Ok(Self::Unix {
                        path: path.to_owned(),
                        listener,
                        own_file: false,
                    })
                }),
        };
        adopted.map_err(ServeError::Adopt)
    }

    /// The address that clients are to use, with the port that was chosen.
    pub fn address(&self) -> Listen {
        match self {
            Self::Tcp(listener) => Listen::Tcp(
                listener
                    .local_addr()
                    .map(|a| a.to_string())
                    .unwrap_or_default(),
            ),
            Self::Unix { path, .. } => Listen::Unix(path.clone()),
        }
    }
}

/// What is served.
#[derive(Clone)]
pub struct App {
    /// How it was started, and what that found.
    pub about: About,
    /// The open store.
    pub store: Arc<Store>,
    /// The clock that dates every change.
    pub clock: Clock,
    /// The shop, as configured.
    pub shop: Shop,
    /// The shop's plugins, started.
    pub plugins: Plugins,
    /// How it reckons money, as configured.
    pub money: Money,
    /// Where job events are pushed to.
    pub outbox: Outbox,
    /// The files of photos.
    pub photos: Arc<PhotoFiles>,
    /// The page beside the API, and who may ask.
    pub web: Web,
    /// What is counted and timed.
    pub metrics: Metrics,
}

/// Serves until `stopping` turns true, then lets the calls that are being
/// answered finish for at most `grace`.
///
/// # Errors
/// When reflection cannot be built or the transport fails.
pub async fn serve(
    listener: Listener,
    app: App,
    stopping: watch::Receiver<bool>,
    grace: Duration,
) -> Result<Ending, ServeError> {
    let delivering = app.outbox.clone().run(
        Ledger::new(Arc::clone(&app.store), app.clock.clone()),
        stopping.clone(),
    );
    let (health, router) = router(app, stopping.clone()).await?;
    let delivering = tokio::spawn(delivering);
    let mut stop = stopping.clone();
    let shutdown = async move {
        // An error means that the sender is gone, which is a stop as well.
        let _ = stop.wait_for(|stop| *stop).await;
        for service in [
            "", JOBS, VEHICLES, QUOTES, PHOTOS, CALCULATOR, PLUGINS, EXPORTS, BOOKINGS, OUTBOX,
            STATUS,
        ] {
            health
                .set_service_status(service, ServingStatus::NotServing)
                .await;
        }
    };
    let mut stop = stopping;
    let cut_off = async move {
        let _ = stop.wait_for(|stop| *stop).await;
        tokio::time::sleep(grace).await;
    };
    let socket_file = match &listener {
        Listener::Unix {
            path,
            own_file: true,
            ..
        } => Some(path.clone()),
        Listener::Tcp(_) | Listener::Unix { .. } => None,
    };
    let serving = async move {
        match listener {
            Listener::Tcp(listener) => {
                let incoming = TcpListenerStream::new(listener);
                router
                    .serve_with_incoming_shutdown(incoming, shutdown)
                    .await
            }
            Listener::Unix { listener, .. } => {
                let incoming = UnixListenerStream::new(listener);
                router
                    .serve_with_incoming_shutdown(incoming, shutdown)
                    .await
            }
        }
    };
    let ending = tokio::select! {
        served = serving => served.map(|()| Ending::Drained),
        () = cut_off => Ok(Ending::CutOff),
    };
    // Ended by now unless the transport failed; what it was sending is sent again.
    delivering.abort();
    if let Some(path) = socket_file {
        // Somebody may have removed it before us.
        let _ = std::fs::remove_file(path);
    }
    Ok(ending?)
}

/// Every service in one router, gRPC-Web in front of all.
async fn router(
    app: App,
    stopping: watch::Receiver<bool>,
) -> Result<
    (
        HealthReporter,
        Router<Stack<Calls, Stack<GrpcWebLayer, Stack<Web, Identity>>>>,
    ),
    ServeError,
> {
    let last_seq = {
        let store = Arc::clone(&app.store);
        move || store.last_seq()
    };
    let ledger = Ledger::new(app.store, app.clock);
    let observer = Observer {
        about: app.about,
        time_zone: app.shop.time_zone.clone(),
        tax_configured: app.money.tax_configured,
        ledger: ledger.clone(),
        plugins: app.plugins.clone(),
        outbox: app.outbox.clone(),
    };
    let quoting = Quoting::new(ledger.clone(), app.plugins.clone(), app.money);
    let plugins = PluginCalls::new(app.plugins.clone(), quoting.clone());
    let quotes = Quotes::new(ledger.clone(), quoting);
    let jobs = Jobs::new(
        ledger.clone(),
        Watching::new(stopping, last_seq),
        app.plugins.clone(),
    );
    let photos = Photos::new(ledger.clone(), app.photos, app.shop.time_zone.clone());
    photos.finish_deletions().await;
    let methods = Methods::try_new(&[
        FILE_DESCRIPTOR_SET,
        tonic_health::pb::FILE_DESCRIPTOR_SET,
        tonic_reflection::pb::v1::FILE_DESCRIPTOR_SET,
        tonic_reflection::pb::v1alpha::FILE_DESCRIPTOR_SET,
    ])?;
    let reflection = || {
        tonic_reflection::server::Builder::configure()
            .register_encoded_file_descriptor_set(FILE_DESCRIPTOR_SET)
            .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
    };
    let (health, health_service) = tonic_health::server::health_reporter();
    health.set_serving::<JobServiceServer<Jobs>>().await;
    health.set_serving::<VehicleServiceServer<Vehicles>>().await;
    health.set_serving::<QuoteServiceServer<Quotes>>().await;
    health.set_serving::<PhotoServiceServer<Photos>>().await;
    health
        .set_serving::<CalculatorServiceServer<Calculator>>()
        .await;
    health
        .set_serving::<PluginServiceServer<PluginCalls>>()
        .await;
    health.set_serving::<ExportServiceServer<Exports>>().await;
    let exports = Exports::new(ledger.clone(), app.shop.time_zone.clone());
    health.set_serving::<BookingServiceServer<Bookings>>().await;
    health.set_serving::<OutboxServiceServer<Outboxes>>().await;
    health
        .set_serving::<StatusServiceServer<Conditions>>()
        .await;
    let bookings = BookingServiceServer::new(Bookings::new(ledger.clone(), app.shop))
        .max_decoding_message_size(CALENDAR_MESSAGE_BYTES);
    let router = Server::builder()
        // gRPC-Web comes over HTTP/1.1 from browsers that do not speak h2c.
        .accept_http1(true)
        .layer(app.web)
        .layer(GrpcWebLayer::new())
        .layer(Calls::new(app.metrics, methods))
        .add_service(JobServiceServer::new(jobs))
        .add_service(VehicleServiceServer::new(Vehicles::new(ledger)))
        .add_service(QuoteServiceServer::new(quotes))
        .add_service(CalculatorServiceServer::new(Calculator::new(app.plugins)))
        .add_service(PluginServiceServer::new(plugins))
        .add_service(ExportServiceServer::new(exports))
        .add_service(bookings)
        .add_service(OutboxServiceServer::new(Outboxes::new(app.outbox)))
        .add_service(PhotoServiceServer::new(photos))
        .add_service(StatusServiceServer::new(Conditions::new(observer)))
        .add_service(health_service)
        // v1alpha as well, because several clients still ask for nothing else.
        .add_service(reflection().build_v1()?)
        .add_service(reflection().build_v1alpha()?);
    Ok((health, router))
}
