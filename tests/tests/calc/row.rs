//! One check, and the table of all of them.

use std::fmt::Write as _;

/// One value held against one from outside the project.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    /// What is checked: `dew point 20 C 50 %`.
    pub(crate) check: String,
    /// Where `expected` comes from.
    pub(crate) source: &'static str,
    /// What the source says.
    pub(crate) expected: f64,
    /// What Lamella says.
    pub(crate) got: f64,
    /// Largest absolute difference that still passes, in the same unit.
    pub(crate) tolerance: f64,
    /// Unit of the three numbers.
    pub(crate) unit: &'static str,
}

impl Row {
    /// Absolute difference.
    pub(crate) fn error(&self) -> f64 {
        (self.got - self.expected).abs()
    }

    /// Whether the check holds. A number that is none never does.
    pub(crate) fn holds(&self) -> bool {
        self.error() <= self.tolerance
    }

    /// The failed check in one line.
    pub(crate) fn complaint(&self) -> String {
        format!(
            "{}: expected {} {} ({}), got {}, off by {:.3e}, allowed {:.1e}",
            self.check,
            self.expected,
            self.unit,
            self.source,
            self.got,
            self.error(),
            self.tolerance
        )
    }
}

/// The table: check, source, expected, got, error, tolerance, ok.
pub(crate) fn table(rows: &[Row]) -> String {
    let wide = |of: fn(&Row) -> usize| rows.iter().map(of).max().unwrap_or(0);
    let check = wide(|row| row.check.chars().count()).max(5);
    let source = wide(|row| row.source.chars().count()).max(6);
    let unit = wide(|row| row.unit.chars().count()).max(4);
    let mut out = format!(
        "{:check$} | {:source$} | {:>13} | {:>13} | {:unit$} | {:>9} | {:>9} | ok\n",
        "check", "source", "expected", "got", "unit", "error", "tolerance"
    );
    for row in rows {
        let _ = writeln!(
            out,
            "{:check$} | {:source$} | {:>13} | {:>13} | {:unit$} | {:>9.1e} | {:>9.1e} | {}",
            row.check,
            row.source,
            shown(row.expected),
            shown(row.got),
            row.unit,
            row.error(),
            row.tolerance,
            if row.holds() { "ok" } else { "FAILED" }
        );
    }
    out
}

/// A number short enough for its column, whatever its size.
fn shown(value: f64) -> String {
    let size = value.abs();
    if size != 0.0 && !(1e-3..1e6).contains(&size) {
        format!("{value:.5e}")
    } else {
        format!("{value:.5}")
    }
}
