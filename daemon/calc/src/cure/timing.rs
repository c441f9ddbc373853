//! Milestones of a coating under constant conditions, in hours after
//! application: no clock here, the caller adds the instant.
//!
//! A stated time becomes `time / rate`. A constant activation energy overstates
//! the last part of a cure at room temperature, where the film vitrifies
//! (Huybrechts et al. 2006, abstract); a caution says so.

use super::cautions::cautions;
use super::coating::{CoatingData, TemperatureResponse};
use super::rate::rate;
use crate::air::{self, AirInput, AirResult};
use crate::caution::Caution;
use crate::error::CalcError;
use crate::violation::Checks;

/// Constant conditions of a cure.
#[derive(Debug, Clone, PartialEq)]
pub struct CureInput {
    /// The product.
    pub coating: CoatingData,
    /// Panel temperature, Celsius, -20 to 100, held throughout.
    pub panel_c: f64,
    /// The bay's air, for the dew point.
    pub air: Option<AirInput>,
}

/// When what may happen.
#[derive(Debug, Clone, PartialEq)]
pub struct CureResult {
    /// Rate relative to the reference temperature; 2 is twice as fast.
    pub rate: f64,
    /// The milestones in order of time.
    pub milestones: Vec<Milestone>,
    /// Dew point of the air, Celsius; below 0 the frost point.
    pub dew_point_c: Option<f64>,
    /// Panel temperature less dew point, kelvins.
    pub dew_margin_k: Option<f64>,
    /// The model, in words.
    pub model: &'static str,
    /// What to look out for.
    pub cautions: Vec<Caution>,
}

/// One milestone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Milestone {
    /// Which.
    pub kind: MilestoneKind,
    /// Hours after application.
    pub after_hours: f64,
    /// What the time rests on.
    pub basis: MilestoneBasis,
}

/// What a milestone's time rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MilestoneBasis {
    /// The product's own time as it stands: no temperature response is known.
    ProductData,
    /// The product's own time, scaled for panel temperature.
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

/// Milestones of a coating at a constant panel temperature.
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range, a window that ends
/// before it begins, or times out of order; paths as in `TimeCureRequest`.
/// [`CalcError::Infeasible`] with the reason `CURE_TOO_SLOW` when a milestone
/// lies more than 1 000 000 hours ahead.
pub fn time_cure(input: &CureInput) -> Result<CureResult, CalcError> {
    let moist = check(input)?;
    let coating = &input.coating;
    let rate = rate(coating, input.panel_c);
    let milestones = milestones(coating, rate);
    if let Some(last) = milestones
        .last()
        .filter(|last| last.after_hours > LONGEST_HOURS)
    {
        return Err(CalcError::Infeasible {
            reason: "CURE_TOO_SLOW",
            field: "panel_c".to_owned(),
            message: format!(
                "at {} C the cure runs at {rate:.1e} times its speed at {} C, so it would not end \
                 within {LONGEST_HOURS} hours (it would take {:.1e}); warm the panel",
                input.panel_c, coating.reference_c, last.after_hours
            ),
        });
    }
    Ok(CureResult {
        rate,
        milestones,
        dew_point_c: moist.as_ref().map(|moist| moist.dew_point_c),
        dew_margin_k: moist.as_ref().and_then(|moist| moist.dew_margin_k),
        model: model(coating),
        cautions: cautions(input, rate, moist.as_ref()),
    })
}

/// Checks everything; what the air tells comes with it.
fn check(input: &CureInput) -> Result<Option<AirResult>, CalcError> {
    let mut checks = Checks::new();
    input.coating.check(&mut checks);
    checks.in_range("panel_c", input.panel_c, -20.0, 100.0, "C");
    if let Some(air) = &input.air {
        let mut of_air = Checks::new();
        air.check(&mut of_air);
        match of_air.finish() {
            Ok(()) => {}
            Err(CalcError::Invalid(violations)) => checks.take(violations.below("air")),
            Err(error @ CalcError::Infeasible { .. }) => return Err(error),
        }
    }
    checks.finish()?;
    input
        .air
        .map(|air| air::dew_point(&air, Some(input.panel_c)))
        .transpose()
}

/// The stated times divided by the rate, in order of time.
fn milestones(coating: &CoatingData, rate: f64) -> Vec<Milestone> {
    let basis = match coating.temperature_response {
        Some(_) => MilestoneBasis::ProductDataScaled,
        None => MilestoneBasis::ProductData,
    };
    let mut milestones: Vec<Milestone> = coating
        .reference_hours()
        .map(|(kind, hours)| Milestone {
            kind,
            after_hours: hours / rate,
            basis,
        })
        .collect();
    milestones.sort_by(|a, b| {
        a.after_hours
            .total_cmp(&b.after_hours)
            .then(a.kind.cmp(&b.kind))
    });
    milestones
}

fn model(coating: &CoatingData) -> &'static str {
    match coating.temperature_response {
        Some(TemperatureResponse::Arrhenius { .. }) => {
            "reference times divided by the Arrhenius factor at a constant panel temperature"
        }
        Some(TemperatureResponse::Q10 { .. }) => {
            "reference times divided by a power of Q10 at a constant panel temperature"
        }
        None => "reference times, not scaled for temperature",
    }
}
