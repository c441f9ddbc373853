//! What to look out for while a coating goes on and cures, as data. The
//! product's own instructions and safety data sheet come before all of it.

use super::coating::CoatingData;
use super::timing::CureInput;
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

/// The cautions for these conditions, those of the product first.
pub(crate) fn cautions(input: &CureInput, rate: f64, moist: Option<&AirResult>) -> Vec<Caution> {
    let mut cautions = product_limits(input);
    cautions.extend(scaling(&input.coating, input.panel_c, rate));
    cautions.extend(recoat(&input.coating, rate));
    cautions.extend(moisture(&input.coating, moist));
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

fn product_limits(input: &CureInput) -> Vec<Caution> {
    let CureInput {
        coating,
        panel_c,
        air,
    } = input;
    let mut cautions = Vec::new();
    let mut add = |code, text| {
        cautions.push(Caution {
            code,
            severity: Severity::Warning,
            text,
            basis: PRODUCT,
        });
    };
    if let Some(low) = coating.min_panel_c.filter(|low| panel_c < low) {
        add(
            CautionCode::PanelOutOfProductRange,
            format!(
                "The panel is at {}, below the product's lowest of {}: it may never cure properly. \
                 Warm the panel before it is coated.",
                shown(*panel_c),
                shown(low)
            ),
        );
    }
    if let Some(high) = coating.max_panel_c.filter(|high| panel_c > high) {
        add(
            CautionCode::PanelOutOfProductRange,
            format!(
                "The panel is at {}, above the product's highest of {}: it may flash before it can be \
                 levelled.",
                shown(*panel_c),
                shown(high)
            ),
        );
    }
    if let (Some(high), Some(air)) = (coating.max_relative_humidity_percent, air)
        && air.relative_humidity_percent > high
    {
        add(
            CautionCode::HumidityOutOfProductRange,
            format!(
                "Relative humidity is {:.1} %, above the product's highest of {high:.1} %.",
                air.relative_humidity_percent
            ),
        );
    }
    cautions
}

/// What the scaled times are worth.
fn scaling(coating: &CoatingData, panel_c: f64, rate: f64) -> Vec<Caution> {
    let apart_k = (panel_c - coating.reference_c).abs();
    let mut cautions = Vec::new();
    match coating.temperature_response {
        None => cautions.push(Caution {
            code: CautionCode::CureNotScaled,
            severity: if apart_k > SAME_K { Severity::Caution } else { Severity::Info },
            text: format!(
                "The product data say nothing of temperature, so its times for {} are shown as they \
                 are; the panel is at {}. A colder panel takes longer.",
                shown(coating.reference_c),
                shown(panel_c)
            ),
            basis: PRODUCT,
        }),
        Some(_) if apart_k > FAR_K => cautions.push(Caution {
            code: CautionCode::CureScaledFar,
            severity: Severity::Caution,
            text: format!(
                "The panel is {apart_k:.0} K from the {} that the product's times hold at; at {rate:.2} \
                 times that speed they are an estimate. Check the film before relying on them.",
                shown(coating.reference_c)
            ),
            basis: COMMON_PRACTICE,
        }),
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
    if coating.full_cure_hours.is_some() && panel_c < VITRIFIES_BELOW_C {
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

/// The next layer: no window known, or what a missed one means.
fn recoat(coating: &CoatingData, rate: f64) -> Option<Caution> {
    let Some(window) = coating.recoat else {
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
    Some(Caution {
        code: CautionCode::RecoatWindowCloses,
        severity: Severity::Info,
        text: format!(
            "A further layer goes on between {:.1} and {:.1} hours. After that it may not bond: ask the \
             product's own instructions; often the layer is left to cure and abraded first.",
            window.open_hours / rate,
            window.close_hours / rate
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
