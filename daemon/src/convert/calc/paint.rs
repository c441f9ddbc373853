//! Paint thickness: panels and removal.

use lamella_calc::gauge::GaugePrinciple;
use lamella_calc::paint::assess::MAX_PANELS;
use lamella_calc::paint::{
    AssessInput, AssessResult, ClearEstimate, GaugeSpec, Layer, LayerKind, OddReading,
    PanelAssessment, PanelReadings, Readings, RemovalInput, RemovalResult, RemovalVerdict, Removed,
    Sign, SpotReadings, SpotResult, Suspicion, Target, Topcoat, Uncertainty, Verdict,
};
use lamella_calc::violation::Checks;
use lamella_jobs::vehicle::Finish;
use lamella_proto::v1;

use super::super::{caution, required, vehicle};

/// Most principles of one gauge: there are three.
const MOST_PRINCIPLES: usize = 3;

pub(crate) fn assess_from_pb(request: &v1::AssessPaintRequest, checks: &mut Checks) -> AssessInput {
    let target = match (request.target_min_um, request.target_max_um) {
        (None, None) => None,
        (min_um, max_um) => Some(Target {
            min_um: required(min_um, "target_min_um", checks),
            max_um: required(max_um, "target_max_um", checks),
        }),
    };
    let count = request.panels.len();
    checks.require(count <= MAX_PANELS, "panels", || {
        format!("must have 1 to {MAX_PANELS} panels, got {count}")
    });
    AssessInput {
        panels: (0..MAX_PANELS)
            .zip(&request.panels)
            .map(|(index, panel)| panel_from_pb(panel, &format!("panels[{index}]"), checks))
            .collect(),
        gauge: request
            .gauge
            .as_ref()
            .map(|gauge| gauge_from_pb(gauge, checks)),
        target,
        layers: layers_from_pb(&request.layers, checks),
        floor_um: request.floor_um,
    }
}

pub(crate) fn assess_to_pb(result: &AssessResult) -> v1::AssessPaintResponse {
    v1::AssessPaintResponse {
        panels: result.panels.iter().map(panel_to_pb).collect(),
        gauge: Some(gauge_to_pb(&result.gauge)),
        floor_um: result.floor_um,
        model: result.model.to_owned(),
    }
}

pub(crate) fn removal_from_pb(
    request: &v1::MeasureRemovalRequest,
    checks: &mut Checks,
) -> RemovalInput {
    RemovalInput {
        before: spots_from_pb(&request.before, "before", checks),
        after: spots_from_pb(&request.after, "after", checks),
        gauge: request
            .gauge
            .as_ref()
            .map(|gauge| gauge_from_pb(gauge, checks)),
        two_gauges: request.two_gauges,
    }
}

pub(crate) fn removal_to_pb(result: &RemovalResult) -> v1::MeasureRemovalResponse {
    v1::MeasureRemovalResponse {
        removal_um: result.removal_um,
        uncertainty: Some(uncertainty_to_pb(&result.uncertainty)),
        low_um: result.low_um,
        high_um: result.high_um,
        verdict: removal_verdict_to_pb(result.verdict).into(),
        spots: result
            .spots
            .iter()
            .map(|spot| v1::SpotRemoval {
                spot: spot.spot.clone(),
                before_um: spot.before_um,
                after_um: spot.after_um,
                removal_um: spot.removal_um,
            })
            .collect(),
        unpaired: result.unpaired.clone(),
        gauge: Some(gauge_to_pb(&result.gauge)),
        model: result.model.to_owned(),
        cautions: caution::all_to_pb(&result.cautions),
    }
}

