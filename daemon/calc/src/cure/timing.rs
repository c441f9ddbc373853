//! Milestones of a coating, in hours after application: no clock here, the
//! caller adds the instant.
//!
//! The panel's temperature is held, or follows a series; lamps lie over either.
//! A milestone is reached when the dose (see [`rate`](mod@super::rate)) equals
//! its stated time. A constant activation energy overstates the last part of a
//! cure at room temperature, where the film vitrifies (Huybrechts et al. 2006,
//! abstract); a caution says so.

use super::backwards::latest_start_hours;
use super::cautions::{Surroundings, cautions};
use super::coating::{CoatingData, TemperatureResponse};
use super::dose::Course;
use super::rate::{GAS_CONSTANT, KELVIN, Response};
use super::series::{FURTHEST_HOURS, Lamp, Sample, check_lamps, check_samples};
use super::speed::{Doubt, EXPECTED, FASTEST, SLOWEST};
use crate::air::{self, AirInput, AirResult, absolute_humidity_g_per_m3};
use crate::caution::Caution;
use crate::error::CalcError;
use crate::violation::Checks;

/// Conditions of a cure: `panel_c` held throughout, or `samples`.
#[derive(Debug, Clone, PartialEq)]
pub struct CureInput {
    /// The product.
    pub coating: CoatingData,
    /// Panel temperature, Celsius, -20 to 100, held throughout. Either this or
    /// `samples`.
    pub panel_c: Option<f64>,
    /// The bay's air as the coating goes on, for the dew point, and for a moisture
    /// cure where there are no samples. Absent: the samples tell.
    pub air: Option<AirInput>,
    /// Logged and forecast conditions, up to
    /// [`MOST_SAMPLES`](super::series::MOST_SAMPLES); the last is held.
    pub samples: Vec<Sample>,
    /// Lamps, in order, none while another is on; up to
    /// [`MOST_LAMPS`](super::series::MOST_LAMPS).
    pub lamps: Vec<Lamp>,
    /// When the coating goes on, hours on the samples' axis, not before the first
    /// sample. Absent: with the first sample, or at 0.
    pub start_hours: Option<f64>,
    /// Samples from here on are forecast, hours on the samples' axis.
    pub forecast_from_hours: Option<f64>,
    /// How far the panel temperature may be off either way, kelvins, 0 to 10;
    /// lamps too. Absent: 0.
    pub temperature_uncertainty_k: Option<f64>,
    /// How far the rate of cure may be off, percent, 0 to 100: 25 means 1.25 times
    /// as fast to 1.25 times as slow. Absent: 0.
    pub rate_uncertainty_percent: Option<f64>,
    /// What is promised.
    pub release: Option<Release>,
}

/// A promise: a milestone reached by some hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Release {
    /// The milestone that releases the car; the coating must state it.
    pub milestone: MilestoneKind,
    /// By when, hours on the samples' axis.
    pub by_hours: f64,
}

impl CureInput {
    /// A coating on a panel that keeps its temperature, all else unsaid.
    pub fn held(coating: CoatingData, panel_c: f64, air: Option<AirInput>) -> Self {
        Self {
            coating,
            panel_c: Some(panel_c),
            air,
            samples: Vec::new(),
            lamps: Vec::new(),
            start_hours: None,
            forecast_from_hours: None,
            temperature_uncertainty_k: None,
            rate_uncertainty_percent: None,
            release: None,
        }
    }
}

/// When what may happen.
#[derive(Debug, Clone, PartialEq)]
pub struct CureResult {
    /// Rate relative to the reference conditions, 2 is twice as fast: the mean up
    /// to the last milestone.
    pub rate: f64,
    /// When the coating went on, hours on the samples' axis.
    pub start_hours: f64,
    /// The milestones in order of time.
    pub milestones: Vec<Milestone>,
    /// Latest start that keeps the promise even at the slowest, hours on the
    /// samples' axis; absent without a promise, or where none in the series does.
    pub latest_start_hours: Option<f64>,
    /// The one temperature that does as much as the samples from the start to the
    /// last, Celsius; only for samples, an Arrhenius response and no moisture cure.
    pub mean_kinetic_c: Option<f64>,
    /// Dew point of the air as the coating goes on, Celsius; below 0 the frost point.
    pub dew_point_c: Option<f64>,
    /// Panel temperature less dew point then, kelvins.
    pub dew_margin_k: Option<f64>,
    /// Temperature uncertainty that was used, kelvins.
    pub temperature_uncertainty_k: f64,
    /// Uncertainty of the rate that was used, percent.
    pub rate_uncertainty_percent: f64,
    /// The model, in words.
    pub model: String,
    /// What to look out for.
    pub cautions: Vec<Caution>,
}

