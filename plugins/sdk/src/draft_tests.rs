//! Draft quotes against a decimal library.

use super::*;
use crate::{Rounding, TaxClass};
use rust_decimal::{Decimal, RoundingStrategy};

fn rules(rounding: Rounding, tax_basis: TaxBasis) -> MoneyRules {
    let class = |name: &str, rate_ppm| TaxClass {
        name: name.into(),
        rate_ppm,
    };
    MoneyRules {
        currency: "EUR".into(),
        minor_digits: 2,
        rounding,
        tax_basis,
        tax_classes: vec![class("standard", 190_000), class("reduced", 70_000)],
    }
}

/// Sums against the library `rust_decimal`, with amounts whose tax falls on a half
/// cent, where the four ways of rounding differ.
#[test]
fn sums_agree_with_rust_decimal() {
    for (rounding, strategy) in [
        (Rounding::HalfUp, RoundingStrategy::MidpointAwayFromZero),
        (Rounding::HalfEven, RoundingStrategy::MidpointNearestEven),
    ] {
        for basis in [TaxBasis::Line, TaxBasis::Class] {
            let rules = rules(rounding, basis);
            let rows = [
                (1_500, 33),
                (2_500, 1),
                (1_000, 50),
                (3_333, 700),
                (1_000, -150),
            ];
            let mut draft = Draft::new();
            let (mut net, mut tax) = (Decimal::ZERO, Decimal::ZERO);
            let rate = Decimal::new(19, 2);
            for (quantity, price) in rows {
                draft.push(line("x", "x", quantity, "h", price));
                let amount = (Decimal::new(quantity, 3) * Decimal::from(price))
                    .round_dp_with_strategy(0, strategy);
                net += amount;
                tax += (amount * rate).round_dp_with_strategy(0, strategy);
            }
            if basis == TaxBasis::Class {
                tax = (net * rate).round_dp_with_strategy(0, strategy);
            }
            let quote = draft.finish(&rules).unwrap();
            assert_eq!(Decimal::from(quote.net_total), net);
            assert_eq!(Decimal::from(quote.tax_total), tax);
            assert_eq!(Decimal::from(quote.gross_total), net + tax);
        }
    }
}

#[test]
fn classes_are_kept_apart_in_order_of_use() {
    let mut draft = Draft::new();
    draft.push(line("a", "a", 1_000, "pc", 10_000).taxed("reduced"));
    draft.push(line("b", "b", 1_000, "pc", 20_000));
    draft.push(line("c", "c", 1_000, "pc", 30_000).taxed("reduced"));
    let quote = draft
        .finish(&rules(Rounding::HalfUp, TaxBasis::Class))
        .unwrap();
    let taxes: Vec<_> = quote
        .taxes
        .iter()
        .map(|tax| (tax.tax_class.as_str(), tax.net, tax.tax))
        .collect();
    assert_eq!(
        taxes,
        [("reduced", 40_000, 2_800), ("standard", 20_000, 3_800)]
    );
    assert_eq!(quote.gross_total, 66_600);
}

#[test]
fn what_cannot_be_summed_is_refused() {
    let rules = rules(Rounding::HalfUp, TaxBasis::Class);
    let refused = |lines: &[DraftLine], rules: &MoneyRules| {
        let mut draft = Draft::new();
        lines.iter().for_each(|line| draft.push(line.clone()));
        match draft.finish(rules).unwrap_err() {
            Refusal::NotCovered(text) => format!("not covered: {text}"),
            Refusal::Missing(text) => format!("missing: {text}"),
            Refusal::BadSetting(text) => format!("bad setting: {text}"),
        }
    };
    let huge = line("x", "x", i64::MAX, "pc", i64::MAX);
    let half = line("x", "x", 1_000, "pc", i64::MAX);
    let foreign = line("x", "x", 1_000, "pc", 1).taxed("none");
    assert_eq!(refused(&[], &rules), "missing: anything to price");
    assert_eq!(
        refused(&[huge], &rules),
        "not covered: lines[0].amount does not fit 64 bits"
    );
    assert_eq!(
        refused(&[half.clone(), half], &rules),
        "not covered: net of tax class `standard` does not fit 64 bits"
    );
    assert_eq!(
        refused(&[foreign], &rules),
        "not covered: tax class `none` of line `x` is not among the shop's"
    );
    let discount = line("x", "x", 1_000, "pc", -1);
    assert_eq!(
        refused(&[discount], &rules),
        "not covered: net_total -1 is below zero"
    );
    let by_line = MoneyRules {
        tax_basis: TaxBasis::Line,
        ..rules.clone()
    };
    // Tax of 2 at 19 % is 0.38, rounded to 0; of -6 it is -1.14, rounded to -1.
    let mut given_away = vec![line("x", "x", 1_000, "pc", 2); 3];
    given_away.push(line("x", "x", 1_000, "pc", -6));
    assert_eq!(
        refused(&given_away, &by_line),
        "not covered: gross_total -1 is below zero"
    );
    let untaxed = MoneyRules {
        tax_classes: Vec::new(),
        ..rules
    };
    assert_eq!(
        refused(&[line("x", "x", 1_000, "pc", 1)], &untaxed),
        "missing: a tax class in the shop's rules of money"
    );
}
