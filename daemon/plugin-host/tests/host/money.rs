//! `check_quote` against published figures.

use crate::support::euro_rules;
use lamella_plugin_host::{
    Line, MoneyRules, Quote, QuoteFault, Rounding, TaxBasis, TaxClass, TaxLine, check_quote,
};

/// A line in whole units: price in minor units, `amount` as published.
pub(crate) fn line(units: i64, unit_price: i64, amount: i64, tax_class: &str) -> Line {
    Line {
        code: "a".into(),
        description: "an item".into(),
        quantity: units * 1_000,
        unit: "pc".into(),
        unit_price,
        amount,
        tax_class: tax_class.into(),
        reason: String::new(),
    }
}

pub(crate) fn tax(tax_class: &str, net: i64, tax: i64) -> TaxLine {
    TaxLine {
        tax_class: tax_class.into(),
        net,
        tax,
    }
}

/// A quote with the totals that follow from its lines and taxes.
pub(crate) fn quote(lines: Vec<Line>, taxes: Vec<TaxLine>) -> Quote {
    let net_total = lines.iter().map(|line| line.amount).sum();
    let tax_total = taxes.iter().map(|entry| entry.tax).sum();
    Quote {
        lines,
        taxes,
        net_total,
        tax_total,
        gross_total: net_total + tax_total,
        notes: Vec::new(),
    }
}

fn rules(classes: &[(&str, u32)], tax_basis: TaxBasis) -> MoneyRules {
    MoneyRules {
        tax_basis,
        tax_classes: classes
            .iter()
            .map(|(name, rate_ppm)| TaxClass {
                name: (*name).into(),
                rate_ppm: *rate_ppm,
            })
            .collect(),
        ..euro_rules()
    }
}

/// Source: example invoice 1 of the public examples for EN 16931 (electronic invoicing;
/// CEN/TC 434, `ubl/examples/guide-example1.xml` of the eInvoicing-EN16931 repository):
/// 20 lines in two VAT categories, one line returned, tax once for each category
/// (rule BR-CO-17: taxable amount times rate, rounded to two decimals).
/// Printed there: 183.23 at 6 % = 10.99; 46.37 at 21 % = 9.74; 229.60 + 20.73 = 250.33.
#[test]
fn en_16931_example_invoice_adds_up() {
    let low = [
        (2, 995, 1_990),
        (1, 985, 985),
        (1, 829, 829),
        (2, 723, 1_446),
        (1, 3_500, 3_500),
        (1, 3_500, 3_500),
        (1, 1_065, 1_065),
        (1, 155, 155),
        (3, 479, 1_437),
        (1, 829, 829),
        (2, 829, 1_658),
        (1, 995, 995),
        (2, 165, 330),
        (1, 390, 390),
        (6, 1_702, 10_212),
        // Returned goods; there the quantity is positive and the amount negative too.
        (6, -1_833, -10_998),
    ];
    let high = [
        (1, 1_080, 1_080),
        (2, 380, 760),
        (2, 467, 934),
        (1, 1_863, 1_863),
    ];
    let lines = low
        .iter()
        .map(|(units, price, amount)| line(*units, *price, *amount, "low"))
        .chain(
            high.iter()
                .map(|(units, price, amount)| line(*units, *price, *amount, "high")),
        )
        .collect();
    let quote = quote(
        lines,
        vec![tax("low", 18_323, 1_099), tax("high", 4_637, 974)],
    );
    assert_eq!(
        (quote.net_total, quote.tax_total, quote.gross_total),
        (22_960, 2_073, 25_033)
    );
    let classes = [("low", 60_000), ("high", 210_000)];
    assert_eq!(
        check_quote(&quote, &rules(&classes, TaxBasis::Class)),
        Ok(())
    );
    // By line its cents happen to come out the same.
    assert_eq!(
        check_quote(&quote, &rules(&classes, TaxBasis::Line)),
        Ok(())
    );
}

