//! Quotes: between the shop's configuration, the API and the plugin host.

use lamella_calc::violation::Checks;
use lamella_plugin_host as host;
use lamella_proto::v1;

use super::names;
use crate::{config, plugins};

/// The shop's money as the API shows it.
pub(crate) fn rules_to_pb(money: &config::Money) -> v1::MoneyRules {
    let rounding = match money.rounding {
        config::Rounding::HalfUp => v1::Rounding::HalfUp,
        config::Rounding::HalfEven => v1::Rounding::HalfEven,
    };
    let tax_basis = match money.tax_basis {
        config::TaxBasis::Line => v1::TaxBasis::Line,
        config::TaxBasis::Class => v1::TaxBasis::Class,
    };
    let class = |class: &config::TaxClass| v1::TaxClass {
        name: class.name.clone(),
        rate_ppm: class.rate_ppm.into(),
    };
    v1::MoneyRules {
        currency_code: money.currency_code.clone(),
        minor_digits: money.minor_digits.into(),
        rounding: rounding.into(),
        tax_basis: tax_basis.into(),
        tax_classes: money.tax_classes.iter().map(class).collect(),
    }
}

/// The same as a plugin gets it.
pub(crate) fn rules_to_host(rules: &v1::MoneyRules, checks: &mut Checks) -> host::MoneyRules {
    let minor_digits = u8::try_from(rules.minor_digits).ok();
    checks.require(minor_digits.is_some(), "money.minor_digits", || {
        format!("{} is not a number of digits", rules.minor_digits)
    });
    let rounding = match rules.rounding() {
        v1::Rounding::HalfUp => Some(host::Rounding::HalfUp),
        v1::Rounding::HalfEven => Some(host::Rounding::HalfEven),
        v1::Rounding::Unspecified => None,
    };
    checks.require(rounding.is_some(), "money.rounding", || {
        format!("{} is not a known rounding", rules.rounding)
    });
    let tax_basis = match rules.tax_basis() {
        v1::TaxBasis::Line => Some(host::TaxBasis::Line),
        v1::TaxBasis::Class => Some(host::TaxBasis::Class),
        v1::TaxBasis::Unspecified => None,
    };
    checks.require(tax_basis.is_some(), "money.tax_basis", || {
        format!("{} is not a known tax basis", rules.tax_basis)
    });
    let mut class = |class: &v1::TaxClass| {
        let rate_ppm = u32::try_from(class.rate_ppm).ok();
        checks.require(rate_ppm.is_some(), "money.tax_classes", || {
            format!("{} is not a rate in millionths", class.rate_ppm)
        });
        host::TaxClass {
            name: class.name.clone(),
            rate_ppm: rate_ppm.unwrap_or_default(),
        }
    };
    host::MoneyRules {
        currency: rules.currency_code.clone(),
        minor_digits: minor_digits.unwrap_or_default(),
        tax_classes: rules.tax_classes.iter().map(&mut class).collect(),
        rounding: rounding.unwrap_or(host::Rounding::HalfUp),
        tax_basis: tax_basis.unwrap_or(host::TaxBasis::Class),
    }
}

/// The shop's money as a plugin gets it. Configuration was checked when it was read,
/// so nothing is noted here.
pub(crate) fn money_to_host(money: &config::Money) -> host::MoneyRules {
    rules_to_host(&rules_to_pb(money), &mut Checks::new())
}

