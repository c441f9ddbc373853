//! When what may be done, and where it lies on an axis of a thousand parts.

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp, ToSpan as _};
use lamella_proto::v1;
use lamella_proto::v1::CureMilestoneKind as Kind;
use lamella_proto::v1::record::Entry;

use super::sheet::{Bar, Cure, Tick, Timeline};
use super::work::{panel_names, product};
use crate::names::clean;
use crate::text::{Edge, View};
use crate::times::from_proto;

/// Length of the axis.
const PARTS: f64 = 1_000.0;
/// Most marks on the axis; more would run into each other.
const MOST_TICKS: i64 = 7;

/// Something that cures, with its instants.
struct Span {
    what: String,
    panels: Vec<String>,
    applied: Timestamp,
    road: Option<Timestamp>,
    wash: Option<Timestamp>,
    full: Option<Timestamp>,
}

/// The timeline; `None` where nothing cures.
pub(crate) fn timeline(
    records: &[v1::Record],
    vehicle: &v1::Vehicle,
    view: &View,
) -> Option<Timeline> {
    let spans = spans(records);
    let from = spans.iter().map(|span| span.applied).min()?;
    let to = spans.iter().filter_map(Span::end).max()?;
    let axis = Axis::try_new(from, to)?;
    let latest =
        |of: fn(&Span) -> Option<Timestamp>| shown(spans.iter().filter_map(of).max(), view);
    Some(Timeline {
        road: latest(|span| span.road),
        wash: latest(|span| span.wash),
        full: latest(|span| span.full),
        rows: spans
            .iter()
            .map(|span| Cure {
                what: span.what.clone(),
                panels: panel_names(vehicle, &span.panels, ""),
                applied: shown(Some(span.applied), view),
                road: shown(span.road, view),
                wash: shown(span.wash, view),
                full: shown(span.full, view),
                bars: span.bars(&axis),
            })
            .collect(),
        ticks: axis.ticks(&view.zone),
        now: axis.within(view.now),
    })
}

/// What cures, in order of application. Of several layers of one product on the
/// same panels, the last one is what counts.
fn spans(records: &[v1::Record]) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    for record in records {
        let Some(applied) = record.record_time.as_ref().and_then(from_proto) else {
            continue;
        };
        match &record.entry {
            Some(Entry::CoatLayer(coat)) => {
                let due = |kind: Kind| {
                    coat.milestones
                        .iter()
                        .find(|milestone| milestone.kind() == kind)
                        .and_then(|milestone| from_proto(milestone.due_time.as_ref()?))
                };
                spans.push(Span {
                    what: product(coat),
                    panels: coat.panels.clone(),
                    applied,
                    road: due(Kind::Dry),
                    wash: due(Kind::Wash),
                    full: due(Kind::FullCure),
                });
            }
            Some(Entry::FilmPiece(film)) => {
                let settled = film.settled_time.as_ref().and_then(from_proto);
                spans.extend(settled.map(|settled| Span {
                    what: clean(&film.film),
                    panels: vec![film.panel.clone()],
                    applied,
                    road: Some(settled),
                    wash: None,
                    full: None,
                }));
            }
            Some(
                Entry::GaugeReadings(_)
                | Entry::Pass(_)
                | Entry::Mix(_)
                | Entry::BayAir(_)
                | Entry::Labour(_)
                | Entry::PartOff(_)
                | Entry::PartRefit(_)
                | Entry::Note(_),
            )
            | None => {}
        }
    }
    spans.sort_by_key(|span| span.applied);
    let mut kept: Vec<Span> = Vec::new();
    for span in spans.into_iter().rev() {
        let covered = kept.iter().any(|later| {
            later.what == span.what && span.panels.iter().all(|panel| later.panels.contains(panel))
        });
        if !covered {
            kept.push(span);
        }
    }
    kept.reverse();
    kept
}

impl Span {
    fn end(&self) -> Option<Timestamp> {
        [self.road, self.wash, self.full]
            .into_iter()
            .flatten()
            .max()
    }

    fn bars(&self, axis: &Axis) -> Vec<Bar> {
        let mut bars = Vec::new();
        let mut from = self.applied;
        for (kind, until) in [("dry", self.road), ("wash", self.wash), ("full", self.full)] {
            let Some(until) = until.filter(|until| *until > from) else {
                continue;
            };
            let (start, end) = (axis.at(from), axis.at(until));
            bars.push(Bar {
                kind,
                from: start,
                length: end - start,
            });
            from = until;
        }
        bars
    }
}

struct Axis {
    from: Timestamp,
    to: Timestamp,
}

impl Axis {
    fn try_new(from: Timestamp, to: Timestamp) -> Option<Self> {
        (to > from).then_some(Self { from, to })
    }

    fn at(&self, instant: Timestamp) -> f64 {
        let seconds = |duration: SignedDuration| duration.as_secs_f64();
        let whole = seconds(self.to.duration_since(self.from));
        seconds(instant.duration_since(self.from)) / whole * PARTS
    }

    fn within(&self, instant: Timestamp) -> Option<f64> {
        (self.from <= instant && instant <= self.to).then(|| self.at(instant))
    }

