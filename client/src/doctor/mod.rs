//! `lamella doctor`: what was seen of the daemon, what to make of it, and how it
//! is told.
//!
//! - `ask`: gathers what is to be seen; the only part that talks to anybody
//! - `reach`: why the daemon cannot be reached
//! - `judge`: findings on what was seen
//! - `checks`: those on what the daemon says of itself
//! - `report`: findings as text and as JSON

pub(crate) mod ask;
mod checks;
mod judge;
mod reach;
pub(crate) mod report;
#[cfg(test)]
mod tests;

use std::time::Duration;

use jiff::Timestamp;
use jiff::tz::TimeZone;
use lamella_proto::v1;

pub(crate) use self::judge::judge;
pub(crate) use self::reach::Unreached;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Level {
    /// As it should be.
    Ok,
    /// Worth knowing; nothing need be done.
    Note,
    /// It works, and will not for long, or not for all.
    Warn,
    /// It does not work.
    Fail,
}

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Finding {
    /// What was found, for programs; it keeps its meaning from version to version.
    pub(crate) code: &'static str,
    /// How much it matters.
    pub(crate) level: Level,
    /// What was seen.
    pub(crate) seen: String,
    /// What to do about it; empty where nothing is to be done.
    pub(crate) todo: String,
}

impl Finding {
    fn new(code: &'static str, level: Level, seen: impl Into<String>, todo: &str) -> Self {
        Self {
            code,
            level,
            seen: seen.into(),
            todo: todo.to_owned(),
        }
    }

    fn ok(code: &'static str, seen: impl Into<String>) -> Self {
        Self::new(code, Level::Ok, seen, "")
    }
}

/// From where on something is amiss.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Limits {
    /// Free bytes below which the disk is too full; a tenth of it is a failure.
    pub(crate) min_free_bytes: f64,
    /// Difference of the clocks that is still all right; thirty times as much is a
    /// failure.
    pub(crate) max_skew: Duration,
}

/// What was seen.
#[derive(Debug, Clone)]
pub(crate) struct Seen {
    /// The address that was asked, as it was given.
    pub(crate) server: String,
    /// This machine's zone.
    pub(crate) zone: TimeZone,
    /// What there was at that address.
    pub(crate) server_seen: Result<Answers, Unreached>,
}

/// What the daemon answered.
#[derive(Debug, Clone)]
pub(crate) struct Answers {
    /// How long the first answer took.
    pub(crate) round_trip: Duration,
    /// What its health service says.
    pub(crate) health: Health,
    /// How it is.
    pub(crate) status: StatusAnswer,
    /// How its plugins are, as far as it tells.
    pub(crate) plugins: Option<v1::PluginsStatus>,
    /// How its outbox is, as far as it tells.
    pub(crate) outbox: Option<v1::OutboxStatus>,
}

/// What the health service says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Health {
    /// Calls are taken.
    Serving,
    /// They are not.
    NotServing,
    /// No answer that says either.
    Unknown(String),
}

/// What came of asking for the status.
#[derive(Debug, Clone)]
pub(crate) enum StatusAnswer {
    /// It was told.
    Told(Box<Told>),
    /// The daemon is too old to know the question.
    Unimplemented,
    /// It was refused, or did not come in time.
    Failed(String),
}

/// A status and the moment it came.
#[derive(Debug, Clone)]
pub(crate) struct Told {
    /// The status.
    pub(crate) status: v1::DaemonStatus,
    /// When it came, by this machine's clock.
    pub(crate) received: Timestamp,
    /// How long it took from the question on.
    pub(crate) round_trip: Duration,
}

impl Answers {
    fn told(&self) -> Option<&Told> {
        match &self.status {
            StatusAnswer::Told(told) => Some(told),
            StatusAnswer::Unimplemented | StatusAnswer::Failed(_) => None,
        }
    }
}

impl Seen {
    /// The daemon's own words, if it said them.
    pub(crate) fn status(&self) -> Option<&v1::DaemonStatus> {
        let answers = self.server_seen.as_ref().ok()?;
        answers.told().map(|told| &told.status)
    }

    /// The shop's zone, or this machine's where the daemon does not tell it.
    fn shop_zone(&self) -> TimeZone {
        let named = self
            .status()
            .and_then(|status| TimeZone::get(&status.time_zone).ok());
        named.unwrap_or_else(|| self.zone.clone())
    }
}
