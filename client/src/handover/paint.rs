//! Paint before and after. Before: what was read on a panel before its first pass;
//! after: what was read after its last one, and not over film.

use std::collections::BTreeMap;

use lamella_proto::v1;
use lamella_proto::v1::record::Entry;

use super::gather::Gathered;
use super::sheet::{Panel, Thickness};
use super::work::panel_name;
use crate::names::clean;
use crate::text::{self, View};

/// Most readings of one spot that the calculators take.
const MOST_READINGS: usize = 500;

/// Readings of one panel on both sides of its passes.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Sides {
    pub(crate) panel_id: String,
    pub(crate) substrate: i32,
    pub(crate) finish: i32,
    pub(crate) before: Vec<v1::SpotReadings>,
    pub(crate) after: Vec<v1::SpotReadings>,
    /// The two sides name different gauges.
    pub(crate) two_gauges: bool,
}

impl Sides {
    /// One side for the calculator.
    pub(crate) fn panel(&self, after: bool) -> v1::PanelReadings {
        let spots = if after { &self.after } else { &self.before };
        v1::PanelReadings {
            panel: self.panel_id.clone(),
            substrate: self.substrate,
            finish: self.finish,
            spots: spots.clone(),
            ..Default::default()
        }
    }
}

/// The readings by panel, for the panels that the services are done on and those
/// that were read.
pub(crate) fn sides(job: &v1::Job, vehicle: &v1::Vehicle, records: &[v1::Record]) -> Vec<Sides> {
    let mut ordered: Vec<&v1::Record> = records.iter().collect();
    // Stable: what has the same time stays in the order it was written down.
    ordered.sort_by_key(|record| {
        let time = record.record_time.unwrap_or_default();
        (time.seconds, time.nanos)
    });
    let whole_car = job.services.is_empty() || job.services.iter().any(|s| s.panels.is_empty());
    let ordered_on = |id: &String| whole_car || job.services.iter().any(|s| s.panels.contains(id));
    vehicle
        .panels
        .iter()
        .filter(|panel| panel.finish() != v1::Finish::Unpainted)
        .map(|panel| sides_of(panel, &ordered))
        .filter(|sides| {
            let read = !sides.before.is_empty() || !sides.after.is_empty();
            read || ordered_on(&sides.panel_id)
        })
        .collect()
}

fn sides_of(panel: &v1::Panel, records: &[&v1::Record]) -> Sides {
    let passes: Vec<usize> = places(
        records,
        |entry| matches!(entry, Entry::Pass(pass) if pass.panel == panel.panel_id),
    );
    let film = places(
        records,
        |entry| matches!(entry, Entry::FilmPiece(film) if film.panel == panel.panel_id),
    );
    let under_film = film.first().copied().unwrap_or(usize::MAX);
    let first = passes.first().copied().unwrap_or(usize::MAX);
    let last = passes.last().copied().unwrap_or(usize::MAX);
    let (before, by_before) = spots(panel, records, |place| place < first && place < under_film);
    let (after, by_after) = spots(panel, records, |place| {
        !passes.is_empty() && place > last && place < under_film
    });
    Sides {
        panel_id: panel.panel_id.clone(),
        substrate: panel.substrate,
        finish: panel.finish,
        two_gauges: !before.is_empty() && !after.is_empty() && by_before != by_after,
        before,
        after,
    }
}

fn places(records: &[&v1::Record], wanted: impl Fn(&Entry) -> bool) -> Vec<usize> {
    records
        .iter()
        .enumerate()
        .filter(|(_, record)| record.entry.as_ref().is_some_and(&wanted))
        .map(|(place, _)| place)
        .collect()
}

/// Readings by spot, and the gauges that are named.
fn spots(
    panel: &v1::Panel,
    records: &[&v1::Record],
    wanted: impl Fn(usize) -> bool,
) -> (Vec<v1::SpotReadings>, Vec<String>) {
    let mut spots: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    let mut gauges: Vec<String> = Vec::new();
    for (place, record) in records.iter().enumerate() {
        if let Some(Entry::GaugeReadings(readings)) = &record.entry
            && readings.panel == panel.panel_id
            && wanted(place)
        {
            let all = spots.entry(readings.spot.as_str()).or_default();
            all.extend(&readings.readings_um);
            all.truncate(MOST_READINGS);
            if !gauges.contains(&readings.gauge) {
                gauges.push(readings.gauge.clone());
            }
        }
    }
    gauges.sort();
    let spots = spots
        .into_iter()
        .map(|(spot, readings_um)| v1::SpotReadings {
            spot: spot.to_owned(),
            readings_um,
            readings_mil: Vec::new(),
        });
    (spots.collect(), gauges)
}

/// The panels of the sheet.
pub(crate) fn panels(all: &Gathered, view: &View) -> Vec<Panel> {
    all.sides
        .iter()
        .map(|sides| panel(all, sides, view))
        .collect()
}

