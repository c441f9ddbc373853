//! One spot after the other through a panel's history.

use std::collections::HashMap;

use super::Topcoat;
use super::assess::counts;
use super::belief::Belief;
use super::cautions;
use super::layers::{ClearEstimate, Layer, LayerKind, MOST_SURPRISE, default_layers};
use super::readings::{LEAST_SPREAD_UM, Readings, SpotReadings, SpotStats, pooled};
use super::suspicion::made_limits_um;
use super::trace::{
    BETWEEN_VISITS_UM, EXPECTED_PASS_SHARE, MAX_SPOTS, MEASURED_PASS_UM, PanelEvent, PanelHistory,
    ReadStanding, TraceStep,
};
use super::uncertainty::{Component, GaugeSpec};
use crate::caution::{COMMON_PRACTICE, Caution, CautionCode, Severity};

/// What came of one spot.
pub(crate) struct SpotTrace {
    pub(crate) spot: String,
    /// What is left here; absent where it cannot be told.
    pub(crate) left: Option<SpotLeft>,
}

/// What is left at one spot, and what came off it, um.
pub(crate) struct SpotLeft {
    pub(crate) clear: ClearEstimate,
    /// Removal in all: mean and standard uncertainty.
    pub(crate) removed_um: (f64, f64),
}

/// A history being worked out.
pub(crate) struct Work<'a> {
    history: &'a PanelHistory,
    pub(crate) readable: bool,
    pub(crate) steps: Vec<TraceStep>,
    /// Random error of each read's mean, um; 0 for other events.
    noise_um: Vec<f64>,
    /// Place of each gauge in the state; gauges beyond those have their fixed error counted as random.
    gauges: HashMap<&'a str, usize>,
    gauge_um: f64,
    clear: Layer,
    /// Mean and standard deviation of the layers below the clear coat, um.
    below: (f64, f64),
}

/// Most gauges whose fixed errors are followed.
const MOST_GAUGES: usize = 8;

impl<'a> Work<'a> {
    /// Figures of every event by itself.
    pub(crate) fn new(history: &'a PanelHistory, gauge: &GaugeSpec) -> Self {
        let layers = history
            .layers
            .clone()
            .unwrap_or_else(|| default_layers(history.substrate));
        let clear = layers
            .iter()
            .find(|layer| layer.kind == LayerKind::Clear)
            .copied();
        let clear = clear.unwrap_or(Layer {
            kind: LayerKind::Clear,
            mean_um: 0.0,
            sd_um: 0.0,
        });
        let lower = || layers.iter().filter(|layer| layer.kind != LayerKind::Clear);
        let below_um: f64 = lower().map(|layer| layer.mean_um).sum();
        let below_variance: f64 = lower().map(|layer| layer.sd_um.powi(2)).sum();
        let mut work = Self {
            history,
            readable: counts(gauge, history.substrate),
            steps: Vec::new(),
            noise_um: Vec::new(),
            gauges: HashMap::new(),
            gauge_um: gauge.limit_standard_um(below_um + clear.mean_um),
            clear,
            below: (below_um, below_variance.sqrt()),
        };
        let stats: Vec<Option<SpotStats>> = history
            .events
            .iter()
            .map(|event| stats(event, gauge))
            .collect();
        let within = pooled(stats.iter().flatten());
        for (event, stats) in history.events.iter().zip(&stats) {
            work.note(event, stats.as_ref(), within, gauge);
        }
        work
    }

