//! One panel over all its visits: what is left of its clear coat.
//!
//! Each spot is a linear Gaussian state: clear coat C, the layers below it O, what
//! was removed in all R, and the fixed error of every gauge that read it. A pass
//! takes its removal from C and adds its uncertainty; a reading observes C + O +
//! error and conditions all of them at once (the Kalman update). Readings before
//! and after so correct what passes were believed to take off, and a gauge's fixed
//! error cancels between its own readings. The thinnest spot governs the panel.
//!
//! Where nothing was measured the spreads are common practice, no source.

use super::Topcoat;
use super::check;
use super::follow::{SpotLeft, SpotTrace, Work};
use super::layers::{ClearEstimate, Layer};
use super::readings::MAX_READINGS;
use super::removal::RemovalResult;
use super::rounds;
use super::uncertainty::{GaugeSpec, Uncertainty};
use crate::advice::limits::DEFAULT_FLOOR_UM;
use crate::caution::Caution;
use crate::error::CalcError;
use crate::gauge::{MAX_READING_UM, Substrate};
use crate::violation::Checks;

/// What happened to one panel, oldest first.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PanelHistory {
    /// Its name, for sentences.
    pub panel: String,
    /// What it is made of.
    pub substrate: Substrate,
    /// Its outermost layer.
    pub topcoat: Topcoat,
    /// The gauges, each of them as described; absent: [`GaugeSpec::default`].
    pub gauge: Option<GaugeSpec>,
    /// The layers as made; absent:
    /// [`default_layers`](super::layers::default_layers).
    pub layers: Option<Vec<Layer>>,
    /// Clear coat that must stay, um, 0 to 1000; absent: [`DEFAULT_FLOOR_UM`].
    pub floor_um: Option<f64>,
    /// The events, at most [`MAX_EVENTS`].
    pub events: Vec<PanelEvent>,
}

/// Something that happened to a panel.
#[derive(Debug, Clone, PartialEq)]
pub enum PanelEvent {
    /// Another visit began.
    Visit,
    /// It was read.
    Read {
        /// Where.
        spot: String,
        /// Which gauge, by its name.
        gauge: String,
        /// The readings, um, each 0 to 20 000; 1 to 500 of them.
        readings_um: Vec<f64>,
    },
    /// It was polished.
    Pass {
        /// Removal as measured, um, 0 to 500.
        removal_um: Option<f64>,
        /// Removal expected of the setup, um, 0 or more; used where none was measured.
        expected_um: f64,
    },
    /// Film was laid on it.
    Film,
}

/// A panel's history, worked out.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelTrace {
    /// What each event came to, in the order of the events.
    pub steps: Vec<TraceStep>,
    /// Removal between readings that passes or visits lie between, oldest first.
    pub compared: Vec<Compared>,
    /// Clear coat left at the spot that governs; absent where it cannot be told.
    pub left: Option<ClearEstimate>,
    /// Removed in all at that spot since it was made, as far as is recorded: mean and standard
    /// uncertainty, um.
    pub removed_um: Option<(f64, f64)>,
    /// The spot that governs.
    pub governing_spot: Option<String>,
    /// What may still be removed so that the floor stays with 95 % confidence, um.
    pub budget_um: Option<f64>,
    /// The floor used, um.
    pub floor_um: f64,
    /// The gauge used.
    pub gauge: GaugeSpec,
    /// What to look out for.
    pub cautions: Vec<Caution>,
    /// The model, in words.
    pub model: &'static str,
}

/// What an event came to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TraceStep {
    /// A visit or film: nothing to compute.
    Noted,
    /// Readings: their mean, um, its uncertainty, and whether they count.
    Read {
        /// Mean of the readings, um.
        mean_um: f64,
        /// Uncertainty of the mean.
        uncertainty: Uncertainty,
        /// What became of them.
        standing: ReadStanding,
    },
    /// A pass: removal as counted, um, its standard uncertainty, and whether it was measured.
    Pass {
        /// Removal, um.
        removal_um: f64,
        /// Its standard uncertainty, um.
        standard_um: f64,
        /// Measured, or assumed from the setup.
        measured: bool,
    },
}

/// What became of readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ReadStanding {
    /// They count.
    Counted,
    /// The gauge does not read this material, as far as is known.
    NotReadable,
    /// Taken over film: not paint alone.
    OverFilm,
    /// The layers do not explain them: refinish, or another make-up of layers.
    Unexplained,
    /// Thinner than all that is recorded explains: counted as removal that nobody wrote down.
    Unrecorded,
}

