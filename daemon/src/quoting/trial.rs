//! Trying a component on recorded jobs before it is installed.

use lamella_plugin_host::{CallFailure, CallLimits, CallReport, LogLevel, Plugin, World};
use lamella_proto::v1::{self, plugin_trial::Outcome};

use super::{Asked, Quoting, priced};
use crate::convert;
use crate::ledger::JobFacts;
use crate::plugins::{self, PluginsError, blocking};

/// A component that is tried.
pub(crate) struct Trial {
    /// The component, loaded.
    pub(crate) plugin: Plugin,
    /// What it says of itself.
    pub(crate) version: v1::PluginVersion,
    /// What it is told.
    pub(crate) settings: Vec<v1::PluginSetting>,
}

impl Quoting {
    /// The jobs of these ids as they are now, also those that are over: what was
    /// priced once is what a new rule is tried on.
    ///
    /// # Errors
    /// An unknown job.
    pub(crate) async fn recorded(&self, jobs: Vec<String>) -> Result<Vec<JobFacts>, PluginsError> {
        let mut all = Vec::with_capacity(jobs.len());
        for job in jobs {
            all.push(self.ledger.recorded_job(job).await?);
        }
        Ok(all)
    }

    /// Prices the jobs, one after the other; what fails for one is told beside it.
    /// Of a product list, its products.
    ///
    /// # Errors
    /// A product list that gives no answer.
    pub(crate) async fn try_plugin(
        &self,
        trial: Trial,
        jobs: &[JobFacts],
    ) -> Result<v1::TryPluginResponse, PluginsError> {
        let mut response = v1::TryPluginResponse {
            plugin: Some(trial.version.clone()),
            ..v1::TryPluginResponse::default()
        };
        match trial.plugin.world() {
            World::Pricing => {
                for facts in jobs {
                    response.trials.push(self.try_on(&trial, facts).await?);
                }
            }
            World::ProductList => response.products = Some(listed(trial).await?),
        }
        Ok(response)
    }

    async fn try_on(
        &self,
        trial: &Trial,
        facts: &JobFacts,
    ) -> Result<v1::PluginTrial, PluginsError> {
        let inputs = self.inputs(facts, &trial.settings, Asked::default());
        let version = Some(trial.version.clone());
        let answer = priced(trial.plugin.clone(), "", version, inputs).await?;
        let (outcome, report) = match answer {
            Ok((quote, report)) => (Outcome::Quote(self.cautioned(quote)), report),
            Err(failure) => {
                let CallFailure { error, report } = *failure;
                let failure = v1::PluginFailure {
                    reason: error.reason().to_owned(),
                    message: error.to_string(),
                };
                (Outcome::Failure(failure), report)
            }
        };
        Ok(v1::PluginTrial {
            job: facts.job.name.clone(),
            outcome: Some(outcome),
            log_lines: log_lines(&report),
            dropped_log_lines: i64::try_from(report.dropped_lines).unwrap_or(i64::MAX),
        })
    }
}

async fn listed(trial: Trial) -> Result<v1::ShopProducts, PluginsError> {
    let settings = plugins::settings(&trial.settings);
    blocking(move || {
        let (set, _) = trial
            .plugin
            .list_products(&settings, CallLimits::default())?;
        Ok::<_, PluginsError>(convert::shop_product::to_pb(&set, ""))
    })
    .await
}

fn log_lines(report: &CallReport) -> Vec<v1::PluginLogLine> {
    let lines = report.log_lines.iter().map(|line| v1::PluginLogLine {
        level: match line.level {
            LogLevel::Debug => "debug",
            LogLevel::Info => "info",
            LogLevel::Warn => "warn",
        }
        .to_owned(),
        text: line.text.clone(),
    });
    lines.collect()
}