/// A gauge; what it leaves unset is the default's.
pub(crate) fn gauge_from_pb(gauge: &v1::GaugeSpec, checks: &mut Checks) -> GaugeSpec {
    let usual = GaugeSpec::default();
    let mut principles = Vec::new();
    let count = gauge.principles.len();
    checks.require(count <= MOST_PRINCIPLES, "gauge.principles", || {
        format!("must have at most {MOST_PRINCIPLES} entries, got {count}")
    });
    for (index, value) in gauge.principles.iter().take(MOST_PRINCIPLES).enumerate() {
        let known = v1::GaugePrinciple::try_from(*value).ok();
        checks.require(
            known.is_some(),
            format!("gauge.principles[{index}]"),
            || format!("{value} is not a known principle"),
        );
        principles.extend(match known.unwrap_or_default() {
            v1::GaugePrinciple::Unspecified => None,
            v1::GaugePrinciple::Magnetic => Some(GaugePrinciple::Magnetic),
            v1::GaugePrinciple::EddyCurrent => Some(GaugePrinciple::EddyCurrent),
            v1::GaugePrinciple::Ultrasonic => Some(GaugePrinciple::Ultrasonic),
        });
    }
    principles.dedup();
    GaugeSpec {
        limit_um: gauge.limit_um.unwrap_or(usual.limit_um),
        limit_percent: gauge.limit_percent.unwrap_or(usual.limit_percent),
        resolution_um: gauge.resolution_um.unwrap_or(usual.resolution_um),
        principles,
    }
}

pub(crate) fn gauge_to_pb(gauge: &GaugeSpec) -> v1::GaugeSpec {
    v1::GaugeSpec {
        limit_um: Some(gauge.limit_um),
        limit_percent: Some(gauge.limit_percent),
        resolution_um: Some(gauge.resolution_um),
        principles: principles_to_pb(&gauge.principles),
    }
}

pub(crate) fn uncertainty_to_pb(uncertainty: &Uncertainty) -> v1::ThicknessUncertainty {
    v1::ThicknessUncertainty {
        type_a_um: uncertainty.type_a_um,
        limit_um: uncertainty.limit_um,
        resolution_um: uncertainty.resolution_um,
        standard_um: uncertainty.standard_um,
        degrees_of_freedom: uncertainty.degrees_of_freedom,
        coverage_factor: uncertainty.coverage_factor,
        expanded_um: uncertainty.expanded_um,
    }
}

pub(crate) fn clear_to_pb(clear: &ClearEstimate) -> v1::ClearCoat {
    v1::ClearCoat {
        mean_um: clear.mean_um,
        sd_um: clear.sd_um,
        low_um: clear.low_um,
        high_um: clear.high_um,
        at_least_um: clear.at_least_um,
        surprise: clear.surprise,
    }
}

pub(crate) fn removal_verdict_to_pb(verdict: RemovalVerdict) -> v1::RemovalVerdict {
    match verdict {
        RemovalVerdict::Removed => v1::RemovalVerdict::Removed,
        RemovalVerdict::CannotTell => v1::RemovalVerdict::CannotTell,
        RemovalVerdict::Thicker => v1::RemovalVerdict::Thicker,
    }
}

/// How polishing sees a finish; one that is not stated is taken to be clear coat.
pub(crate) fn topcoat(finish: Finish) -> Topcoat {
    match finish {
        Finish::Unknown | Finish::ClearCoat => Topcoat::Clear,
        Finish::SingleStage => Topcoat::SingleStage,
        Finish::Matt => Topcoat::Matt,
        Finish::Unpainted => Topcoat::Unpainted,
    }
}

fn panel_from_pb(panel: &v1::PanelReadings, path: &str, checks: &mut Checks) -> PanelReadings {
    let at = |field: &str| format!("{path}.{field}");
    lamella_jobs::check::text(checks, &at("panel"), &panel.panel, 1, 200);
    PanelReadings {
        panel: panel.panel.clone(),
        substrate: vehicle::substrate_from_pb(panel.substrate, &at("substrate"), checks),
        topcoat: topcoat(vehicle::finish_from_pb(panel.finish, &at("finish"), checks)),
        spots: spots_from_pb(&panel.spots, &at("spots"), checks),
        removed: Removed {
            removed_um: panel.removed_um.unwrap_or(0.0),
            standard_um: panel.removed_standard_um.unwrap_or(0.0),
        },
    }
}

