//! Mixes: teaching pages on alligation, density tables, lists of flash points,
//! limits of hazard classes; scipy, thermo and decimal run for this test.

use lamella_calc::dilution::{
    Dilution, DilutionInput, Injector, Parts, Strength, Substance, TargetAt, dilute,
};
use lamella_calc::mix::Alcohol;
use lamella_calc::mix::blend::{Amount, Blend, BlendInput, BlendLiquid, blend};
use lamella_calc::mix::contraction::{Poured, RealMix, real_mix};
use lamella_calc::mix::cost::StockPrice;
use lamella_calc::mix::exposure::{LimitKind, limits, mg_per_m3};
use lamella_calc::mix::flash::flash_point;

use crate::mix_hazard;
use crate::reference::Reference;
use crate::row::Row;

const HANDOUT: &str = "alligation handout, scribd.com 151502467";
const AYLOR: &str = "R. Aylor, alligation tutorial II";
const OIML: &str = "OIML R 22 table, 20 C (secondary)";
const PERRY: &str = "Perry 7th ed. at handymath.com, 20 C";
const LEBO: &str = "computed from Lebo 1921 (secondary)";
const SCIPY: &str = "Lebo 1921 by scipy PCHIP, run here";
const THERMO: &str = "modified UNIFAC by thermo 0.6.1, run here";
const DCHAS: &str = "DCHAS-L post, 28 Jan 2015";
const NIOSH: &str = "NIOSH Pocket Guide npgd0359";
const NIOSH_ETHANOL: &str = "NIOSH Pocket Guide npgd0262";
const CHART: &str = "dilution chart, docslib.org 12198174";
const JANITORIAL: &str = "janitorial table, pages.infinit.net/pbanat";

/// US fluid ounce, millilitres (NIST Handbook 44 appendix C).
const ML_PER_FLOZ: f64 = 29.573_529_562_5;

pub(crate) fn rows(reference: &Reference) -> Vec<Row> {
    let mut rows = Table::default();
    alligation(&mut rows);
    notation(&mut rows);
    injector(&mut rows);
    ethanol(&mut rows);
    propanol(&mut rows, reference);
    flash(&mut rows, reference);
    exposure(&mut rows);
    cost(&mut rows, reference);
    mix_hazard::rows(&mut rows);
    rows.0
}

/// The rows so far.
#[derive(Debug, Default)]
pub(crate) struct Table(Vec<Row>);

impl Table {
    /// One row; `held` is expected, got, tolerance.
    pub(crate) fn add(
        &mut self,
        check: impl Into<String>,
        source: &'static str,
        unit: &'static str,
        held: [f64; 3],
    ) {
        let [expected, got, tolerance] = held;
        self.0.push(Row {
            check: check.into(),
            source,
            expected,
            got,
            tolerance,
            unit,
        });
    }
}

fn mixed(liquids: &[(f64, Option<Amount>)], target: Option<f64>, total: Option<Amount>) -> Blend {
    let liquid = |&(percent, amount): &(f64, Option<Amount>)| BlendLiquid { percent, amount };
    let input = BlendInput {
        liquids: liquids.iter().map(liquid).collect(),
        target_percent: target,
        total,
        alcohol: None,
    };
    blend(&input).expect("a problem with an answer")
}

fn alligation(rows: &mut Table) {
    for (high, low, target, source, [strong, weak]) in [
        (95.0, 50.0, 70.0, HANDOUT, [20.0, 25.0]),
        (70.0, 20.0, 30.0, AYLOR, [10.0, 40.0]),
        (
            70.0,
            0.0,
            25.0,
            "pharmacy-tech-study.com, alligation",
            [25.0, 45.0],
        ),
        (
            30.0,
            10.0,
            20.0,
            "pharmacytutor.com, alligation alternate",
            [10.0, 10.0],
        ),
        (
            90.0,
            10.0,
            50.0,
            "calculatorhunt.com, alligation",
            [40.0, 40.0],
        ),
        (
            100.0,
            3.0,
            5.0,
            "pdf4pro.com 5af494, problem 1",
            [2.0, 95.0],
        ),
    ] {
        let found = mixed(&[(high, None), (low, None)], Some(target), None);
        let name = format!("{high} % and {low} % to {target} %");
        rows.add(
            format!("{name}: strong"),
            source,
            "parts",
            [strong, found.liquids[0].parts, 1e-9],
        );
        rows.add(
            format!("{name}: weak"),
            source,
            "parts",
            [weak, found.liquids[1].parts, 1e-9],
        );
    }
    // Exact: the page rounds 5/14 to 0.36 and prints 360 + 640.
    for (high, low, target, total, source, unit, [strong, weak], within) in [
        (
            70.0,
            0.0,
            25.0,
            Amount::Millilitres(1000.0),
            "pharmacy-tech-study.com, exact",
            "ml",
            [357.143, 642.857],
            5e-4,
        ),
        (
            100.0,
            3.0,
            5.0,
            Amount::Grams(300.0),
            "pdf4pro.com 5af494, computed",
            "g",
            [6.1856, 293.8144],
            5e-5,
        ),
        (
            30.0,
            10.0,
            20.0,
            Amount::Millilitres(100.0),
            "pharmacytutor.com",
            "ml",
            [50.0, 50.0],
            1e-9,
        ),
    ] {
        let found = mixed(&[(high, None), (low, None)], Some(target), Some(total));
        let got = |index: usize| {
            found.liquids[index]
                .amount
                .expect("a total was given")
                .value()
        };
        let name = format!("{high} % and {low} % to {target} %");
        rows.add(
            format!("{name}: strong"),
            source,
            unit,
            [strong, got(0), within],
        );
        rows.add(
            format!("{name}: weak"),
            source,
            unit,
            [weak, got(1), within],
        );
    }
    let ml = |volume| Some(Amount::Millilitres(volume));
    let found = mixed(
        &[(40.0, ml(3000.0)), (60.0, ml(1000.0)), (70.0, ml(1000.0))],
        None,
        None,
    );
    rows.add(
        "three alcohols by their mean",
        HANDOUT,
        "%",
        [50.0, found.percent, 1e-9],
    );
    let total_ml = found.total.expect("amounts were given").value();
    rows.add(
        "three alcohols: volume",
        HANDOUT,
        "ml",
        [5000.0, total_ml, 1e-9],
    );
}

