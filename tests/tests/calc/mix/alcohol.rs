//! Alcohol in water: density tables and handbooks, and scipy on the same table.

use lamella_calc::dilution::{Strength, Substance};
use lamella_calc::mix::Alcohol;
use lamella_calc::mix::contraction::{Poured, RealMix, real_mix};

use super::{Table, answer, diluted};
use crate::reference::Reference;

const OIML: &str = "OIML R 22 table, 20 C (secondary)";
const PERRY: &str = "Perry 7th ed. at handymath.com, 20 C";
const LEBO: &str = "computed from Lebo 1921 (secondary)";
const SCIPY: &str = "Lebo 1921 by scipy PCHIP, run here";

pub(super) fn ethanol(rows: &mut Table) {
    let alcohol = Alcohol::Ethanol;
    for (volume, share, kg_per_m3) in [
        (10.0, 0.08015, 984.71),
        (20.0, 0.16214, 973.56),
        (30.0, 0.24607, 962.21),
        (40.0, 0.33300, 948.05),
        (50.0, 0.42426, 930.14),
        (60.0, 0.52088, 909.11),
        (70.0, 0.62386, 885.56),
        (80.0, 0.73480, 859.27),
        (90.0, 0.85665, 829.18),
        (96.0, 0.93839, 807.42),
    ] {
        // The shares were computed with 789.24 for the neat density, as it is printed.
        rows.add(
            format!("ethanol {volume} % vol by weight"),
            OIML,
            "kg/kg",
            [share, alcohol.weight_percent(volume) / 100.0, 1.5e-5],
        );
        rows.add(
            format!("ethanol {volume} % vol density"),
            OIML,
            "kg/m3",
            [
                kg_per_m3,
                alcohol.density_at_volume_percent(volume) * 1000.0,
                0.01,
            ],
        );
    }
    // Another handbook, from other measurements: 0.1 kg/m3.
    for (weight, kg_per_l) in [
        (1.0, 0.99636),
        (2.0, 0.99453),
        (4.0, 0.99103),
        (5.0, 0.98938),
        (7.0, 0.98627),
        (9.0, 0.98331),
        (10.0, 0.98187),
        (12.0, 0.97910),
    ] {
        let got = alcohol.density_g_per_ml(weight);
        let check = format!("ethanol {weight} % w/w density");
        rows.add(check, PERRY, "kg/l", [kg_per_l, got, 1e-4]);
    }
    let half = real(alcohol, 500.0, 500.0);
    let source = "OIML R 22, computed before";
    rows.add(
        "500 ml ethanol + 500 ml water",
        source,
        "ml",
        [964.6, half.true_total_ml, 0.05],
    );
    let stock_ml = 1000.0;
    let total_ml = stock_ml * 96.0 / 70.0;
    let mix = answer(&diluted(
        96.0,
        Strength::Percent(70.0),
        total_ml,
        Substance::Ethanol,
    ));
    let exact = mix.nature.exact.expect("an alcohol has an exact pour");
    rows.add(
        "1 l of 96 % to 70 %: water",
        source,
        "ml",
        [407.8, exact.diluent_ml, 0.05],
    );
    rows.add(
        "1 l of 96 % to 70 %: adding volumes",
        source,
        "ml",
        [371.4, mix.diluent_ml, 0.05],
    );
}

pub(super) fn propanol(rows: &mut Table, reference: &Reference) {
    let alcohol = Alcohol::TwoPropanol;
    for (weight, volume) in [
        (9.58, 11.99),
        (21.39, 26.37),
        (33.17, 39.94),
        (43.02, 50.61),
        (53.07, 60.71),
        (65.22, 72.23),
        (74.35, 80.29),
        (85.09, 89.13),
        (90.35, 93.01),
    ] {
        let got = alcohol.volume_percent(weight);
        rows.add(
            format!("2-propanol {weight} % w/w by volume"),
            LEBO,
            "%",
            [volume, got, 0.006],
        );
    }
    for (volume, gravity) in [(68.0, 0.883), (72.0, 0.872)] {
        // Specific gravity at 20 C against water at 20 C, 0.99820 g/ml.
        let got = alcohol.density_at_volume_percent(volume) / 0.998_20;
        let source = "USP 32, isopropyl rubbing alcohol";
        rows.add(
            format!("2-propanol {volume} % vol gravity"),
            source,
            "",
            [gravity, got, 1e-3],
        );
    }
    for row in reference.rows("mix.densities") {
        let got = alcohol.density_g_per_ml(row[0]);
        rows.add(
            format!("2-propanol {} % w/w density", row[0]),
            SCIPY,
            "g/ml",
            [row[1], got, 1e-9],
        );
    }
    for row in reference.rows("mix.poured") {
        let found = real(alcohol, row[0], row[1]);
        let name = format!("{} ml 2-propanol + {} ml water", row[0], row[1]);
        rows.add(
            name.clone(),
            SCIPY,
            "ml",
            [row[2], found.true_total_ml, 1e-6],
        );
        rows.add(
            name,
            SCIPY,
            "%",
            [row[3], found.true_strength_percent, 1e-6],
        );
    }
    for row in reference.rows("mix.exact") {
        let (target, substance) = (Strength::Percent(row[1]), Substance::IsopropylAlcohol);
        let exact = answer(&diluted(row[0], target, 1000.0, substance))
            .nature
            .exact;
        let check = format!("{} % to {} %, exactly 1 l: water", row[0], row[1]);
        let got = exact.expect("an alcohol has an exact pour").diluent_ml;
        rows.add(check, SCIPY, "ml", [row[2], got, 1e-6]);
    }
    let mix = answer(&diluted(
        91.0,
        Strength::Percent(35.0),
        1000.0,
        Substance::IsopropylAlcohol,
    ));
    rows.add(
        "91 % to 35 %, 1 l: stock",
        "C1 V1 = C2 V2",
        "ml",
        [384.615, mix.concentrate_ml, 5e-4],
    );
    rows.add(
        "91 % to 35 %, 1 l: water",
        "C1 V1 = C2 V2",
        "ml",
        [615.385, mix.diluent_ml, 5e-4],
    );
}

fn real(alcohol: Alcohol, alcohol_ml: f64, water_ml: f64) -> RealMix {
    let neat = Poured {
        volume_ml: alcohol_ml,
        strength_percent: 100.0,
    };
    let water = Poured {
        volume_ml: water_ml,
        strength_percent: 0.0,
    };
    real_mix(alcohol, &[neat, water]).expect("two liquids")
}