/// One milestone. The uncertainties stated act on the logarithm of the rate and
/// add in squares; without any, earliest and latest are the expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Milestone {
    /// Which.
    pub kind: MilestoneKind,
    /// Expected, hours after application.
    pub after_hours: f64,
    /// Earliest, hours after application.
    pub earliest_hours: f64,
    /// Latest, hours after application.
    pub latest_hours: f64,
    /// What the time rests on.
    pub basis: MilestoneBasis,
    /// Whether its latest time lies where samples are forecast, or after the last.
    pub rests_on_forecast: bool,
}

/// What a milestone's time rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MilestoneBasis {
    /// The product's own time as it stands: no response is known.
    ProductData,
    /// The product's own time, scaled for temperature, moisture or both.
    ProductDataScaled,
}

/// Something that may or must happen as a coating cures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MilestoneKind {
    /// Wiping or levelling may begin.
    WipeOpen,
    /// Wiping or levelling must be done.
    WipeClose,
    /// The next layer may go on.
    RecoatOpen,
    /// The next layer must be on.
    RecoatClose,
    /// May be driven and rained on.
    Dry,
    /// May be washed.
    Wash,
    /// Fully cured.
    FullCure,
}

/// Longest time that is still an answer, hours, about 114 years: a cold panel
/// and a strong temperature response can ask for more than a calendar holds.
const LONGEST_HOURS: f64 = 1e6;

/// Milestones of a coating, and the latest start for a promise.
///
/// The dose is integrated within 0.1 % of scipy's quadrature over temperatures in
/// straight lines between samples (`tests/tests/calc/cure.rs`, 20 profiles).
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range, a window that ends
/// before it begins, times or samples out of order; paths as in `TimeCureRequest`.
/// [`CalcError::Infeasible`] with the reason `CURE_TOO_SLOW` when a milestone
/// may lie more than 1 000 000 hours ahead, and `SERIES_TOO_ROUGH` when thousands
/// of samples jump from one end of their range to the other.
pub fn time_cure(input: &CureInput) -> Result<CureResult, CalcError> {
    check(input)?;
    let samples = conditions(input);
    let first_hours = samples.first().map_or(0.0, |sample| sample.at_hours);
    let start_hours = input.start_hours.unwrap_or(first_hours);
    let humid = samples
        .iter()
        .all(|sample| sample.relative_humidity_percent.is_some());
    let response = match Response::of(&input.coating) {
        response if humid => response,
        response => response.without_moisture(),
    };
    let by_moisture = response.by_moisture();
    let doubt = Doubt {
        temperature_k: input.temperature_uncertainty_k.unwrap_or(0.0),
        ln_rate: (input.rate_uncertainty_percent.unwrap_or(0.0) / 100.0).ln_1p(),
    };
    let course = Course::new(response, doubt, &samples, &input.lamps).ok_or_else(too_rough)?;
    let milestones = milestones(input, &course, start_hours, by_moisture);
    not_too_slow(input, &milestones)?;
    let (panel_c, humidity) = course.air_at(start_hours);
    let moist = moist(input, panel_c, humidity)?;
    let latest_start_hours = input.release.and_then(|release| {
        let dose = input
            .coating
            .reference_hours()
            .find(|(kind, _)| *kind == release.milestone)?
            .1;
        latest_start_hours(
            &course,
            dose,
            release.by_hours,
            earliest_start(input),
            &input.lamps,
        )
    });
    let surroundings = Surroundings::of(input, &samples, &milestones, start_hours, panel_c);
    Ok(CureResult {
        rate: mean_rate(&input.coating, &milestones),
        start_hours,
        latest_start_hours,
        mean_kinetic_c: mean_kinetic_c(input, &course, start_hours, by_moisture),
        dew_point_c: moist.as_ref().map(|moist| moist.dew_point_c),
        dew_margin_k: moist.as_ref().and_then(|moist| moist.dew_margin_k),
        temperature_uncertainty_k: doubt.temperature_k,
        rate_uncertainty_percent: input.rate_uncertainty_percent.unwrap_or(0.0),
        model: model(input, by_moisture),
        cautions: cautions(
            input,
            &surroundings,
            &milestones,
            latest_start_hours,
            moist.as_ref(),
        ),
        milestones,
    })
}

