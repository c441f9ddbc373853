//! Rounds of readings, and what came off between them.

use super::readings::{MAX_READINGS, Readings, SpotReadings};
use super::removal::{RemovalInput, measure_removal};
use super::trace::{Compared, PanelEvent, ReadStanding, TraceStep};
use super::uncertainty::GaugeSpec;

/// Readings of a panel with nothing in between.
#[derive(Default)]
struct Round<'a> {
    spots: Vec<(&'a str, Vec<f64>)>,
    gauges: Vec<&'a str>,
    last_event: usize,
}

/// Most spots compared in a round, as in a removal.
const MOST_SPOTS: usize = 100;

/// Removal between each round and the next that shares a spot with it.
pub(crate) fn compare(
    events: &[PanelEvent],
    steps: &[TraceStep],
    gauge: &GaugeSpec,
) -> Vec<Compared> {
    let mut compared = Vec::new();
    let mut before: Option<Round<'_>> = None;
    let mut now = Round::default();
    // Passes since the round before.
    let mut passes = 0;
    for (index, (event, step)) in events.iter().zip(steps).enumerate() {
        match event {
            PanelEvent::Read {
                spot,
                gauge: name,
                readings_um,
            } => {
                let TraceStep::Read { standing, .. } = step else {
                    continue;
                };
                match standing {
                    ReadStanding::Counted | ReadStanding::Unrecorded => {
                        now.add(index, spot, name, readings_um);
                    }
                    ReadStanding::NotReadable
                    | ReadStanding::OverFilm
                    | ReadStanding::Unexplained => {}
                }
            }
            PanelEvent::Pass { .. } | PanelEvent::Visit | PanelEvent::Film => {
                if !now.spots.is_empty() {
                    compared.extend(before.and_then(|before| before.to(&now, passes, gauge)));
                    before = Some(std::mem::take(&mut now));
                    passes = 0;
                }
                passes += usize::from(matches!(event, PanelEvent::Pass { .. }));
            }
        }
    }
    compared.extend(before.and_then(|before| before.to(&now, passes, gauge)));
    compared
}

impl<'a> Round<'a> {
    fn add(&mut self, event: usize, spot: &'a str, gauge: &'a str, readings_um: &[f64]) {
        self.last_event = event;
        if !self.gauges.contains(&gauge) {
            self.gauges.push(gauge);
        }
        if let Some((_, list)) = self.spots.iter_mut().find(|(name, _)| *name == spot) {
            // Read again in the same round: more readings of the same spot.
            list.extend(
                readings_um
                    .iter()
                    .take(MAX_READINGS.saturating_sub(list.len())),
            );
        } else if self.spots.len() < MOST_SPOTS {
            self.spots.push((spot, readings_um.to_vec()));
        }
    }

    /// What came off between this round and `after`; nothing where they share no spot.
    fn to(&self, after: &Self, passes: usize, gauge: &GaugeSpec) -> Option<Compared> {
        let input = RemovalInput {
            before: self.readings(),
            after: after.readings(),
            gauge: Some(gauge.clone()),
            two_gauges: self.gauges != after.gauges,
        };
        let result = measure_removal(&input).ok()?;
        Some(Compared {
            before_event: self.last_event,
            after_event: after.last_event,
            passes,
            result,
        })
    }

    fn readings(&self) -> Vec<SpotReadings> {
        let spot = |(spot, um): &(&str, Vec<f64>)| SpotReadings {
            spot: (*spot).to_owned(),
            readings: Readings::Um(um.clone()),
        };
        self.spots.iter().map(spot).collect()
    }
}
