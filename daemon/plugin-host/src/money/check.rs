//! A quote against the shop's rules of money:
//!
//! - `amount = round(quantity * unit_price / 1000)` for each line;
//! - tax of a class: `round(amount * rate / 1 000 000)` for each line and then added
//!   up (basis `line`), or once on the sum of its lines (basis `class`);
//! - totals are the sums of what stands above them;
//! - one tax entry for each class used, every class known;
//! - a unit price may be below zero (a discount), a quantity, the net total and the
//!   gross total may not;
//! - the currency's minor digits are those of ISO 4217.
//!
//! Amounts are 64 bits, intermediate results 128, so nothing wraps: the largest is a
//! sum of at most 2^32 amounts times a rate, below 2^127.

use super::fault::QuoteFault;
use super::round::{PPM, THOUSANDTHS, divide_rounded};
use crate::{Line, MoneyRules, Quote, TaxBasis};
use iso_currency::Currency;
use std::collections::{BTreeMap, BTreeSet};

/// Says whether a quote adds up.
///
/// # Errors
/// Every fault that it has, in the order: rules, lines, taxes, totals. What follows
/// from a wrong amount is checked against the amount as the plugin gave it, so that
/// one slip is told once.
pub fn check_quote(quote: &Quote, rules: &MoneyRules) -> Result<(), Vec<QuoteFault>> {
    let mut faults = Vec::new();
    let rates = check_rules(rules, &mut faults);
    let sums = check_lines(quote, rules, &rates, &mut faults);
    check_taxes(quote, rules, &rates, &sums, &mut faults);
    check_totals(quote, &mut faults);
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

/// What the lines of one class come to.
#[derive(Default)]
struct ClassSum {
    net: i128,
    tax_by_line: i128,
}

fn check_rules<'a>(rules: &'a MoneyRules, faults: &mut Vec<QuoteFault>) -> BTreeMap<&'a str, u32> {
    match Currency::from_code(&rules.currency) {
        None => faults.push(QuoteFault::UnknownCurrency {
            currency: rules.currency.clone(),
        }),
        Some(currency) => {
            // Metals and funds have none; they are priced in whole units.
            let expected = currency
                .exponent()
                .and_then(|digits| u8::try_from(digits).ok());
            let expected = expected.unwrap_or(0);
            if expected != rules.minor_digits {
                faults.push(QuoteFault::MinorDigits {
                    currency: rules.currency.clone(),
                    expected,
                    found: rules.minor_digits,
                });
            }
        }
    }
    let mut rates = BTreeMap::new();
    for class in &rules.tax_classes {
        if rates.insert(class.name.as_str(), class.rate_ppm).is_some() {
            faults.push(QuoteFault::RepeatedClass {
                tax_class: class.name.clone(),
            });
        }
    }
    rates
}

fn check_lines<'a>(
    quote: &'a Quote,
    rules: &MoneyRules,
    rates: &BTreeMap<&str, u32>,
    faults: &mut Vec<QuoteFault>,
) -> BTreeMap<&'a str, ClassSum> {
    if quote.lines.is_empty() {
        faults.push(QuoteFault::NoLines);
    }
    let mut sums: BTreeMap<&str, ClassSum> = BTreeMap::new();
    for (index, line) in quote.lines.iter().enumerate() {
        check_line(index, line, rules, faults);
        let sum = sums.entry(line.tax_class.as_str()).or_default();
        sum.net += i128::from(line.amount);
        match rates.get(line.tax_class.as_str()) {
            Some(rate_ppm) => sum.tax_by_line += tax(line.amount.into(), *rate_ppm, rules),
            None => faults.push(QuoteFault::UnknownClass {
                place: format!("lines[{index}].tax_class"),
                tax_class: line.tax_class.clone(),
            }),
        }
    }
    sums
}

