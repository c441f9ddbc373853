//! The panels of a car from their readings: figures with uncertainty, signs of
//! earlier work, the clear coat and what may be taken off it.
//!
//! Every spot gets a clear coat of its own; the thinnest governs the panel, since
//! paint is burnt through where it is thinnest, not on average.

use super::Topcoat;
use super::acceptance::{Acceptance, Target};
use super::cautions;
use super::check::{self, ReadingChecks};
use super::layers::{ClearEstimate, Layer, Removed, clear_given, default_layers};
use super::readings::{SpotReadings, SpotStats, as_f64, mean_and_sd, median, pooled, robust_sd};
use super::suspicion::{self, Sign, Suspicion};
use super::uncertainty::{Component, GaugeSpec, Uncertainty};
use crate::advice::limits::DEFAULT_FLOOR_UM;
use crate::caution::Caution;
use crate::error::CalcError;
use crate::gauge::{GaugePrinciple, Substrate, readable_by};
use crate::violation::Checks;

/// Panels to judge.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AssessInput {
    /// The panels, 1 to [`MAX_PANELS`], each name once; at most 20 000 readings in all.
    pub panels: Vec<PanelReadings>,
    /// The gauge; absent: [`GaugeSpec::default`].
    pub gauge: Option<GaugeSpec>,
    /// The total thickness asked for.
    pub target: Option<Target>,
    /// The layers as made, each kind once and one of them clear coat; absent:
    /// [`default_layers`] by substrate.
    pub layers: Option<Vec<Layer>>,
    /// Clear coat that must stay, um, 0 to 1000; absent: [`DEFAULT_FLOOR_UM`].
    pub floor_um: Option<f64>,
}

/// Readings of one panel.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PanelReadings {
    /// Its name, 1 to 200 characters.
    pub panel: String,
    /// What it is made of.
    pub substrate: Substrate,
    /// Its outermost layer.
    pub topcoat: Topcoat,
    /// Readings by spot, at most 100 spots; none: only what could read it is said.
    pub spots: Vec<SpotReadings>,
    /// Clear coat taken off before these readings, as far as it is known.
    pub removed: Removed,
}

/// The panels, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct AssessResult {
    /// One for each panel, in the order given.
    pub panels: Vec<PanelAssessment>,
    /// The gauge used.
    pub gauge: GaugeSpec,
    /// The floor used, um.
    pub floor_um: f64,
    /// The model, in words.
    pub model: &'static str,
}

/// One panel, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelAssessment {
    /// Its name.
    pub panel: String,
    /// What it is made of.
    pub substrate: Substrate,
    /// Gauge principles that read it; none when the material is unknown.
    pub readable_by: &'static [GaugePrinciple],
    /// Whether the readings count: the gauge reads this material as far as is known.
    pub readable: bool,
    /// The spots, in the order given.
    pub spots: Vec<SpotResult>,
    /// Figures over all spots; absent without readings.
    pub total: Option<PanelTotal>,
    /// Against the target; absent without one, or without readings that count.
    pub acceptance: Option<Acceptance>,
    /// What the signs come to.
    pub suspicion: Suspicion,
    /// The signs.
    pub signs: Vec<Sign>,
    /// The layers used.
    pub layers: Vec<Layer>,
    /// Clear coat at the spot that governs; absent where it cannot be told.
    pub clear: Option<ClearEstimate>,
    /// The spot that governs.
    pub governing_spot: Option<String>,
    /// What may be removed so that the floor stays with 95 % confidence, um.
    pub budget_um: Option<f64>,
    /// What to look out for, gravest first.
    pub cautions: Vec<Caution>,
}

/// One spot, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotResult {
    /// Its figures.
    pub stats: SpotStats,
    /// Uncertainty of its mean.
    pub uncertainty: Uncertainty,
    /// Clear coat here; absent where it cannot be told.
    pub clear: Option<ClearEstimate>,
}

/// A panel over all its spots, um.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PanelTotal {
    /// Mean of the spots' means.
    pub mean_um: f64,
    /// Uncertainty of that mean as the panel's.
    pub uncertainty: Uncertainty,
    /// Median of the spots' means.
    pub median_um: f64,
    /// 1.4826 times their median absolute deviation; absent for one spot.
    pub robust_sd_um: Option<f64>,
    /// Smallest spot mean.
    pub min_um: f64,
    /// Largest spot mean.
    pub max_um: f64,
}

