//! Why there is no plugin, or no answer from one.

use std::path::PathBuf;

use lamella_plugin_host::{CallFailure, PluginError};

use crate::ledger::LedgerError;

/// Why there is no plugin, or no answer from one.
#[derive(Debug, thiserror::Error)]
pub enum PluginsError {
    /// No plugin that prices is enabled.
    #[error("no pricing plugin is enabled; install one")]
    NoneEnabled,
    /// Several plugins price and the request names none.
    #[error("several pricing plugins are enabled: {}; name one", .names.join(", "))]
    Ambiguous {
        /// Their names, `plugins/{plugin}`.
        names: Vec<String>,
    },
    /// The plugin is not there, is disabled, or could not be loaded.
    #[error("{name} does not serve: {why}")]
    NotServing {
        /// `plugins/{plugin}`.
        name: String,
        /// Why.
        why: String,
    },
    /// The plugin of that name does something else.
    #[error("{name} does not price, it lists products")]
    NotPricing {
        /// `plugins/{plugin}`.
        name: String,
    },
    /// It could not be loaded, or a call gave no answer.
    #[error(transparent)]
    Host(#[from] PluginError),
    /// A component that was installed once is not kept any more.
    #[error("no component with SHA-256 {sha256} is kept")]
    NotKept {
        /// Its hash.
        sha256: String,
    },
    /// The upload is larger than is taken.
    #[error("the upload is larger than the {limit_bytes} bytes that a component may have")]
    UploadTooLarge {
        /// The most that is taken.
        limit_bytes: usize,
    },
    /// The folder of components cannot be used.
    #[error("cannot {what} {}", .path.display())]
    Files {
        /// What was tried.
        what: &'static str,
        /// Where.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// The journal said no, or failed.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// A task of the daemon's ended before its time.
    #[error("a task ended before it was done")]
    Lost(#[source] tokio::task::JoinError),
}

impl From<Box<CallFailure>> for PluginsError {
    fn from(failure: Box<CallFailure>) -> Self {
        Self::Host(failure.error)
    }
}

impl PluginsError {
    /// The stable code of this error.
    #[must_use]
    pub fn reason(&self) -> &'static str {
        match self {
            Self::NoneEnabled => "PLUGIN_NONE_ENABLED",
            Self::Ambiguous { .. } => "PLUGIN_AMBIGUOUS",
            Self::NotServing { .. } => "PLUGIN_NOT_SERVING",
            Self::NotPricing { .. } => "PLUGIN_NOT_PRICING",
            Self::Host(error) => error.reason(),
            Self::NotKept { .. } => "PLUGIN_NOT_KEPT",
            Self::UploadTooLarge { .. } => "COMPONENT_TOO_LARGE",
            Self::Files { .. } => "PLUGIN_FILES_FAILED",
            Self::Ledger(_) => "PLUGIN_NOT_STORED",
            Self::Lost(_) => "TASK_LOST",
        }
    }

    /// As the API tells it beside the plugin.
    pub(crate) fn failure(&self) -> lamella_proto::v1::PluginFailure {
        lamella_proto::v1::PluginFailure {
            reason: self.reason().to_owned(),
            message: crate::rpc::status::chain(self),
        }
    }
}
