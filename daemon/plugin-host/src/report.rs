//! What is known of a call besides its answer.

use crate::log::LogLine;

/// What one call used and wrote.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CallReport {
    /// Fuel burnt; the same for the same plugin and request.
    pub fuel_used: u64,
    /// Wall time, microseconds, instantiation included.
    pub micros: u64,
    /// Lines that the plugin wrote, oldest first.
    pub log_lines: Vec<LogLine>,
    /// Lines past the host's limits, which were not kept.
    pub dropped_lines: u64,
}