/// Removal between two rounds of readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// Index of the last event of the round before.
    pub before_event: usize,
    /// Index of the last event of the round after.
    pub after_event: usize,
    /// Passes in between.
    pub passes: usize,
    /// What came off.
    pub result: RemovalResult,
}

/// Most events in one history.
pub const MAX_EVENTS: usize = 5_000;
/// Most spots followed in one history: those read last.
pub const MAX_SPOTS: usize = 100;
/// Standard uncertainty of a removal that was written down with a pass, um. Wider than a difference
/// of two means, since the readings behind it may be in the history as well. Common practice, no source.
pub const MEASURED_PASS_UM: f64 = 1.5;
/// Standard uncertainty of a removal that is only expected, as part of it. Common practice, no source.
pub const EXPECTED_PASS_SHARE: f64 = 0.5;
/// Standard uncertainty of what happens between visits, um: washing, and work done elsewhere.
/// Common practice, no source.
pub const BETWEEN_VISITS_UM: f64 = 3.0;

/// The model, in words.
pub const MODEL: &str = "per spot: normal layers, removal by passes, readings with the gauge's fixed and \
                     random error, conditioned together (Kalman update); the thinnest spot governs";

/// Works out a panel's history.
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range.
pub fn trace(history: &PanelHistory) -> Result<PanelTrace, CalcError> {
    check_history(history)?;
    let gauge = history.gauge.clone().unwrap_or_default();
    let floor_um = history.floor_um.unwrap_or(DEFAULT_FLOOR_UM);
    let mut work = Work::new(history, &gauge);
    let spots: Vec<SpotTrace> = work.spots().iter().map(|spot| work.follow(spot)).collect();
    let known = !spots.is_empty()
        && work.readable
        && history.substrate != Substrate::Unknown
        && matches!(history.topcoat, Topcoat::Clear | Topcoat::Matt);
    // One spot that cannot be told leaves the panel unknown.
    let told: Option<Vec<(String, SpotLeft)>> = spots
        .into_iter()
        .map(|spot| Some((spot.spot, spot.left?)))
        .collect();
    let thinnest = told
        .filter(|_| known)
        .unwrap_or_default()
        .into_iter()
        .min_by(|a, b| a.1.clear.at_least_um.total_cmp(&b.1.clear.at_least_um));
    let left = thinnest.as_ref().map(|(_, left)| left.clear);
    let budget_um = left
        .filter(|_| history.topcoat == Topcoat::Clear)
        .map(|left| left.budget_um(floor_um));
    let mut result = PanelTrace {
        compared: rounds::compare(&history.events, &work.steps, &gauge),
        cautions: work.cautions(budget_um, floor_um),
        steps: work.steps,
        left,
        removed_um: thinnest.as_ref().map(|(_, left)| left.removed_um),
        governing_spot: thinnest.map(|(spot, _)| spot),
        budget_um,
        floor_um,
        gauge,
        model: MODEL,
    };
    result
        .cautions
        .sort_by_key(|caution| std::cmp::Reverse(caution.severity));
    Ok(result)
}

fn check_history(history: &PanelHistory) -> Result<(), CalcError> {
    let mut checks = Checks::new();
    let count = history.events.len();
    checks.require(count <= MAX_EVENTS, "events", || {
        format!("must be at most {MAX_EVENTS}, got {count}")
    });
    for (index, event) in history.events.iter().take(MAX_EVENTS).enumerate() {
        let at = |field: &str| format!("events[{index}].{field}");
        match event {
            PanelEvent::Visit | PanelEvent::Film => {}
            PanelEvent::Read { readings_um, .. } => {
                let count = readings_um.len();
                checks.require(
                    (1..=MAX_READINGS).contains(&count),
                    at("readings_um"),
                    || format!("must have 1 to {MAX_READINGS} readings, got {count}"),
                );
                let bad = readings_um
                    .iter()
                    .find(|um| !(0.0..=MAX_READING_UM).contains(*um));
                checks.require(bad.is_none(), at("readings_um"), || {
                    format!("must be 0 to {MAX_READING_UM} um, got {bad:?}")
                });
            }
            PanelEvent::Pass {
                removal_um,
                expected_um,
            } => {
                checks.optional_in_range(at("removal_um"), *removal_um, 0.0, 500.0, "um");
                checks.in_range(at("expected_um"), *expected_um, 0.0, 1e6, "um");
            }
        }
        if !checks.is_clean() {
            // One event at fault is enough to say: these are a program's own data.
            break;
        }
    }
    if let Some(gauge) = &history.gauge {
        check::gauge(gauge, "gauge", &mut checks);
    }
    if let Some(layers) = &history.layers {
        check::layers(layers, &mut checks);
    }
    check::floor(history.floor_um, &mut checks);
    checks.finish()
}