fn check(input: &CureInput) -> Result<(), CalcError> {
    let mut checks = Checks::new();
    input.coating.check(&mut checks);
    checks.optional_in_range("panel_c", input.panel_c, -20.0, 100.0, "C");
    let series = !input.samples.is_empty();
    checks.require(series || input.panel_c.is_some(), "panel_c", || {
        "is required where no samples are given".to_owned()
    });
    checks.require(!series || input.panel_c.is_none(), "panel_c", || {
        "must not be given together with samples, which tell it".to_owned()
    });
    if let Some(air) = &input.air {
        let mut of_air = Checks::new();
        air.check(&mut of_air);
        if let Err(CalcError::Invalid(violations)) = of_air.finish() {
            checks.take(violations.below("air"));
        }
    }
    check_samples(&input.samples, &mut checks);
    check_lamps(&input.lamps, &mut checks);
    check_times(input, &mut checks);
    let uncertainty = input.temperature_uncertainty_k;
    checks.optional_in_range("temperature_uncertainty_k", uncertainty, 0.0, 10.0, "K");
    let uncertainty = input.rate_uncertainty_percent;
    checks.optional_in_range(
        "rate_uncertainty_percent",
        uncertainty,
        0.0,
        100.0,
        "percent",
    );
    checks.finish()
}

fn check_times(input: &CureInput, checks: &mut Checks) {
    const UNIT: &str = "hours from the first sample";
    let mut near = |field: &str, hours| {
        checks.optional_in_range(field, hours, -FURTHEST_HOURS, FURTHEST_HOURS, UNIT);
    };
    near("applied_time", input.start_hours);
    near("forecast_from_time", input.forecast_from_hours);
    near(
        "release_by_time",
        input.release.map(|release| release.by_hours),
    );
    if let (Some(first), Some(start)) = (input.samples.first(), input.start_hours) {
        let early = start < first.at_hours;
        checks.require(!early, "applied_time", || {
            let by = first.at_hours - start;
            format!("must not be before the first sample, got {by:.4} hours before it")
        });
    }
    let series = !input.samples.is_empty();
    checks.require(
        series || input.forecast_from_hours.is_none(),
        "forecast_from_time",
        || "must not be given without samples: there is no forecast".to_owned(),
    );
    if let Some(release) = input.release {
        let stated = input
            .coating
            .reference_hours()
            .any(|(kind, _)| kind == release.milestone);
        checks.require(stated, "release_milestone", || {
            "must be a milestone that the coating states a time for".to_owned()
        });
    }
}

/// The samples, or one that stands for the panel's held temperature. What vapour
/// the bay's air holds, it also holds at the panel, which may be warmer.
fn conditions(input: &CureInput) -> Vec<Sample> {
    let Some(panel_c) = input.panel_c else {
        return input.samples.clone();
    };
    let vapour =
        |air: AirInput| absolute_humidity_g_per_m3(air.air_c, air.relative_humidity_percent);
    let at_panel = |air| 100.0 * vapour(air) / absolute_humidity_g_per_m3(panel_c, 100.0);
    vec![Sample {
        at_hours: input.start_hours.unwrap_or(0.0),
        panel_c,
        relative_humidity_percent: input.air.map(at_panel),
    }]
}

/// The earliest start that conditions are known for; none where they are held.
fn earliest_start(input: &CureInput) -> Option<f64> {
    input.samples.first().map(|sample| sample.at_hours)
}

fn milestones(
    input: &CureInput,
    course: &Course<'_>,
    start_hours: f64,
    by_moisture: bool,
) -> Vec<Milestone> {
    let scaled = input.coating.temperature_response.is_some() || by_moisture;
    let basis = if scaled {
        MilestoneBasis::ProductDataScaled
    } else {
        MilestoneBasis::ProductData
    };
    let known_to = input.samples.last().map(|last| {
        input
            .forecast_from_hours
            .map_or(last.at_hours, |forecast| forecast.min(last.at_hours))
    });
    let certain =
        input.temperature_uncertainty_k.is_none() && input.rate_uncertainty_percent.is_none();
    let mut milestones: Vec<Milestone> = input
        .coating
        .reference_hours()
        .map(|(kind, dose)| {
            let reached = |which| course.reached_hours(start_hours, dose, which) - start_hours;
            let after_hours = reached(EXPECTED);
            let (earliest_hours, latest_hours) = if certain {
                (after_hours, after_hours)
            } else {
                // Each is found on its own to about 1e-12; keep them in order all the same.
                (
                    reached(FASTEST).min(after_hours),
                    reached(SLOWEST).max(after_hours),
                )
            };
            let latest = start_hours + latest_hours;
            let rests_on_forecast = known_to.is_some_and(|known_to| latest > known_to);
            Milestone {
                kind,
                after_hours,
                earliest_hours,
                latest_hours,
                basis,
                rests_on_forecast,
            }
        })
        .collect();
    milestones.sort_by(|a, b| {
        a.after_hours
            .total_cmp(&b.after_hours)
            .then(a.kind.cmp(&b.kind))
    });
    milestones
}