fn check_line(index: usize, line: &Line, rules: &MoneyRules, faults: &mut Vec<QuoteFault>) {
    for (field, text) in [
        ("code", &line.code),
        ("description", &line.description),
        ("unit", &line.unit),
    ] {
        if text.trim().is_empty() {
            faults.push(QuoteFault::EmptyText {
                place: format!("lines[{index}].{field}"),
            });
        }
    }
    if line.quantity < 0 {
        let place = format!("lines[{index}].quantity");
        faults.push(QuoteFault::NegativeQuantity {
            place,
            found: line.quantity,
        });
    }
    let thousandfold = i128::from(line.quantity) * i128::from(line.unit_price);
    let expected = divide_rounded(thousandfold, THOUSANDTHS, rules.rounding);
    expect_amount(
        || format!("lines[{index}].amount"),
        expected,
        line.amount,
        faults,
    );
}

fn check_taxes(
    quote: &Quote,
    rules: &MoneyRules,
    rates: &BTreeMap<&str, u32>,
    sums: &BTreeMap<&str, ClassSum>,
    faults: &mut Vec<QuoteFault>,
) {
    let mut seen = BTreeSet::new();
    for (index, entry) in quote.taxes.iter().enumerate() {
        let place = |field: &str| format!("taxes[{index}].{field}");
        let name = entry.tax_class.as_str();
        let tax_class = || name.to_owned();
        if !seen.insert(name) {
            let place = place("tax_class");
            faults.push(QuoteFault::RepeatedTax {
                place,
                tax_class: tax_class(),
            });
            continue;
        }
        match (rates.get(name), sums.get(name)) {
            (None, _) => faults.push(QuoteFault::UnknownClass {
                place: place("tax_class"),
                tax_class: tax_class(),
            }),
            (Some(_), None) => faults.push(QuoteFault::UnusedTax {
                place: place("tax_class"),
                tax_class: tax_class(),
            }),
            (Some(rate_ppm), Some(sum)) => {
                let expected = match rules.tax_basis {
                    TaxBasis::Line => sum.tax_by_line,
                    TaxBasis::Class => tax(sum.net, *rate_ppm, rules),
                };
                expect_amount(|| place("net"), sum.net, entry.net, faults);
                expect_amount(|| place("tax"), expected, entry.tax, faults);
            }
        }
    }
    for name in sums.keys().filter(|name| !seen.contains(*name)) {
        faults.push(QuoteFault::MissingTax {
            tax_class: (*name).to_owned(),
        });
    }
}

fn check_totals(quote: &Quote, faults: &mut Vec<QuoteFault>) {
    let net: i128 = quote.lines.iter().map(|line| i128::from(line.amount)).sum();
    let tax: i128 = quote.taxes.iter().map(|entry| i128::from(entry.tax)).sum();
    let gross = i128::from(quote.net_total) + i128::from(quote.tax_total);
    for (place, expected, found) in [
        ("net_total", net, quote.net_total),
        ("tax_total", tax, quote.tax_total),
        ("gross_total", gross, quote.gross_total),
    ] {
        expect_amount(|| place.to_owned(), expected, found, faults);
    }
    for (place, found) in [
        ("net_total", quote.net_total),
        ("gross_total", quote.gross_total),
    ] {
        if found < 0 {
            faults.push(QuoteFault::NegativeTotal {
                place: place.to_owned(),
                found,
            });
        }
    }
}

fn tax(net: i128, rate_ppm: u32, rules: &MoneyRules) -> i128 {
    divide_rounded(
        net.saturating_mul(i128::from(rate_ppm)),
        PPM,
        rules.rounding,
    )
}

fn expect_amount(
    place: impl Fn() -> String,
    expected: i128,
    found: i64,
    faults: &mut Vec<QuoteFault>,
) {
    match i64::try_from(expected) {
        Err(_) => faults.push(QuoteFault::Overflow {
            place: place(),
            expected,
        }),
        Ok(expected) if expected != found => {
            faults.push(QuoteFault::WrongAmount {
                place: place(),
                expected,
                found,
            });
        }
        Ok(_) => {}
    }
}
