//! What to keep in mind while mixing, as data.

use super::mix::{DilutionInput, Reading, Substance};
use super::number::shown;
use super::strength::Strength;
use crate::caution::{COMMON_PRACTICE, Caution, CautionCode, Severity};

/// The cautions of a mix, gravest first.
pub(super) fn of(input: &DilutionInput, readings: &[Reading]) -> Vec<Caution> {
    let mut cautions = of_substance(input.substance);
    cautions.extend(input.existing.iter().map(|_| top_up()));
    cautions.extend(read_one_way(input, readings));
    cautions.extend(input.injector.iter().map(|_| injector_drifts()));
    cautions.push(safety_data_sheet());
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.severity));
    cautions
}

fn of_substance(substance: Substance) -> Vec<Caution> {
    match substance {
        Substance::Unspecified | Substance::Shampoo => vec![],
        Substance::IsopropylAlcohol => {
            let basis = "NIOSH Pocket Guide, npgd0359; for mixtures: computed, good to 5 K at best";
            vec![
                flammable(
                    "Neat 2-propanol flashes from 11.7 C (53 F), a tenth in water",
                    basis,
                ),
                shrinks("Lebo 1921, secondary source: contraction up to 3.3 %"),
            ]
        }
        Substance::Ethanol => {
            let basis = "list of flash points, DCHAS-L post of 28 Jan 2015";
            let text = "Ethanol at 96 % flashes from 17 C (63 F), a tenth in water";
            vec![
                flammable(text, basis),
                shrinks("OIML R 22: 3.5 % for equal volumes at 20 C"),
            ]
        }
        Substance::AlkalineCleaner => vec![corrosive("Strong alkali")],
        Substance::AcidCleaner => vec![corrosive("Acid"), product_into_water()],
    }
}

fn flammable(flash: &str, basis: &'static str) -> Caution {
    Caution {
        code: CautionCode::FlammableLiquid,
        severity: Severity::Warning,
        text: format!(
            "{flash} still can in a hot bay. Ventilate, keep flames, sparks and static away, and \
             never use it on a hot panel. The safety data sheet says more."
        ),
        basis,
    }
}

fn shrinks(basis: &'static str) -> Caution {
    Caution {
        code: CautionCode::VolumesAssumedToAdd,
        severity: Severity::Info,
        text: "Alcohol and water shrink a little as they mix. Volumes are taken to add here, so \
               the bottle ends slightly short and slightly stronger than stated."
            .to_owned(),
        basis,
    }
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
