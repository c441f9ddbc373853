//! The job that a pricing plugin is called with once before it serves.

use lamella_plugin_host::{
    CallFailure, CallLimits, Condition, Finish, Job, Measure, MoneyRules, Panel, PluginError,
    PricingRequest, RefusalKind, Rounding, Service, Setting, Substrate, TaxBasis, TaxClass,
};
use lamella_proto::v1;

use super::PluginsError;
use super::log;
use super::serving::Serving;

/// How money is reckoned where the shop has not said: euros, half up, and one
/// class of tax at 0 %.
#[must_use]
pub fn default_money() -> MoneyRules {
    MoneyRules {
        currency: "EUR".to_owned(),
        minor_digits: 2,
        rounding: Rounding::HalfUp,
        tax_basis: TaxBasis::Class,
        tax_classes: vec![TaxClass {
            name: "standard".to_owned(),
            rate_ppm: 0,
        }],
    }
}

/// Has the sample priced. A rule that does not cover the sample, or misses
/// something in it, works; one that breaks off, breaks a limit, does not add up or
/// does not take its settings does not. Blocks.
pub(super) fn price(serving: &Serving, money: &MoneyRules) -> Result<(), PluginsError> {
    let request = request(money, settings(&serving.message.settings));
    match serving.plugin.quote(&request, CallLimits::default()) {
        Ok((_, report)) => {
            log::lines(&serving.message.name, &report);
            Ok(())
        }
        Err(failure) => {
            log::lines(&serving.message.name, &failure.report);
            judge(*failure)
        }
    }
}

/// Settings as the host takes them.
pub(crate) fn settings(settings: &[v1::PluginSetting]) -> Vec<Setting> {
    settings
        .iter()
        .map(|setting| Setting {
            key: setting.key.clone(),
            value: setting.value.clone(),
        })
        .collect()
}

fn judge(failure: CallFailure) -> Result<(), PluginsError> {
    match failure.error {
        PluginError::Refused {
            kind: RefusalKind::NotCovered | RefusalKind::Missing,
            ..
        } => Ok(()),
        error => Err(error.into()),
    }
}

fn request(money: &MoneyRules, settings: Vec<Setting>) -> PricingRequest {
    let text = str::to_owned;
    let hood = Panel {
        id: text("hood"),
        name: text("Hood"),
        area_cm2: Some(14_000),
        substrate: Substrate::Steel,
        finish: Finish::ClearCoat,
        condition: Condition::Light,
    };
    let service = |code: &str, description: &str| Service {
        code: text(code),
        description: text(description),
        panels: vec![text("hood")],
    };
    let measure = |kind: &str, item: &str, quantity, unit: &str| Measure {
        kind: text(kind),
        item: text(item),
        quantity,
        unit: text(unit),
    };
    PricingRequest {
        job: Job {
            id: text("sample"),
            name: text("Sample, which is no job of the shop's"),
            booked_at: text("2026-01-05T08:00:00Z"),
            promised_at: None,
            arrival_condition: String::new(),
            wishes: String::new(),
            services: vec![service("wash", "Wash"), service("correct", "Correction")],
            panels: vec![hood],
        },
        measures: vec![
            measure("labour", "correct", 1_500, "h"),
            measure("chemical", "pre-wash", 20_000, "ml"),
        ],
        money: money.clone(),
        settings,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use lamella_plugin_host::CallReport;

    #[test]
    fn a_rule_that_says_no_works_and_one_that_breaks_does_not() {
        let judged = |error| {
            judge(CallFailure {
                error,
                report: CallReport::default(),
            })
        };
        let refused = |kind| PluginError::Refused {
            kind,
            text: "no".to_owned(),
        };
        assert!(judged(refused(RefusalKind::NotCovered)).is_ok());
        assert!(judged(refused(RefusalKind::Missing)).is_ok());
        for error in [
            refused(RefusalKind::BadSetting),
            PluginError::FuelExhausted { fuel_units: 1 },
            PluginError::QuoteDoesNotAddUp { faults: Vec::new() },
        ] {
            let reason = error.reason();
            assert_eq!(judged(error).unwrap_err().reason(), reason);
        }
    }
}
