//! What to look out for while a coating goes on and cures, as data. The
//! product's own instructions and safety data sheet come before all of it.

use super::coating::CoatingData;
use super::series::Sample;
use super::timing::{CureInput, Milestone, MilestoneKind};
use crate::air::AirResult;
use crate::caution::{COMMON_PRACTICE, Caution, CautionCode, Severity};

const PRODUCT: &str = "the product's own data";
/// Below this panel temperature a repair clearcoat is taken to vitrify before
/// it is fully cured, Celsius: top of the range of glass transitions of air-dried
/// refinish, from memory.
const VITRIFIES_BELOW_C: f64 = 60.0;
/// How far from the reference temperature the times are still taken at face
/// value, kelvins (common practice, no source).
const FAR_K: f64 = 15.0;
/// Difference in panel temperature that matters to the times, kelvins (common practice, no
/// source).
const SAME_K: f64 = 2.0;

/// What panel and air go through from application to the last milestone's
/// latest time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Surroundings {
    /// Panel temperature as the coating goes on, Celsius.
    start_c: f64,
    /// Coldest panel, no lamp on, Celsius.
    coldest_c: f64,
    /// Hottest panel, no lamp on, Celsius.
    hottest_c: f64,
    /// Hottest lamp, Celsius.
    lamp_c: Option<f64>,
    /// Lowest and highest relative humidity, percent.
    humidity: Option<(f64, f64)>,
    /// When the coating goes on, on the samples' axis.
    start_hours: f64,
}

impl Surroundings {
    pub(crate) fn of(
        input: &CureInput,
        samples: &[Sample],
        milestones: &[Milestone],
        start_hours: f64,
        start_c: f64,
    ) -> Self {
        let longest = milestones
            .iter()
            .map(|m| m.latest_hours)
            .fold(0.0, f64::max);
        let end_hours = start_hours + longest;
        // The samples on either side of the cure count too: the line runs to them.
        let first = samples
            .partition_point(|s| s.at_hours <= start_hours)
            .saturating_sub(1);
        let until = (samples.partition_point(|s| s.at_hours < end_hours) + 1).min(samples.len());
        let during = samples.get(first..until).unwrap_or(samples);
        let (coldest_c, hottest_c) = extremes(during.iter().map(|sample| sample.panel_c));
        let lamp_c = input.lamps.iter().map(|lamp| lamp.panel_c).reduce(f64::max);
        let given = input.air.map(|air| air.relative_humidity_percent);
        let sampled = input
            .samples
            .first()
            .and_then(|sample| sample.relative_humidity_percent);
        let humidity = match sampled {
            Some(_) => Some(extremes(
                during
                    .iter()
                    .filter_map(|sample| sample.relative_humidity_percent)
                    .chain(given),
            )),
            None => given.map(|humidity| (humidity, humidity)),
        };
        Self {
            start_c,
            coldest_c,
            hottest_c,
            lamp_c,
            humidity,
            start_hours,
        }
    }

    /// Hottest the panel gets, Celsius.
    fn peak_c(&self) -> f64 {
        self.lamp_c
            .map_or(self.hottest_c, |lamp_c| lamp_c.max(self.hottest_c))
    }

    /// Furthest that the panel is from `reference_c`, kelvins.
    fn apart_k(&self, reference_c: f64) -> f64 {
        (self.peak_c() - reference_c)
            .abs()
            .max((self.coldest_c - reference_c).abs())
    }
}

fn extremes(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::MAX, f64::MIN), |(low, high), value| {
        (low.min(value), high.max(value))
    })
}

/// The cautions for these conditions, those of the product first.
pub(crate) fn cautions(
    input: &CureInput,
    around: &Surroundings,
    milestones: &[Milestone],
    latest_start_hours: Option<f64>,
    moist: Option<&AirResult>,
) -> Vec<Caution> {
    let coating = &input.coating;
    let mut cautions = product_limits(coating, around);
    cautions.extend(promise(input, around, milestones, latest_start_hours));
    cautions.extend(scaling(coating, around, milestones));
    cautions.extend(of_moisture_cure(input));
    cautions.extend(forecast(input, milestones));
    cautions.extend(recoat(milestones));
    cautions.extend(lamps(coating, around));
    cautions.extend(moisture(coating, moist));
    cautions.push(Caution {
        code: CautionCode::SafetyDataSheet,
        severity: Severity::Caution,
        text: "Coatings can harm lungs, skin and eyes, and may burn: ventilate, wear what the \
               safety data sheet says, keep ignition away. Its instructions come before these times."
            .to_owned(),
        basis: COMMON_PRACTICE,
    });
    cautions
}

