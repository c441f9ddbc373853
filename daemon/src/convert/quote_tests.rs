//! Nothing is lost between the API and the plugin host.

use proptest::prelude::*;

use super::*;

/// The whole request back as inputs, as far as a plugin sees them.
fn back(request: &host::PricingRequest) -> v1::QuoteInputs {
    let time = |text: &str| {
        let instant: jiff::Timestamp = text.parse().unwrap();
        super::super::time::to_pb(instant)
    };
    let panel = |panel: &host::Panel| v1::Panel {
        panel_id: panel.id.clone(),
        display_name: panel.name.clone(),
        substrate: v1::Substrate::from_str_name(&format!(
            "SUBSTRATE_{}",
            word(&format!("{:?}", panel.substrate))
        ))
        .unwrap()
        .into(),
        finish: v1::Finish::from_str_name(&format!(
            "FINISH_{}",
            word(&format!("{:?}", panel.finish))
        ))
        .unwrap()
        .into(),
        condition: v1::PanelCondition::from_str_name(&format!(
            "PANEL_CONDITION_{}",
            word(&format!("{:?}", panel.condition))
        ))
        .unwrap()
        .into(),
        area_m2: panel.area_cm2.map(|cm2| f64::from(cm2) / 10_000.0),
        ..v1::Panel::default()
    };
    v1::QuoteInputs {
        job_id: request.job.id.clone(),
        job_display_name: request.job.name.clone(),
        booked_time: Some(time(&request.job.booked_at)),
        promise_time: request.job.promised_at.as_deref().map(time),
        arrival_condition: request.job.arrival_condition.clone(),
        wishes: request.job.wishes.clone(),
        services: request
            .job
            .services
            .iter()
            .map(|service| v1::Service {
                code: service.code.clone(),
                description: service.description.clone(),
                panels: service.panels.clone(),
            })
            .collect(),
        panels: request.job.panels.iter().map(panel).collect(),
        measures: request
            .measures
            .iter()
            .map(|measure| v1::QuoteMeasure {
                kind: measure.kind.clone(),
                item: measure.item.clone(),
                quantity_thousandths: measure.quantity,
                unit: measure.unit.clone(),
            })
            .collect(),
        money: Some(v1::MoneyRules {
            currency_code: request.money.currency.clone(),
            minor_digits: request.money.minor_digits.into(),
            rounding: match request.money.rounding {
                host::Rounding::HalfUp => v1::Rounding::HalfUp,
                host::Rounding::HalfEven => v1::Rounding::HalfEven,
            }
            .into(),
            tax_basis: match request.money.tax_basis {
                host::TaxBasis::Line => v1::TaxBasis::Line,
                host::TaxBasis::Class => v1::TaxBasis::Class,
            }
            .into(),
            tax_classes: request
                .money
                .tax_classes
                .iter()
                .map(|class| v1::TaxClass {
                    name: class.name.clone(),
                    rate_ppm: class.rate_ppm.into(),
                })
                .collect(),
        }),
        settings: request
            .settings
            .iter()
            .map(|setting| v1::PluginSetting {
                key: setting.key.clone(),
                value: setting.value.clone(),
            })
            .collect(),
        job_etag: String::new(),
    }
}

/// `Finish::ClearCoat` as `CLEAR_COAT`; what is not known is not specified.
fn word(debug: &str) -> String {
    let debug = debug.rsplit("::").next().unwrap();
    if debug == "Unknown" {
        return "UNSPECIFIED".to_owned();
    }
    let mut word = String::new();
    for letter in debug.chars() {
        if letter.is_uppercase() && !word.is_empty() {
            word.push('_');
        }
        word.push(letter.to_ascii_uppercase());
    }
    word
}

fn text() -> impl Strategy<Value = String> {
    "[a-zé0-9 -]{1,12}"
}

prop_compose! {
    fn panels()(
        id in "[a-z]{1,8}", name in text(),
        substrate in 0..5, finish in 0..5, condition in 0..5,
        area_cm2 in proptest::option::of(1_u32..=500_000),
    ) -> v1::Panel {
        v1::Panel {
            panel_id: id, display_name: name, substrate, finish, condition,
            area_m2: area_cm2.map(|cm2| f64::from(cm2) / 10_000.0),
            ..v1::Panel::default()
        }
    }
}

prop_compose! {
    fn money()(
        minor_digits in 0..4, rounding in 1..3, tax_basis in 1..3,
        classes in proptest::collection::vec((text(), 0_i64..=1_000_000), 1..4),
    ) -> v1::MoneyRules {
        v1::MoneyRules {
            currency_code: "EUR".to_owned(), minor_digits, rounding, tax_basis,
            tax_classes: classes.into_iter()
                .map(|(name, rate_ppm)| v1::TaxClass { name, rate_ppm })
                .collect(),
        }
    }
}

