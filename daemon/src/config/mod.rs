//! What the daemon can be told, and by whom: flags beat the environment
//! (`LAMELLA_*`), which beats the TOML file, which beats the defaults.

pub mod environment;
mod money;
mod outbox;
mod photos;
mod plugins;
pub mod reference;
mod shop;
mod unknown;

use std::fmt;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::time::Duration;

use lamella_plugin_host::HostConfig;
use schemars::JsonSchema;
use serde::Deserialize;

pub use self::money::{Money, MoneySection, Rounding, TaxBasis, TaxClass, TaxClassSection};
pub use self::outbox::{OutboxSection, OutboxSettings, Secret};
pub use self::photos::{PhotoLimits, PhotosSection};
pub use self::plugins::PluginsSection;
pub use self::shop::{Shop, ShopSection};
pub use self::unknown::UnknownKey;

/// Where the daemon listens unless told otherwise: loopback only.
pub const DEFAULT_LISTEN: &str = "127.0.0.1:7575";

/// Where everything is kept unless told otherwise.
const DEFAULT_DATA_DIR: &str = "lamella-data";
/// What is logged unless told otherwise.
const DEFAULT_LOG: &str = "info";
/// How long a stop waits unless told otherwise, seconds.
const DEFAULT_GRACE_SECONDS: u64 = 10;

/// Settings as given by one source; what is not given is left to the next.
///
/// The comments on the fields here and in the sections are also what
/// [`mod@reference`] prints, and the `schemars` attributes its defaults and ranges.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, JsonSchema, clap::Args)]
#[serde(deny_unknown_fields)]
pub struct Given {
    /// Where to listen: HOST:PORT, or unix:PATH. Anything but loopback is open
    /// to your network: there is no password. [default: 127.0.0.1:7575]
    #[arg(long, env = "LAMELLA_LISTEN", value_name = "ADDR")]
    #[schemars(extend("default" = DEFAULT_LISTEN))]
    pub listen: Option<Listen>,
    /// Where the journal and all else is kept. [default: lamella-data]
    #[arg(long, env = "LAMELLA_DATA_DIR", value_name = "DIR")]
    #[schemars(extend("default" = DEFAULT_DATA_DIR))]
    pub data_dir: Option<PathBuf>,
    /// What to log: error, warn, info, debug, trace, or a filter such as
    /// `info,lamella_store=debug`. [default: info]
    #[arg(long, env = "LAMELLA_LOG", value_name = "FILTER")]
    #[schemars(extend("default" = DEFAULT_LOG))]
    pub log: Option<String>,
    /// How long a stop waits for calls that are being answered, in seconds.
    /// [default: 10]
    #[arg(long, env = "LAMELLA_GRACE_SECONDS", value_name = "N")]
    #[schemars(extend("default" = DEFAULT_GRACE_SECONDS))]
    pub grace_seconds: Option<u64>,
    /// Serve the web page in this directory beside the API, for example
    /// examples/dashboard/dist. It is read once, at start.
    #[arg(long, env = "LAMELLA_WEB_ROOT", value_name = "DIR")]
    #[schemars(example = &"/usr/share/lamella/dashboard")]
    pub web_root: Option<PathBuf>,
    /// A further name that browsers may know this daemon by; may be repeated.
    /// Loopback names and the listen address always are.
    #[arg(
        long = "allowed-host",
        env = "LAMELLA_ALLOWED_HOSTS",
        value_name = "NAME",
        value_delimiter = ','
    )]
    #[schemars(extend("default" = []))]
    pub allowed_hosts: Option<Vec<String>>,
    /// Who the shop is and which clock hangs on its wall.
    #[arg(skip)]
    pub shop: Option<ShopSection>,
    /// What one call of a plugin may use.
    #[arg(skip)]
    pub plugins: Option<PluginsSection>,
    /// How the shop reckons prices and taxes.
    #[arg(skip)]
    pub money: Option<MoneySection>,
    /// Where job events are pushed to. Without this section, nowhere.
    #[arg(skip)]
    pub outbox: Option<OutboxSection>,
    /// How large a photo may be.
    #[arg(skip)]
    pub photos: Option<PhotosSection>,
}