fn too_rough() -> CalcError {
    CalcError::Infeasible {
        reason: "SERIES_TOO_ROUGH",
        field: "samples".to_owned(),
        message: "swing so far and so often that following them takes too long; look for damaged \
                  lines, or leave some out"
            .to_owned(),
    }
}

fn not_too_slow(input: &CureInput, milestones: &[Milestone]) -> Result<(), CalcError> {
    let longest = milestones
        .iter()
        .map(|milestone| milestone.latest_hours)
        .fold(0.0, f64::max);
    if longest <= LONGEST_HOURS {
        return Ok(());
    }
    let (field, conditions) = match input.panel_c {
        Some(panel_c) => ("panel_c", format!("at {panel_c} C")),
        None => ("samples", "under these conditions".to_owned()),
    };
    Err(CalcError::Infeasible {
        reason: "CURE_TOO_SLOW",
        field: field.to_owned(),
        message: format!(
            "{conditions} the cure would not end within {LONGEST_HOURS} hours (it would take \
             {longest:.1e}; its times hold at {} C); warm the panel, or moisten the air for a \
             moisture cure",
            input.coating.reference_c
        ),
    })
}

/// The last milestone's stated time over its expected one.
fn mean_rate(coating: &CoatingData, milestones: &[Milestone]) -> f64 {
    milestones.last().map_or(1.0, |last| {
        let stated = coating
            .reference_hours()
            .find(|(kind, _)| *kind == last.kind);
        stated.map_or(1.0, |(_, dose)| dose / last.after_hours)
    })
}

/// What the air says as the coating goes on; samples stand in for a measurement.
fn moist(input: &CureInput, panel_c: f64, humidity: f64) -> Result<Option<AirResult>, CalcError> {
    let sampled = || {
        let air = AirInput {
            air_c: panel_c,
            relative_humidity_percent: humidity,
            pressure_pa: None,
            altitude_m: None,
        };
        let mut checks = Checks::new();
        air.check(&mut checks);
        (!input.samples.is_empty() && checks.is_clean()).then_some(air)
    };
    input
        .air
        .or_else(sampled)
        .map(|air| air::dew_point(&air, Some(panel_c)))
        .transpose()
}

fn mean_kinetic_c(
    input: &CureInput,
    course: &Course<'_>,
    start_hours: f64,
    by_moisture: bool,
) -> Option<f64> {
    let Some(TemperatureResponse::Arrhenius {
        activation_energy_kj_per_mol: energy,
    }) = input.coating.temperature_response
    else {
        return None;
    };
    let end_hours = input.samples.last()?.at_hours;
    if by_moisture || end_hours <= start_hours {
        return None;
    }
    let rate = course.ambient_dose(start_hours, end_hours) / (end_hours - start_hours);
    let reference_inverse = 1.0 / (input.coating.reference_c + KELVIN);
    Some(1.0 / (reference_inverse - rate.ln() * GAS_CONSTANT / (energy * 1000.0)) - KELVIN)
}

fn model(input: &CureInput, by_moisture: bool) -> String {
    let response = match input.coating.temperature_response {
        Some(TemperatureResponse::Arrhenius { .. }) => "scaled by the Arrhenius factor",
        Some(TemperatureResponse::Q10 { .. }) => "scaled by a power of Q10",
        Some(TemperatureResponse::Table { .. }) => "scaled by the product's table of rates",
        None => "not scaled for temperature",
    };
    let moisture = if by_moisture {
        " and a power of the vapour in the air"
    } else {
        ""
    };
    let conditions = match (input.samples.is_empty(), input.lamps.is_empty()) {
        (true, true) => "at a constant panel temperature",
        (true, false) => "at a constant panel temperature, lamps over it",
        (false, true) => "integrated along the samples in straight lines, the last held",
        (false, false) => {
            "integrated along the samples in straight lines, the last held, lamps over it"
        }
    };
    format!("reference times {response}{moisture}, {conditions}")
}
