//! The service manager: a socket that it hands over, and what it is told. Without
//! one, all of this does nothing.

use std::convert::Infallible;
use std::os::unix::net::UnixListener;
use std::sync::Arc;
use std::time::Duration;

use anyhow::{Context as _, bail};
use lamella_store::{Commit, Store, StoreError};
use listenfd::ListenFd;
use sd_notify::NotifyState;
use socket2::SockRef;
use tokio::task::JoinHandle;

/// Why a socket is of no use.
const NO_LISTENER: &str = "what the service manager handed over is no listening stream socket";

/// A socket that was bound for this daemon before it started.
#[derive(Debug)]
pub enum Handed {
    /// TCP.
    Tcp(std::net::TcpListener),
    /// A Unix socket; its file is the service manager's.
    Unix(UnixListener),
}

/// Takes the socket that the service manager handed over, if it did.
///
/// # Errors
/// When there is more than one, or it is no stream socket that listens.
pub fn take_socket() -> anyhow::Result<Option<Handed>> {
    let mut handed = ListenFd::from_env();
    match handed.len() {
        0 => return Ok(None),
        1 => {}
        more => bail!("the service manager handed over {more} sockets; expected one"),
    }
    // The first of the two gives the socket back where it is of the other kind.
    let socket = match handed.take_tcp_listener(0) {
        Ok(tcp) => tcp.map(Handed::Tcp),
        Err(_) => handed
            .take_unix_listener(0)
            .context(NO_LISTENER)?
            .map(Handed::Unix),
    };
    let listens = match &socket {
        Some(Handed::Tcp(socket)) => SockRef::from(socket).is_listener(),
        Some(Handed::Unix(socket)) => SockRef::from(socket).is_listener(),
        None => Ok(false),
    };
    if !listens.context(NO_LISTENER)? {
        bail!(NO_LISTENER);
    }
    Ok(socket)
}

/// Asks for more time while the store is opened: a long journal may take longer
/// to replay than a service may take to start.
#[derive(Debug)]
pub(crate) struct Starting(JoinHandle<()>);

impl Starting {
    /// How much is asked for, and how often.
    const MORE: Duration = Duration::from_secs(60);
    const EVERY: Duration = Duration::from_secs(20);

    /// From now until it is dropped.
    pub(crate) fn begin() -> Self {
        tell(&[NotifyState::Status("opening the store")]);
        let more = u32::try_from(Self::MORE.as_micros()).unwrap_or(u32::MAX);
        Self(tokio::spawn(async move {
            loop {
                tokio::time::sleep(Self::EVERY).await;
                tell(&[NotifyState::ExtendTimeoutUsec(more)]);
            }
        }))
    }
}

impl Drop for Starting {
    fn drop(&mut self) {
        self.0.abort();
    }
}

/// The daemon answers.
pub(crate) fn ready(address: &str) {
    tell(&[
        NotifyState::Ready,
        NotifyState::Status(&format!("answering on {address}")),
    ]);
}

/// The daemon ends.
pub(crate) fn stopping() {
    tell(&[
        NotifyState::Stopping,
        NotifyState::Status("answering the last calls"),
    ]);
}

/// Feeds the watchdog for as long as changes are answered: each time only after a
/// command has come back from the store's writer, since a daemon that cannot
/// write is of no use however alive it looks. A store that refuses them after a
/// failure of the disk does answer, since a restart may not mend that; a writer that
/// is gone does not.
pub(crate) async fn feed_watchdog(store: Arc<Store>) {
    let Some(limit) = sd_notify::watchdog_enabled() else {
        return;
    };
    loop {
        let asked = store.execute(|_| Ok::<_, Infallible>(Commit::nothing(())));
        let answered = match asked.await {
            Ok(_) | Err(StoreError::Closed) => true,
            Err(_) => store.stats().failed,
        };
        if answered {
            tell(&[NotifyState::Watchdog]);
        }
        tokio::time::sleep(limit / 2).await;
    }
}

fn tell(state: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(state) {
        tracing::warn!(%error, "the service manager could not be told");
    }
}
