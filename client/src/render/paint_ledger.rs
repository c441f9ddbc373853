//! The paint ledger as text.

use std::fmt::Write as _;

use lamella_proto::v1;
use lamella_proto::v1::paint_ledger_entry::Entry;

use super::paint::{budget, difference, interval, spot_name};
use crate::names::clean;
use crate::text::{self, View};

/// A page of the ledger.
pub(crate) fn ledger(answer: &v1::ListPaintLedgerResponse, view: &View) -> String {
    let mut out = String::new();
    for (index, panel) in answer.panels.iter().enumerate() {
        if index > 0 {
            out.push('\n');
        }
        out.push_str(&ledger_panel(panel, answer.floor_um, view));
    }
    out + &text::model(&answer.model) + &super::job::more(&answer.next_page_token)
}

fn ledger_panel(panel: &v1::PaintLedgerPanel, floor_um: f64, view: &View) -> String {
    let mut out = String::new();
    let name = clean(&panel.panel);
    let _ = writeln!(
        out,
        "{}",
        text::strong(&budget(&name, panel.budget_um, floor_um, view))
    );
    if let Some(left) = &panel.left {
        let _ = writeln!(
            out,
            "  left       {} at {}",
            interval(left, view),
            spot_name(&panel.governing_spot)
        );
    }
    if let (Some(gone), Some(u)) = (panel.removed_um, panel.removed_standard_um) {
        let _ = writeln!(
            out,
            "  removed    {}, standard uncertainty {}",
            view.units.thickness(gone),
            view.units.thickness(u)
        );
    }
    let rows: Vec<[String; 3]> = panel
        .entries
        .iter()
        .map(|entry| entry_row(entry, view))
        .collect();
    out.push_str(&text::table(&rows));
    if panel.older_entries > 0 {
        let _ = writeln!(out, "  and {} older", panel.older_entries);
    }
    out + &text::cautions(&panel.cautions)
}

fn entry_row(entry: &v1::PaintLedgerEntry, view: &View) -> [String; 3] {
    let um = |um: f64| view.units.thickness(um);
    let what = match &entry.entry {
        Some(Entry::Measured(measured)) => {
            let standing = match measured.standing() {
                v1::ReadingStanding::Counted => String::new(),
                other @ (v1::ReadingStanding::Unspecified
                | v1::ReadingStanding::NotReadable
                | v1::ReadingStanding::OverFilm
                | v1::ReadingStanding::Unexplained
                | v1::ReadingStanding::Unrecorded) => {
                    format!(
                        " ({})",
                        text::words("READING_STANDING_", other.as_str_name())
                    )
                }
            };
            let u = measured.uncertainty.as_ref().map_or(0.0, |u| u.expanded_um);
            let spot = spot_name(&measured.spot);
            format!(
                "measured {} ± {} at {spot}{standing}",
                um(measured.mean_um),
                um(u)
            )
        }
        Some(Entry::Passed(passed)) => {
            let how = if passed.measured {
                "measured"
            } else {
                "assumed"
            };
            format!("pass, {} off, {how}", um(passed.removal_um))
        }
        Some(Entry::Filmed(filmed)) => format!("film laid: {}", clean(&filmed.film)),
        Some(Entry::Compared(compared)) => format!(
            "since the readings before, {}: {}",
            passes(compared.passes),
            difference(
                compared.verdict(),
                compared.removal_um,
                compared.uncertainty.as_ref(),
                view
            )
        ),
        None => "something that this client does not know".to_owned(),
    };
    let time = entry
        .entry_time
        .as_ref()
        .map(|time| view.time(time))
        .unwrap_or_default();
    [format!("  {time}"), clean(&entry.job), what]
}

fn passes(count: i32) -> String {
    match count {
        0 => "no pass".to_owned(),
        1 => "1 pass".to_owned(),
        count => format!("{count} passes"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    #[test]
    fn the_ledger_shows_the_newest_first() {
        let at = |seconds| Some(prost_types::Timestamp { seconds, nanos: 0 });
        let entry = |seconds, entry| v1::PaintLedgerEntry {
            entry_time: at(seconds),
            job: "jobs/a".to_owned(),
            entry: Some(entry),
            ..Default::default()
        };
        let passed = v1::PaintPassed {
            removal_um: 0.8,
            standard_um: 0.4,
            measured: false,
        };
        let measured = v1::PaintMeasured {
            count: 3,
            mean_um: 112.0,
            uncertainty: Some(v1::ThicknessUncertainty {
                expanded_um: 4.2,
                ..Default::default()
            }),
            standing: v1::ReadingStanding::OverFilm.into(),
            ..Default::default()
        };
        let compared = v1::PaintCompared {
            removal_um: 2.67,
            uncertainty: Some(v1::ThicknessUncertainty {
                expanded_um: 1.9,
                ..Default::default()
            }),
            verdict: v1::RemovalVerdict::Removed.into(),
            passes: 1,
            before_time: None,
        };
        let panel = v1::PaintLedgerPanel {
            panel: "hood".to_owned(),
            entries: vec![
                entry(1_772_500_000, Entry::Compared(compared)),
                entry(1_772_490_000, Entry::Passed(passed)),
                entry(1_772_480_000, Entry::Measured(measured)),
                entry(
                    1_772_470_000,
                    Entry::Filmed(v1::PaintFilmed {
                        film: "clear film".to_owned(),
                    }),
                ),
            ],
            older_entries: 3,
            left: Some(v1::ClearCoat {
                mean_um: 38.14,
                sd_um: 3.35,
                low_um: 31.59,
                high_um: 44.7,
                at_least_um: 32.64,
                surprise: 0.3,
            }),
            budget_um: Some(0.0),
            removed_um: Some(2.7),
            removed_standard_um: Some(0.8),
            ..Default::default()
        };
        let answer = v1::ListPaintLedgerResponse {
            panels: vec![panel],
            floor_um: 30.0,
            ..Default::default()
        };
        insta::assert_snapshot!(plain(&ledger(&answer, &view(System::Metric))));
    }
}
