//! The calculator: temperatures over a schedule of work and pauses, held against readings and limits.

use super::cautions::cautions;
use super::fit::{HeatFactor, Observation, Predicted};
use super::friction::{
    DEFAULT_FRICTION, DEFAULT_SHARE_TO_PANEL, PadMotion, mean_speed_m_per_s, pad_area_cm2,
};
use super::modes::Modes;
use super::panel::{Panel, PanelInput};
use super::schedule::{Part, Segment, Timeline};
use super::target::{TargetAnswer, reach};
use crate::advice::limits::default_ceiling_c;
use crate::caution::Caution;
use crate::error::CalcError;
use crate::violation::Checks;

/// Most segments of a schedule.
pub const MAX_SEGMENTS: usize = 50;
/// Most readings.
pub const MAX_OBSERVATIONS: usize = 200;
/// Longest segment, s.
pub const MAX_SEGMENT_SECONDS: f64 = 3600.0;
/// Section that is worked where none is stated, cm2: 40 by 40 cm (common practice, no source).
pub const DEFAULT_AREA_CM2: f64 = 1600.0;
/// How fast the hand moves the pad where it is not stated, mm/s (common practice, no source).
pub const DEFAULT_ARM_MM_PER_S: f64 = 50.0;

const MODEL: &str = "friction heat mu p v spread evenly over the section; one-dimensional conduction \
                     across paint and sheet in finite volumes, exact in time; constant cooling \
                     coefficients at both faces; nothing spreads along the panel";

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatInput {
    /// The panel.
    pub panel: PanelInput,
    /// At an edge or body line, where the default ceiling is lower.
    pub edge: bool,
    /// Panel temperature at the beginning, Celsius, -20 to 100, the same throughout.
    pub start_c: f64,
    /// Air temperature, Celsius, -20 to 60.
    pub air_c: f64,
    /// How the pad moves.
    pub motion: PadMotion,
    /// Pad diameter, mm, 20 to 300.
    pub pad_mm: f64,
    /// Section that the pad keeps passing over, cm2, from the pad's own area to 20 000; absent:
    /// [`DEFAULT_AREA_CM2`].
    pub area_cm2: Option<f64>,
    /// How fast the hand moves the pad, mm/s, 1 to 500; absent: [`DEFAULT_ARM_MM_PER_S`].
    pub arm_mm_per_s: Option<f64>,
    /// Friction coefficient, above 0 to 2; absent: [`DEFAULT_FRICTION`].
    pub friction: Option<f64>,
    /// Share of the heat that the panel takes, above 0 to 1; absent: [`DEFAULT_SHARE_TO_PANEL`].
    pub share_to_panel: Option<f64>,
    /// Work and pauses, past and to come, 1 to [`MAX_SEGMENTS`].
    pub segments: Vec<Segment>,
    /// Readings in order of time, at most [`MAX_OBSERVATIONS`]; with any, the heat factor is fitted.
    pub observations: Vec<Observation>,
    /// Standard deviation of one reading, K, above 0 to 20; absent: taken from the scatter of two or
    /// more.
    pub reading_sd_k: Option<f64>,
    /// Panel temperature that the last work segment is to reach, Celsius, below the ceiling.
    pub target_c: Option<f64>,
    /// Panel temperature never to pass, Celsius, 0 to 100; absent: the default of pass advice.
    pub ceiling_c: Option<f64>,
}

/// How warm it gets.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatResult {
    /// What was used where something was left out.
    pub used: Used,
    /// Friction times share: assumed or fitted, with its 95 % interval.
    pub factor: HeatFactor,
    /// The segments in order.
    pub segments: Vec<SegmentHeat>,
    /// The worked surface over time, at least 4 points a segment.
    pub curve: Vec<CurvePoint>,
    /// What reaches the target.
    pub target: Option<TargetAnswer>,
    /// Biot number of sheet and paint: below 0.1 it warms through as one.
    pub biot: f64,
    /// Time constant of cooling, s; absent when nothing cools it.
    pub tau_s: Option<f64>,
    /// The model, in words.
    pub model: &'static str,
    /// What to look out for.
    pub cautions: Vec<Caution>,
}

/// Inputs as used, defaults filled in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Used {
    /// The panel and its properties.
    pub panel: Panel,
    /// Section, cm2.
    pub area_cm2: f64,
    /// Pad area over section area.
    pub swept_ratio: f64,
    /// Speed of the hand, mm/s.
    pub arm_mm_per_s: f64,
    /// Friction coefficient that would be used without readings.
    pub friction: f64,
    /// Share of the heat that would be used without readings.
    pub share_to_panel: f64,
    /// The ceiling, Celsius.
    pub ceiling_c: f64,
}

/// One segment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SegmentHeat {
    /// When it begins, s.
    pub start_s: f64,
    /// How long it is, s.
    pub seconds: f64,
    /// Mean speed of the pad over the paint, m/s; 0 in a pause.
    pub speed_m_per_s: f64,
    /// Heat into the panel under the pad, W/m2.
    pub pad_flux_w_per_m2: f64,
    /// The same spread over the section, W/m2.
    pub flux_w_per_m2: f64,
    /// Highest temperature of the segment, of its points on the curve.
    pub peak: Predicted,
    /// Temperature at its end.
    pub end: Predicted,
    /// How much warmer it is for a moment just under the pad, K; not in `peak`.
    pub under_pad_k: f64,
    /// Ceiling less `peak`, K; negative above it.
    pub headroom_k: f64,
}