fn diluted(stock: f64, target: Strength, total_ml: f64, substance: Substance) -> DilutionInput {
    DilutionInput {
        stock: Strength::Percent(stock),
        target,
        total_ml,
        existing: None,
        injector: None,
        target_at: TargetAt::Panel,
        substance,
        stock_density_g_per_ml: None,
        hazards: None,
        stock_price: None,
        label: None,
    }
}

fn answer(input: &DilutionInput) -> Dilution {
    dilute(input).expect("a mix that can be made")
}

/// Both readings of a label, each against print.
fn notation(rows: &mut Table) {
    let gallon_ml = 128.0 * ML_PER_FLOZ;
    let ounces = |label: String| {
        let target = Strength::Label(label);
        let mix = answer(&diluted(100.0, target, gallon_ml, Substance::Unspecified));
        mix.concentrate_ml / ML_PER_FLOZ
    };
    // The chart is printed to half an ounce.
    for (parts, printed) in [(4, 25.5), (10, 11.5), (32, 4.0), (128, 1.0)] {
        let label = format!("1:{parts}");
        let check = format!("{label} in a US gallon");
        rows.add(check, CHART, "fl oz", [printed, ounces(label), 0.25]);
    }
    // The table is printed to an ounce.
    for (parts, printed, within) in [
        (4, 32.0, 1e-9),
        (10, 12.0, 1.0),
        (32, 4.0, 1e-9),
        (128, 1.0, 1e-9),
    ] {
        let label = format!("1 in {parts}");
        let check = format!("{label} in a US gallon");
        rows.add(check, JANITORIAL, "fl oz", [printed, ounces(label), within]);
    }
}

fn injector(rows: &mut Table) {
    let source = "share = draw / outlet, computed before";
    for (outlet, draw, share, parts) in [(8.0, 0.5, 6.25, 15.0), (7.6, 0.3, 3.947, 24.33)] {
        let bottle = DilutionInput {
            injector: Some(Injector {
                water_l_per_min: outlet - draw,
                draw_l_per_min: draw,
            }),
            target_at: TargetAt::Bottle,
            ..diluted(
                100.0,
                Strength::Percent(20.0),
                1000.0,
                Substance::Unspecified,
            )
        };
        let found = answer(&bottle).injector.expect("an injector was given");
        let name = format!("{draw} l/min into {outlet} l/min");
        rows.add(
            format!("{name}: share"),
            source,
            "%",
            [share, found.share_percent, 5e-4],
        );
        rows.add(
            format!("{name}: water"),
            source,
            "parts",
            [parts, found.water_parts, 5e-3],
        );
        if outlet > 7.9 {
            rows.add(
                format!("{name}: 20 % arrives as"),
                source,
                "%",
                [1.25, found.outlet_percent, 1e-9],
            );
            rows.add(
                format!("{name}: a litre lasts"),
                source,
                "min",
                [2.0, found.bottle_minutes, 1e-9],
            );
        }
    }
    let jug = DilutionInput {
        injector: Some(Injector {
            water_l_per_min: 8.0,
            draw_l_per_min: 1.0,
        }),
        target_at: TargetAt::Bottle,
        ..diluted(
            100.0,
            Strength::Parts(Parts {
                product: 1.0,
                water: 0.0,
            }),
            1000.0,
            Substance::Unspecified,
        )
    };
    let found = answer(&jug).injector.expect("an injector was given");
    let source = "ICS Magazine, The Dilution Solution, 2010";
    rows.add(
        "5 qt jug at 8 parts of water",
        source,
        "qt",
        [45.0, 5.0 * (1.0 + found.water_parts), 1e-9],
    );
}