prop_compose! {
    fn inputs()(
        texts in (text(), text(), text()),
        booked in 0_i64..4_000_000_000,
        promised in proptest::option::of(0_i64..4_000_000_000),
        services in proptest::collection::vec(
            (text(), text(), proptest::collection::vec(text(), 0..3)), 0..4),
        panels in proptest::collection::vec(panels(), 0..4),
        measures in proptest::collection::vec((text(), text(), 0_i64..=i64::MAX, text()), 0..4),
        settings in proptest::collection::vec((text(), text()), 0..4),
        money in money(),
    ) -> v1::QuoteInputs {
        let time = |seconds| prost_types::Timestamp { seconds, nanos: 0 };
        v1::QuoteInputs {
            job_id: "a".to_owned(),
            job_display_name: texts.0, arrival_condition: texts.1, wishes: texts.2,
            booked_time: Some(time(booked)),
            promise_time: promised.map(time),
            services: services.into_iter()
                .map(|(code, description, panels)| v1::Service { code, description, panels })
                .collect(),
            panels,
            measures: measures.into_iter()
                .map(|(kind, item, quantity_thousandths, unit)| {
                    v1::QuoteMeasure { kind, item, quantity_thousandths, unit }
                })
                .collect(),
            settings: settings.into_iter()
                .map(|(key, value)| v1::PluginSetting { key, value })
                .collect(),
            money: Some(money),
            job_etag: String::new(),
        }
    }
}

proptest! {
    #[test]
    fn inputs_go_to_the_host_and_back(inputs in inputs()) {
        let mut checks = Checks::new();
        let request = request_to_host(&inputs, &mut checks);
        prop_assert!(checks.finish().is_ok());
        prop_assert_eq!(back(&request), inputs);
    }

    #[test]
    fn amounts_of_a_quote_come_through_with_the_currency_and_the_rate(
        figures in proptest::collection::vec(any::<i64>(), 8), inputs in inputs(),
    ) {
        let rules = inputs.money.clone().unwrap();
        let class = rules.tax_classes[0].clone();
        let quote = host::Quote {
            lines: vec![host::Line {
                code: "c".to_owned(), description: "d".to_owned(), quantity: figures[0],
                unit: "h".to_owned(), unit_price: figures[1], amount: figures[2],
                tax_class: class.name.clone(), reason: "r".to_owned(),
            }],
            taxes: vec![host::TaxLine {
                tax_class: class.name.clone(), net: figures[3], tax: figures[4],
            }],
            net_total: figures[5], tax_total: figures[6], gross_total: figures[7],
            notes: vec!["n".to_owned()],
        };
        let message = quote_to_pb(&quote, 5, "plugins/p", None, inputs);
        let money = |minor_units| Some(v1::Money {
            currency_code: rules.currency_code.clone(), minor_units,
        });
        let line = &message.lines[0];
        prop_assert_eq!(line.quantity_thousandths, figures[0]);
        prop_assert_eq!(&line.unit_price, &money(figures[1]));
        prop_assert_eq!(&line.amount, &money(figures[2]));
        let tax = &message.taxes[0];
        prop_assert_eq!((tax.rate_ppm, &tax.net, &tax.tax),
            (class.rate_ppm, &money(figures[3]), &money(figures[4])));
        prop_assert_eq!(message.net_total, money(figures[5]));
        prop_assert_eq!(message.tax_total, money(figures[6]));
        prop_assert_eq!(message.gross_total, money(figures[7]));
    }
}

#[test]
fn what_is_not_known_here_is_not_priced_as_something_else() {
    let mut inputs = v1::QuoteInputs {
        money: Some(v1::MoneyRules::default()),
        panels: vec![v1::Panel::default()],
        ..v1::QuoteInputs::default()
    };
    inputs.panels[0].finish = 99;
    let mut checks = Checks::new();
    request_to_host(&inputs, &mut checks);
    let error = checks.finish().unwrap_err().to_string();
    for field in ["panels[0]", "money.rounding", "money.tax_basis"] {
        assert!(error.contains(field), "{field} in {error}");
    }
}

#[test]
fn a_quote_has_one_name() {
    let read = |name: &str| {
        let mut checks = Checks::new();
        let parts = name_from_pb(name, "name", &mut checks);
        checks.finish().map(|()| parts)
    };
    assert_eq!(read("jobs/a-1/quotes/17").unwrap(), ("a-1".to_owned(), 17));
    for bad in [
        "",
        "jobs/a-1",
        "jobs/a-1/quotes/",
        "jobs/a-1/quotes/017",
        "jobs/a-1/quotes/+7",
        "jobs/a-1/quotes/7/x",
        "jobs/A/quotes/7",
        "jobs/a/quotes/99999999999999999999",
    ] {
        assert!(read(bad).is_err(), "{bad}");
    }
}
