//! What to look out for with readings, as data.

use super::Topcoat;
use super::assess::{PanelAssessment, PanelReadings};
use super::layers::MOST_SURPRISE;
use super::readings::LEAST_READINGS;
use super::removal::{RemovalResult, RemovalVerdict};
use super::suspicion::Suspicion;
use super::uncertainty::GaugeSpec;
use crate::caution::{COMMON_PRACTICE, Caution, CautionCode, Severity};
use crate::gauge::{Substrate, readable_by};

const PA_2: &str = "SSPC-PA 2, secondary sources";
const ISO_2808: &str = "ISO 2808 family of methods (ultrasonic part from memory)";
const GUM: &str = "JCGM 100:2008";

/// Both units, since a gauge may show either.
pub(crate) fn um(um: f64) -> String {
    format!("{um:.1} um ({:.2} mil)", um / super::readings::UM_PER_MIL)
}

/// The cautions for one panel, gravest first.
pub(crate) fn panel(
    panel: &PanelAssessment,
    of: &PanelReadings,
    gauge: &GaugeSpec,
    floor_um: f64,
) -> Vec<Caution> {
    let mut cautions = Vec::new();
    let name = &panel.panel;
    topcoat(name, of.topcoat, &mut cautions);
    substrate(name, panel.substrate, gauge, panel.readable, &mut cautions);
    if of.topcoat != Topcoat::Unpainted && panel.readable {
        suspicion(name, panel.suspicion, &mut cautions);
        unexplained(panel, of.topcoat, &mut cautions);
        if panel.budget_um.is_some_and(|budget_um| budget_um <= 0.0) {
            cautions.push(spent(name, floor_um));
        }
        readings(panel, &mut cautions);
        if panel.clear.is_some() {
            cautions.push(Caution {
                code: CautionCode::EdgeThinPaint,
                severity: Severity::Info,
                text: format!(
                    "Panel {name}: paint is thinner at edges and body lines, where a gauge does not \
                     read well. The budget is for the flat only."
                ),
                basis: COMMON_PRACTICE,
            });
        }
    }
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.severity));
    cautions
}

/// The cautions for a removal.
pub(crate) fn removal(result: &RemovalResult) -> Vec<Caution> {
    let within = um(result.uncertainty.expanded_um);
    match result.verdict {
        RemovalVerdict::Removed => Vec::new(),
        RemovalVerdict::CannotTell => vec![Caution {
            code: CautionCode::RemovalWithinNoise,
            severity: Severity::Caution,
            text: format!(
                "Cannot tell: the difference is inside the noise of {within} (95 %). As much as {} \
                 may have come off; count on that much, or take more readings at the same spots.",
                um(result.high_um)
            ),
            basis: GUM,
        }],
        RemovalVerdict::Thicker => vec![Caution {
            code: CautionCode::ThickerThanBefore,
            severity: Severity::Warning,
            text: format!(
                "The panel reads thicker than before by more than the noise of {within}: other \
                 spots, another zero of the gauge, or something on the paint. Check the gauge and \
                 read again; no removal may be taken from this."
            ),
            basis: GUM,
        }],
    }
}

/// The composite and plastic rule, also for the ledger.
pub(crate) fn substrate(
    name: &str,
    substrate: Substrate,
    gauge: &GaugeSpec,
    readable: bool,
    cautions: &mut Vec<Caution>,
) {
    let (code, severity, text) = match substrate {
        Substrate::Unknown => (
            CautionCode::SubstrateUnknown,
            Severity::Warning,
            format!(
                "Panel {name}: what it is made of is not stated, so no clear coat is computed. State \
                 it: steel, aluminium, composite or plastic."
            ),
        ),
        Substrate::Composite | Substrate::Plastic if readable => return,
        Substrate::Composite | Substrate::Plastic => (
            CautionCode::UltrasonicOnly,
            Severity::Warning,
            format!(
                "Panel {name} is {}: ultrasonic only. Magnetic and eddy-current gauges do not read \
                 it, or show the distance to metal behind it. Take the clear coat as unknown.",
                substrate.word()
            ),
        ),
        Substrate::Steel | Substrate::Aluminium if readable => return,
        Substrate::Steel | Substrate::Aluminium => {
            let fitting: Vec<&str> = readable_by(substrate).iter().map(|p| p.word()).collect();
            let at_hand: Vec<&str> = gauge.principles.iter().map(|p| p.word()).collect();
            (
                CautionCode::GaugeCannotRead,
                Severity::Warning,
                format!(
                    "Panel {name} is {}, which {} gauges read; this gauge is {}. Its readings here \
                     do not count.",
                    substrate.word(),
                    fitting.join(" or "),
                    at_hand.join(" and ")
                ),
            )
        }
    };
    cautions.push(Caution {
        code,
        severity,
        text,
        basis: ISO_2808,
    });
}