fn ethanol(rows: &mut Table) {
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

fn propanol(rows: &mut Table, reference: &Reference) {
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

fn flash(rows: &mut Table, reference: &Reference) {
    let at = |alcohol, volume: f64| {
        let found = flash_point(alcohol, volume).expect("a percentage");
        found.expect("strong enough for a figure")
    };
    for row in reference.rows("mix.flash") {
        let found = at(
            Alcohol::TwoPropanol,
            Alcohol::TwoPropanol.volume_percent(row[0]),
        );
        // Between the points of the table the curve is off by a few tenths.
        rows.add(
            format!("2-propanol {} % w/w flash estimate", row[0]),
            THERMO,
            "C",
            [row[1], found.estimate_c, 0.3],
        );
    }
    // Measured: the estimate's own error is what the bound takes off.
    let sheet = at(
        Alcohol::TwoPropanol,
        Alcohol::TwoPropanol.volume_percent(70.0),
    );
    let source = "safety data sheet of 70 % w/w, 2015";
    rows.add(
        "2-propanol 70 % w/w flash estimate",
        source,
        "C",
        [18.3, sheet.estimate_c, sheet.error_k],
    );
    for (volume, listed_c) in [
        (10.0, 49.0),
        (20.0, 36.0),
        (30.0, 29.0),
        (40.0, 26.0),
        (50.0, 24.0),
        (60.0, 22.0),
        (70.0, 21.0),
        (80.0, 20.0),
        (90.0, 17.0),
        (96.0, 17.0),
    ] {
        let found = at(Alcohol::Ethanol, volume);
        rows.add(
            format!("ethanol {volume} % vol flash bound + error"),
            DCHAS,
            "C",
            [listed_c, found.lower_c + found.error_k, 1e-9],
        );
    }
    // 53 F and 55 F, printed to a degree Fahrenheit.
    for (alcohol, fahrenheit, source) in [
        (Alcohol::TwoPropanol, 53.0, NIOSH),
        (Alcohol::Ethanol, 55.0, NIOSH_ETHANOL),
    ] {
        rows.add(
            format!("{} neat flash bound", alcohol.name()),
            source,
            "C",
            [(fahrenheit - 32.0) / 1.8, at(alcohol, 100.0).lower_c, 0.05],
        );
    }
}

fn exposure(rows: &mut Table) {
    for (alcohol, source, printed, within) in [
        (Alcohol::TwoPropanol, NIOSH, 2.46, 0.005),
        // The guide rounds 46.1 / 24.45 up; the ideal gas says 1.883.
        (Alcohol::Ethanol, NIOSH_ETHANOL, 1.89, 0.01),
    ] {
        let got = mg_per_m3(alcohol, 1.0, 25.0, 101_325.0).expect("ordinary air");
        rows.add(
            format!("1 ppm {}", alcohol.name()),
            source,
            "mg/m3",
            [printed, got, within],
        );
    }
    let ppm = |alcohol, kind| {
        let found = limits(alcohol).iter().find(|limit| limit.kind == kind);
        found.expect("a limit of that kind").ppm
    };
    for (alcohol, kind, name, source, printed) in [
        (
            Alcohol::TwoPropanol,
            LimitKind::ShiftMean,
            "shift mean",
            NIOSH,
            400.0,
        ),
        (
            Alcohol::TwoPropanol,
            LimitKind::ShortTerm,
            "15 minutes",
            NIOSH,
            500.0,
        ),
        (
            Alcohol::TwoPropanol,
            LimitKind::ImmediatelyDangerous,
            "IDLH",
            NIOSH,
            2000.0,
        ),
        (
            Alcohol::Ethanol,
            LimitKind::ShiftMean,
            "shift mean",
            NIOSH_ETHANOL,
            1000.0,
        ),
        (
            Alcohol::Ethanol,
            LimitKind::ImmediatelyDangerous,
            "IDLH",
            NIOSH_ETHANOL,
            3300.0,
        ),
    ] {
        let check = format!("{} limit, {name}", alcohol.name());
        rows.add(check, source, "ppm", [printed, ppm(alcohol, kind), 0.0]);
    }
}

fn cost(rows: &mut Table, reference: &Reference) {
    for row in reference.rows("mix.litre") {
        let input = DilutionInput {
            stock_price: Some(StockPrice {
                // Whole numbers below 2^53, so exact.
                minor_units: format!("{:.0}", row[0]).parse().expect("whole"),
                volume_ml: row[1],
            }),
            ..diluted(
                100.0,
                Strength::Percent(row[2]),
                1000.0,
                Substance::Unspecified,
            )
        };
        let found = answer(&input).nature.cost.expect("a price was given");
        let got: f64 = found
            .per_litre_minor_units
            .to_string()
            .parse()
            .expect("a number");
        let check = format!("{} for {} ml, a litre at {} %", row[0], row[1], row[2]);
        rows.add(
            check,
            "Python decimal, half to even, run here",
            "minor",
            [row[3], got, 0.0],
        );
    }
}
