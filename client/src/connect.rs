//! Where the server is, and the way there.

use std::fmt;
use std::str::FromStr;
use std::time::Duration;

use tonic::transport::{Channel, Endpoint};

use crate::errors::CliError;

/// Where the daemon listens unless told otherwise.
pub(crate) const DEFAULT_SERVER: &str = "127.0.0.1:7575";

/// Largest message taken from the server, bytes. A full page of long jobs is
/// larger than gRPC's usual 4 MiB.
pub(crate) const MESSAGE_LIMIT_BYTES: usize = 64 * 1024 * 1024;

/// A server's address: `HOST:PORT`, `http://HOST:PORT` or `unix:PATH`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Server {
    shown: String,
    uri: String,
}

/// Why an address cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum AddressError {
    /// Of no known form.
    #[error("`{given}` is none of HOST:PORT, http://HOST:PORT, unix:PATH")]
    Form {
        /// What was given.
        given: String,
    },
    /// Without a port.
    #[error("`{given}` has no port; the daemon's usual one is {DEFAULT_SERVER}")]
    Port {
        /// What was given.
        given: String,
    },
}

impl FromStr for Server {
    type Err = AddressError;

    fn from_str(text: &str) -> Result<Self, AddressError> {
        let form = || AddressError::Form {
            given: text.to_owned(),
        };
        if let Some(path) = text.strip_prefix("unix:") {
            if path.is_empty() {
                return Err(form());
            }
            return Ok(Self {
                shown: text.to_owned(),
                uri: text.to_owned(),
            });
        }
        let bare = text.strip_prefix("http://").unwrap_or(text);
        let bare = bare.strip_suffix('/').unwrap_or(bare);
        let authority: http::uri::Authority = bare.parse().map_err(|_| form())?;
        if authority.host().is_empty() || authority.as_str().contains('@') {
            return Err(form());
        }
        match authority.port_u16() {
            Some(_) => Ok(Self {
                shown: bare.to_owned(),
                uri: format!("http://{authority}"),
            }),
            None => Err(AddressError::Port {
                given: text.to_owned(),
            }),
        }
    }
}

impl fmt::Display for Server {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.shown)
    }
}

impl Server {
    /// Connects, waiting at most `limit`.
    ///
    /// # Errors
    /// [`CliError::Unreachable`] with the address tried.
    pub(crate) async fn connect(&self, limit: Duration) -> Result<Channel, CliError> {
        let lost = |source| CliError::Unreachable {
            server: self.shown.clone(),
            source,
        };
        let endpoint = Endpoint::from_shared(self.uri.clone())
            .and_then(|e| e.user_agent(concat!("lamella/", env!("CARGO_PKG_VERSION"))))
            .map_err(lost)?
            .connect_timeout(limit)
            // So that a watch notices a server that vanished without a word.
            .http2_keep_alive_interval(Duration::from_secs(20))
            .keep_alive_timeout(Duration::from_secs(20));
        endpoint.connect().await.map_err(lost)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> String {
        match text.parse::<Server>() {
            Ok(server) => format!("{server} -> {}", server.uri),
            Err(error) => error.to_string(),
        }
    }

    #[test]
    fn addresses() {
        let all = [
            "127.0.0.1:7575",
            "http://localhost:80/",
            "[::1]:7575",
            "unix:/run/lamella.sock",
            "unix:./here.sock",
            "localhost",
            "https://localhost:1",
            "localhost:99999",
            "a b:1",
            "unix:",
            "",
        ];
        insta::assert_snapshot!(all.map(read).join("\n"), @"
        127.0.0.1:7575 -> http://127.0.0.1:7575
        localhost:80 -> http://localhost:80
        [::1]:7575 -> http://[::1]:7575
        unix:/run/lamella.sock -> unix:/run/lamella.sock
        unix:./here.sock -> unix:./here.sock
        `localhost` has no port; the daemon's usual one is 127.0.0.1:7575
        `https://localhost:1` is none of HOST:PORT, http://HOST:PORT, unix:PATH
        `localhost:99999` has no port; the daemon's usual one is 127.0.0.1:7575
        `a b:1` is none of HOST:PORT, http://HOST:PORT, unix:PATH
        `unix:` is none of HOST:PORT, http://HOST:PORT, unix:PATH
        `` is none of HOST:PORT, http://HOST:PORT, unix:PATH
        ");
    }
}