    fn note(
        &mut self,
        event: &'a PanelEvent,
        stats: Option<&SpotStats>,
        within: Option<Component>,
        gauge: &GaugeSpec,
    ) {
        let mut noise_um = 0.0;
        let step = match (event, stats) {
            (PanelEvent::Read { gauge: name, .. }, Some(stats)) => {
                let next = self.gauges.len();
                if next < MOST_GAUGES {
                    self.gauges.entry(name.as_str()).or_insert(next);
                }
                let type_a = stats.type_a(within);
                noise_um = type_a
                    .map_or(LEAST_SPREAD_UM, |part| part.standard)
                    .hypot(gauge.resolution_standard_um());
                if !self.gauges.contains_key(name.as_str()) {
                    noise_um = noise_um.hypot(self.gauge_um);
                }
                let standing = if self.readable {
                    ReadStanding::Counted
                } else {
                    ReadStanding::NotReadable
                };
                TraceStep::Read {
                    mean_um: stats.mean_um,
                    uncertainty: gauge.uncertainty(stats.mean_um, type_a),
                    standing,
                }
            }
            (
                PanelEvent::Pass {
                    removal_um,
                    expected_um,
                },
                _,
            ) => TraceStep::Pass {
                removal_um: removal_um.unwrap_or(*expected_um),
                standard_um: match removal_um {
                    Some(_) => MEASURED_PASS_UM,
                    None => EXPECTED_PASS_SHARE * expected_um,
                },
                measured: removal_um.is_some(),
            },
            (PanelEvent::Read { .. } | PanelEvent::Visit | PanelEvent::Film, _) => TraceStep::Noted,
        };
        self.steps.push(step);
        self.noise_um.push(noise_um);
    }

    /// The spots that were read, those read last first, at most [`MAX_SPOTS`].
    pub(crate) fn spots(&self) -> Vec<String> {
        let mut seen = std::collections::HashSet::new();
        let spots = self
            .history
            .events
            .iter()
            .rev()
            .filter_map(|event| match event {
                PanelEvent::Read { spot, .. } => Some(spot),
                PanelEvent::Visit | PanelEvent::Pass { .. } | PanelEvent::Film => None,
            });
        spots
            .filter(|spot| seen.insert(spot.as_str()))
            .take(MAX_SPOTS)
            .cloned()
            .collect()
    }

    /// Takes one spot through everything that happened.
    pub(crate) fn follow(&mut self, name: &str) -> SpotTrace {
        let (clear, below) = ((self.clear.mean_um, self.clear.sd_um), self.below);
        let mut belief = Belief::new(clear, below, self.gauges.len(), self.gauge_um);
        let mut counted = false;
        let mut explained = self.readable;
        let mut film = false;
        let mut surprise = 0.0;
        let history = self.history;
        for (index, event) in history.events.iter().enumerate() {
            match event {
                // The first visit is where the history begins.
                PanelEvent::Visit if index == 0 => {}
                PanelEvent::Visit => belief.remove(0.0, BETWEEN_VISITS_UM),
                PanelEvent::Film => film = true,
                PanelEvent::Pass { .. } => {
                    if let Some(TraceStep::Pass {
                        removal_um,
                        standard_um,
                        ..
                    }) = self.steps.get(index)
                    {
                        belief.remove(*removal_um, *standard_um);
                    }
                }
                PanelEvent::Read { spot, gauge, .. } if spot == name && self.readable => {
                    let gauge = self.gauges.get(gauge.as_str()).copied();
                    let noise_um = self.noise_um.get(index).copied().unwrap_or_default();
                    let Some(TraceStep::Read {
                        mean_um, standing, ..
                    }) = self.steps.get_mut(index)
                    else {
                        continue;
                    };
                    let expected = belief.expected(gauge, noise_um);
                    let away_um = *mean_um - expected.total_um;
                    surprise = away_um / expected.sd_um.max(f64::MIN_POSITIVE);
                    let (_, thick_um) = made_limits_um(history.substrate);
                    *standing = if film && (surprise > MOST_SURPRISE || !counted) {
                        ReadStanding::OverFilm
                    } else if surprise > MOST_SURPRISE || *mean_um > thick_um {
                        ReadStanding::Unexplained
                    } else if surprise < -MOST_SURPRISE && counted {
                        ReadStanding::Unrecorded
                    } else if surprise < -MOST_SURPRISE {
                        ReadStanding::Unexplained
                    } else {
                        ReadStanding::Counted
                    };
                    match *standing {
                        ReadStanding::Counted => {
                            belief.observe(gauge, *mean_um, noise_um);
                            counted = true;
                        }
                        // All that is missing is taken off the clear coat, as uncertain as the
                        // reading was expected to be.
                        ReadStanding::Unrecorded => belief.remove(-away_um, expected.sd_um),
                        ReadStanding::Unexplained => explained = false,
                        ReadStanding::OverFilm | ReadStanding::NotReadable => {}
                    }
                }
                PanelEvent::Read { .. } => {}
            }
        }
        let (mean_um, sd_um) = belief.clear_um();
        let left = (explained && counted).then(|| SpotLeft {
            clear: ClearEstimate::of(mean_um, sd_um, surprise),
            removed_um: belief.removed_um(),
        });
        SpotTrace {
            spot: name.to_owned(),
            left,
        }
    }

