//! The rule by hand, and how refusals read. That the cents are right on many jobs is
//! tested through the host, against decimal arithmetic: `daemon/plugin-host/tests/host/guests.rs`.

use super::*;
use lamella_plugin_sdk::{Finish, Job, MoneyRules, Quote, Setting, Substrate, TaxBasis, TaxClass};

fn request(services: &[(&str, &[&str])], settings: &[(&str, &str)]) -> PricingRequest {
    let panel = |id: &str, condition, area_cm2| Panel {
        id: id.into(),
        name: String::new(),
        substrate: Substrate::Steel,
        finish: Finish::ClearCoat,
        condition,
        area_cm2,
    };
    let service = |(code, panels): &(&str, &[&str])| Service {
        code: (*code).into(),
        description: String::new(),
        panels: panels.iter().map(|panel| (*panel).into()).collect(),
    };
    let setting = |(key, value): &(&str, &str)| Setting {
        key: (*key).into(),
        value: (*value).into(),
    };
    PricingRequest {
        job: Job {
            id: "blue-estate".into(),
            name: "Blue estate".into(),
            booked_at: "2026-03-02T09:00:00+01:00".into(),
            promised_at: None,
            arrival_condition: String::new(),
            wishes: String::new(),
            services: services.iter().map(service).collect(),
            panels: vec![
                panel("mirror", Condition::Severe, Some(805)),
                panel("roof", Condition::Unknown, Some(20_000)),
                panel("sill", Condition::Good, None),
            ],
        },
        measures: Vec::new(),
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
        settings: settings.iter().map(setting).collect(),
    }
}

fn quote(request: &PricingRequest) -> Result<Quote, Refusal> {
    let prices = Prices::read(&request.settings, &request.money)?;
    apply(request, &prices)?.finish(&request.money)
}

fn refusal(request: &PricingRequest) -> String {
    match quote(request).unwrap_err() {
        Refusal::NotCovered(text) => format!("not covered: {text}"),
        Refusal::Missing(text) => format!("missing: {text}"),
        Refusal::BadSetting(text) => format!("bad setting: {text}"),
    }
}

/// By hand: 805 cm2 are 0.081 m2; 90.00 x 1.7 = 153.00 a m2; 0.081 x 153.00 = 12.393. A tenth
/// off 12.39 is 1.239. 19 % of 11.15 is 2.1185.
#[test]
fn a_small_panel_by_hand() {
    let quote = quote(&request(
        &[("correct", &["mirror"])],
        &[("discount-per-mille", "100")],
    ));
    let quote = quote.unwrap();
    let line = &quote.lines[0];
    assert_eq!(
        (line.quantity, line.unit_price, line.amount),
        (81, 15_300, 1_239)
    );
    assert_eq!(quote.lines[1].amount, -124);
    assert_eq!(
        (quote.net_total, quote.tax_total, quote.gross_total),
        (1_115, 212, 1_327)
    );
}

#[test]
fn everything_missing_is_told_at_once() {
    assert_eq!(
        refusal(&request(
            &[
                ("correct", &[]),
                ("coat", &["sill", "spoiler"]),
                ("strip", &[])
            ],
            &[]
        )),
        "missing: condition of panel `roof`; area of panel `sill`; \
         panel `spoiler` of service `coat` on the vehicle; labour hours of service `strip`"
    );
}

#[test]
fn every_bad_setting_is_told_at_once() {
    let settings = [
        ("film-per-m", "55.00"),
        ("hourly", "1"),
        ("each", "1"),
        ("work-tax-class", "none"),
        ("small-up-to-cm2", "20000"),
    ];
    assert_eq!(
        refusal(&request(&[("wash", &[])], &settings)),
        "bad setting: `film-per-m` is `55.00`, not a whole number from 0 to 1000000000; \
         `hourly` is not known; `each` is not known; \
         `work-tax-class` is `none`, which is not among the shop's tax classes; \
         `small-up-to-cm2` 20000 is not below `medium-up-to-cm2` 12000"
    );
}