    /// Marks at midnights, or within a few days at every sixth hour or so.
    fn ticks(&self, zone: &TimeZone) -> Vec<Tick> {
        let hours = self.to.duration_since(self.from).as_hours() + 1;
        let step = [1, 3, 6, 12, 24, 48, 168, 336, 672, 1344]
            .into_iter()
            .find(|step| hours / step < MOST_TICKS)
            .unwrap_or(hours / MOST_TICKS + 1);
        let format = if step < 24 { "%a %H:%M" } else { "%a %-d %b" };
        let start = self.from.to_zoned_datetime(zone.clone()).start_of_day();
        let mut ticks = Vec::new();
        // The first mark may lie up to a day before the axis.
        for number in 0..=MOST_TICKS * 4 {
            // Days are added as days, so that marks stay at midnight over a
            // change of the clocks.
            let span = if step < 24 {
                (step * number).hours()
            } else {
                (step / 24 * number).days()
            };
            let Ok(mark) = start
                .as_ref()
                .map_err(|_| ())
                .and_then(|s| s.checked_add(span).map_err(|_| ()))
            else {
                break;
            };
            if let Some(at) = self.within(mark.timestamp()) {
                ticks.push(Tick {
                    at,
                    text: mark.strftime(format).to_string(),
                });
            }
        }
        ticks
    }
}

/// Rounded up to the minute: nobody is early by it.
fn shown(instant: Option<Timestamp>, view: &View) -> String {
    let Some(instant) = instant else {
        return String::new();
    };
    let proto = prost_types::Timestamp {
        seconds: instant.as_second(),
        nanos: instant.subsec_nanosecond(),
    };
    view.minute(&proto, Edge::Opens)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::view;
    use crate::units::System;

    const MONDAY_10: i64 = 1_772_442_000;

    fn time(hours: i64) -> Option<prost_types::Timestamp> {
        Some(prost_types::Timestamp {
            seconds: MONDAY_10 + hours * 3_600,
            nanos: 0,
        })
    }

    fn coat(at_hours: i64, panels: &[&str], due: &[(Kind, i64)]) -> v1::Record {
        let milestones = due.iter().map(|(kind, hours)| v1::CureMilestone {
            kind: (*kind).into(),
            due_time: time(at_hours + hours),
            ..Default::default()
        });
        v1::Record {
            record_time: time(at_hours),
            entry: Some(Entry::CoatLayer(v1::CoatLayer {
                panels: panels.iter().map(|p| (*p).to_owned()).collect(),
                coating: Some(v1::Coating {
                    product: "coating".to_owned(),
                    ..Default::default()
                }),
                milestones: milestones.collect(),
                ..Default::default()
            })),
            ..Default::default()
        }
    }

    const DUE: [(Kind, i64); 3] = [(Kind::Dry, 10), (Kind::Wash, 50), (Kind::FullCure, 98)];

    #[test]
    fn the_last_layer_counts_and_its_stretches_follow_each_other() {
        let records = [coat(0, &["hood"], &DUE), coat(2, &["hood", "roof"], &DUE)];
        let view = view(System::Metric);
        let timeline = timeline(&records, &v1::Vehicle::default(), &view).unwrap();
        assert_eq!(timeline.rows.len(), 1);
        // 12:00, and 10, 50 and 98 hours later.
        assert_eq!(timeline.road, "Mon 2026-03-02 22:00");
        assert_eq!(timeline.wash, "Wed 2026-03-04 14:00");
        assert_eq!(timeline.full, "Fri 2026-03-06 14:00");
        let bars = &timeline.rows[0].bars;
        for (bar, end_hours) in bars.iter().zip([10.0, 50.0, 98.0]) {
            let end = (bar.from + bar.length) / 1_000.0 * 98.0;
            assert!((end - end_hours).abs() < 1e-9, "{end} h");
        }
        assert_eq!(bars.len(), 3);
        assert!(bars[0].from.abs() < 1e-9);
        // From Monday noon to Friday 14:00 there are four midnights.
        let ticks: Vec<&str> = timeline
            .ticks
            .iter()
            .map(|tick| tick.text.as_str())
            .collect();
        assert_eq!(ticks, ["Tue 3 Mar", "Wed 4 Mar", "Thu 5 Mar", "Fri 6 Mar"]);
        assert_eq!(timeline.now, None, "09:15 is before it");
    }

    #[test]
    fn without_anything_that_cures_there_is_none() {
        let view = view(System::Metric);
        assert!(timeline(&[], &v1::Vehicle::default(), &view).is_none());
        let records = [coat(0, &["hood"], &[])];
        assert!(timeline(&records, &v1::Vehicle::default(), &view).is_none());
    }

    #[test]
    fn marks_never_crowd() {
        let zone = TimeZone::get("Europe/Berlin").unwrap();
        let from = Timestamp::from_second(MONDAY_10).unwrap();
        for hours in [1, 5, 11, 30, 75, 170, 400, 1_000, 9_999] {
            let to = from + SignedDuration::from_hours(hours);
            let ticks = Axis::try_new(from, to).unwrap().ticks(&zone).len();
            assert!((1..=7).contains(&ticks), "{ticks} marks in {hours} h");
        }
    }
}