fn spots_from_pb(spots: &[v1::SpotReadings], path: &str, checks: &mut Checks) -> Vec<SpotReadings> {
    let both = spots
        .iter()
        .position(|s| !s.readings_um.is_empty() && !s.readings_mil.is_empty());
    checks.require(
        both.is_none(),
        format!("{path}[{}].readings_mil", both.unwrap_or(0)),
        || "must be left out beside readings_um: one request uses one unit".to_owned(),
    );
    let one = |spot: &v1::SpotReadings| SpotReadings {
        spot: spot.spot.clone(),
        readings: if spot.readings_mil.is_empty() {
            Readings::Um(spot.readings_um.clone())
        } else {
            Readings::Mil(spot.readings_mil.clone())
        },
    };
    spots.iter().map(one).collect()
}

fn layers_from_pb(layers: &[v1::PaintLayer], checks: &mut Checks) -> Option<Vec<Layer>> {
    // More are refused by the calculator; their kinds and numbers are not looked at.
    let one = |(index, layer): (usize, &v1::PaintLayer)| {
        let at = |field: &str| format!("layers[{index}].{field}");
        let kind = match v1::PaintLayerKind::try_from(layer.kind) {
            Ok(v1::PaintLayerKind::ECoat) => LayerKind::ECoat,
            Ok(v1::PaintLayerKind::Primer) => LayerKind::Primer,
            Ok(v1::PaintLayerKind::Base) => LayerKind::Base,
            Ok(v1::PaintLayerKind::Clear) => LayerKind::Clear,
            Ok(v1::PaintLayerKind::Unspecified) | Err(_) => {
                checks.require(false, at("kind"), || {
                    "is required: e-coat, primer, base or clear".to_owned()
                });
                LayerKind::Clear
            }
        };
        Layer {
            kind,
            mean_um: required(layer.mean_um, &at("mean_um"), checks),
            sd_um: required(layer.sd_um, &at("sd_um"), checks),
        }
    };
    (!layers.is_empty()).then(|| layers.iter().take(5).enumerate().map(one).collect())
}

fn panel_to_pb(panel: &PanelAssessment) -> v1::PanelAssessment {
    let total = panel.total.as_ref();
    let verdicts = panel
        .acceptance
        .as_ref()
        .map(|acceptance| acceptance.spots.as_slice());
    let verdict = |index: usize| verdicts.and_then(|spots| spots.get(index)).copied();
    v1::PanelAssessment {
        panel: panel.panel.clone(),
        substrate: vehicle::substrate_to_pb(panel.substrate).into(),
        readable_by: principles_to_pb(panel.readable_by),
        readable: panel.readable,
        spots: panel
            .spots
            .iter()
            .enumerate()
            .map(|(index, spot)| spot_to_pb(spot, verdict(index)))
            .collect(),
        mean_um: total.map(|total| total.mean_um),
        uncertainty: total.map(|total| uncertainty_to_pb(&total.uncertainty)),
        median_um: total.map(|total| total.median_um),
        robust_sd_um: total.and_then(|total| total.robust_sd_um),
        min_um: total.map(|total| total.min_um),
        max_um: total.map(|total| total.max_um),
        acceptance: panel
            .acceptance
            .as_ref()
            .map(|acceptance| v1::ThicknessAcceptance {
                spot_min_um: acceptance.spot_min_um,
                spot_max_um: acceptance.spot_max_um,
                mean: verdict_to_pb(Some(acceptance.mean)).into(),
                accepted: acceptance.accepted,
                complete: acceptance.complete,
            }),
        suspicion: suspicion_to_pb(panel.suspicion).into(),
        signs: panel.signs.iter().map(sign_to_pb).collect(),
        layers: panel.layers.iter().map(layer_to_pb).collect(),
        clear: panel.clear.as_ref().map(clear_to_pb),
        governing_spot: panel.governing_spot.clone().unwrap_or_default(),
        budget_um: panel.budget_um,
        cautions: caution::all_to_pb(&panel.cautions),
    }
}