fn product_limits(coating: &CoatingData, around: &Surroundings) -> Vec<Caution> {
    let mut cautions = Vec::new();
    let mut add = |code, text| {
        cautions.push(Caution {
            code,
            severity: Severity::Warning,
            text,
            basis: PRODUCT,
        });
    };
    if let Some(low) = coating.min_panel_c.filter(|low| around.coldest_c < *low) {
        add(
            CautionCode::PanelOutOfProductRange,
            format!(
                "The panel is at {} at its coldest, below the product's lowest of {}: it may never \
                 cure properly. Keep the panel warm from before it is coated.",
                shown(around.coldest_c),
                shown(low)
            ),
        );
    }
    if let Some(high) = coating.max_panel_c.filter(|high| around.hottest_c > *high) {
        add(
            CautionCode::PanelOutOfProductRange,
            format!(
                "The panel is at {} at its hottest, above the product's highest of {}: it may flash \
                 before it can be levelled.",
                shown(around.hottest_c),
                shown(high)
            ),
        );
    }
    let Some((driest, dampest)) = around.humidity else {
        return cautions;
    };
    if let Some(high) = coating
        .max_relative_humidity_percent
        .filter(|high| dampest > *high)
    {
        add(
            CautionCode::HumidityOutOfProductRange,
            format!(
                "Relative humidity is {dampest:.1} % at most, above the product's highest of {high:.1} %."
            ),
        );
    }
    if let Some(low) = coating
        .min_relative_humidity_percent
        .filter(|low| driest < *low)
    {
        add(
            CautionCode::HumidityOutOfProductRange,
            format!(
                "Relative humidity is {driest:.1} % at least, below the product's lowest of {low:.1} %: \
                 a coating that cures by moisture may stay soft."
            ),
        );
    }
    cautions
}

/// Whether the promise can be kept.
fn promise(
    input: &CureInput,
    around: &Surroundings,
    milestones: &[Milestone],
    latest_start_hours: Option<f64>,
) -> Option<Caution> {
    let release = input.release?;
    let caution = |code, text| Caution {
        code,
        severity: Severity::Warning,
        text,
        basis: "the times above, run backwards from the promise",
    };
    if latest_start_hours.is_none() {
        return Some(caution(
            CautionCode::ReleaseOutOfReach,
            "No start within the samples reaches this milestone by the promised time. Promise a \
             later time, or warm the panel."
                .to_owned(),
        ));
    }
    // Without a time of application there is only the question when to begin.
    input.start_hours?;
    let due = milestones
        .iter()
        .find(|milestone| milestone.kind == release.milestone)?;
    let late = |hours: f64| around.start_hours + hours - release.by_hours;
    let (expected, latest) = (late(due.after_hours), late(due.latest_hours));
    (latest > 0.0).then(|| {
        let text = if expected > 0.0 {
            format!(
                "As it was applied, the promise is missed by {expected:.1} hours, by up to \
                 {latest:.1} at the slowest. Tell the customer a new time."
            )
        } else {
            format!(
                "As it was applied, the promise is kept at the expected speed, but missed by up to \
                 {latest:.1} hours at the slowest."
            )
        };
        caution(CautionCode::ReleaseMissed, text)
    })
}

/// What the scaled times are worth.
fn scaling(coating: &CoatingData, around: &Surroundings, milestones: &[Milestone]) -> Vec<Caution> {
    let apart_k = around.apart_k(coating.reference_c);
    let mut cautions = Vec::new();
    match coating.temperature_response {
        None => cautions.push(Caution {
            code: CautionCode::CureNotScaled,
            severity: if apart_k > SAME_K { Severity::Caution } else { Severity::Info },
            text: format!(
                "The product data say nothing of temperature, so its times for {} are shown as they \
                 are; the panel is at {}. A colder panel takes longer.",
                shown(coating.reference_c),
                shown(around.start_c)
            ),
            basis: PRODUCT,
        }),
        Some(_) if apart_k > FAR_K => {
            let rate = last_rate(coating, milestones);
            cautions.push(Caution {
                code: CautionCode::CureScaledFar,
                severity: Severity::Caution,
                text: format!(
                    "The panel is up to {apart_k:.0} K from the {} that the product's times hold at; \
                     at {rate:.2} times that speed on average they are an estimate. Check the film before \
                     relying on them.",
                    shown(coating.reference_c)
                ),
                basis: COMMON_PRACTICE,
            });
        }
        Some(_) => {}
    }
    if coating.wipe.is_some() && coating.temperature_response.is_some() && apart_k > SAME_K {
        cautions.push(Caution {
            code: CautionCode::WipeByEye,
            severity: Severity::Info,
            text: "The wipe window is scaled like the cure, but it also follows air movement, \
                   humidity and how thick the coat is. Go by the look of the film on a test spot."
                .to_owned(),
            basis: COMMON_PRACTICE,
        });
    }
    if coating.full_cure_hours.is_some() && around.peak_c() < VITRIFIES_BELOW_C {
        cautions.push(Caution {
            code: CautionCode::FullCureIsEarliest,
            severity: Severity::Info,
            text:
                "The last part of a cure at room temperature is slower than a constant rate says; \
                   treat full cure as the earliest."
                    .to_owned(),
            basis: "Huybrechts et al. 2006, abstract: vitrification of clearcoats",
        });
    }
    cautions
}

