//! What to keep in mind while mixing, as data.

use super::mix::{DilutionInput, Reading, Substance};
use super::nature::Nature;
use super::number::shown;
use super::strength::Strength;
use crate::caution::{COMMON_PRACTICE, Caution, CautionCode, Severity};
use crate::mix::hazard::{HazardResult, SignalWord};

/// The cautions of a mix, gravest first.
pub(super) fn of(input: &DilutionInput, readings: &[Reading], nature: &Nature) -> Vec<Caution> {
    let mut cautions = of_substance(input.substance, nature);
    cautions.extend(nature.hazard.as_ref().and_then(classified));
    cautions.extend(input.existing.iter().map(|_| top_up()));
    cautions.extend(read_one_way(input, readings));
    cautions.extend(input.injector.iter().map(|_| injector_drifts()));
    cautions.push(safety_data_sheet());
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.severity));
    cautions
}

fn of_substance(substance: Substance, nature: &Nature) -> Vec<Caution> {
    match substance {
        Substance::Unspecified | Substance::Shampoo => vec![],
        Substance::IsopropylAlcohol | Substance::Ethanol => {
            let mut cautions = vec![flammable(nature)];
            cautions.extend(shrinks(nature));
            cautions
        }
        Substance::AlkalineCleaner => vec![corrosive("Strong alkali")],
        Substance::AcidCleaner => vec![corrosive("Acid"), product_into_water()],
    }
}

fn flammable(nature: &Nature) -> Caution {
    let (flash, basis) = match &nature.flash {
        Some(flash) => (
            format!(
                "This mix may flash from {:.0} C ({:.0} F), the stock sooner; as a mist, on a cloth or \
                 on a warm panel it may catch fire even below.",
                flash.lower_c.floor(),
                (flash.lower_c * 1.8 + 32.0).floor()
            ),
            flash.basis,
        ),
        None => (
            "No flash point is known for a mix this weak, which does not make it safe; the stock \
             burns readily."
                .to_owned(),
            COMMON_PRACTICE,
        ),
    };
    Caution {
        code: CautionCode::FlammableLiquid,
        severity: Severity::Warning,
        text: format!(
            "{flash} Ventilate, keep flames, sparks and static away, and never use it on a hot \
             panel. The safety data sheet says more."
        ),
        basis,
    }
}

fn shrinks(nature: &Nature) -> Option<Caution> {
    let real = nature.real.as_ref()?;
    let instead = nature.exact.as_ref().map_or_else(String::new, |exact| {
        format!(
            " For the full volume at the stated strength add {:.1} ml of water.",
            exact.diluent_ml
        )
    });
    Some(Caution {
        code: CautionCode::VolumesAssumedToAdd,
        severity: Severity::Info,
        text: format!(
            "Volumes of alcohol and water do not add up: these amounts yield {:.1} ml at {:.2} %.{instead}",
            real.true_total_ml, real.true_strength_percent
        ),
        basis: real.model,
    })
}

/// The classes that are left after dilution.
fn classified(hazard: &HazardResult) -> Option<Caution> {
    let severity = match hazard.signal_word() {
        SignalWord::None => return None,
        SignalWord::Warning => Severity::Caution,
        SignalWord::Danger => Severity::Warning,
    };
    let classes: Vec<String> = hazard
        .printed()
        .map(|class| format!("{} {}", class.statement(), class.text()))
        .collect();
    Some(Caution {
        code: CautionCode::MixClassified,
        severity,
        text: format!(
            "By its ingredients this mix still counts as: {} The safety data sheet decides, also \
             where no class was found.",
            classes.join(" ")
        ),
        basis: "GHS and CLP (EC) 1272/2008 Annex I, additivity; standing beside each rule",
    })
}

fn corrosive(what: &str) -> Caution {
    Caution {
        code: CautionCode::CorrosiveSplash,
        severity: Severity::Warning,
        text: format!(
            "{what} burns eyes and skin, the undiluted stock most of all, and can stain bare \
             metal and trim: goggles, gloves, water at hand to rinse. Never mix it with another \
             cleaner. The safety data sheet says more."
        ),
        basis: COMMON_PRACTICE,
    }
}

fn product_into_water() -> Caution {
    Caution {
        code: CautionCode::AcidIntoWater,
        severity: Severity::Warning,
        text: "Water first, then acid, slowly: water poured onto acid can boil and spit."
            .to_owned(),
        basis: COMMON_PRACTICE,
    }
}

fn top_up() -> Caution {
    Caution {
        code: CautionCode::TopUpSameProduct,
        severity: Severity::Caution,
        text: "Top up only with the very same product, and only a bottle whose label says what is \
               in it. Two products may react or give off gas; an old mix may have lost strength."
            .to_owned(),
        basis: COMMON_PRACTICE,
    }
}

/// One caution for each label that is also printed with another meaning.
fn read_one_way(input: &DilutionInput, readings: &[Reading]) -> Vec<Caution> {
    let labels = [
        ("stock", Some(&input.stock)),
        ("target", Some(&input.target)),
        (
            "existing.strength",
            input.existing.as_ref().map(|existing| &existing.strength),
        ),
    ];
    let caution = |(field, strength): (&str, Option<&Strength>)| {
        let Some(Strength::Label(label)) = strength else {
            return None;
        };
        let reading = |used| readings.iter().find(|r| r.field == field && r.used == used);
        let (used, other) = (reading(true)?, reading(false)?);
        Some(Caution {
            code: CautionCode::LabelReadOneWay,
            severity: Severity::Caution,
            text: format!(
                "\"{}\" was read as {} ({} %). Some labels mean {} ({} %): the product's own \
                 instructions decide.",
                label.trim().escape_debug(),
                used.text,
                shown(used.percent),
                other.text,
                shown(other.percent)
            ),
            basis: "both readings are in print: a dilution-control chart and a janitorial table",
        })
    };
    labels.into_iter().filter_map(caution).collect()
}

fn injector_drifts() -> Caution {
    Caution {
        code: CautionCode::InjectorRatioDrifts,
        severity: Severity::Caution,
        text: "The ratio moves with water pressure and flow, and with how thick the mix is: \
               measure flow and draw on the lance as it is used."
            .to_owned(),
        basis: "a note on venturi proportioning by a maker of such equipment",
    }
}

fn safety_data_sheet() -> Caution {
    Caution {
        code: CautionCode::SafetyDataSheet,
        severity: Severity::Caution,
        text: "Read the safety data sheet and the product's instructions first; they come before \
               this figure. Gloves and eye protection while mixing, and label the bottle."
            .to_owned(),
        basis: COMMON_PRACTICE,
    }
}