/// Source: Streamlined Sales and Use Tax Agreement, section 324 (rounding rule): tax is
/// carried to the third decimal place and rounded up to the next cent where that place is
/// greater than four; the seller may work it out for each item or for the invoice. From
/// memory; the amounts are ours, the rule decides them by hand.
#[test]
fn item_and_invoice_basis_differ_by_the_rule() {
    // 6.25 % of 50.04, 40.00 and 30.12 is 3.127, 2.500 and 1.882 to the third place:
    // 3.13 + 2.50 + 1.88 = 7.51; together 7.510: 7.51.
    // Of 50.04 twice 3.127 each: 3.13 + 3.13 = 6.26; together 6.255: 6.26.
    // Of 50.03 and 0.07 3.126 and 0.004: 3.13 + 0.00; together 3.131: 3.13.
    // Of 0.08 three times 0.005 each: 0.01 + 0.01 + 0.01; together 0.015: 0.02.
    let cases: [(&[i64], i64, i64); 4] = [
        (&[5_004, 4_000, 3_012], 751, 751),
        (&[5_004, 5_004], 626, 626),
        (&[5_003, 7], 313, 313),
        (&[8, 8, 8], 3, 2),
    ];
    for (amounts, by_item, by_invoice) in cases {
        for (basis, expected) in [(TaxBasis::Line, by_item), (TaxBasis::Class, by_invoice)] {
            let rules = MoneyRules {
                currency: "USD".into(),
                ..rules(&[("general", 62_500)], basis)
            };
            let lines: Vec<Line> = amounts
                .iter()
                .map(|amount| line(1, *amount, *amount, "general"))
                .collect();
            let net = amounts.iter().sum();
            let right = quote(lines.clone(), vec![tax("general", net, expected)]);
            assert_eq!(check_quote(&right, &rules), Ok(()), "{amounts:?} {basis:?}");
            let wrong = quote(lines, vec![tax("general", net, expected + 1)]);
            assert!(
                check_quote(&wrong, &rules).is_err(),
                "{amounts:?} {basis:?}"
            );
        }
    }
}

/// Source: the table of rounding modes in the documentation of `java.math.RoundingMode`
/// (Java SE), columns HALF_UP and HALF_EVEN; from memory. A tenth there is 100
/// thousandths of a unit at a price of 1 here.
#[test]
fn lines_round_as_published() {
    let rows = [
        (5_500, 6, 6),
        (2_500, 3, 2),
        (1_600, 2, 2),
        (1_100, 1, 1),
        (1_000, 1, 1),
    ];
    for (thousandths, half_up, half_even) in rows {
        for (sign, rounding, expected) in [
            (1, Rounding::HalfUp, half_up),
            (1, Rounding::HalfEven, half_even),
            (-1, Rounding::HalfUp, half_up),
            (-1, Rounding::HalfEven, half_even),
        ] {
            let rules = MoneyRules {
                rounding,
                ..rules(&[("none", 0)], TaxBasis::Class)
            };
            let rounded = Line {
                quantity: thousandths,
                ..line(0, sign, sign * expected, "none")
            };
            // Keeps the total above zero where the line is below.
            let other = line(1, 100, 100, "none");
            let net = sign * expected + 100;
            let quote = quote(vec![rounded, other], vec![tax("none", net, 0)]);
            assert_eq!(
                check_quote(&quote, &rules),
                Ok(()),
                "{thousandths} {sign} {rounding:?}"
            );
        }
    }
}

/// Source: ISO 4217 list one of 2026-01-01, as the PyPI package `iso4217` gives it.
#[test]
fn minor_digits_are_those_of_iso_4217() {
    let digits = [
        (0, ["JPY", "KRW", "CLP", "ISK", "VND"].as_slice()),
        (2, ["USD", "EUR", "GBP"].as_slice()),
        (
            3,
            ["KWD", "BHD", "JOD", "OMR", "TND", "IQD", "LYD"].as_slice(),
        ),
        (4, ["CLF", "UYW"].as_slice()),
    ];
    let quote = quote(vec![line(1, 100, 100, "none")], vec![tax("none", 100, 0)]);
    for (expected, currencies) in digits {
        for currency in currencies {
            for found in 0..=5 {
                let rules = MoneyRules {
                    currency: (*currency).into(),
                    minor_digits: found,
                    ..rules(&[("none", 0)], TaxBasis::Class)
                };
                let fault = QuoteFault::MinorDigits {
                    currency: (*currency).into(),
                    expected,
                    found,
                };
                let answer = if found == expected {
                    Ok(())
                } else {
                    Err(vec![fault])
                };
                assert_eq!(check_quote(&quote, &rules), answer);
            }
        }
    }
    for currency in ["", "eur", "EU", "XYZ"] {
        let rules = MoneyRules {
            currency: currency.into(),
            ..rules(&[("none", 0)], TaxBasis::Class)
        };
        let fault = QuoteFault::UnknownCurrency {
            currency: currency.into(),
        };
        assert_eq!(check_quote(&quote, &rules), Err(vec![fault]));
    }
}
