//! Hazard classes: every limit from both sides. The class found stands as its
//! category, 0 for none. What is from memory says so.

use lamella_calc::mix::hazard::{
    Category, Component, HazardClass, HazardInput, HazardResult, MixFacts, classify,
};

use super::Table;

const CLP_FLAMMABLE: &str = "CLP Annex I Table 2.6.1";
const CLP_PH: &str = "CLP Annex I 3.2.3.1.2";
const GHS_TABLE: &str = "limits table citing GHS Rev. 10 (secondary)";
const GESI_2017: &str = "gesi.de, 20 Feb 2017 (secondary)";
const GESI_2021: &str = "gesi.de, 24 Mar 2021 (secondary)";
const FROM_MEMORY: &str = "CLP Table 3.2.4, from memory";
const GHS_MEMORY: &str = "UN GHS Table 2.6.1, from memory";

const SKIN: [(HazardClass, f64); 2] = [
    (HazardClass::SkinCorrosion1, 1.0),
    (HazardClass::SkinIrritation2, 2.0),
];
const EYE: [(HazardClass, f64); 2] = [
    (HazardClass::EyeDamage1, 1.0),
    (HazardClass::EyeIrritation2, 2.0),
];
const FLAMMABLE: [(HazardClass, f64); 3] = [
    (HazardClass::Flammable2, 2.0),
    (HazardClass::Flammable3, 3.0),
    (HazardClass::Flammable4, 4.0),
];

/// The category found, 0 for none.
fn category(result: &HazardResult, of: &[(HazardClass, f64)]) -> f64 {
    let found = of.iter().find(|(class, _)| result.has(*class));
    found.map_or(0.0, |(_, category)| *category)
}

fn of(parts: &[(f64, &[Category])]) -> HazardResult {
    let component = |&(percent, categories): &(f64, &[Category])| Component {
        name: "ingredient".to_owned(),
        percent_by_weight: percent,
        categories: categories.to_vec(),
        ph: None,
        not_additive: false,
    };
    with(parts.iter().map(component).collect(), None)
}

fn with(components: Vec<Component>, mix_ph: Option<f64>) -> HazardResult {
    let input = HazardInput {
        components,
        stock_ph: None,
        mix_ph,
    };
    classify(
        &input,
        &MixFacts {
            stock_share: 1.0,
            flash_point_c: None,
        },
    )
}

pub(super) fn rows(table: &mut Table) {
    skin_and_eyes(table);
    ph(table);
    flammable(table);
}

fn skin_and_eyes(table: &mut Table) {
    use Category::{EyeDamaging1, EyeIrritant2, SkinCorrosive1, SkinIrritant2};
    for (percent, expected) in [(5.0, 1.0), (4.99, 2.0), (1.0, 2.0), (0.99, 0.0)] {
        let got = category(&of(&[(percent, &[SkinCorrosive1])]), &SKIN);
        table.add(
            format!("{percent} % skin 1: skin"),
            GHS_TABLE,
            "cat",
            [expected, got, 0.0],
        );
    }
    for (percent, expected) in [(10.0, 2.0), (9.99, 0.0)] {
        let got = category(&of(&[(percent, &[SkinIrritant2])]), &SKIN);
        table.add(
            format!("{percent} % skin 2: skin"),
            GHS_TABLE,
            "cat",
            [expected, got, 0.0],
        );
    }
    for (percent, expected, source) in [
        (3.0, 1.0, GESI_2017),
        (2.99, 2.0, GESI_2017),
        (1.0, 2.0, GHS_TABLE),
        (0.99, 0.0, GHS_TABLE),
    ] {
        let got = category(&of(&[(percent, &[EyeDamaging1])]), &EYE);
        table.add(
            format!("{percent} % eye 1: eyes"),
            source,
            "cat",
            [expected, got, 0.0],
        );
    }
    for (percent, expected) in [(10.0, 2.0), (9.99, 0.0)] {
        let got = category(&of(&[(percent, &[EyeIrritant2])]), &EYE);
        table.add(
            format!("{percent} % eye 2: eyes"),
            GHS_TABLE,
            "cat",
            [expected, got, 0.0],
        );
    }
    // What is in at least one of the classes is added up, so once. The worked
    // example in print that counts twice is not used (see the check values, 1.6).
    let once = category(&of(&[(2.0, &[SkinCorrosive1, EyeDamaging1])]), &EYE);
    table.add(
        "2 % skin 1 and eye 1: eyes",
        GESI_2017,
        "cat",
        [2.0, once, 0.0],
    );
    let both = of(&[(1.5, &[SkinCorrosive1]), (1.5, &[EyeDamaging1])]);
    table.add(
        "1.5 % skin 1 + 1.5 % eye 1: eyes",
        GESI_2017,
        "cat",
        [1.0, category(&both, &EYE), 0.0],
    );
}

fn ph(table: &mut Table) {
    for (ph, expected) in [(2.0, 1.0), (2.1, 0.0), (11.4, 0.0), (11.5, 1.0)] {
        let got = category(&with(Vec::new(), Some(ph)), &SKIN);
        table.add(
            format!("pH {ph}: skin"),
            CLP_PH,
            "cat",
            [expected, got, 0.0],
        );
    }
    let alone = |percent, ph, not_additive, categories: &[Category]| {
        let component = Component {
            name: "ingredient".to_owned(),
            percent_by_weight: percent,
            categories: categories.to_vec(),
            ph,
            not_additive,
        };
        with(vec![component], None)
    };
    for (percent, expected) in [(1.0, 1.0), (0.99, 0.0)] {
        let got = alone(percent, Some(1.0), false, &[]);
        let name = format!("{percent} % of an acid at pH 1");
        table.add(
            format!("{name}: skin"),
            GESI_2021,
            "cat",
            [expected, category(&got, &SKIN), 0.0],
        );
        table.add(
            format!("{name}: eyes"),
            GESI_2021,
            "cat",
            [expected, category(&got, &EYE), 0.0],
        );
    }
    for (percent, expected) in [(3.0, 2.0), (2.99, 0.0)] {
        let got = category(
            &alone(percent, None, true, &[Category::SkinIrritant2]),
            &SKIN,
        );
        let check = format!("{percent} % skin 2, not additive: skin");
        table.add(check, FROM_MEMORY, "cat", [expected, got, 0.0]);
    }
}

fn flammable(table: &mut Table) {
    for (flash_c, expected, source) in [
        (22.9, 2.0, CLP_FLAMMABLE),
        (23.0, 3.0, CLP_FLAMMABLE),
        (60.0, 3.0, CLP_FLAMMABLE),
        (60.1, 4.0, GHS_MEMORY),
        (93.1, 0.0, GHS_MEMORY),
    ] {
        let facts = MixFacts {
            stock_share: 1.0,
            flash_point_c: Some(flash_c),
        };
        let got = category(&classify(&HazardInput::default(), &facts), &FLAMMABLE);
        table.add(
            format!("flash point {flash_c} C"),
            source,
            "cat",
            [expected, got, 0.0],
        );
    }
}
