//! `[outbox]`: where job events are pushed to.

use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::time::Duration;

use schemars::JsonSchema;
use serde::Deserialize;

use super::ConfigError;

/// What `retry_base_ms` may be, and is unless told otherwise.
const RETRY_BASE_MS: RangeInclusive<u64> = 1..=3_600_000;
const DEFAULT_RETRY_BASE_MS: u64 = 1000;
/// What `retry_max_ms` may be, and is unless told otherwise: 15 minutes.
const RETRY_MAX_MS: RangeInclusive<u64> = 1..=86_400_000;
const DEFAULT_RETRY_MAX_MS: u64 = 900_000;
/// What `attempts` may be, and is unless told otherwise.
const ATTEMPTS: RangeInclusive<u64> = 1..=10_000;
const DEFAULT_ATTEMPTS: u32 = 100;
/// What `timeout_ms` may be, and is unless told otherwise.
const TIMEOUT_MS: RangeInclusive<u64> = 1..=600_000;
const DEFAULT_TIMEOUT_MS: u64 = 10_000;
/// Shortest secret in bytes.
const SHORTEST_SECRET: usize = 16;

/// The section as the file has it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OutboxSection {
    /// Where each event is POSTed to, http:// or https://.
    #[schemars(required, example = &"https://booking.example/events")]
    pub url: Option<String>,
    /// File with the secret that deliveries are signed with, at least 16 bytes; a
    /// line end after it does not count.
    #[schemars(required, example = &"/etc/lamella/outbox.secret")]
    pub secret_file: Option<PathBuf>,
    /// Send the customer's data as well.
    #[schemars(extend("default" = false))]
    pub include_customer: Option<bool>,
    /// Time before the second attempt; each later wait is twice as long.
    #[schemars(
        range(min = *RETRY_BASE_MS.start(), max = *RETRY_BASE_MS.end()),
        extend("default" = DEFAULT_RETRY_BASE_MS)
    )]
    pub retry_base_ms: Option<u64>,
    /// Longest wait.
    #[schemars(
        range(min = *RETRY_MAX_MS.start(), max = *RETRY_MAX_MS.end()),
        extend("default" = DEFAULT_RETRY_MAX_MS)
    )]
    pub retry_max_ms: Option<u64>,
    /// Attempts before an event is a dead letter. With the waits as they are unless
    /// told otherwise, 100 are about a day.
    #[schemars(
        range(min = *ATTEMPTS.start(), max = *ATTEMPTS.end()),
        extend("default" = DEFAULT_ATTEMPTS)
    )]
    pub attempts: Option<u32>,
    /// Time that one attempt may take.
    #[schemars(
        range(min = *TIMEOUT_MS.start(), max = *TIMEOUT_MS.end()),
        extend("default" = DEFAULT_TIMEOUT_MS)
    )]
    pub timeout_ms: Option<u64>,
    /// PEM file with the certificates to trust for https:// instead of the public
    /// ones that the daemon was built with.
    #[schemars(example = &"/etc/lamella/outbox-ca.pem")]
    pub ca_file: Option<PathBuf>,
}

/// The outbox, with nothing left open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutboxSettings {
    /// Where each event is POSTed to.
    pub url: String,
    /// What deliveries are signed with.
    pub secret: Secret,
    /// Whether the customer's data is sent.
    pub include_customer: bool,
    /// Wait before the second attempt.
    pub retry_base: Duration,
    /// Longest wait.
    pub retry_max: Duration,
    /// Attempts before an event is a dead letter.
    pub attempts: u32,
    /// What one attempt may take.
    pub timeout: Duration,
    /// Certificates to trust, PEM; none: the public ones.
    pub ca_pem: Option<Vec<u8>>,
}

/// A secret; never shown.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(pub Vec<u8>);

impl std::fmt::Debug for Secret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Secret(..)")
    }
}

