//! `[outbox]`: where job events are pushed to.

use std::path::PathBuf;
use std::time::Duration;

use serde::Deserialize;

use super::ConfigError;

/// The section as the file has it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OutboxSection {
    /// Where each event is POSTed to, http:// or https://. Required.
    pub url: Option<String>,
    /// File with the secret that deliveries are signed with, at least 16 bytes; a
    /// line end after it does not count. Required.
    pub secret_file: Option<PathBuf>,
    /// Send the customer's data as well. Unset: it is left out.
    pub include_customer: Option<bool>,
    /// Milliseconds before the second attempt, 1 to 3 600 000; each later wait is
    /// twice as long. Unset: 1000.
    pub retry_base_ms: Option<u64>,
    /// Longest wait in milliseconds, up to 86 400 000. Unset: 900 000 (15 minutes).
    pub retry_max_ms: Option<u64>,
    /// Attempts before an event is a dead letter, 1 to 10 000. Unset: 100, which
    /// with the waits above is about a day.
    pub attempts: Option<u32>,
    /// Milliseconds that one attempt may take, 1 to 600 000. Unset: 10 000.
    pub timeout_ms: Option<u64>,
    /// PEM file with the certificates to trust for https:// instead of the public
    /// ones that the daemon was built with.
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

/// Shortest secret in bytes.
const SHORTEST_SECRET: usize = 16;

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
        let ms = |key, given: Option<u64>, default, most| match given.unwrap_or(default) {
            value if (1..=most).contains(&value) => Ok(Duration::from_millis(value)),
            value => Err(out_of_range(key, value, most)),
        };
        let attempts = self.attempts.unwrap_or(100);
        if !(1..=10_000).contains(&attempts) {
            return Err(out_of_range("outbox.attempts", attempts.into(), 10_000));
        }
        Ok(OutboxSettings {
            url,
            secret: Secret(secret),
            include_customer: self.include_customer.unwrap_or(false),
            retry_base: ms("outbox.retry_base_ms", self.retry_base_ms, 1000, 3_600_000)?,
            retry_max: ms(
                "outbox.retry_max_ms",
                self.retry_max_ms,
                900_000,
                86_400_000,
            )?,
            attempts,
            timeout: ms("outbox.timeout_ms", self.timeout_ms, 10_000, 600_000)?,
            ca_pem: self.ca_file.map(read).transpose()?,
        })
    }
}

fn out_of_range(key: &'static str, value: u64, most: u64) -> ConfigError {
    ConfigError::Value {
        key,
        value: value.to_string(),
        reason: format!("expected 1 to {most}"),
    }
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
