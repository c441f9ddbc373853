//! Building text answers: the answer first and large, cautions after it, each
//! with its severity in words as well as in colour.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use lamella_proto::v1::{Caution, Severity};

use crate::names::clean;
use crate::times;
use crate::units::System;

/// How answers look: which units come first, which zone times are in, and what
/// "now" is.
#[derive(Debug, Clone)]
pub(crate) struct View {
    /// Units that come first.
    pub(crate) units: System,
    /// Zone that times are shown and read in.
    pub(crate) zone: TimeZone,
    /// The moment the command began.
    pub(crate) now: Timestamp,
}

const BOLD: Style = Style::new().bold();
const DIM: Style = Style::new().dimmed();

impl View {
    /// A time as people write it: `Mon 2026-03-02 17:00`, down to the minute.
    pub(crate) fn time(&self, time: &prost_types::Timestamp) -> String {
        self.minute(time, Edge::Closes)
    }

    /// A time from or until which something is allowed, rounded to the safe
    /// side.
    pub(crate) fn minute(&self, time: &prost_types::Timestamp, edge: Edge) -> String {
        let up = match edge {
            Edge::Opens => SignedDuration::from_nanos(59_999_999_999),
            Edge::Closes => SignedDuration::ZERO,
        };
        match times::from_proto(time).map(|instant| instant.checked_add(up).unwrap_or(instant)) {
            Some(instant) => instant
                .to_zoned_datetime(self.zone.clone())
                .strftime("%a %Y-%m-%d %H:%M")
                .to_string(),
            None => "a time outside the calendar".to_owned(),
        }
    }
}

/// The line that answers the question.
pub(crate) fn strong(text: &str) -> String {
    format!("{BOLD}{text}{BOLD:#}")
}

/// What only matters on a second look.
pub(crate) fn faint(text: &str) -> String {
    format!("{DIM}{text}{DIM:#}")
}

/// What begins every complaint.
pub(crate) fn error_word() -> String {
    let style = AnsiColor::Red.on_default().bold();
    format!("{style}error:{style:#} ")
}

/// Cautions, the gravest first, after an empty line; nothing when there are
/// none.
pub(crate) fn cautions(cautions: &[Caution]) -> String {
    if cautions.is_empty() {
        return String::new();
    }
    let mut sorted: Vec<&Caution> = cautions.iter().collect();
    sorted.sort_by_key(|caution| std::cmp::Reverse(caution.severity));
    let mut text = String::from("\n");
    for caution in sorted {
        let (word, style) = severity(caution.severity());
        let _ = writeln!(text, "{style}{word:<8}{style:#} {}", clean(&caution.text));
        let basis = format!("[{}] {}", clean(&caution.code), clean(&caution.basis));
        let _ = writeln!(text, "         {}", faint(&basis));
    }
    text
}

/// The model an answer rests on, after an empty line; nothing when none is
/// named.
pub(crate) fn model(model: &str) -> String {
    if model.is_empty() {
        String::new()
    } else {
        format!("\n{}\n", faint(&clean(model)))
    }
}

/// Which way a time is rounded to the minute. What may begin is rounded up and
/// what must be done is rounded down, so that nobody is early or late by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Edge {
    /// The beginning of what is allowed.
    Opens,
    /// The end of what is allowed.
    Closes,
}

/// How many hours, in words, to the minute: `45 min`, `12 h`, `7 d 3 h`.
pub(crate) fn hours(hours: f64, edge: Edge) -> String {
    // To a tenth of a second first: 0.05 h is 3 min, whatever floats make of it.
    let minutes = (hours * 36_000.0).round() / 600.0;
    let minutes = match edge {
        Edge::Opens => minutes.ceil(),
        Edge::Closes => minutes.floor(),
    };
    let Ok(exact) = SignedDuration::try_from_secs_f64(minutes * 60.0) else {
        return format!("{} h", crate::units::number(hours));
    };
    let minutes = exact.as_mins();
    let (days, h, min) = (minutes / 1_440, minutes % 1_440 / 60, minutes % 60);
    let mut parts = Vec::new();
    for (count, unit) in [(days, "d"), (h, "h"), (min, "min")] {
        if count != 0 {
            parts.push(format!("{count} {unit}"));
        }
    }
    if parts.is_empty() {
        "0 min".to_owned()
    } else {
        parts.join(" ")
    }
}