/// Settings with nothing left open.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Where to listen.
    pub listen: Listen,
    /// Where everything is kept.
    pub data_dir: PathBuf,
    /// Log filter.
    pub log: String,
    /// How long a stop waits.
    pub grace: Duration,
    /// The web page's directory, if it is served.
    pub web_root: Option<PathBuf>,
    /// Further names that browsers may know this daemon by.
    pub allowed_hosts: Vec<String>,
    /// The shop.
    pub shop: Shop,
    /// What plugins may use.
    pub plugins: HostConfig,
    /// How it reckons money.
    pub money: Money,
    /// Where job events are pushed to, if anywhere.
    pub outbox: Option<OutboxSettings>,
    /// How large photos may be.
    pub photos: PhotoLimits,
}

/// Where to listen.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(try_from = "String")]
#[schemars(with = "String")]
pub enum Listen {
    /// A TCP address; a host name is looked up when the daemon binds it.
    Tcp(String),
    /// A Unix socket.
    Unix(PathBuf),
}

/// Why settings cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The file cannot be read.
    #[error("cannot read {}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// The file is not what it should be.
    #[error("the configuration file {} cannot be used", path.display())]
    Parse {
        /// The file.
        path: PathBuf,
        /// Where and why.
        source: toml::de::Error,
    },
    /// The file has keys that nothing reads.
    #[error("{}", unknown::report(path, keys))]
    UnknownKeys {
        /// The file.
        path: PathBuf,
        /// All of them, in the file's order.
        keys: Vec<UnknownKey>,
    },
    /// A value in the file that cannot be used.
    #[error("{key} `{value}` cannot be used: {reason}")]
    Value {
        /// The key, as `section.key`.
        key: &'static str,
        /// What the file says.
        value: String,
        /// What is wrong with it, and what was expected.
        reason: String,
    },
    /// Figures in `[plugins]` that the host cannot keep to.
    #[error("[plugins] cannot be used: {}", .faults.join("; "))]
    Plugins {
        /// One fragment for each figure at fault.
        faults: Vec<String>,
    },
    /// An address of neither form.
    #[error("listen address `{0}` is neither HOST:PORT nor unix:PATH")]
    Listen(String),
}

impl Given {
    /// Reads a TOML file.
    ///
    /// # Errors
    /// When it cannot be read, is not TOML, has unknown keys (all are told), or a
    /// value of the wrong type.
    pub fn from_file(path: &Path) -> Result<Self, ConfigError> {
        let text = std::fs::read_to_string(path).map_err(|source| ConfigError::Read {
            path: path.to_owned(),
            source,
        })?;
        let unusable = |source| ConfigError::Parse {
            path: path.to_owned(),
            source,
        };
        let keys = unknown::keys(&text).map_err(unusable)?;
        if !keys.is_empty() {
            return Err(ConfigError::UnknownKeys {
                path: path.to_owned(),
                keys,
            });
        }
        toml::from_str(&text).map_err(unusable)
    }