    /// What to look out for, from all of it.
    pub(crate) fn cautions(&self, budget_um: Option<f64>, floor_um: f64) -> Vec<Caution> {
        let mut found = Vec::new();
        let history = self.history;
        let name = &history.panel;
        cautions::topcoat(name, history.topcoat, &mut found);
        let gauge = history.gauge.clone().unwrap_or_default();
        cautions::substrate(name, history.substrate, &gauge, self.readable, &mut found);
        if budget_um.is_some_and(|budget_um| budget_um <= 0.0) {
            found.push(cautions::spent(name, floor_um));
        }
        let standing = |wanted: ReadStanding| {
            self.steps
                .iter()
                .any(|step| matches!(step, TraceStep::Read { standing, .. } if *standing == wanted))
        };
        let assumed = self.steps.iter().any(|step| {
            matches!(
                step,
                TraceStep::Pass {
                    measured: false,
                    ..
                }
            )
        });
        let mut say = |holds: bool, code, severity, text: &str| {
            if holds {
                let text = format!("Panel {name}: {text}");
                found.push(Caution {
                    code,
                    severity,
                    text,
                    basis: COMMON_PRACTICE,
                });
            }
        };
        say(
            standing(ReadStanding::Unexplained),
            CautionCode::ReadingUnexplained,
            Severity::Warning,
            "a reading is not explained by the layers assumed and what is recorded, as after a \
             refinish; take the clear coat as unknown, or state the car's own layers.",
        );
        say(
            standing(ReadStanding::Unrecorded),
            CautionCode::RemovalUnrecorded,
            Severity::Warning,
            "a reading is thinner than all that is recorded explains; the rest is counted as clear \
             coat that somebody removed without writing it down.",
        );
        say(
            standing(ReadStanding::OverFilm),
            CautionCode::ReadingOverFilm,
            Severity::Caution,
            "readings after film was laid include the film and do not count.",
        );
        say(
            assumed,
            CautionCode::RemovalAssumed,
            Severity::Caution,
            "passes without a measured removal are counted with what such a setup is expected to \
             take, give or take half.",
        );
        let counted = standing(ReadStanding::Counted);
        say(
            counted,
            CautionCode::HistoryBegins,
            Severity::Info,
            "what was polished off before the first reading on record is not known.",
        );
        say(
            self.readable && !counted && history.topcoat != Topcoat::Unpainted,
            CautionCode::ThicknessUnknown,
            Severity::Warning,
            "no reading that counts is on record, so the clear coat is unknown.",
        );
        found
    }
}

fn stats(event: &PanelEvent, gauge: &GaugeSpec) -> Option<SpotStats> {
    match event {
        PanelEvent::Read {
            spot, readings_um, ..
        } => {
            let readings = Readings::Um(readings_um.clone());
            let spot = SpotReadings {
                spot: spot.clone(),
                readings,
            };
            Some(SpotStats::of(&spot, gauge.resolution_um))
        }
        PanelEvent::Visit | PanelEvent::Pass { .. } | PanelEvent::Film => None,
    }
}