fn panel(all: &Gathered, sides: &Sides, view: &View) -> Panel {
    let id = &sides.panel_id;
    let of = |assessed: &v1::AssessPaintResponse| {
        assessed.panels.iter().find(|p| p.panel == *id).cloned()
    };
    let (before, after) = (of(&all.before), of(&all.after));
    let removal = all.removals.iter().find(|(panel, _)| panel == id);
    let left = all.ledger.iter().find(|panel| panel.panel == *id);
    let clear_at_least_um = left
        .and_then(|panel| panel.left.as_ref())
        .map(|c| c.at_least_um);
    let (removal, removal_says) = match removal {
        Some((_, Ok(removal))) => (
            removal
                .uncertainty
                .as_ref()
                .map(|u| thickness(removal.removal_um, u, view)),
            verdict(removal.verdict()).to_owned(),
        ),
        Some((_, Err(why))) => (None, clean(why)),
        None => (None, String::new()),
    };
    Panel {
        panel_id: id.clone(),
        name: panel_name(&all.vehicle, id),
        substrate: match v1::Substrate::try_from(sides.substrate).unwrap_or_default() {
            v1::Substrate::Unspecified => String::new(),
            known => text::words("SUBSTRATE_", known.as_str_name()),
        },
        before: before.as_ref().and_then(|panel| mean(panel, view)),
        after: after.as_ref().and_then(|panel| mean(panel, view)),
        removal,
        removal_says,
        clear_at_least_um,
        clear_at_least: clear_at_least_um
            .map(|um| view.units.thickness(um))
            .unwrap_or_default(),
        unread: before.as_ref().map(unread).unwrap_or_default(),
    }
}

/// The mean of a panel whose readings count.
fn mean(panel: &v1::PanelAssessment, view: &View) -> Option<Thickness> {
    if !panel.readable {
        return None;
    }
    Some(thickness(panel.mean_um?, panel.uncertainty.as_ref()?, view))
}

fn thickness(um: f64, uncertainty: &v1::ThicknessUncertainty, view: &View) -> Thickness {
    Thickness {
        um,
        uncertainty_um: uncertainty.expanded_um,
        text: view.units.thickness(um),
        uncertainty: view.units.thickness(uncertainty.expanded_um),
    }
}

fn unread(panel: &v1::PanelAssessment) -> String {
    if panel.readable && panel.mean_um.is_some() {
        return String::new();
    }
    let by: Vec<String> = panel
        .readable_by()
        .map(|principle| text::words("GAUGE_PRINCIPLE_", principle.as_str_name()))
        .collect();
    if by.is_empty() {
        "not read".to_owned()
    } else {
        format!("not read; takes a gauge that is {}", by.join(" or "))
    }
}

fn verdict(verdict: v1::RemovalVerdict) -> &'static str {
    match verdict {
        v1::RemovalVerdict::Unspecified => "",
        v1::RemovalVerdict::Removed => "removed",
        v1::RemovalVerdict::CannotTell => "cannot be told: inside the noise of the readings",
        v1::RemovalVerdict::Thicker => "thicker than before: nothing can be said of removal",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(panel: &str, spot: &str, um: f64, gauge: &str) -> Entry {
        Entry::GaugeReadings(v1::GaugeReadings {
            panel: panel.to_owned(),
            spot: spot.to_owned(),
            readings_um: vec![um],
            gauge: gauge.to_owned(),
        })
    }

    fn pass(panel: &str) -> Entry {
        Entry::Pass(v1::Pass {
            panel: panel.to_owned(),
            ..Default::default()
        })
    }

    fn film(panel: &str) -> Entry {
        Entry::FilmPiece(v1::FilmPiece {
            panel: panel.to_owned(),
            ..Default::default()
        })
    }

    fn at(seconds: i64, entry: Entry) -> v1::Record {
        v1::Record {
            record_time: Some(prost_types::Timestamp { seconds, nanos: 0 }),
            entry: Some(entry),
            ..Default::default()
        }
    }

    fn car() -> v1::Vehicle {
        let panel = |id: &str, finish: v1::Finish| v1::Panel {
            panel_id: id.to_owned(),
            finish: finish.into(),
            ..Default::default()
        };
        v1::Vehicle {
            panels: vec![
                panel("hood", v1::Finish::ClearCoat),
                panel("roof", v1::Finish::ClearCoat),
                panel("trim", v1::Finish::Unpainted),
            ],
            ..Default::default()
        }
    }

    fn values(spots: &[v1::SpotReadings]) -> Vec<(&str, &[f64])> {
        spots
            .iter()
            .map(|spot| (spot.spot.as_str(), spot.readings_um.as_slice()))
            .collect()
    }

    #[test]
    fn readings_fall_before_the_first_pass_or_after_the_last_and_never_over_film() {
        // Written down out of order, as happens when somebody catches up at night.
        let records = [
            at(60, readings("hood", "front", 104.0, "b")),
            at(10, readings("hood", "front", 110.0, "a")),
            at(11, readings("hood", "front", 112.0, "a")),
            at(12, readings("roof", "", 99.0, "a")),
            at(20, pass("hood")),
            at(30, readings("hood", "front", 107.0, "a")),
            at(40, pass("hood")),
            at(70, film("hood")),
            at(80, readings("hood", "front", 300.0, "a")),
        ];
        let sides = sides(&v1::Job::default(), &car(), &records);
        assert_eq!(sides.len(), 2, "no unpainted trim");
        assert_eq!(values(&sides[0].before), [("front", &[110.0, 112.0][..])]);
        assert_eq!(values(&sides[0].after), [("front", &[104.0][..])]);
        assert!(sides[0].two_gauges);
        assert_eq!(values(&sides[1].before), [("", &[99.0][..])]);
        assert!(sides[1].after.is_empty(), "no pass, so nothing is after it");
    }

    #[test]
    fn a_panel_that_is_neither_read_nor_worked_on_is_left_out() {
        let job = v1::Job {
            services: vec![v1::Service {
                panels: vec!["hood".to_owned()],
                ..Default::default()
            }],
            ..Default::default()
        };
        let sides = sides(&job, &car(), &[]);
        let names: Vec<&str> = sides.iter().map(|s| s.panel_id.as_str()).collect();
        assert_eq!(names, ["hood"]);
    }
}
