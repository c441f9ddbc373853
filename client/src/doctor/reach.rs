//! Why the daemon cannot be reached, and what to do about it.

use std::error::Error;
use std::io::ErrorKind;
use std::time::Duration;

use tonic::{Code, Status};

use super::{Finding, Level};
use crate::errors::{CliError, chain};

/// Why there is no daemon to talk to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Unreached {
    /// Nobody listens there.
    Refused,
    /// There is no socket file.
    NoSocket,
    /// This user may not use the socket file.
    Forbidden,
    /// The name of the host is not known.
    UnknownName,
    /// No answer in time.
    Silent(Duration),
    /// Something answers, and not in gRPC.
    NotGrpc,
    /// Anything else, in the system's words.
    Other(String),
}

/// What gRPC libraries make of an HTTP/2 server that is none of gRPC's.
const NO_STATUS: &str = "grpc-status header missing";

impl Unreached {
    /// What kept a connection from coming about.
    pub(crate) fn of_connection(error: &CliError) -> Self {
        if let CliError::TimedOut { limit, .. } = error {
            return Self::Silent(*limit);
        }
        let text = chain(error);
        match system_error(error) {
            Some(ErrorKind::ConnectionRefused) => Self::Refused,
            Some(ErrorKind::NotFound) => Self::NoSocket,
            Some(ErrorKind::PermissionDenied) => Self::Forbidden,
            // No kind of its own: the resolver's answers are numbers of another row.
            _ if text.contains("dns error") => Self::UnknownName,
            _ => Self::Other(text),
        }
    }

    /// Why a call on a connection failed, where that is not the daemon's answer.
    pub(crate) fn of_call(error: &CliError) -> Option<Self> {
        match error {
            CliError::TimedOut { limit, .. } => Some(Self::Silent(*limit)),
            CliError::Refused(status) => Self::of_status(status),
            _ => None,
        }
    }

    fn of_status(status: &Status) -> Option<Self> {
        let missing = status.message().starts_with(NO_STATUS);
        // A status that came over the wire has no cause on this side.
        match (status.code(), status.source()) {
            _ if missing => Some(Self::NotGrpc),
            (Code::Unavailable, _) => Some(Self::Other(status.message().to_owned())),
            (_, Some(_)) => Some(Self::NotGrpc),
            (_, None) => None,
        }
    }

    /// As a finding.
    pub(super) fn finding(&self, server: &str) -> Finding {
        let fail = |code, seen: String, todo: &str| Finding::new(code, Level::Fail, seen, todo);
        let elsewhere = "name the right address with --server or LAMELLA_SERVER";
        match self {
            Self::Refused => fail(
                "SERVER_REFUSED",
                format!("nobody listens at {server}"),
                &format!("start lamellad, or {elsewhere}"),
            ),
            Self::NoSocket => fail(
                "SOCKET_MISSING",
                format!("there is no socket file {}", path(server)),
                &format!("start lamellad with --listen {server}, or {elsewhere}"),
            ),
            Self::Forbidden => fail(
                "SOCKET_FORBIDDEN",
                format!("this user may not use {}", path(server)),
                "run this as the user that lamellad runs as, or let this user write to the \
                 socket file and enter its folder",
            ),
            Self::UnknownName => fail(
                "NAME_UNKNOWN",
                format!("the host of {server} is not known here"),
                &format!("look for a slip in the name, or {elsewhere}; 127.0.0.1:7575 is usual"),
            ),
            Self::Silent(limit) => fail(
                "NO_ANSWER",
                format!("{server} gave no answer within {limit:?}"),
                "wait longer with --timeout 60s; if it stays silent, look at lamellad's log and \
                 start it again",
            ),
            Self::NotGrpc => fail(
                "NOT_GRPC",
                format!("something answers at {server}, but not in gRPC, or it broke off"),
                &format!(
                    "ask again; if it stays so, another program has that address: {elsewhere}"
                ),
            ),
            Self::Other(text) => fail(
                "CONNECTION_FAILED",
                format!("{server} cannot be reached: {text}"),
                &format!("look at lamellad's log, or {elsewhere}"),
            ),
        }
    }
}

/// The kind of the system's answer at the bottom of an error.
fn system_error(error: &CliError) -> Option<ErrorKind> {
    let mut cause: Option<&(dyn Error + 'static)> = Some(error);
    let mut kind = None;
    while let Some(error) = cause {
        kind = error
            .downcast_ref::<std::io::Error>()
            .map(std::io::Error::kind)
            .or(kind);
        cause = error.source();
    }
    kind
}

fn path(server: &str) -> &str {
    server.strip_prefix("unix:").unwrap_or(server)
}
