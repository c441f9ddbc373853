//! Pouring: teaching pages on alligation, charts on labels, lances, and money by
//! Python's decimal.

use lamella_calc::dilution::DilutionInput;
use lamella_calc::dilution::{Injector, Parts, Strength, Substance, TargetAt};
use lamella_calc::mix::blend::{Amount, Blend, BlendInput, BlendLiquid, blend};
use lamella_calc::mix::cost::StockPrice;

use super::{Table, answer, diluted};
use crate::reference::Reference;

const HANDOUT: &str = "alligation handout, scribd.com 151502467";
const AYLOR: &str = "R. Aylor, alligation tutorial II";
const CHART: &str = "dilution chart, docslib.org 12198174";
const JANITORIAL: &str = "janitorial table, pages.infinit.net/pbanat";
/// US fluid ounce, millilitres (NIST Handbook 44 appendix C).
const ML_PER_FLOZ: f64 = 29.573_529_562_5;

pub(super) fn alligation(rows: &mut Table) {
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

/// Both readings of a label, each against print.
pub(super) fn notation(rows: &mut Table) {
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

pub(super) fn injector(rows: &mut Table) {
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

pub(super) fn cost(rows: &mut Table, reference: &Reference) {
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
