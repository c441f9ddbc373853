//! QuoteService.

use lamella_calc::violation::Checks;
use lamella_jobs::check;
use lamella_proto::v1::{self, quote_service_server::QuoteService};
use tonic::{Request, Response, Status};

use super::{finish, page_size, request_key, status};
use crate::convert;
use crate::ledger::Ledger;
use crate::quoting::{self, Asked, Quoting};

/// Quotes of jobs.
pub(crate) struct Quotes {
    ledger: Ledger,
    quoting: Quoting,
}

impl Quotes {
    pub(crate) fn new(ledger: Ledger, quoting: Quoting) -> Self {
        Self { ledger, quoting }
    }

    /// The quote of a name that was checked.
    async fn stored(&self, (job, number): (String, u64)) -> Result<v1::Quote, Status> {
        let quote = self.ledger.quote(job, number).await;
        quote.map_err(|error| status::ledger(&error))
    }
}

#[tonic::async_trait]
impl QuoteService for Quotes {
    async fn create_quote(
        &self,
        request: Request<v1::CreateQuoteRequest>,
    ) -> Result<Response<v1::Quote>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "CreateQuote", &request, &mut checks);
        let job = convert::names::id(&request.parent, "jobs", "parent", &mut checks);
        let plugin = convert::names::optional_id(&request.plugin, "plugins", "plugin", &mut checks);
        let settings =
            convert::plugin::settings_from_pb(&request.settings, "settings", &mut checks);
        convert::quote::check_measures(&request.measures, &mut checks);
        finish(checks)?;
        let asked = Asked {
            settings,
            measures: request.measures,
        };
        let plugin = plugin.as_deref();
        let quote = if request.validate_only {
            self.quoting.price(job, plugin, asked).await
        } else {
            self.quoting.create(job, plugin, asked, key).await
        };
        quote
            .map(Response::new)
            .map_err(|error| status::plugins(&error))
    }

    async fn get_quote(
        &self,
        request: Request<v1::GetQuoteRequest>,
    ) -> Result<Response<v1::Quote>, Status> {
        let mut checks = Checks::new();
        let name = convert::quote::name_from_pb(&request.into_inner().name, "name", &mut checks);
        finish(checks)?;
        self.stored(name).await.map(Response::new)
    }

    async fn list_quotes(
        &self,
        request: Request<v1::ListQuotesRequest>,
    ) -> Result<Response<v1::ListQuotesResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let job = convert::names::id(&request.parent, "jobs", "parent", &mut checks);
        let size = page_size(request.page_size, &mut checks);
        finish(checks)?;
        let page = self.ledger.quotes(job, size, request.page_token).await;
        let page = page.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::ListQuotesResponse {
            quotes: page.items,
            next_page_token: page.next_page_token,
        }))
    }

    async fn rerun_quote(
        &self,
        request: Request<v1::RerunQuoteRequest>,
    ) -> Result<Response<v1::RerunQuoteResponse>, Status> {
        let mut checks = Checks::new();
        let name = convert::quote::name_from_pb(&request.into_inner().name, "name", &mut checks);
        finish(checks)?;
        let stored = self.stored(name).await?;
        let quote = self.quoting.rerun(&stored).await;
        let quote = quote.map_err(|error| status::plugins(&error))?;
        Ok(Response::new(v1::RerunQuoteResponse {
            same: quoting::same_price(&stored, &quote),
            differences: quoting::differences(&stored, &quote),
            quote: Some(quote),
        }))
    }

    async fn compare_quotes(
        &self,
        request: Request<v1::CompareQuotesRequest>,
    ) -> Result<Response<v1::CompareQuotesResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let name = convert::quote::name_from_pb(&request.name, "name", &mut checks);
        let other = convert::quote::name_from_pb(&request.other, "other", &mut checks);
        finish(checks)?;
        let (before, after) = (self.stored(name).await?, self.stored(other).await?);
        Ok(Response::new(v1::CompareQuotesResponse {
            differences: quoting::differences(&before, &after),
        }))
    }

    async fn accept_quote(
        &self,
        request: Request<v1::AcceptQuoteRequest>,
    ) -> Result<Response<v1::AcceptQuoteResponse>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "AcceptQuote", &request, &mut checks);
        let name = convert::quote::name_from_pb(&request.name, "name", &mut checks);
        check::text(&mut checks, "approved_by", &request.approved_by, 1, 200);
        check::text(&mut checks, "note", &request.note, 0, 1000);
        finish(checks)?;
        let accepted = self
            .ledger
            .accept_quote(name, request.approved_by, request.note, request.etag, key)
            .await;
        let accepted = accepted.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::AcceptQuoteResponse {
            quote: Some(accepted.quote),
            job: Some(accepted.job),
        }))
    }
}