fn spot_to_pb(spot: &SpotResult, verdict: Option<Verdict>) -> v1::SpotAssessment {
    let stats = &spot.stats;
    v1::SpotAssessment {
        spot: stats.spot.clone(),
        count: count(stats.count),
        mean_um: stats.mean_um,
        sample_sd_um: stats.sample_sd_um,
        median_um: stats.median_um,
        robust_sd_um: stats.robust_sd_um,
        min_um: stats.min_um,
        max_um: stats.max_um,
        odd: stats.odd.iter().map(odd_to_pb).collect(),
        uncertainty: Some(uncertainty_to_pb(&spot.uncertainty)),
        verdict: verdict_to_pb(verdict).into(),
        clear: spot.clear.as_ref().map(clear_to_pb),
    }
}

fn odd_to_pb(odd: &OddReading) -> v1::OddReading {
    v1::OddReading {
        index: count(odd.index),
        reading_um: odd.reading_um,
        score: odd.score,
        left_out: odd.left_out,
    }
}

fn sign_to_pb(sign: &Sign) -> v1::PaintSign {
    v1::PaintSign {
        code: sign.code.as_str().to_owned(),
        spot: sign.spot.clone().unwrap_or_default(),
        seen_um: sign.seen_um,
        limit_um: sign.limit_um,
    }
}

fn layer_to_pb(layer: &Layer) -> v1::PaintLayer {
    let kind = match layer.kind {
        LayerKind::ECoat => v1::PaintLayerKind::ECoat,
        LayerKind::Primer => v1::PaintLayerKind::Primer,
        LayerKind::Base => v1::PaintLayerKind::Base,
        LayerKind::Clear => v1::PaintLayerKind::Clear,
    };
    v1::PaintLayer {
        kind: kind.into(),
        mean_um: Some(layer.mean_um),
        sd_um: Some(layer.sd_um),
    }
}

fn verdict_to_pb(verdict: Option<Verdict>) -> v1::ThicknessVerdict {
    match verdict {
        None => v1::ThicknessVerdict::Unspecified,
        Some(Verdict::Within) => v1::ThicknessVerdict::Within,
        Some(Verdict::TooThin) => v1::ThicknessVerdict::TooThin,
        Some(Verdict::TooThick) => v1::ThicknessVerdict::TooThick,
    }
}

fn suspicion_to_pb(suspicion: Suspicion) -> v1::PaintSuspicion {
    match suspicion {
        Suspicion::NotJudged => v1::PaintSuspicion::Unspecified,
        Suspicion::None => v1::PaintSuspicion::None,
        Suspicion::Thin => v1::PaintSuspicion::Thin,
        Suspicion::LocalRepair => v1::PaintSuspicion::LocalRepair,
        Suspicion::Refinished => v1::PaintSuspicion::Refinished,
        Suspicion::Filler => v1::PaintSuspicion::Filler,
    }
}

fn principles_to_pb(principles: &[GaugePrinciple]) -> Vec<i32> {
    let one = |principle: &GaugePrinciple| match principle {
        GaugePrinciple::Magnetic => v1::GaugePrinciple::Magnetic.into(),
        GaugePrinciple::EddyCurrent => v1::GaugePrinciple::EddyCurrent.into(),
        GaugePrinciple::Ultrasonic => v1::GaugePrinciple::Ultrasonic.into(),
    };
    principles.iter().map(one).collect()
}

pub(crate) fn count(count: usize) -> i32 {
    i32::try_from(count).unwrap_or(i32::MAX)
}
