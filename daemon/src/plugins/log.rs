//! What plugins write, into the daemon's log.

use lamella_plugin_host::CallReport;

/// Logs the lines of a call that was given nothing of a customer's: a first call, or
/// a product list. Lines of a call about a job are for its caller, not for the log.
pub(super) fn lines(plugin: &str, report: &CallReport) {
    for line in &report.log_lines {
        tracing::debug!(plugin, level = ?line.level, text = line.text, "a plugin wrote");
    }
    if report.dropped_lines > 0 {
        tracing::debug!(
            plugin,
            dropped = report.dropped_lines,
            "a plugin wrote more lines than are kept"
        );
    }
}