/// All that a plugin is asked with. What these inputs have and this daemon does
/// not know is noted: it must not be priced as something else.
pub(crate) fn request_to_host(
    inputs: &v1::QuoteInputs,
    checks: &mut Checks,
) -> host::PricingRequest {
    let booked_at = instant(inputs.booked_time.as_ref(), "booked_time", checks);
    let promised_at = instant(inputs.promise_time.as_ref(), "promise_time", checks);
    let service = |service: &v1::Service| host::Service {
        code: service.code.clone(),
        description: service.description.clone(),
        panels: service.panels.clone(),
    };
    let measure = |measure: &v1::QuoteMeasure| host::Measure {
        kind: measure.kind.clone(),
        item: measure.item.clone(),
        quantity: measure.quantity_thousandths,
        unit: measure.unit.clone(),
    };
    let panels = inputs.panels.iter().enumerate();
    host::PricingRequest {
        job: host::Job {
            id: inputs.job_id.clone(),
            name: inputs.job_display_name.clone(),
            booked_at: booked_at.unwrap_or_default(),
            promised_at,
            arrival_condition: inputs.arrival_condition.clone(),
            wishes: inputs.wishes.clone(),
            services: inputs.services.iter().map(service).collect(),
            panels: panels
                .map(|(index, panel)| panel_to_host(panel, &format!("panels[{index}]"), checks))
                .collect(),
        },
        measures: inputs.measures.iter().map(measure).collect(),
        money: rules_to_host(&inputs.money.clone().unwrap_or_default(), checks),
        settings: plugins::settings(&inputs.settings),
    }
}

/// RFC 3339 in UTC, so that a change of the shop's zone changes no price.
fn instant(
    time: Option<&prost_types::Timestamp>,
    field: &str,
    checks: &mut Checks,
) -> Option<String> {
    super::time::from_pb(time, field, checks).map(|instant| instant.to_string())
}

fn panel_to_host(panel: &v1::Panel, path: &str, checks: &mut Checks) -> host::Panel {
    let substrate = v1::Substrate::try_from(panel.substrate).ok();
    let finish = v1::Finish::try_from(panel.finish).ok();
    let condition = v1::PanelCondition::try_from(panel.condition).ok();
    let known = substrate.is_some() && finish.is_some() && condition.is_some();
    checks.require(known, path, || {
        "has a substrate, finish or condition that is not known here".to_owned()
    });
    // 50 m2 are the most, so the square centimetres fit by far.
    let area_cm2 = panel.area_m2.map(|area_m2| (area_m2 * 10_000.0).round());
    let possible = area_cm2.is_none_or(|cm2| (0.0..=f64::from(u32::MAX)).contains(&cm2));
    checks.require(possible, path, || "has an area that is none".to_owned());
    host::Panel {
        id: panel.panel_id.clone(),
        name: if panel.display_name.is_empty() {
            panel.panel_id.clone()
        } else {
            panel.display_name.clone()
        },
        substrate: match substrate.unwrap_or_default() {
            v1::Substrate::Unspecified => host::Substrate::Unknown,
            v1::Substrate::Steel => host::Substrate::Steel,
            v1::Substrate::Aluminium => host::Substrate::Aluminium,
            v1::Substrate::Composite => host::Substrate::Composite,
            v1::Substrate::Plastic => host::Substrate::Plastic,
        },
        finish: match finish.unwrap_or_default() {
            v1::Finish::Unspecified => host::Finish::Unknown,
            v1::Finish::ClearCoat => host::Finish::ClearCoat,
            v1::Finish::SingleStage => host::Finish::SingleStage,
            v1::Finish::Matt => host::Finish::Matt,
            v1::Finish::Unpainted => host::Finish::Unpainted,
        },
        condition: match condition.unwrap_or_default() {
            v1::PanelCondition::Unspecified => host::Condition::Unknown,
            v1::PanelCondition::Good => host::Condition::Good,
            v1::PanelCondition::Light => host::Condition::Light,
            v1::PanelCondition::Moderate => host::Condition::Moderate,
            v1::PanelCondition::Severe => host::Condition::Severe,
        },
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a whole number in range, or noted above; a cast saturates"
        )]
        area_cm2: area_cm2.map(|cm2| cm2 as u32),
    }
}

