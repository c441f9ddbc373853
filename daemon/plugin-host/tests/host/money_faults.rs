//! `check_quote` on a sound quote with one figure changed, and at the ends of 64 bits.

use crate::money::{line, quote, tax};
use crate::support::euro_rules;
use lamella_plugin_host::{Line, MoneyRules, Quote, QuoteFault, TaxBasis, check_quote};

fn sound() -> (Quote, MoneyRules) {
    let lines = vec![
        line(2, 5_000, 10_000, "standard"),
        line(1, -1_000, -1_000, "standard"),
    ];
    let quote = quote(lines, vec![tax("standard", 9_000, 1_710)]);
    (quote, euro_rules())
}

#[test]
fn a_discount_is_a_line_below_zero() {
    let (quote, rules) = sound();
    assert_eq!(check_quote(&quote, &rules), Ok(()));
}

/// Each change to a sound quote, and all that it brings.
#[test]
fn every_figure_is_looked_at() {
    type Change = fn(&mut Quote);
    let cases: [(Change, &[&str]); 19] = [
        (
            |quote| quote.lines[0].amount += 1,
            &[
                "lines[0].amount is 10001, expected 10000",
                "taxes[0].net is 9000, expected 9001",
                "net_total is 9000, expected 9001",
            ],
        ),
        (
            |quote| quote.lines[0].unit_price -= 1,
            &["lines[0].amount is 10000, expected 9998"],
        ),
        (
            |quote| quote.lines[0].quantity += 1,
            &["lines[0].amount is 10000, expected 10005"],
        ),
        (
            |quote| quote.lines[0].quantity = -2_000,
            &[
                "lines[0].quantity -2000 is below 0; a discount has a negative unit price",
                "lines[0].amount is 10000, expected -10000",
            ],
        ),
        (
            |quote| quote.lines[1].code = " ".into(),
            &["lines[1].code is empty"],
        ),
        (
            |quote| quote.lines[1].description.clear(),
            &["lines[1].description is empty"],
        ),
        (
            |quote| quote.lines[1].unit.clear(),
            &["lines[1].unit is empty"],
        ),
        (
            |quote| quote.lines[1].tax_class = "luxury".into(),
            &[
                "lines[1].tax_class `luxury` is not a tax class of this shop",
                "taxes[0].net is 9000, expected 10000",
                "taxes[0].tax is 1710, expected 1900",
                "taxes has no entry for `luxury`, which a line uses",
            ],
        ),
        (
            |quote| quote.taxes[0].net += 1,
            &["taxes[0].net is 9001, expected 9000"],
        ),
        (
            |quote| quote.taxes[0].tax -= 1,
            &[
                "taxes[0].tax is 1709, expected 1710",
                "tax_total is 1710, expected 1709",
            ],
        ),
        (
            |quote| quote.taxes[0].tax_class = "luxury".into(),
            &[
                "taxes[0].tax_class `luxury` is not a tax class of this shop",
                "taxes has no entry for `standard`, which a line uses",
            ],
        ),
        (
            |quote| quote.taxes.clear(),
            &[
                "taxes has no entry for `standard`, which a line uses",
                "tax_total is 1710, expected 0",
            ],
        ),
        (
            |quote| quote.taxes.push(tax("standard", 0, 0)),
            &["taxes[1].tax_class has `standard` for the second time"],
        ),
        (
            |quote| quote.net_total -= 1,
            &[
                "net_total is 8999, expected 9000",
                "gross_total is 10710, expected 10709",
            ],
        ),
        (
            |quote| quote.tax_total += 1,
            &[
                "tax_total is 1711, expected 1710",
                "gross_total is 10710, expected 10711",
            ],
        ),
        (
            |quote| quote.gross_total += 1,
            &["gross_total is 10711, expected 10710"],
        ),
        (
            |quote| quote.gross_total = -10_710,
            &[
                "gross_total is -10710, expected 10710",
                "gross_total -10710 is below 0",
            ],
        ),
        (
            |quote| quote.lines.clear(),
            &[
                "lines is empty; a plugin with nothing to charge refuses instead",
                "taxes[0].tax_class `standard` is used by no line",
                "net_total is 9000, expected 0",
            ],
        ),
        (
            |quote| {
                quote.lines[0].unit_price = i64::MAX;
                quote.lines[0].amount = i64::MAX;
            },
            &[
                "lines[0].amount does not fit 64 bits: it would be 18446744073709551614",
                "taxes[0].net is 9000, expected 9223372036854774807",
                "taxes[0].tax is 1710, expected 1752440687002407213",
                "net_total is 9000, expected 9223372036854774807",
            ],
        ),
    ];
    for (change, expected) in cases {
        let (mut quote, rules) = sound();
        change(&mut quote);
        let faults = check_quote(&quote, &rules).unwrap_err();
        assert_eq!(
            faults.iter().map(ToString::to_string).collect::<Vec<_>>(),
            expected
        );
    }
}

#[test]
fn a_class_named_twice_is_a_fault_of_the_rules() {
    let (quote, mut rules) = sound();
    rules.tax_classes.push(rules.tax_classes[0].clone());
    let fault = QuoteFault::RepeatedClass {
        tax_class: "standard".into(),
    };
    assert_eq!(check_quote(&quote, &rules), Err(vec![fault]));
}

#[test]
fn extremes_do_not_overflow() {
    for value in [i64::MAX, i64::MIN] {
        let entry = Line {
            quantity: value,
            ..line(0, value, value, "standard")
        };
        let quote = Quote {
            lines: vec![entry; 3],
            taxes: vec![tax("standard", value, value)],
            net_total: value,
            tax_total: value,
            gross_total: value,
            notes: Vec::new(),
        };
        let mut rules = euro_rules();
        rules.tax_classes[0].rate_ppm = u32::MAX;
        for tax_basis in [TaxBasis::Line, TaxBasis::Class] {
            rules.tax_basis = tax_basis;
            let faults = check_quote(&quote, &rules).unwrap_err();
            let overflows = faults
                .iter()
                .filter(|fault| matches!(fault, QuoteFault::Overflow { .. }))
                .count();
            // Three amounts, the class's net and tax, the net and the gross total.
            assert_eq!(overflows, 7, "{faults:?}");
        }
    }
}
