//! How much longer, or how much harder, the last work must go on to reach a temperature.

use super::fit::{HeatFactor, Predicted};
use super::modes::Surface;
use super::schedule::{Part, Timeline};
use crate::advice::setup::{MAX_PRESSURE_KPA, MAX_SECONDS};

/// What reaches a target in the last work segment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TargetAnswer {
    /// Which segment, from 0.
    pub segment: usize,
    /// The target, Celsius.
    pub target_c: f64,
    /// Ceiling less target, K.
    pub below_ceiling_k: f64,
    /// At the segment's own pressure; absent when [`MAX_SECONDS`] do not get there.
    pub longer: Option<Longer>,
    /// In the segment's own time; absent when [`MAX_PRESSURE_KPA`] does not get there, or when it is
    /// passed without any pressure.
    pub harder: Option<Harder>,
}

/// More time, or less.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Longer {
    /// Length of the segment that reaches the target, s.
    pub seconds: f64,
    /// The same less its stated length, s; negative when it is reached sooner.
    pub extra_s: f64,
    /// The temperature then, with its interval.
    pub then: Predicted,
    /// Ceiling less the interval's upper end, K; negative when that lies above it.
    pub high_below_ceiling_k: f64,
}

/// More pressure, or less.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Harder {
    /// Times the stated pressure.
    pub times: f64,
    /// The pressure, kPa.
    pub pressure_kpa: f64,
    /// The temperature at the segment's end, with its interval.
    pub then: Predicted,
    /// Ceiling less the interval's upper end, K; negative when that lies above it.
    pub high_below_ceiling_k: f64,
}

/// Step in which the first crossing is looked for, s.
const STEP_S: f64 = 10.0;

pub(crate) fn reach(
    target_c: f64,
    timeline: &Timeline<'_>,
    factor: &HeatFactor,
    air_c: f64,
    ceiling_c: f64,
) -> Option<TargetAnswer> {
    let (segment, part) = timeline
        .parts
        .iter()
        .enumerate()
        .rfind(|(_, part)| part.is_work())?;
    let longer = seconds_to(target_c, timeline, part, factor, air_c).map(|seconds| {
        let then = factor.at(air_c, timeline.within(part, seconds));
        Longer {
            seconds,
            extra_s: seconds - part.seconds,
            then,
            high_below_ceiling_k: ceiling_c - then.high_c,
        }
    });
    let harder = times_to(target_c, timeline, part, factor, air_c).map(|(times, surface)| {
        let then = factor.at(air_c, surface);
        Harder {
            times,
            pressure_kpa: times * part.pressure_kpa,
            then,
            high_below_ceiling_k: ceiling_c - then.high_c,
        }
    });
    Some(TargetAnswer {
        segment,
        target_c,
        below_ceiling_k: ceiling_c - target_c,
        longer,
        harder,
    })
}

/// The first time in the segment at which the target is reached, s.
fn seconds_to(
    target_c: f64,
    timeline: &Timeline<'_>,
    part: &Part,
    factor: &HeatFactor,
    air_c: f64,
) -> Option<f64> {
    let short_k = |surface: Surface| target_c - factor.at(air_c, surface).panel_c;
    let (mut short_before, mut state_before) = (f64::NAN, part.state);
    let mut begun_s = -STEP_S;
    for state in timeline.steps(part, STEP_S) {
        let short = short_k(timeline.modes.surface(&state));
        if short <= 0.0 {
            if begun_s < 0.0 {
                return Some(0.0);
            }
            let within = |seconds| short_k(timeline.surface_after(part, &state_before, seconds));
            return Some(begun_s + crossing_s(within, short_before, short));
        }
        begun_s += STEP_S;
        if begun_s >= MAX_SECONDS {
            break;
        }
        (short_before, state_before) = (short, state);
    }
    None
}

/// Where a function that is `at_start` above 0 first and `at_end` at or below it after [`STEP_S`] is 0, s:
/// false position, halving the weight of an end that stays (the Illinois rule, from memory).
fn crossing_s(of: impl Fn(f64) -> f64, at_start: f64, at_end: f64) -> f64 {
    let (mut low, mut above) = (0.0, at_start);
    let (mut high, mut below) = (STEP_S, at_end);
    let mut stays = None;
    let mut middle = STEP_S;
    for _ in 0..60 {
        middle = (high * above - low * below) / (above - below);
        let value = of(middle);
        if value.abs() < 1e-9 {
            break;
        }
        if value > 0.0 {
            (low, above) = (middle, value);
            if stays == Some(End::High) {
                below /= 2.0;
            }
            stays = Some(End::High);
        } else {
            (high, below) = (middle, value);
            if stays == Some(End::Low) {
                above /= 2.0;
            }
            stays = Some(End::Low);
        }
    }
    middle
}

/// An end of the stretch that is narrowed.
#[derive(PartialEq)]
enum End {
    Low,
    High,
}

/// How many times the pressure reaches the target at the segment's end, and the surface then. The rise is
/// linear in it: what earlier work left stays, what this segment adds is multiplied.
fn times_to(
    target_c: f64,
    timeline: &Timeline<'_>,
    part: &Part,
    factor: &HeatFactor,
    air_c: f64,
) -> Option<(f64, Surface)> {
    let end = timeline.within(part, part.seconds);
    let by_this_k = part.unit_flux * timeline.modes.rise_per_flux(part.seconds);
    let others_k = end.added_k - by_this_k;
    let wanted_k = target_c - air_c - end.start_k - factor.factor * others_k;
    let times = wanted_k / (factor.factor * by_this_k);
    let pressed = times > 0.0 && times * part.pressure_kpa <= MAX_PRESSURE_KPA;
    pressed.then(|| {
        let added_k = others_k + times * by_this_k;
        (times, Surface { added_k, ..end })
    })
}