/// One point of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// Seconds after the beginning.
    pub after_s: f64,
    /// Temperature of the worked surface.
    pub predicted: Predicted,
}

/// Temperatures of a panel under a schedule of work and pauses.
///
/// Agrees with the closed forms for a semi-infinite body and for a lumped one within 1 % where those
/// apply (`tests/tests/calc/heat/`). The surface's mean over the section: just under the pad it is
/// `under_pad_k` warmer for a moment.
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range, readings out of order or outside the schedule,
/// one reading without `reading_sd_k`, a target at or above the ceiling or without work.
/// [`CalcError::Infeasible`] with `OBSERVATIONS_BEFORE_HEAT` or `OBSERVATIONS_SHOW_NO_HEAT` when the
/// readings cannot tell the heat factor.
pub fn predict(input: &HeatInput) -> Result<HeatResult, CalcError> {
    let used = input.used();
    check(input, &used)?;
    let modes = Modes::of(&used.panel);
    let usual = mean_speed_m_per_s(input.motion, input.pad_mm);
    let speed = |segment: &Segment| match segment.motion {
        _ if segment.pressure_kpa <= 0.0 => 0.0,
        Some(motion) => mean_speed_m_per_s(motion, input.pad_mm),
        None => usual,
    };
    let segments = input
        .segments
        .iter()
        .map(|segment| (*segment, speed(segment)));
    let above_air_k = input.start_c - input.air_c;
    let timeline = Timeline::new(&modes, above_air_k, segments, used.swept_ratio);
    let factor = if input.observations.is_empty() {
        HeatFactor::assumed(used.friction * used.share_to_panel)
    } else {
        HeatFactor::fitted(
            &timeline,
            input.air_c,
            &input.observations,
            input.reading_sd_k,
        )?
    };
    let (segments, curve) = follow(input, &used, &timeline, &factor);
    let target = input
        .target_c
        .and_then(|target_c| reach(target_c, &timeline, &factor, input.air_c, used.ceiling_c));
    let h = used.panel.h_w_per_m2_k();
    let mut result = HeatResult {
        used,
        factor,
        segments,
        curve,
        target,
        biot: used.panel.biot(),
        tau_s: (h > 0.0).then(|| used.panel.capacity_j_per_m2_k() / h),
        model: MODEL,
        cautions: Vec::new(),
    };
    result.cautions = cautions(input, &result);
    Ok(result)
}

impl HeatInput {
    fn used(&self) -> Used {
        let area_cm2 = self.area_cm2.unwrap_or(DEFAULT_AREA_CM2);
        Used {
            panel: self.panel.resolve(),
            area_cm2,
            swept_ratio: pad_area_cm2(self.pad_mm) / area_cm2,
            arm_mm_per_s: self.arm_mm_per_s.unwrap_or(DEFAULT_ARM_MM_PER_S),
            friction: self.friction.unwrap_or(DEFAULT_FRICTION),
            share_to_panel: self.share_to_panel.unwrap_or(DEFAULT_SHARE_TO_PANEL),
            ceiling_c: self
                .ceiling_c
                .unwrap_or_else(|| default_ceiling_c(self.panel.substrate, self.edge)),
        }
    }
}

/// Walks the schedule: the segments' figures and the curve's points.
fn follow(
    input: &HeatInput,
    used: &Used,
    timeline: &Timeline<'_>,
    factor: &HeatFactor,
) -> (Vec<SegmentHeat>, Vec<CurvePoint>) {
    // The pad's middle passes over a spot in this time, and the panel answers as if rested.
    let rise_in_contact = timeline
        .modes
        .rise_per_flux(input.pad_mm / used.arm_mm_per_s);
    let under_pad = |part: &Part, pad_flux: f64| {
        if !part.is_work() {
            return 0.0;
        }
        pad_flux * (1.0 - used.swept_ratio) * rise_in_contact
    };
    let points = (60 / timeline.parts.len().max(1)).clamp(4, 20);
    let mut curve = Vec::with_capacity(timeline.parts.len() * points + 1);
    let mut segments = Vec::with_capacity(timeline.parts.len());
    for part in &timeline.parts {
        let mut peak: Option<Predicted> = None;
        let mut end = None;
        let step_s = part.seconds / points as f64;
        for (point, state) in timeline.steps(part, step_s).take(points + 1).enumerate() {
            let predicted = factor.at(input.air_c, timeline.modes.surface(&state));
            if peak.is_none_or(|peak| predicted.panel_c > peak.panel_c) {
                peak = Some(predicted);
            }
            // The first point of a segment is the last of the one before.
            if point > 0 || curve.is_empty() {
                curve.push(CurvePoint {
                    after_s: part.start_s + point as f64 * step_s,
                    predicted,
                });
            }
            end = Some(predicted);
        }
        let (Some(peak), Some(end)) = (peak, end) else {
            continue;
        };
        let flux = part.unit_flux * factor.factor;
        let pad_flux = flux / used.swept_ratio;
        segments.push(SegmentHeat {
            start_s: part.start_s,
            seconds: part.seconds,
            speed_m_per_s: part.speed_m_per_s,
            pad_flux_w_per_m2: pad_flux,
            flux_w_per_m2: flux,
            peak,
            end,
            under_pad_k: under_pad(part, pad_flux),
            headroom_k: used.ceiling_c - peak.panel_c,
        });
    }
    (segments, curve)
}

