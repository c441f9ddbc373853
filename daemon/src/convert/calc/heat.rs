//! Heat in polishing. The API counts segments from 1, the calculator from 0.

use lamella_calc::heat::predict::{MAX_OBSERVATIONS, MAX_SEGMENTS};
use lamella_calc::heat::{
    FactorBasis, HeatFactor, HeatInput, HeatResult, Observation, PadMotion, PanelInput, Predicted,
    Segment, SegmentHeat, TargetAnswer, Used,
};
use lamella_calc::violation::Checks;
use lamella_proto::v1;
use v1::pad_motion::Kind;

use super::super::{caution, required, vehicle};

pub(crate) fn from_pb(request: &v1::PredictHeatRequest, checks: &mut Checks) -> HeatInput {
    checks.require(request.motion.is_some(), "motion", || {
        "is required".to_owned()
    });
    let motion = request
        .motion
        .as_ref()
        .and_then(|motion| motion_from_pb(motion, "motion", checks));
    for (field, count, most) in [
        ("segments", request.segments.len(), MAX_SEGMENTS),
        ("observations", request.observations.len(), MAX_OBSERVATIONS),
    ] {
        // Beyond these nothing is converted: a million faults are not worth naming.
        checks.require(count <= most, field, || {
            format!("must have at most {most}, got {count}")
        });
    }
    let segments =
        request
            .segments
            .iter()
            .take(MAX_SEGMENTS)
            .enumerate()
            .map(|(index, segment)| {
                let at = |field: &str| format!("segments[{index}].{field}");
                Segment {
                    seconds: required(segment.seconds, &at("seconds"), checks),
                    pressure_kpa: segment.pressure_kpa.unwrap_or(0.0),
                    motion: segment
                        .motion
                        .as_ref()
                        .and_then(|motion| motion_from_pb(motion, &at("motion"), checks)),
                }
            });
    let segments = segments.collect();
    let observations = request
        .observations
        .iter()
        .enumerate()
        .map(|(index, seen)| {
            let at = |field: &str| format!("observations[{index}].{field}");
            Observation {
                after_s: required(seen.after_s, &at("after_s"), checks),
                panel_c: required(seen.panel_c, &at("panel_c"), checks),
            }
        });
    let observations = observations.collect();
    HeatInput {
        panel: request
            .panel
            .as_ref()
            .map(|panel| panel_from_pb(panel, checks))
            .unwrap_or_default(),
        edge: request.edge,
        start_c: required(request.start_c, "start_c", checks),
        air_c: required(request.air_c, "air_c", checks),
        // A missing one is noted above; standing still adds no further fault.
        motion: motion.unwrap_or(PadMotion::Rotary { turns_per_min: 0.0 }),
        pad_mm: required(request.pad_mm, "pad_mm", checks),
        area_cm2: request.area_cm2,
        arm_mm_per_s: request.arm_mm_per_s,
        friction: request.friction,
        share_to_panel: request.share_to_panel,
        segments,
        observations,
        reading_sd_k: request.reading_sd_k,
        target_c: request.target_c,
        ceiling_c: request.ceiling_c,
    }
}

fn panel_from_pb(panel: &v1::HeatPanel, checks: &mut Checks) -> PanelInput {
    PanelInput {
        substrate: vehicle::substrate_from_pb(panel.substrate, "panel.substrate", checks),
        thickness_mm: panel.thickness_mm,
        paint_um: panel.paint_um,
        front_h_w_per_m2_k: panel.front_h_w_per_m2_k,
        back_h_w_per_m2_k: panel.back_h_w_per_m2_k,
    }
}

/// None with a note when it does not say which kind of machine it is.
fn motion_from_pb(motion: &v1::PadMotion, at: &str, checks: &mut Checks) -> Option<PadMotion> {
    checks.require(motion.kind.is_some(), at, || {
        "must be rotary or dual_action, got neither".to_owned()
    });
    let mut number = |value, field: &str| required(value, &format!("{at}.{field}"), checks);
    Some(match motion.kind.as_ref()? {
        Kind::Rotary(rotary) => PadMotion::Rotary {
            turns_per_min: number(rotary.turns_per_min, "rotary.turns_per_min"),
        },
        Kind::DualAction(orbit) => PadMotion::DualAction {
            orbits_per_min: number(orbit.orbits_per_min, "dual_action.orbits_per_min"),
            orbit_mm: number(orbit.orbit_mm, "dual_action.orbit_mm"),
            turns_per_min: orbit.turns_per_min.unwrap_or(0.0),
        },
    })
}