/// Nothing may be taken off with 95 % confidence.
pub(crate) fn spent(name: &str, floor_um: f64) -> Caution {
    Caution {
        code: CautionCode::ClearCoatSpent,
        severity: Severity::Stop,
        text: format!(
            "Panel {name}: a floor of {} cannot be kept with 95 % confidence if anything is removed. \
             Clean and protect instead, or measure the clear coat by itself.",
            um(floor_um)
        ),
        basis: COMMON_PRACTICE,
    }
}

/// Matt, single-stage and bare panels.
pub(crate) fn topcoat(name: &str, topcoat: Topcoat, cautions: &mut Vec<Caution>) {
    let (code, severity, text) = match topcoat {
        Topcoat::Clear => return,
        Topcoat::Matt => (
            CautionCode::FinishMatt,
            Severity::Stop,
            format!(
                "Panel {name} is matt: polishing makes it shine, for good. There is no budget."
            ),
        ),
        Topcoat::SingleStage => (
            CautionCode::NoClearCoat,
            Severity::Warning,
            format!(
                "Panel {name} is single-stage: the colour itself is polished, and no clear coat is \
                 computed. Colour on the pad is normal; go by total thickness and a test spot."
            ),
        ),
        Topcoat::Unpainted => (
            CautionCode::NoClearCoat,
            Severity::Warning,
            format!("Panel {name} is not painted: readings say nothing here."),
        ),
    };
    cautions.push(Caution {
        code,
        severity,
        text,
        basis: COMMON_PRACTICE,
    });
}

fn suspicion(name: &str, suspicion: Suspicion, cautions: &mut Vec<Caution>) {
    let (code, text) = match suspicion {
        Suspicion::NotJudged | Suspicion::None => return,
        Suspicion::Thin => (
            CautionCode::PaintThin,
            format!(
                "Panel {name} is thin: it may have been cut down before, or a layer is missing."
            ),
        ),
        Suspicion::LocalRepair => (
            CautionCode::RefinishLikely,
            format!(
                "Panel {name}: one place is far thicker than the rest, as after a local repair. Its \
                 edge may be thin; take the clear coat of the whole panel as unknown."
            ),
        ),
        Suspicion::Refinished => (
            CautionCode::RefinishLikely,
            format!(
                "Panel {name} has likely been painted again: its layers are not those of the factory, \
                 so the clear coat is unknown. Refinish may be softer and may still cure."
            ),
        ),
        Suspicion::Filler => (
            CautionCode::FillerLikely,
            format!(
                "Panel {name} likely holds filler or several refinishes. Heat and pressure may print \
                 or lift it; take the clear coat as unknown."
            ),
        ),
    };
    cautions.push(Caution {
        code,
        severity: Severity::Warning,
        text,
        basis: COMMON_PRACTICE,
    });
}

/// Readings there, factory layers there, and still no clear coat.
fn unexplained(panel: &PanelAssessment, topcoat: Topcoat, cautions: &mut Vec<Caution>) {
    let name = &panel.panel;
    let clear_coated = match topcoat {
        Topcoat::Clear | Topcoat::Matt => true,
        Topcoat::SingleStage | Topcoat::Unpainted => false,
    };
    if panel.spots.is_empty() {
        cautions.push(Caution {
            code: CautionCode::ThicknessUnknown,
            severity: Severity::Warning,
            text: format!(
                "Panel {name} was not read: its clear coat is unknown, which caps how far correction \
                 may go."
            ),
            basis: COMMON_PRACTICE,
        });
    } else if clear_coated
        && panel.clear.is_none()
        && panel.suspicion.leaves_layers_as_made()
        && panel.substrate != Substrate::Unknown
    {
        cautions.push(Caution {
            code: CautionCode::ReadingUnexplained,
            severity: Severity::Warning,
            text: format!(
                "Panel {name}: a reading lies more than {MOST_SURPRISE} standard deviations from the \
                 layers assumed, so the clear coat is unknown. If the whole car reads so, state its \
                 layers."
            ),
            basis: COMMON_PRACTICE,
        });
    }
}

fn readings(panel: &PanelAssessment, cautions: &mut Vec<Caution>) {
    let name = &panel.panel;
    let few = panel
        .spots
        .iter()
        .filter(|spot| spot.stats.used < LEAST_READINGS)
        .count();
    if few > 0 {
        cautions.push(Caution {
            code: CautionCode::FewReadings,
            severity: Severity::Caution,
            text: format!(
                "Panel {name}: {few} of {} spots have fewer than {LEAST_READINGS} readings.",
                panel.spots.len()
            ),
            basis: PA_2,
        });
    }
    let odd: Vec<String> = panel
        .spots
        .iter()
        .flat_map(|spot| &spot.stats.odd)
        .take(3)
        .map(|odd| um(odd.reading_um))
        .collect();
    if !odd.is_empty() {
        cautions.push(Caution {
            code: CautionCode::ReadingOdd,
            severity: Severity::Caution,
            text: format!(
                "Panel {name}: {} far from the rest. Read there again; one that does not repeat is \
                 discarded, one that does is paint.",
                odd.join(", ")
            ),
            basis: PA_2,
        });
    }
}
