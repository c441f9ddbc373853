//! Findings as text and as JSON.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use prost_reflect::DynamicMessage;
use serde::Serialize;

use super::{Finding, Level, Seen};
use crate::json::{self, JsonError};
use crate::names::clean;
use crate::text;

/// Findings, one to a line and below it what to do about it, then how many of
/// each kind there are.
pub(crate) fn as_text(findings: &[Finding]) -> String {
    let mut out = String::new();
    for finding in findings {
        let (word, style) = word(finding.level);
        let code = text::faint(&format!("[{}]", finding.code));
        let seen = clean(&finding.seen);
        let _ = writeln!(out, "{style}{word:<4}{style:#}  {seen} {code}");
        if !finding.todo.is_empty() {
            let _ = writeln!(out, "      do: {}", clean(&finding.todo));
        }
    }
    let _ = writeln!(out, "\n{}", text::strong(&summary(findings)));
    out
}

/// How many there are of each kind, the gravest first.
fn summary(findings: &[Finding]) -> String {
    let of = |level| findings.iter().filter(|f| f.level == level).count();
    let counts = [
        (of(Level::Fail), "failed"),
        (of(Level::Warn), "with a warning"),
        (of(Level::Note), "with a note"),
        (of(Level::Ok), "ok"),
    ];
    let parts: Vec<String> = counts
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| format!("{count} {what}"))
        .collect();
    format!("{} checked: {}", findings.len(), parts.join(", "))
}

/// The same for programs: levels (in lower case) and codes are stable, the words are
/// not. What the daemon said of itself is added as it is.
///
/// # Errors
/// When what the daemon said has no JSON form.
pub(crate) fn as_json(seen: &Seen, findings: &[Finding]) -> Result<String, JsonError> {
    let report = Report {
        server: &seen.server,
        client_version: env!("CARGO_PKG_VERSION"),
        findings: findings.iter().map(JsonFinding::from).collect(),
        status: seen.status().map(json::canonical).transpose()?,
    };
    serde_json::to_string_pretty(&report).map_err(JsonError::Write)
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Report<'a> {
    server: &'a str,
    client_version: &'static str,
    findings: Vec<JsonFinding<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    status: Option<DynamicMessage>,
}

#[derive(Serialize)]
struct JsonFinding<'a> {
    code: &'static str,
    level: String,
    seen: &'a str,
    #[serde(rename = "do", skip_serializing_if = "str::is_empty")]
    todo: &'a str,
}

impl<'a> From<&'a Finding> for JsonFinding<'a> {
    fn from(finding: &'a Finding) -> Self {
        Self {
            code: finding.code,
            level: word(finding.level).0.to_lowercase(),
            seen: &finding.seen,
            todo: &finding.todo,
        }
    }
}

/// The gravest is in capitals: it is found without colours as well.
fn word(level: Level) -> (&'static str, Style) {
    match level {
        Level::Ok => ("ok", AnsiColor::Green.on_default()),
        Level::Note => ("note", AnsiColor::Cyan.on_default()),
        Level::Warn => ("warn", AnsiColor::Yellow.on_default().bold()),
        Level::Fail => ("FAIL", AnsiColor::Red.on_default().bold()),
    }
}
