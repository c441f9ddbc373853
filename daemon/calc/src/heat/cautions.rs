//! What to look out for while a panel is warmed, as data. Product instructions, safety data sheets
//! and licensed practice come before all of it.

use super::fit::FactorBasis;
use super::predict::{HeatInput, HeatResult};
use crate::advice::limits::default_ceiling_c;
use crate::caution::{COMMON_PRACTICE, Caution, CautionCode, Severity};
use crate::gauge::Substrate;

/// Surface temperature from which bare metal may burn skin that stays on it, Celsius (ISO 13732-1,
/// about 51 for a minute, from memory), less a margin.
const SKIN_C: f64 = 48.0;
/// Lower end of the glass transitions of air-dried refinish clear coat, Celsius (from memory).
const SOFTENS_C: f64 = 40.0;
/// A factor above this is more than friction of foam on wet paint explains (common practice, no source).
const IMPLAUSIBLE_FACTOR: f64 = 1.0;

const MEMORY: &str = "from memory, to be confirmed";

/// The cautions, gravest first.
pub(crate) fn cautions(input: &HeatInput, result: &HeatResult) -> Vec<Caution> {
    let mut cautions = Vec::new();
    temperatures(input, result, &mut cautions);
    about_the_panel(input, result, &mut cautions);
    about_the_factor(input, result, &mut cautions);
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.severity));
    cautions
}

fn temperatures(input: &HeatInput, result: &HeatResult, cautions: &mut Vec<Caution>) {
    let hottest = |temperature: &dyn Fn(&super::predict::SegmentHeat) -> f64| {
        result
            .segments
            .iter()
            .map(temperature)
            .fold(f64::NEG_INFINITY, f64::max)
    };
    let peak_c = hottest(&|segment| segment.peak.panel_c);
    let high_c = hottest(&|segment| segment.peak.high_c);
    let under_c = hottest(&|segment| segment.peak.panel_c + segment.under_pad_k);
    let ceiling_c = result.used.ceiling_c;
    if peak_c >= ceiling_c || high_c >= ceiling_c {
        let (severity, what) = if peak_c >= ceiling_c {
            (Severity::Warning, "is expected to pass")
        } else {
            (Severity::Caution, "may pass")
        };
        cautions.push(Caution {
            code: CautionCode::PredictedOverCeiling,
            severity,
            text: format!(
                "The panel {what} its ceiling of {}: expected {}, upper end {}. Shorten the work, \
                 press less or pause, and measure as you go.",
                shown(ceiling_c),
                shown(peak_c),
                shown(high_c)
            ),
            basis: COMMON_PRACTICE,
        });
    }
    if under_c >= ceiling_c && peak_c < ceiling_c {
        cautions.push(Caution {
            code: CautionCode::HotterUnderPad,
            severity: Severity::Caution,
            text: format!(
                "Just under the pad it is expected to reach {} for a moment, at or above the ceiling of \
                 {}; a reading after the pad has gone does not show it. Move faster or press less.",
                shown(under_c),
                shown(ceiling_c)
            ),
            basis: COMMON_PRACTICE,
        });
    }
    if peak_c >= SKIN_C {
        cautions.push(Caution {
            code: CautionCode::PanelHot,
            severity: Severity::Warning,
            text: format!(
                "At {} a panel can burn skin that stays on it: test with a thermometer, not with the hand.",
                shown(peak_c)
            ),
            basis: "ISO 13732-1, from memory",
        });
    }
    if peak_c.max(under_c) >= SOFTENS_C {
        cautions.push(Caution {
            code: CautionCode::ClearCoatSoftens,
            severity: Severity::Caution,
            text: "Clear coat softens near its glass transition, about 40 to 60 C (104 to 140 F) for \
                   air-dried refinish and 50 to 90 C (122 to 194 F) baked: it then cuts and mars \
                   faster. Ask the paint's own data, and take fresh or repaired paint as the softer."
                .to_owned(),
            basis: MEMORY,
        });
    }
    let default_c = default_ceiling_c(input.panel.substrate, input.edge);
    if ceiling_c > default_c {
        cautions.push(Caution {
            code: CautionCode::CeilingAboveDefault,
            severity: Severity::Warning,
            text: format!(
                "The ceiling given, {}, is above the usual {}.",
                shown(ceiling_c),
                shown(default_c)
            ),
            basis: COMMON_PRACTICE,
        });
    }
}