/// Mean rate up to the last milestone.
fn last_rate(coating: &CoatingData, milestones: &[Milestone]) -> f64 {
    let last = milestones.last();
    let stated = last
        .and_then(|last| {
            coating
                .reference_hours()
                .find(|(kind, _)| *kind == last.kind)
        })
        .map_or(1.0, |(_, hours)| hours);
    last.map_or(1.0, |last| stated / last.after_hours)
}

/// A moisture cure in air whose moisture nobody measured.
fn of_moisture_cure(input: &CureInput) -> Option<Caution> {
    input.coating.humidity_response?;
    let sampled = input
        .samples
        .first()
        .is_some_and(|s| s.relative_humidity_percent.is_some());
    let known = if input.samples.is_empty() {
        input.air.is_some()
    } else {
        sampled
    };
    (!known).then(|| Caution {
        code: CautionCode::HumidityNotScaled,
        severity: Severity::Caution,
        text:
            "This coating cures by the moisture in the air, which is not known here; its times are \
               those for the product's own reference humidity. Dry air takes longer."
                .to_owned(),
        basis: PRODUCT,
    })
}

/// What is not yet known when the times are told.
fn forecast(input: &CureInput, milestones: &[Milestone]) -> Option<Caution> {
    milestones
        .iter()
        .any(|milestone| milestone.rests_on_forecast)
        .then(|| {
            let logged = match input.forecast_from_hours {
                Some(_) => "the forecast, and after it on the last value held",
                None => "the last sample being held",
            };
            Caution {
                code: CautionCode::RestsOnForecast,
                severity: Severity::Info,
                text: format!(
                    "Times marked so rest on {logged}. Ask again when more has been logged."
                ),
                basis: "the samples given",
            }
        })
}

/// The next layer: no window known, or what a missed one means.
fn recoat(milestones: &[Milestone]) -> Option<Caution> {
    let at = |kind| milestones.iter().find(|milestone| milestone.kind == kind);
    let (Some(open), Some(close)) = (
        at(MilestoneKind::RecoatOpen),
        at(MilestoneKind::RecoatClose),
    ) else {
        return Some(Caution {
            code: CautionCode::RecoatWindowUnknown,
            severity: Severity::Info,
            text:
                "The product data give no recoat window. Ask the product's own instructions before \
                   a further layer."
                    .to_owned(),
            basis: PRODUCT,
        });
    };
    // Safe at either end: not before it has surely opened, not after it may have closed.
    Some(Caution {
        code: CautionCode::RecoatWindowCloses,
        severity: Severity::Info,
        text: format!(
            "A further layer goes on between {:.1} and {:.1} hours. Once that is missed it may not \
             bond. {MISSED_RECOAT_WINDOW}",
            open.latest_hours, close.earliest_hours
        ),
        basis: COMMON_PRACTICE,
    })
}

/// What the trade does once a recoat window has closed (common practice, no source).
pub const MISSED_RECOAT_WINDOW: &str = "The product's own instructions come first. Where they are \
    silent, the layer is left to cure, abraded lightly and evenly or polished off, wiped down, and \
    the next goes on as a first layer would, on a test spot before the panel.";

/// What heat from lamps asks for.
fn lamps(coating: &CoatingData, around: &Surroundings) -> Option<Caution> {
    let lamp_c = around.lamp_c?;
    let above = coating.max_panel_c.filter(|high| lamp_c > *high);
    let limit = above.map_or_else(String::new, |high| {
        format!(
            " That is above the product's highest of {}: ask its instructions whether, and from when, \
             it may be baked.",
            shown(high)
        )
    });
    Some(Caution {
        code: CautionCode::LampHeat,
        severity: if above.is_some() {
            Severity::Warning
        } else {
            Severity::Caution
        },
        text: format!(
            "A lamp takes the panel to {}. Measure the panel, not the lamp; keep plastics, seals and \
             film below what they stand, and lamps away until solvent has flashed off.{limit}",
            shown(lamp_c)
        ),
        basis: COMMON_PRACTICE,
    })
}

/// The air's own cautions; the product's humidity limit, where there is one,
/// stands in for the general one.
fn moisture(coating: &CoatingData, moist: Option<&AirResult>) -> Vec<Caution> {
    let Some(moist) = moist else {
        return vec![Caution {
            code: CautionCode::AirUnknown,
            severity: Severity::Caution,
            text: "Nothing is said of the bay's air, so the distance to the dew point is not known. \
                   Measure air temperature and humidity before coating; at least 3 K (5.4 F) is usual."
                .to_owned(),
            basis: "ISO 8502-4 and ISO 12944-7, secondary sources",
        }];
    };
    let general = |caution: &&Caution| {
        caution.code != CautionCode::HumidityHigh || coating.max_relative_humidity_percent.is_none()
    };
    moist.cautions.iter().filter(general).cloned().collect()
}

fn shown(celsius: f64) -> String {
    format!("{celsius:.1} C ({:.1} F)", celsius * 1.8 + 32.0)
}