pub(crate) fn to_pb(result: &HeatResult) -> v1::PredictHeatResponse {
    v1::PredictHeatResponse {
        used: Some(used_to_pb(&result.used)),
        factor: Some(factor_to_pb(&result.factor)),
        segments: result.segments.iter().map(segment_to_pb).collect(),
        curve: result
            .curve
            .iter()
            .map(|point| v1::HeatPoint {
                after_s: point.after_s,
                temperature: Some(temperature_to_pb(point.predicted)),
            })
            .collect(),
        target: result.target.as_ref().map(target_to_pb),
        biot: result.biot,
        tau_s: result.tau_s,
        model: result.model.to_owned(),
        cautions: caution::all_to_pb(&result.cautions),
    }
}

fn used_to_pb(used: &Used) -> v1::HeatInputsUsed {
    let panel = &used.panel;
    v1::HeatInputsUsed {
        substrate: vehicle::substrate_to_pb(panel.substrate).into(),
        thickness_mm: panel.thickness_mm,
        paint_um: panel.paint_um,
        front_h_w_per_m2_k: panel.front_h_w_per_m2_k,
        back_h_w_per_m2_k: panel.back_h_w_per_m2_k,
        k_w_per_m_k: panel.material.k_w_per_m_k,
        rho_kg_per_m3: panel.material.rho_kg_per_m3,
        c_j_per_kg_k: panel.material.c_j_per_kg_k,
        material: panel.material.standing.to_owned(),
        area_cm2: used.area_cm2,
        swept_ratio: used.swept_ratio,
        arm_mm_per_s: used.arm_mm_per_s,
        friction: used.friction,
        share_to_panel: used.share_to_panel,
        ceiling_c: used.ceiling_c,
    }
}

fn factor_to_pb(factor: &HeatFactor) -> v1::HeatFactor {
    let (basis, fit) = match factor.basis {
        FactorBasis::Assumed => (v1::HeatFactorBasis::Assumed, None),
        FactorBasis::Fitted(fit) => (v1::HeatFactorBasis::Fitted, Some(fit)),
    };
    v1::HeatFactor {
        factor: factor.factor,
        low: factor.low,
        high: factor.high,
        basis: basis.into(),
        standard_error: fit.map(|fit| fit.standard_error),
        reading_sd_k: fit.map(|fit| fit.reading_sd_k),
        residual_sd_k: fit.and_then(|fit| fit.residual_sd_k),
    }
}

fn segment_to_pb(segment: &SegmentHeat) -> v1::HeatSegmentResult {
    v1::HeatSegmentResult {
        start_s: segment.start_s,
        seconds: segment.seconds,
        speed_m_per_s: segment.speed_m_per_s,
        pad_flux_w_per_m2: segment.pad_flux_w_per_m2,
        flux_w_per_m2: segment.flux_w_per_m2,
        peak: Some(temperature_to_pb(segment.peak)),
        end: Some(temperature_to_pb(segment.end)),
        under_pad_k: segment.under_pad_k,
        headroom_k: segment.headroom_k,
    }
}

fn target_to_pb(target: &TargetAnswer) -> v1::HeatTarget {
    v1::HeatTarget {
        segment: i32::try_from(target.segment.saturating_add(1)).unwrap_or(i32::MAX),
        target_c: target.target_c,
        below_ceiling_k: target.below_ceiling_k,
        longer: target.longer.map(|longer| v1::HeatLonger {
            seconds: longer.seconds,
            extra_s: longer.extra_s,
            then: Some(temperature_to_pb(longer.then)),
            high_below_ceiling_k: longer.high_below_ceiling_k,
        }),
        harder: target.harder.map(|harder| v1::HeatHarder {
            times: harder.times,
            pressure_kpa: harder.pressure_kpa,
            then: Some(temperature_to_pb(harder.then)),
            high_below_ceiling_k: harder.high_below_ceiling_k,
        }),
    }
}

fn temperature_to_pb(predicted: Predicted) -> v1::HeatTemperature {
    v1::HeatTemperature {
        panel_c: predicted.panel_c,
        low_c: predicted.low_c,
        high_c: predicted.high_c,
    }
}