/// Most panels in one request.
pub const MAX_PANELS: usize = 200;

const MODEL: &str = "spot means; GUM uncertainty (type A, rectangular limit, resolution); \
                     independent normal layers conditioned on the total reading; the thinnest spot \
                     governs";

/// Judges panels from their readings; see the module's text and [`clear_given`] for the formulas.
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range, a panel or spot given twice, readings in
/// two units, layers without a clear coat; paths as in `AssessPaintRequest`.
pub fn assess(input: &AssessInput) -> Result<AssessResult, CalcError> {
    check(input)?;
    let gauge = input.gauge.clone().unwrap_or_default();
    let floor_um = input.floor_um.unwrap_or(DEFAULT_FLOOR_UM);
    let mut panels: Vec<PanelAssessment> = input
        .panels
        .iter()
        .map(|panel| figures(panel, &gauge, input))
        .collect();
    for index in 0..panels.len() {
        let others_um = others(&panels, index);
        if let (Some(of), Some(panel)) = (input.panels.get(index), panels.get_mut(index)) {
            judge(panel, of, &others_um, floor_um);
            panel.cautions = cautions::panel(panel, of, &gauge, floor_um);
        }
    }
    Ok(AssessResult {
        panels,
        gauge,
        floor_um,
        model: MODEL,
    })
}

/// Whether readings of this gauge count on this substrate. Metal is taken to be read by a gauge that
/// says nothing of its principle; composite and plastic are not, since the usual gauge shows the
/// distance to whatever metal lies behind them.
pub(crate) fn counts(gauge: &GaugeSpec, substrate: Substrate) -> bool {
    let fitting = readable_by(substrate);
    match substrate {
        Substrate::Unknown => true,
        Substrate::Steel | Substrate::Aluminium if gauge.principles.is_empty() => true,
        Substrate::Steel | Substrate::Aluminium | Substrate::Composite | Substrate::Plastic => {
            gauge
                .principles
                .iter()
                .any(|principle| fitting.contains(principle))
        }
    }
}

fn check(input: &AssessInput) -> Result<(), CalcError> {
    let mut checks = Checks::new();
    let count = input.panels.len();
    checks.require((1..=MAX_PANELS).contains(&count), "panels", || {
        format!("must have 1 to {MAX_PANELS} panels, got {count}")
    });
    let mut seen = std::collections::HashSet::new();
    let mut readings = ReadingChecks::default();
    for (index, panel) in input.panels.iter().take(MAX_PANELS).enumerate() {
        let at = |field: &str| format!("panels[{index}].{field}");
        let length = panel.panel.chars().count();
        let named = (1..=200).contains(&length) && !panel.panel.trim().is_empty();
        checks.require(named, at("panel"), || {
            format!("must have 1 to 200 characters and not be blank, got {length}")
        });
        checks.require(seen.insert(panel.panel.as_str()), at("panel"), || {
            "names the same panel a second time".to_owned()
        });
        let Removed {
            removed_um,
            standard_um,
        } = panel.removed;
        checks.in_range(at("removed_um"), removed_um, 0.0, 500.0, "um");
        checks.in_range(at("removed_standard_um"), standard_um, 0.0, 500.0, "um");
        readings.spots(&panel.spots, &at("spots"), &mut checks);
    }
    readings.total("panels", &mut checks);
    if let Some(gauge) = &input.gauge {
        check::gauge(gauge, "gauge", &mut checks);
    }
    if let Some(target) = input.target {
        target.check(&mut checks);
    }
    if let Some(layers) = &input.layers {
        check::layers(layers, &mut checks);
    }
    check::floor(input.floor_um, &mut checks);
    checks.finish()
}

/// Everything that needs this panel alone.
fn figures(of: &PanelReadings, gauge: &GaugeSpec, input: &AssessInput) -> PanelAssessment {
    let stats: Vec<SpotStats> = of
        .spots
        .iter()
        .map(|spot| SpotStats::of(spot, gauge.resolution_um))
        .collect();
    let within = pooled(&stats);
    let readable = counts(gauge, of.substrate);
    let total = total(&stats, within, gauge);
    let means: Vec<(f64, usize)> = stats.iter().map(|spot| (spot.mean_um, spot.used)).collect();
    let target = input.target.filter(|_| readable);
    PanelAssessment {
        panel: of.panel.clone(),
        substrate: of.substrate,
        readable_by: readable_by(of.substrate),
        readable,
        acceptance: target
            .zip(total)
            .map(|(target, total)| target.judge(&means, total.mean_um)),
        total,
        spots: stats
            .into_iter()
            .map(|stats| SpotResult {
                uncertainty: gauge.uncertainty(stats.mean_um, stats.type_a(within)),
                stats,
                clear: None,
            })
            .collect(),
        suspicion: Suspicion::NotJudged,
        signs: Vec::new(),
        layers: input
            .layers
            .clone()
            .unwrap_or_else(|| default_layers(of.substrate)),
        clear: None,
        governing_spot: None,
        budget_um: None,
        cautions: Vec::new(),
    }
}

