//! Everything that a quote depends on, gathered from the job.

use lamella_proto::v1;

use super::measures;
use crate::ledger::JobFacts;

/// What the caller adds to what is on record.
#[derive(Debug, Clone, Default)]
pub(crate) struct Asked {
    /// Settings that differ from the plugin's own.
    pub(crate) settings: Vec<v1::PluginSetting>,
    /// Quantities besides those on record, or in their place.
    pub(crate) measures: Vec<v1::QuoteMeasure>,
}

/// All of it; `own` are the settings that the shop gave the plugin. The customer
/// is left out.
pub(crate) fn gather(
    facts: &JobFacts,
    money: v1::MoneyRules,
    own: &[v1::PluginSetting],
    asked: Asked,
) -> v1::QuoteInputs {
    let job = &facts.job;
    let vehicle = facts.vehicle.as_ref();
    let on_record = measures::from_records(&facts.records);
    v1::QuoteInputs {
        job_id: job.name.trim_start_matches("jobs/").to_owned(),
        job_display_name: job.display_name.clone(),
        booked_time: job.create_time,
        promise_time: job.promise_time,
        arrival_condition: job.arrival_condition.clone(),
        wishes: job.wishes.clone(),
        services: job.services.clone(),
        panels: vehicle
            .map(|vehicle| vehicle.panels.clone())
            .unwrap_or_default(),
        measures: measures::with(on_record, asked.measures),
        money: Some(money),
        settings: overridden(own, asked.settings),
        job_etag: job.etag.clone(),
    }
}

/// The plugin's own settings with those of the request in their place.
fn overridden(own: &[v1::PluginSetting], asked: Vec<v1::PluginSetting>) -> Vec<v1::PluginSetting> {
    let mut settings = own.to_vec();
    for setting in asked {
        match settings.iter_mut().find(|other| other.key == setting.key) {
            Some(place) => *place = setting,
            None => settings.push(setting),
        }
    }
    settings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_setting_of_the_request_takes_the_place_of_the_plugins_own() {
        let setting = |key: &str, value: &str| v1::PluginSetting {
            key: key.to_owned(),
            value: value.to_owned(),
        };
        let own = [setting("a", "1"), setting("b", "2")];
        let asked = vec![setting("c", "3"), setting("a", "4")];
        let all = [setting("a", "4"), setting("b", "2"), setting("c", "3")];
        assert_eq!(overridden(&own, asked), all);
    }

    #[test]
    fn a_customer_is_not_among_the_inputs() {
        let facts = JobFacts::unchecked(
            v1::Job {
                name: "jobs/a".to_owned(),
                customer: Some(v1::Customer {
                    display_name: "Nobody Known".to_owned(),
                    phone: "555 0100".to_owned(),
                    email: "nobody@example.org".to_owned(),
                }),
                ..v1::Job::default()
            },
            None,
        );
        let inputs = gather(&facts, v1::MoneyRules::default(), &[], Asked::default());
        let shown = format!("{inputs:?}");
        assert!(
            !shown.contains("Nobody") && !shown.contains("555"),
            "{shown}"
        );
        assert_eq!(inputs.job_id, "a");
    }
}
