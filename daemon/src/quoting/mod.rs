//! Pricing jobs through the shop's plugins.
//!
//! - [`Quoting`]: pricing, storing, making once more
//! - `inputs`, `measures`: everything that a quote depends on
//! - `differences`: in what two quotes differ
//! - `trial`: trying a component before it is installed
//!
//! A price is computed on a thread that may block, never on the store's writer
//! thread, and stored only when the job is still as it was priced.

mod differences;
mod inputs;
mod measures;
mod trial;

use lamella_calc::violation::Checks;
use lamella_plugin_host::{CallFailure, CallLimits, CallReport, Plugin};
use lamella_proto::v1;

pub(crate) use self::differences::{differences, money, percent, quantity, same_price};
pub(crate) use self::inputs::Asked;
pub(crate) use self::trial::Trial;
use crate::config::Money;
use crate::convert;
use crate::ledger::{JobFacts, Ledger, LedgerError, RequestKey};
use crate::plugins::{Plugins, PluginsError, Serving, blocking};

/// How often a job is priced again that changes under the pricing.
const ATTEMPTS: usize = 3;

/// Prices jobs. Cheap to clone.
#[derive(Clone)]
pub(crate) struct Quoting {
    ledger: Ledger,
    plugins: Plugins,
    money: Money,
}

impl Quoting {
    pub(crate) fn new(ledger: Ledger, plugins: Plugins, money: Money) -> Self {
        Self {
            ledger,
            plugins,
            money,
        }
    }

    /// Prices a job and stores nothing.
    ///
    /// # Errors
    /// An unknown job, one that is over or deleted, no plugin to price with, a plugin
    /// that fails or refuses.
    pub(crate) async fn price(
        &self,
        job: String,
        plugin: Option<&str>,
        asked: Asked,
    ) -> Result<v1::Quote, PluginsError> {
        let facts = self.ledger.job_facts(job).await?;
        let serving = self.plugins.pricing(plugin)?;
        self.price_facts(&facts, &serving, asked).await
    }

    /// Prices a job and stores the quote. A request that was answered before gets
    /// its first answer and is not priced again.
    ///
    /// # Errors
    /// As [`price`](Self::price); a job that keeps changing meanwhile.
    pub(crate) async fn create(
        &self,
        job: String,
        plugin: Option<&str>,
        asked: Asked,
        request: RequestKey,
    ) -> Result<v1::Quote, PluginsError> {
        if let Some(quote) = self.ledger.quote_of_request(request.clone()).await? {
            return Ok(quote);
        }
        let mut attempt = 1;
        loop {
            let facts = self.ledger.job_facts(job.clone()).await?;
            let serving = self.plugins.pricing(plugin)?;
            let quote = self.price_facts(&facts, &serving, asked.clone()).await?;
            let stored = self
                .ledger
                .create_quote(facts, quote, request.clone())
                .await;
            match stored {
                Err(LedgerError::JobChanged { .. }) if attempt < ATTEMPTS => attempt += 1,
                stored => return Ok(stored?),
            }
        }
    }

    /// Makes a stored quote once more, from its inputs and with the component that
    /// made it. The cautions are those of the stored one.
    ///
    /// # Errors
    /// A component that is no longer kept, or no longer gives a price.
    pub(crate) async fn rerun(&self, stored: &v1::Quote) -> Result<v1::Quote, PluginsError> {
        let version = stored.plugin_version.clone().unwrap_or_default();
        let plugin = self
            .plugins
            .at_hash(&version.sha256, version.wasi())
            .await?;
        let inputs = stored.inputs.clone().unwrap_or_default();
        let priced = priced(plugin, &stored.plugin, Some(version), inputs).await;
        let (quote, _) = priced??;
        Ok(v1::Quote {
            cautions: stored.cautions.clone(),
            ..quote
        })
    }

    async fn price_facts(
        &self,
        facts: &JobFacts,
        serving: &Serving,
        asked: Asked,
    ) -> Result<v1::Quote, PluginsError> {
        let Serving {
            message, plugin, ..
        } = serving;
        let inputs = self.inputs(facts, &message.settings, asked);
        let version = message.current.clone();
        let answer = priced(plugin.clone(), &message.name, version, inputs).await?;
        let (quote, _) = answer?;
        Ok(self.cautioned(quote))
    }

    fn inputs(&self, facts: &JobFacts, own: &[v1::PluginSetting], asked: Asked) -> v1::QuoteInputs {
        inputs::gather(facts, convert::quote::rules_to_pb(&self.money), own, asked)
    }

    fn cautioned(&self, mut quote: v1::Quote) -> v1::Quote {
        if !self.money.tax_configured {
            quote.cautions.push(v1::Caution {
                code: "TAX_NOT_CONFIGURED".to_owned(),
                severity: v1::Severity::Caution.into(),
                text: "Nobody has said what the taxes are, so this price has none. Set \
                       [[money.tax_classes]] in the daemon's configuration as local tax law asks."
                    .to_owned(),
                basis: "the daemon's configuration".to_owned(),
            });
        }
        quote
    }
}

type Priced = Result<(v1::Quote, CallReport), Box<CallFailure>>;

/// Calls the plugin on a thread that may block. What it writes about a job is not
/// logged: it may say anything that stands in the job.
async fn priced(
    plugin: Plugin,
    name: &str,
    version: Option<v1::PluginVersion>,
    inputs: v1::QuoteInputs,
) -> Result<Priced, PluginsError> {
    let mut checks = Checks::new();
    let request = convert::quote::request_to_host(&inputs, &mut checks);
    checks.finish().map_err(|error| LedgerError::Unreadable {
        what: "the inputs of a quote".to_owned(),
        reason: error.to_string(),
    })?;
    let answer =
        blocking(move || Ok::<_, PluginsError>(plugin.quote(&request, CallLimits::default())))
            .await?;
    Ok(answer.map(|(quote, report)| {
        let quote = convert::quote::quote_to_pb(&quote, report.fuel_used, name, version, inputs);
        (quote, report)
    }))
}