fn about_the_panel(input: &HeatInput, result: &HeatResult, cautions: &mut Vec<Caution>) {
    let mut say = |code, severity, text: String| {
        cautions.push(Caution {
            code,
            severity,
            text,
            basis: COMMON_PRACTICE,
        });
    };
    match input.panel.substrate {
        Substrate::Composite | Substrate::Plastic => {
            let text = format!(
                "{} does not carry heat away: the surface heats faster and cools slower than metal, \
                 and its resin or the part's shape can give way before the paint does.",
                capitalised(input.panel.substrate.word())
            );
            say(CautionCode::HeatStaysInPanel, Severity::Caution, text);
        }
        Substrate::Unknown => {
            let text = "The panel's material is not stated: it is taken as a composite sheet, which \
                        heats most over a whole pass.";
            say(
                CautionCode::SubstrateUnknown,
                Severity::Caution,
                text.to_owned(),
            );
        }
        Substrate::Steel | Substrate::Aluminium => {}
    }
    if input.edge {
        let text = "Paint is thin at edges and body lines, and heat has only one way to go: tape \
                    them, or stay off them.";
        say(
            CautionCode::EdgeThinPaint,
            Severity::Warning,
            text.to_owned(),
        );
    }
    if input.panel.thickness_mm.is_none() {
        let text = format!(
            "The panel's thickness was not given; {} mm was taken. A panel half as thick heats up to \
             twice as fast.",
            result.used.panel.thickness_mm
        );
        say(CautionCode::PanelThicknessAssumed, Severity::Info, text);
    }
}

fn about_the_factor(input: &HeatInput, result: &HeatResult, cautions: &mut Vec<Caution>) {
    let fit = match result.factor.basis {
        FactorBasis::Assumed => {
            cautions.push(Caution {
                code: CautionCode::HeatFactorAssumed,
                severity: Severity::Caution,
                text: "How much heat this pad and liquid make is assumed, not observed, and may be off \
                       by a factor of two. Read the panel during or after a pass and ask again with the readings."
                    .to_owned(),
                basis: COMMON_PRACTICE,
            });
            return;
        }
        FactorBasis::Fitted(fit) => fit,
    };
    if result.factor.factor > IMPLAUSIBLE_FACTOR {
        cautions.push(Caution {
            code: CautionCode::HeatFactorImplausible,
            severity: Severity::Caution,
            text: format!(
                "The readings ask for a heat factor of {:.2}, more than a wet pad makes: check \
                 pressure, speed, pad and section, and whether the sun or a lamp shines on the panel.",
                result.factor.factor
            ),
            basis: COMMON_PRACTICE,
        });
    }
    let (Some(residual_sd_k), Some(stated_k)) = (fit.residual_sd_k, input.reading_sd_k) else {
        return;
    };
    if residual_sd_k > 2.0 * stated_k {
        cautions.push(Caution {
            code: CautionCode::ReadingsScatter,
            severity: Severity::Caution,
            text: format!(
                "The readings lie {residual_sd_k:.1} K about the fit, more than twice the {stated_k} K \
                 stated for one reading: the intervals are too narrow. Leave reading_sd_k out to take \
                 the scatter itself."
            ),
            basis: "JCGM 100:2008, 4.2",
        });
    }
}

fn shown(celsius: f64) -> String {
    format!("{celsius:.1} C ({:.1} F)", celsius * 1.8 + 32.0)
}

fn capitalised(word: &str) -> String {
    let mut letters = word.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}
