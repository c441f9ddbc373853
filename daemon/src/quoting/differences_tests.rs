//! What differs is told, and nothing else.

use super::*;

fn eur(minor_units: i64) -> Option<v1::Money> {
    Some(v1::Money {
        currency_code: "EUR".to_owned(),
        minor_units,
    })
}

fn line(code: &str, description: &str, amount: i64) -> v1::QuoteLine {
    v1::QuoteLine {
        code: code.to_owned(),
        description: description.to_owned(),
        quantity_thousandths: 1_500,
        unit: "m2".to_owned(),
        unit_price: eur(amount),
        amount: eur(amount),
        tax_class: "standard".to_owned(),
        reason: "large panel".to_owned(),
    }
}

fn quote() -> v1::Quote {
    v1::Quote {
        name: "jobs/a/quotes/7".to_owned(),
        plugin: "plugins/tiered".to_owned(),
        lines: vec![
            line("correct", "Correction, hood", 9_000),
            line("coat", "Coat", 0),
        ],
        net_total: eur(9_000),
        tax_total: eur(1_710),
        gross_total: eur(10_710),
        notes: vec!["labour is in the price".to_owned()],
        inputs: Some(v1::QuoteInputs {
            job_id: "a".to_owned(),
            panels: vec![v1::Panel {
                panel_id: "hood".to_owned(),
                area_m2: Some(1.5),
                ..v1::Panel::default()
            }],
            settings: vec![v1::PluginSetting {
                key: "base-rate".to_owned(),
                value: "60".to_owned(),
            }],
            money: Some(v1::MoneyRules {
                currency_code: "EUR".to_owned(),
                minor_digits: 2,
                tax_classes: vec![v1::TaxClass {
                    name: "standard".to_owned(),
                    rate_ppm: 190_000,
                }],
                ..v1::MoneyRules::default()
            }),
            ..v1::QuoteInputs::default()
        }),
        ..v1::Quote::default()
    }
}

/// What [`differences`] says, as "field: before -> after".
fn told(change: impl FnOnce(&mut v1::Quote)) -> Vec<String> {
    let mut after = quote();
    change(&mut after);
    let found = differences(&quote(), &after);
    let all_differ = found.iter().all(|one| one.before != one.after);
    assert!(all_differ, "{found:?}");
    let text =
        |one: &v1::QuoteDifference| format!("{}: {} -> {}", one.field, one.before, one.after);
    found.iter().map(text).collect()
}

#[test]
fn the_act_of_quoting_makes_no_difference() {
    let nothing = told(|quote| {
        quote.name = "jobs/a/quotes/9".to_owned();
        quote.fuel_used = 12;
        quote.create_time = Some(prost_types::Timestamp::default());
        quote.accept_time = Some(prost_types::Timestamp::default());
    });
    assert_eq!(nothing, Vec::<String>::new());
}

#[test]
fn a_line_that_comes_in_between_does_not_make_the_others_differ() {
    let added = told(|quote| {
        quote.lines.insert(0, line("wash", "Wash", 4_500));
        quote.net_total = eur(13_500);
    });
    assert_eq!(
        added,
        [
            "lines[0]:  -> wash: Wash, 1.5 m2, 45.00 EUR",
            "net_total: 90.00 EUR -> 135.00 EUR",
        ]
    );
    let removed = told(|quote| {
        quote.lines.remove(0);
    });
    assert_eq!(
        removed,
        ["lines[0]: correct: Correction, hood, 1.5 m2, 90.00 EUR -> "]
    );
}

#[test]
fn fields_of_lines_inputs_and_rules_are_named() {
    let found = told(|quote| {
        quote.lines[0].amount = eur(9_001);
        quote.lines[0].quantity_thousandths = 2_000;
        let inputs = quote.inputs.as_mut().unwrap();
        inputs.panels[0].area_m2 = Some(1.6);
        inputs.settings[0].value = "65".to_owned();
        inputs.measures.push(v1::QuoteMeasure {
            kind: "labour".to_owned(),
            item: "correct".to_owned(),
            quantity_thousandths: 6_500,
            unit: "h".to_owned(),
        });
        let money = inputs.money.as_mut().unwrap();
        money.rounding = v1::Rounding::HalfEven.into();
        money.tax_classes[0].rate_ppm = 88_750;
        quote.notes[0] = "none".to_owned();
    });
    assert_eq!(
        found,
        [
            "inputs.panels[hood].area_m2: 1.5 m2 -> 1.6 m2",
            "inputs.measures[labour:correct]:  -> 6.5 h",
            "inputs.settings[base-rate].value: 60 -> 65",
            "inputs.money.rounding: ROUNDING_UNSPECIFIED -> ROUNDING_HALF_EVEN",
            "inputs.money.tax_classes[standard].rate: 19 % -> 8.875 %",
            "lines[0].quantity: 1.5 m2 -> 2 m2",
            "lines[0].amount: 90.00 EUR -> 90.01 EUR",
            "notes[0]: labour is in the price -> ",
            "notes[0]:  -> none",
        ]
    );
}

#[test]
fn another_order_is_a_difference_too() {
    let order = told(|quote| quote.lines.reverse());
    assert_eq!(order, ["lines: correct, coat -> coat, correct"]);
    let mut reversed = quote();
    reversed.lines.reverse();
    assert!(!same_price(&quote(), &reversed));
    assert!(same_price(&quote(), &quote()));
}

/// Minor units: ISO 4217:2015, table A.1.
#[test]
fn amounts_have_the_digits_of_their_currency() {
    let money = |code: &str, digits| {
        let amount = v1::Money {
            currency_code: code.to_owned(),
            minor_units: -12_345,
        };
        super::money(Some(&amount), digits)
    };
    assert_eq!(money("JPY", 0), "-12345 JPY");
    assert_eq!(money("EUR", 2), "-123.45 EUR");
    assert_eq!(money("KWD", 3), "-12.345 KWD");
}