    /// These settings, with what they leave open taken from `other`.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self {
            listen: self.listen.or(other.listen),
            data_dir: self.data_dir.or(other.data_dir),
            log: self.log.or(other.log),
            grace_seconds: self.grace_seconds.or(other.grace_seconds),
            web_root: self.web_root.or(other.web_root),
            allowed_hosts: self.allowed_hosts.or(other.allowed_hosts),
            shop: self.shop.or(other.shop),
            plugins: self.plugins.or(other.plugins),
            money: self.money.or(other.money),
            outbox: self.outbox.or(other.outbox),
            photos: self.photos.or(other.photos),
        }
    }

    /// The settings, with defaults for what is still open.
    ///
    /// # Errors
    /// [`ConfigError::Value`] for a value that cannot be used.
    pub fn resolve(self) -> Result<Settings, ConfigError> {
        Ok(Settings {
            listen: self
                .listen
                .unwrap_or_else(|| Listen::Tcp(DEFAULT_LISTEN.to_owned())),
            data_dir: self
                .data_dir
                .unwrap_or_else(|| PathBuf::from(DEFAULT_DATA_DIR)),
            log: self.log.unwrap_or_else(|| DEFAULT_LOG.to_owned()),
            grace: Duration::from_secs(self.grace_seconds.unwrap_or(DEFAULT_GRACE_SECONDS)),
            web_root: self.web_root,
            allowed_hosts: self.allowed_hosts.unwrap_or_default(),
            shop: self.shop.unwrap_or_default().resolve()?,
            plugins: self.plugins.unwrap_or_default().resolve()?,
            money: self.money.unwrap_or_default().resolve()?,
            outbox: self.outbox.map(OutboxSection::resolve).transpose()?,
            photos: self.photos.unwrap_or_default().resolve()?,
        })
    }
}

impl FromStr for Listen {
    type Err = ConfigError;

    fn from_str(text: &str) -> Result<Self, ConfigError> {
        if let Some(path) = text.strip_prefix("unix:") {
            if path.is_empty() {
                return Err(ConfigError::Listen(text.to_owned()));
            }
            return Ok(Self::Unix(PathBuf::from(path)));
        }
        let known = text.parse::<SocketAddr>().is_ok();
        let named = text
            .rsplit_once(':')
            .is_some_and(|(host, port)| !host.is_empty() && port.parse::<u16>().is_ok());
        if known || named {
            Ok(Self::Tcp(text.to_owned()))
        } else {
            Err(ConfigError::Listen(text.to_owned()))
        }
    }
}

impl TryFrom<String> for Listen {
    type Error = ConfigError;

    fn try_from(text: String) -> Result<Self, ConfigError> {
        text.parse()
    }
}

impl fmt::Display for Listen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tcp(address) => f.write_str(address),
            Self::Unix(path) => write!(f, "unix:{}", path.display()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_of_both_forms_are_read_and_others_refused() {
        assert_eq!(
            "127.0.0.1:0".parse::<Listen>().unwrap().to_string(),
            "127.0.0.1:0"
        );
        assert_eq!(
            "[::1]:7575".parse::<Listen>().unwrap().to_string(),
            "[::1]:7575"
        );
        assert_eq!(
            "localhost:7575".parse::<Listen>().unwrap().to_string(),
            "localhost:7575"
        );
        assert_eq!(
            "unix:/run/l.sock".parse::<Listen>().unwrap(),
            Listen::Unix("/run/l.sock".into())
        );
        for bad in [
            "",
            "7575",
            "localhost",
            "localhost:",
            ":7575",
            "host:99999",
            "unix:",
        ] {
            let error = bad.parse::<Listen>().unwrap_err().to_string();
            assert!(
                error.contains("neither HOST:PORT nor unix:PATH"),
                "{bad}: {error}"
            );
        }
    }

    #[test]
    fn an_earlier_source_beats_a_later_one_and_defaults_fill_the_rest() {
        let flags = Given {
            log: Some("debug".to_owned()),
            ..Given::default()
        };
        let file: Given = toml::from_str("log = \"warn\"\nlisten = \"127.0.0.1:9\"").unwrap();
        let settings = flags.or(file).resolve().unwrap();
        assert_eq!(settings.log, "debug");
        assert_eq!(settings.listen.to_string(), "127.0.0.1:9");
        assert_eq!(settings.data_dir, PathBuf::from("lamella-data"));
    }

    #[test]
    fn an_unknown_key_is_refused_by_name() {
        let error = toml::from_str::<Given>("lisen = \"127.0.0.1:9\"")
            .unwrap_err()
            .to_string();
        assert!(
            error.contains("lisen") && error.contains("listen"),
            "{error}"
        );
    }
}