/// The quote that a plugin made of `inputs`. It has neither a name nor times nor
/// cautions yet.
pub(crate) fn quote_to_pb(
    quote: &host::Quote,
    fuel_used: u64,
    plugin: &str,
    version: Option<v1::PluginVersion>,
    inputs: v1::QuoteInputs,
) -> v1::Quote {
    let rules = inputs.money.clone().unwrap_or_default();
    let money = |minor_units: i64| {
        Some(v1::Money {
            currency_code: rules.currency_code.clone(),
            minor_units,
        })
    };
    let line = |line: &host::Line| v1::QuoteLine {
        code: line.code.clone(),
        description: line.description.clone(),
        quantity_thousandths: line.quantity,
        unit: line.unit.clone(),
        unit_price: money(line.unit_price),
        amount: money(line.amount),
        tax_class: line.tax_class.clone(),
        reason: line.reason.clone(),
    };
    let rate = |name: &str| {
        let class = rules.tax_classes.iter().find(|class| class.name == name);
        class.map(|class| class.rate_ppm).unwrap_or_default()
    };
    let tax = |tax: &host::TaxLine| v1::QuoteTax {
        tax_class: tax.tax_class.clone(),
        rate_ppm: rate(&tax.tax_class),
        net: money(tax.net),
        tax: money(tax.tax),
    };
    v1::Quote {
        plugin: plugin.to_owned(),
        plugin_version: version,
        lines: quote.lines.iter().map(line).collect(),
        taxes: quote.taxes.iter().map(tax).collect(),
        net_total: money(quote.net_total),
        tax_total: money(quote.tax_total),
        gross_total: money(quote.gross_total),
        notes: quote.notes.clone(),
        fuel_used: i64::try_from(fuel_used).unwrap_or(i64::MAX),
        inputs: Some(inputs),
        ..v1::Quote::default()
    }
}

/// The quote's name of a request: job id and number.
pub(crate) fn name_from_pb(name: &str, field: &str, checks: &mut Checks) -> (String, u64) {
    let parts = name
        .strip_prefix("jobs/")
        .and_then(|rest| rest.split_once("/quotes/"))
        .filter(|(job, _)| lamella_jobs::check::is_id(job))
        .and_then(|(job, number)| {
            // As it is written, so that one quote has one name.
            let parsed: u64 = number.parse().ok()?;
            (parsed.to_string() == number).then(|| (job.to_owned(), parsed))
        });
    checks.require(parts.is_some(), field, || {
        if name.is_empty() {
            "is required, as `jobs/.../quotes/...`".to_owned()
        } else {
            format!(
                "must be a name such as `{}`, got {}",
                names::quote("a-1", "7"),
                lamella_jobs::check::quote(name)
            )
        }
    });
    parts.unwrap_or_default()
}

/// Notes every measure of a request that is out of its range or there twice.
pub(crate) fn check_measures(measures: &[v1::QuoteMeasure], checks: &mut Checks) {
    use lamella_jobs::check;
    check::count(checks, "measures", measures.len(), 0, 200);
    for (index, measure) in measures.iter().enumerate() {
        let at = |field: &str| format!("measures[{index}].{field}");
        check::text(checks, &at("kind"), &measure.kind, 1, 63);
        check::text(checks, &at("item"), &measure.item, 0, 200);
        check::text(checks, &at("unit"), &measure.unit, 1, 16);
        let quantity = measure.quantity_thousandths;
        checks.require(quantity >= 0, at("quantity_thousandths"), || {
            format!("must be 0 or more, got {quantity}")
        });
        let twice = measures.iter().take(index).any(|earlier| {
            (earlier.kind.as_str(), earlier.item.as_str())
                == (measure.kind.as_str(), measure.item.as_str())
        });
        checks.require(!twice, at("item"), || {
            format!(
                "is a second {} {}",
                check::quote(&measure.kind),
                check::quote(&measure.item)
            )
        });
    }
}

#[cfg(test)]
#[path = "quote_tests.rs"]
mod tests;