/// An enum value as people write it: `STAGE_IN_WORK` becomes `in work`.
pub(crate) fn words(prefix: &str, name: &str) -> String {
    name.strip_prefix(prefix)
        .unwrap_or(name)
        .to_lowercase()
        .replace('_', " ")
}

/// Rows in columns, two spaces apart.
pub(crate) fn table<const N: usize>(rows: &[[String; N]]) -> String {
    let width = |column: usize| {
        rows.iter()
            .filter_map(|row| row.get(column))
            .map(|c| c.chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..N).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            let _ = write!(line, "{cell:<width$}  ");
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

fn severity(severity: Severity) -> (&'static str, Style) {
    match severity {
        Severity::Stop => ("STOP", AnsiColor::Red.on_default().bold().invert()),
        Severity::Warning => ("WARNING", AnsiColor::Red.on_default().bold()),
        Severity::Caution => ("CAUTION", AnsiColor::Yellow.on_default().bold()),
        Severity::Info => ("NOTE", AnsiColor::Cyan.on_default()),
        // A severity that this client does not know is better shown than hidden.
        Severity::Unspecified => ("CAUTION", AnsiColor::Yellow.on_default().bold()),
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A view with everything fixed.
    pub(crate) fn view(units: System) -> View {
        View {
            units,
            zone: TimeZone::get("Europe/Berlin").unwrap(),
            now: "2026-03-02T09:15:00Z".parse().unwrap(),
        }
    }

    /// Without colours.
    pub(crate) fn plain(text: &str) -> String {
        anstream::adapter::strip_str(text).to_string()
    }

    /// A caution for examples.
    pub(crate) fn caution(severity: Severity, code: &str, text: &str) -> Caution {
        Caution {
            code: code.to_owned(),
            severity: severity.into(),
            text: text.to_owned(),
            basis: "common practice, no source".to_owned(),
        }
    }

    #[test]
    fn the_gravest_caution_comes_first_and_says_so_in_words() {
        let all = [
            caution(Severity::Info, "SDS_FIRST", "Read the safety data sheet."),
            caution(Severity::Stop, "PANEL_TOO_HOT", "Let the panel cool."),
            caution(
                Severity::Warning,
                "FLAMMABLE",
                "Keep ignition sources away.",
            ),
        ];
        insta::assert_snapshot!(plain(&cautions(&all)), @"

        STOP     Let the panel cool.
                 [PANEL_TOO_HOT] common practice, no source
        WARNING  Keep ignition sources away.
                 [FLAMMABLE] common practice, no source
        NOTE     Read the safety data sheet.
                 [SDS_FIRST] common practice, no source
        ");
        assert!(
            cautions(&all).contains("\u{1b}["),
            "severities have colours as well"
        );
    }

    #[test]
    fn durations_in_words() {
        let all = [0.0, 0.01, 0.05, 0.75, 12.0, 25.51, 171.0, 1e300];
        let words = |edge| all.map(|value| hours(value, edge)).join(", ");
        insta::assert_snapshot!(words(Edge::Opens), @"0 min, 1 min, 3 min, 45 min, 12 h, 1 d 1 h 31 min, 7 d 3 h, 1.000e300 h");
        insta::assert_snapshot!(words(Edge::Closes), @"0 min, 0 min, 3 min, 45 min, 12 h, 1 d 1 h 30 min, 7 d 3 h, 1.000e300 h");
    }

    // A whole minute stays; a second more is the next minute when something
    // opens, and the same one when it closes.
    #[test]
    fn edges_are_rounded_to_the_safe_side() {
        let view = view(System::Metric);
        let at = |seconds| prost_types::Timestamp { seconds, nanos: 0 };
        let shown = |seconds, edge| view.minute(&at(seconds), edge);
        assert_eq!(shown(1_772_442_000, Edge::Opens), "Mon 2026-03-02 10:00");
        assert_eq!(shown(1_772_442_001, Edge::Opens), "Mon 2026-03-02 10:01");
        assert_eq!(shown(1_772_442_059, Edge::Closes), "Mon 2026-03-02 10:00");
        assert_eq!(view.time(&at(i64::MAX)), "a time outside the calendar");
    }

    #[test]
    fn columns_line_up() {
        let rows = [["a", "bbb"], ["cccc", "d"]].map(|row| row.map(str::to_owned));
        assert_eq!(table(&rows), "a     bbb\ncccc  d\n");
    }
}
