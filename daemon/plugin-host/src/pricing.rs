//! World `pricing`: asking for a price, and refusing one that does not add up.

use crate::bindings::pricing::exports::lamella::shop::price::Refusal;
use crate::config::CallLimits;
use crate::error::{CallFailure, PluginError, RefusalKind};
use crate::load::{Linked, World};
use crate::money::check_quote;
use crate::plugin::Plugin;
use crate::report::CallReport;
use crate::{PricingRequest, Quote};

impl Plugin {
    /// Asks the plugin for a price and checks every sum in it. Blocks; call it from a
    /// thread that may.
    ///
    /// # Errors
    /// [`CallFailure`] where the plugin is of another world, refuses, breaks a limit, or
    /// gives a quote that does not add up.
    pub fn quote(
        &self,
        request: &PricingRequest,
        limits: CallLimits,
    ) -> Result<(Quote, CallReport), Box<CallFailure>> {
        let pre = match self.linked() {
            Linked::Pricing(pre) => pre,
            Linked::ProductList(_) => return Err(self.wrong_world(World::Pricing)),
        };
        self.call(
            limits,
            |store| {
                let instance = pre.instantiate(&mut *store)?;
                instance.lamella_shop_price().call_quote_job(store, request)
            },
            |answer| {
                let quote = answer.map_err(|refusal| of_refusal(&refusal))?;
                check_quote(&quote, &request.money)
                    .map_err(|faults| PluginError::QuoteDoesNotAddUp { faults })?;
                Ok(quote)
            },
        )
    }
}

fn of_refusal(refusal: &Refusal) -> PluginError {
    match refusal {
        Refusal::NotCovered(text) => PluginError::refused(RefusalKind::NotCovered, text),
        Refusal::Missing(text) => PluginError::refused(RefusalKind::Missing, text),
        Refusal::BadSetting(text) => PluginError::refused(RefusalKind::BadSetting, text),
    }
}