fn check(input: &HeatInput, used: &Used) -> Result<(), CalcError> {
    let mut checks = Checks::new();
    input.panel.check(&mut checks);
    checks.in_range("start_c", input.start_c, -20.0, 100.0, "C");
    checks.in_range("air_c", input.air_c, -20.0, 60.0, "C");
    input.motion.check("motion", &mut checks);
    checks.in_range("pad_mm", input.pad_mm, 20.0, 300.0, "mm");
    if let Some(area_cm2) = input.area_cm2 {
        checks.above("area_cm2", area_cm2, 0.0, 20_000.0, "cm2");
    }
    // Only numbers get here as true; NaN is named above.
    let smaller = used.swept_ratio > 1.0;
    checks.require(!smaller, "area_cm2", || {
        format!(
            "must be at least the pad's own area, {:.1} cm2, got {}",
            pad_area_cm2(input.pad_mm),
            used.area_cm2
        )
    });
    checks.optional_in_range("arm_mm_per_s", input.arm_mm_per_s, 1.0, 500.0, "mm/s");
    for (field, value, high) in [
        ("friction", input.friction, 2.0),
        ("share_to_panel", input.share_to_panel, 1.0),
        ("reading_sd_k", input.reading_sd_k, 20.0),
    ] {
        if let Some(value) = value {
            checks.above(field, value, 0.0, high, "");
        }
    }
    checks.optional_in_range("ceiling_c", input.ceiling_c, 0.0, 100.0, "C");
    check_segments(input, &mut checks);
    check_observations(input, &mut checks);
    check_target(input, used.ceiling_c, &mut checks);
    checks.finish()
}

fn check_segments(input: &HeatInput, checks: &mut Checks) {
    let count = input.segments.len();
    checks.require((1..=MAX_SEGMENTS).contains(&count), "segments", || {
        format!("must have 1 to {MAX_SEGMENTS} segments, got {count}")
    });
    for (i, segment) in input.segments.iter().take(MAX_SEGMENTS).enumerate() {
        let at = |name: &str| format!("segments[{i}].{name}");
        checks.above(
            at("seconds"),
            segment.seconds,
            0.0,
            MAX_SEGMENT_SECONDS,
            "s",
        );
        checks.in_range(at("pressure_kpa"), segment.pressure_kpa, 0.0, 100.0, "kPa");
        if let Some(motion) = segment.motion {
            motion.check(&at("motion"), checks);
        }
    }
}

fn check_observations(input: &HeatInput, checks: &mut Checks) {
    let count = input.observations.len();
    checks.require(count <= MAX_OBSERVATIONS, "observations", || {
        format!("must have at most {MAX_OBSERVATIONS} readings, got {count}")
    });
    checks.require(
        count != 1 || input.reading_sd_k.is_some(),
        "observations",
        || "must have 2 or more readings, or one with reading_sd_k, got 1".to_owned(),
    );
    let total_s: f64 = input.segments.iter().map(|segment| segment.seconds).sum();
    // A schedule that is refused anyway has no end to hold readings against.
    let longest_s = MAX_SEGMENTS as f64 * MAX_SEGMENT_SECONDS;
    let end_s = if total_s > 0.0 {
        total_s.min(longest_s)
    } else {
        longest_s
    };
    let mut before_s = f64::NEG_INFINITY;
    for (i, seen) in input.observations.iter().take(MAX_OBSERVATIONS).enumerate() {
        let at = |name: &str| format!("observations[{i}].{name}");
        checks.in_range(at("after_s"), seen.after_s, 0.0, end_s, "s");
        checks.require(seen.after_s > before_s, at("after_s"), || {
            format!(
                "must be later than the reading before, {before_s} s, got {}",
                seen.after_s
            )
        });
        checks.in_range(at("panel_c"), seen.panel_c, -20.0, 150.0, "C");
        before_s = before_s.max(seen.after_s);
    }
}

fn check_target(input: &HeatInput, ceiling_c: f64, checks: &mut Checks) {
    let Some(target_c) = input.target_c else {
        return;
    };
    checks.in_range("target_c", target_c, -20.0, 100.0, "C");
    let too_hot = target_c >= ceiling_c;
    checks.require(!too_hot, "target_c", || {
        format!("must be below the ceiling of {ceiling_c} C, got {target_c}")
    });
    let worked = input
        .segments
        .iter()
        .any(|segment| segment.pressure_kpa > 0.0);
    checks.require(worked, "target_c", || {
        "needs a segment with pressure that can reach it".to_owned()
    });
}