fn total(spots: &[SpotStats], within: Option<Component>, gauge: &GaugeSpec) -> Option<PanelTotal> {
    let means: Vec<f64> = spots.iter().map(|spot| spot.mean_um).collect();
    let first = spots.first()?;
    let (mean_um, sd_um) = mean_and_sd(&means);
    let n = as_f64(means.len());
    // Between spots the paint itself differs, and that is the panel's spread.
    let type_a = match sd_um {
        Some(sd_um) => Some(Component {
            standard: sd_um / n.sqrt(),
            degrees_of_freedom: Some(n - 1.0),
        }),
        None => first.type_a(within),
    };
    let median_um = median(&means);
    Some(PanelTotal {
        mean_um,
        uncertainty: gauge.uncertainty(mean_um, type_a),
        median_um,
        robust_sd_um: (means.len() > 1).then(|| robust_sd(&means, median_um)),
        min_um: means.iter().copied().fold(f64::INFINITY, f64::min),
        max_um: means.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    })
}

/// Means of the other panels that this one may be compared with: metal with metal, the rest among
/// themselves.
fn others(panels: &[PanelAssessment], index: usize) -> Vec<f64> {
    let dipped = |panel: &PanelAssessment| match panel.substrate {
        Substrate::Steel | Substrate::Aluminium | Substrate::Unknown => true,
        Substrate::Composite | Substrate::Plastic => false,
    };
    let Some(kind) = panels.get(index).map(dipped) else {
        return Vec::new();
    };
    (0..)
        .zip(panels)
        .filter(|(other, panel)| *other != index && panel.readable && dipped(panel) == kind)
        .filter_map(|(_, panel)| Some(panel.total?.mean_um))
        .collect()
}

/// Signs, clear coat and budget, for a panel whose readings count.
fn judge(panel: &mut PanelAssessment, of: &PanelReadings, others_um: &[f64], floor_um: f64) {
    let Some(total) = panel.total.filter(|_| panel.readable) else {
        return;
    };
    if of.topcoat == Topcoat::Unpainted {
        return;
    }
    let means: Vec<(&str, f64)> = panel
        .spots
        .iter()
        .map(|spot| (spot.stats.spot.as_str(), spot.stats.mean_um))
        .collect();
    panel.signs = suspicion::signs(panel.substrate, total.mean_um, &means, others_um);
    panel.suspicion = suspicion::worst(&panel.signs);
    let clear_coated = match of.topcoat {
        Topcoat::Clear | Topcoat::Matt => true,
        Topcoat::SingleStage | Topcoat::Unpainted => false,
    };
    if !clear_coated
        || panel.substrate == Substrate::Unknown
        || !panel.suspicion.leaves_layers_as_made()
    {
        return;
    }
    for spot in &mut panel.spots {
        let standard_um = spot.uncertainty.standard_um;
        let clear = clear_given(&panel.layers, spot.stats.mean_um, standard_um, of.removed);
        spot.clear = clear.is_explained().then_some(clear);
    }
    // One spot that the layers do not explain leaves the whole panel unknown.
    let known: Option<Vec<(&SpotResult, ClearEstimate)>> = panel
        .spots
        .iter()
        .map(|spot| Some((spot, spot.clear?)))
        .collect();
    let thinnest = known
        .unwrap_or_default()
        .into_iter()
        .min_by(|a, b| a.1.at_least_um.total_cmp(&b.1.at_least_um));
    if let Some((spot, clear)) = thinnest {
        panel.governing_spot = Some(spot.stats.spot.clone());
        panel.clear = Some(clear);
        panel.budget_um = (of.topcoat == Topcoat::Clear).then(|| clear.budget_um(floor_um));
    }
}
