//! The rule without a sandbox: `cargo test`.

use super::*;
use lamella_plugin_sdk::{Job, Measure, MoneyRules, Rounding, Setting, TaxBasis, TaxClass};

fn request(settings: Vec<Setting>) -> PricingRequest {
    let measure = |kind: &str, item: &str, quantity, unit: &str| Measure {
        kind: kind.into(),
        item: item.into(),
        quantity,
        unit: unit.into(),
    };
    PricingRequest {
        job: Job {
            id: "blue-estate".into(),
            name: "Blue estate".into(),
            booked_at: "2026-03-02T09:00:00+01:00".into(),
            promised_at: None,
            arrival_condition: String::new(),
            wishes: String::new(),
            services: Vec::new(),
            panels: Vec::new(),
        },
        measures: vec![
            measure("labour", "correct", 1_500, "h"),
            measure("film", "clear-film", 2_000, "m"),
            measure("chemical", "compound", 120_000, "ml"),
        ],
        money: MoneyRules {
            currency: "EUR".into(),
            minor_digits: 2,
            rounding: Rounding::HalfUp,
            tax_basis: TaxBasis::Class,
            tax_classes: vec![TaxClass {
                name: "standard".into(),
                rate_ppm: 190_000,
            }],
        },
        settings,
    }
}

/// By hand: 1.5 h at 65.00 is 97.50, 2 m at 55.00 is 110.00; 19 % of 207.50 is 39.425.
#[test]
fn prices_hours_and_metres() {
    let request = request(Vec::new());
    let quote = Rule::quote(&request)
        .unwrap()
        .finish(&request.money)
        .unwrap();
    assert_eq!((quote.net_total, quote.tax_total), (20_750, 3_943));
    assert_eq!(quote.notes, ["chemical `compound` in ml is not charged"]);
}

#[test]
fn a_misspelt_setting_is_refused() {
    let setting = Setting {
        key: "per-our".into(),
        value: "7000".into(),
    };
    assert!(Rule::quote(&request(vec![setting])).is_err());
}
