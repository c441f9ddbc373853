//! The stated ranges of readings, gauges and layers, checked all at once.

use std::collections::HashSet;

use super::layers::{Layer, LayerKind};
use super::readings::{MAX_READINGS, Readings, SpotReadings, UM_PER_MIL};
use super::uncertainty::GaugeSpec;
use crate::gauge::MAX_READING_UM;
use crate::violation::Checks;

/// Most spots of one panel.
pub(crate) const MAX_SPOTS: usize = 100;
/// Most readings in one request.
pub(crate) const MAX_TOTAL_READINGS: usize = 20_000;
/// Bad readings, spots or panels named before the rest goes unsaid; a violation is looked up among
/// those found before it, so thousands of them would take time that no caller gains from.
const MOST_NAMED: usize = 50;

/// The unit of readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Unit {
    Um,
    Mil,
}

/// Notes what is wrong with the readings of a whole request.
#[derive(Debug, Default)]
pub(crate) struct ReadingChecks {
    unit: Option<Unit>,
    total: usize,
    named: usize,
}

impl ReadingChecks {
    /// Checks the spots of one panel; `path` is the list's, for example `panels[0].spots`.
    pub(crate) fn spots(&mut self, spots: &[SpotReadings], path: &str, checks: &mut Checks) {
        checks.require(spots.len() <= MAX_SPOTS, path, || {
            format!("must have at most {MAX_SPOTS} spots, got {}", spots.len())
        });
        let mut seen = HashSet::new();
        for (index, spot) in spots.iter().take(MAX_SPOTS).enumerate() {
            let at = |field: &str| format!("{path}[{index}].{field}");
            let length = spot.spot.chars().count();
            if length > 200 {
                self.note(checks, at("spot"), || {
                    format!("must have at most 200 characters, got {length}")
                });
            }
            if !seen.insert(spot.spot.as_str()) {
                self.note(checks, at("spot"), || {
                    "names the same spot a second time".to_owned()
                });
            }
            self.readings(&spot.readings, &at, checks);
        }
    }

    /// Checks that there were not too many readings in all; `field` is the list that holds them.
    pub(crate) fn total(&self, field: &str, checks: &mut Checks) {
        checks.require(self.total <= MAX_TOTAL_READINGS, field, || {
            format!(
                "must hold at most {MAX_TOTAL_READINGS} readings in all, got {}",
                self.total
            )
        });
    }

    fn readings(&mut self, readings: &Readings, at: &impl Fn(&str) -> String, checks: &mut Checks) {
        let (list, field, unit, name, factor) = match readings {
            Readings::Um(list) => (list, "readings_um", Unit::Um, "um", 1.0),
            Readings::Mil(list) => (list, "readings_mil", Unit::Mil, "mil", UM_PER_MIL),
        };
        self.total = self.total.saturating_add(list.len());
        if list.is_empty() || list.len() > MAX_READINGS {
            self.note(checks, at(field), || {
                format!("must have 1 to {MAX_READINGS} readings, got {}", list.len())
            });
        }
        if *self.unit.get_or_insert(unit) != unit {
            self.note(checks, at(field), || {
                "must be in the same unit as the readings before: all readings_um or all \
                 readings_mil"
                    .to_owned()
            });
        }
        let highest = MAX_READING_UM / factor;
        for (index, reading) in list.iter().take(MAX_READINGS).enumerate() {
            // Too many readings are refused anyhow; what is wrong with the rest is not looked for.
            if self.named >= MOST_NAMED || self.total > MAX_TOTAL_READINGS {
                return;
            }
            if !(0.0..=highest).contains(reading) {
                self.note(checks, at(&format!("{field}[{index}]")), || {
                    format!("must be 0 to {highest:.0} {name}, got {reading}")
                });
            }
        }
    }

    fn note(&mut self, checks: &mut Checks, field: String, message: impl FnOnce() -> String) {
        if self.named < MOST_NAMED {
            self.named += 1;
            checks.require(false, field, message);
        }
    }
}

/// Checks a gauge under `path`.
pub(crate) fn gauge(gauge: &GaugeSpec, path: &str, checks: &mut Checks) {
    let at = |field: &str| format!("{path}.{field}");
    checks.in_range(at("limit_um"), gauge.limit_um, 0.0, 1000.0, "um");
    checks.in_range(
        at("limit_percent"),
        gauge.limit_percent,
        0.0,
        100.0,
        "percent",
    );
    checks.in_range(at("resolution_um"), gauge.resolution_um, 0.0, 100.0, "um");
}

/// Checks layers under `layers`: each kind once, one of them clear coat.
pub(crate) fn layers(layers: &[Layer], checks: &mut Checks) {
    let clears = layers
        .iter()
        .filter(|layer| layer.kind == LayerKind::Clear)
        .count();
    checks.require(clears > 0, "layers", || "must have a clear coat".to_owned());
    checks.require(layers.len() <= 4, "layers", || {
        format!("must have at most 4 layers, got {}", layers.len())
    });
    for (index, layer) in layers.iter().take(4).enumerate() {
        let at = |field: &str| format!("layers[{index}].{field}");
        let first = layers.iter().position(|other| other.kind == layer.kind) == Some(index);
        checks.require(first, at("kind"), || {
            "is a layer that was given before".to_owned()
        });
        checks.above(at("mean_um"), layer.mean_um, 0.0, 2000.0, "um");
        checks.above(at("sd_um"), layer.sd_um, 0.0, 500.0, "um");
    }
}

/// Checks the clear coat that must stay.
pub(crate) fn floor(floor_um: Option<f64>, checks: &mut Checks) {
    checks.optional_in_range("floor_um", floor_um, 0.0, 1000.0, "um");
}