impl OutboxSection {
    pub(super) fn resolve(self) -> Result<OutboxSettings, ConfigError> {
        let url = self.url.unwrap_or_default();
        let known = url.parse::<http::Uri>().is_ok_and(|uri| {
            matches!(uri.scheme_str(), Some("http" | "https")) && uri.host().is_some()
        });
        if !known {
            return Err(ConfigError::Value {
                key: "outbox.url",
                value: url,
                reason: "expected an address such as https://booking.example/events".to_owned(),
            });
        }
        let read = |path: PathBuf| {
            std::fs::read(&path).map_err(|source| ConfigError::Read { path, source })
        };
        let file = self.secret_file.unwrap_or_default();
        let mut secret = read(file.clone())?;
        while secret.last().is_some_and(u8::is_ascii_whitespace) {
            secret.pop();
        }
        if secret.len() < SHORTEST_SECRET {
            return Err(ConfigError::Value {
                key: "outbox.secret_file",
                value: file.display().to_string(),
                reason: format!(
                    "it holds {} bytes, expected {SHORTEST_SECRET} at least",
                    secret.len()
                ),
            });
        }
        let ms = |key, value, range| within(key, value, range).map(Duration::from_millis);
        let attempts = self.attempts.unwrap_or(DEFAULT_ATTEMPTS);
        within("outbox.attempts", attempts.into(), &ATTEMPTS)?;
        Ok(OutboxSettings {
            url,
            secret: Secret(secret),
            include_customer: self.include_customer.unwrap_or(false),
            retry_base: ms(
                "outbox.retry_base_ms",
                self.retry_base_ms.unwrap_or(DEFAULT_RETRY_BASE_MS),
                &RETRY_BASE_MS,
            )?,
            retry_max: ms(
                "outbox.retry_max_ms",
                self.retry_max_ms.unwrap_or(DEFAULT_RETRY_MAX_MS),
                &RETRY_MAX_MS,
            )?,
            attempts,
            timeout: ms(
                "outbox.timeout_ms",
                self.timeout_ms.unwrap_or(DEFAULT_TIMEOUT_MS),
                &TIMEOUT_MS,
            )?,
            ca_pem: self.ca_file.map(read).transpose()?,
        })
    }
}

/// The value, if it is in the range.
fn within(key: &'static str, value: u64, range: &RangeInclusive<u64>) -> Result<u64, ConfigError> {
    if range.contains(&value) {
        return Ok(value);
    }
    Err(ConfigError::Value {
        key,
        value: value.to_string(),
        reason: format!("expected {} to {}", range.start(), range.end()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_section_is_taken_and_each_fault_named_by_its_key() {
        let dir = tempfile::tempdir().unwrap();
        let (good, short) = (dir.path().join("good"), dir.path().join("short"));
        std::fs::write(&good, "0123456789abcdef\r\n").unwrap();
        std::fs::write(&short, "0123456789abcde\n").unwrap();
        let section = || OutboxSection {
            url: Some("http://127.0.0.1:8/events".to_owned()),
            secret_file: Some(good.clone()),
            ..OutboxSection::default()
        };
        let settings = section().resolve().unwrap();
        assert_eq!(settings.secret.0, b"0123456789abcdef");
        assert!(!format!("{settings:?}").contains("0123"), "{settings:?}");
        let fault = |section: OutboxSection| section.resolve().unwrap_err().to_string();
        let with = |change: fn(&mut OutboxSection)| {
            let mut section = section();
            change(&mut section);
            fault(section)
        };
        assert!(with(|s| s.url = Some("ftp://x/".to_owned())).starts_with("outbox.url"));
        assert!(with(|s| s.url = None).starts_with("outbox.url"));
        assert!(with(|s| s.retry_base_ms = Some(0)).starts_with("outbox.retry_base_ms"));
        assert!(with(|s| s.attempts = Some(0)).starts_with("outbox.attempts"));
        assert!(with(|s| s.secret_file = None).starts_with("cannot read"));
        let mut weak = section();
        weak.secret_file = Some(short);
        assert!(fault(weak).contains("15 bytes, expected 16"));
    }
}
