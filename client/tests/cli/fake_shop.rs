//! The plugins and quotes of the server that answers as told.

use std::sync::{Arc, Mutex};

use lamella_proto::v1::plugin_service_server::PluginService;
use lamella_proto::v1::quote_service_server::QuoteService;
use lamella_proto::v1::*;
use tokio_stream::StreamExt as _;
use tonic::{Request, Response, Status, Streaming};

use crate::fake::Seen;

/// Keeps plugins.
pub(crate) struct Plugins {
    pub(crate) seen: Arc<Mutex<Seen>>,
}

/// Keeps quotes.
pub(crate) struct Quotes {
    pub(crate) seen: Arc<Mutex<Seen>>,
}

fn plugin(name: &str) -> Plugin {
    Plugin {
        name: name.to_owned(),
        state: PluginState::Enabled.into(),
        current: Some(PluginVersion {
            name: "tiered-pricing".to_owned(),
            version: "1.0.0".to_owned(),
            sha256: "ab".repeat(32),
            size_bytes: 53_000,
            world: PluginWorld::Pricing.into(),
            ..Default::default()
        }),
        settings: vec![
            PluginSetting {
                key: "a".to_owned(),
                value: "1".to_owned(),
            },
            PluginSetting {
                key: "b".to_owned(),
                value: "2".to_owned(),
            },
        ],
        etag: "e1".to_owned(),
        ..Default::default()
    }
}

fn quote(name: &str) -> Quote {
    let eur = |minor_units| {
        Some(Money {
            currency_code: "EUR".to_owned(),
            minor_units,
        })
    };
    Quote {
        name: name.to_owned(),
        plugin: "plugins/shop-prices".to_owned(),
        plugin_version: plugin("").current,
        lines: vec![QuoteLine {
            code: "labour".to_owned(),
            description: "labour, correct".to_owned(),
            quantity_thousandths: 1_500,
            unit: "h".to_owned(),
            unit_price: eur(6_500),
            amount: eur(9_750),
            tax_class: "standard".to_owned(),
            reason: "1.5 h on record".to_owned(),
        }],
        taxes: vec![QuoteTax {
            tax_class: "standard".to_owned(),
            rate_ppm: 200_000,
            net: eur(9_750),
            tax: eur(1_950),
        }],
        net_total: eur(9_750),
        tax_total: eur(1_950),
        gross_total: eur(11_700),
        ..Default::default()
    }
}

fn difference() -> QuoteDifference {
    QuoteDifference {
        field: "gross_total".to_owned(),
        before: "117.00 EUR".to_owned(),
        after: "118.00 EUR".to_owned(),
    }
}

#[tonic::async_trait]
impl PluginService for Plugins {
    async fn install_plugin(
        &self,
        request: Request<Streaming<InstallPluginRequest>>,
    ) -> Result<Response<Plugin>, Status> {
        let mut messages = request.into_inner();
        let mut sizes = Vec::new();
        let mut header = InstallPluginHeader::default();
        while let Some(message) = messages.next().await {
            match message?.part {
                // Said before the component has come, as a daemon does that
                // need not see it.
                Some(install_plugin_request::Part::Header(refused))
                    if refused.plugin_id == "refused" =>
                {
                    return Err(Status::invalid_argument("plugin_id is taken"));
                }
                Some(install_plugin_request::Part::Header(first)) => header = first,
                Some(install_plugin_request::Part::Chunk(chunk)) => sizes.push(chunk.len()),
                None => return Err(Status::invalid_argument("an empty message")),
            }
        }
        let name = format!("plugins/{}", header.plugin_id);
        self.seen.lock().unwrap().installed.push((header, sizes));
        Ok(Response::new(plugin(&name)))
    }

    async fn try_plugin(
        &self,
        request: Request<Streaming<TryPluginRequest>>,
    ) -> Result<Response<TryPluginResponse>, Status> {
        let mut messages = request.into_inner();
        let mut jobs = Vec::new();
        while let Some(message) = messages.next().await {
            if let Some(try_plugin_request::Part::Header(header)) = message?.part {
                jobs = header.jobs;
            }
        }
        let trials = jobs.into_iter().map(|job| {
            let outcome = if job == "jobs/bare" {
                plugin_trial::Outcome::Failure(PluginFailure {
                    reason: "PRICE_REFUSED".to_owned(),
                    message: "nothing to price".to_owned(),
                })
            } else {
                plugin_trial::Outcome::Quote(quote(""))
            };
            PluginTrial {
                job,
                outcome: Some(outcome),
                log_lines: vec![PluginLogLine {
                    level: "info".to_owned(),
                    text: "one line".to_owned(),
                }],
                dropped_log_lines: 0,
            }
        });
        Ok(Response::new(TryPluginResponse {
            plugin: plugin("").current,
            trials: trials.collect(),
            products: None,
        }))
    }

    async fn get_plugin(
        &self,
        request: Request<GetPluginRequest>,
    ) -> Result<Response<Plugin>, Status> {
        Ok(Response::new(plugin(&request.into_inner().name)))
    }

    async fn list_plugins(
        &self,
        _: Request<ListPluginsRequest>,
    ) -> Result<Response<ListPluginsResponse>, Status> {
        Ok(Response::new(ListPluginsResponse {
            plugins: vec![plugin("plugins/shop-prices")],
            next_page_token: String::new(),
        }))
    }

    async fn update_plugin(
        &self,
        request: Request<UpdatePluginRequest>,
    ) -> Result<Response<Plugin>, Status> {
        let request = request.into_inner();
        let updated = request.plugin.clone().unwrap_or_default();
        self.seen.lock().unwrap().plugins_updated.push(request);
        Ok(Response::new(updated))
    }

    async fn enable_plugin(
        &self,
        request: Request<EnablePluginRequest>,
    ) -> Result<Response<Plugin>, Status> {
        Ok(Response::new(plugin(&request.into_inner().name)))
    }

    async fn disable_plugin(
        &self,
        request: Request<DisablePluginRequest>,
    ) -> Result<Response<Plugin>, Status> {
        let mut plugin = plugin(&request.into_inner().name);
        plugin.state = PluginState::Disabled.into();
        Ok(Response::new(plugin))
    }

    async fn delete_plugin(
        &self,
        request: Request<DeletePluginRequest>,
    ) -> Result<Response<Plugin>, Status> {
        match request.into_inner().name.as_str() {
            "plugins/none" => Err(Status::not_found("there is no plugins/none")),
            name => Ok(Response::new(plugin(name))),
        }
    }

    async fn list_shop_products(
        &self,
        _: Request<ListShopProductsRequest>,
    ) -> Result<Response<ListShopProductsResponse>, Status> {
        Ok(Response::new(ListShopProductsResponse::default()))
    }
}

#[tonic::async_trait]
impl QuoteService for Quotes {
    async fn create_quote(
        &self,
        request: Request<CreateQuoteRequest>,
    ) -> Result<Response<Quote>, Status> {
        let request = request.into_inner();
        let name = if request.validate_only {
            String::new()
        } else {
            format!("{}/quotes/1", request.parent)
        };
        self.seen.lock().unwrap().quoted.push(request);
        Ok(Response::new(quote(&name)))
    }

    async fn get_quote(
        &self,
        request: Request<GetQuoteRequest>,
    ) -> Result<Response<Quote>, Status> {
        Ok(Response::new(quote(&request.into_inner().name)))
    }

    async fn list_quotes(
        &self,
        request: Request<ListQuotesRequest>,
    ) -> Result<Response<ListQuotesResponse>, Status> {
        let parent = request.into_inner().parent;
        Ok(Response::new(ListQuotesResponse {
            quotes: vec![quote(&format!("{parent}/quotes/1"))],
            next_page_token: String::new(),
        }))
    }

    async fn rerun_quote(
        &self,
        request: Request<RerunQuoteRequest>,
    ) -> Result<Response<RerunQuoteResponse>, Status> {
        let same = request.into_inner().name == "jobs/a/quotes/1";
        Ok(Response::new(RerunQuoteResponse {
            quote: Some(quote("")),
            same,
            differences: if same { vec![] } else { vec![difference()] },
        }))
    }

    async fn compare_quotes(
        &self,
        _: Request<CompareQuotesRequest>,
    ) -> Result<Response<CompareQuotesResponse>, Status> {
        Ok(Response::new(CompareQuotesResponse {
            differences: vec![difference()],
        }))
    }

    async fn accept_quote(
        &self,
        request: Request<AcceptQuoteRequest>,
    ) -> Result<Response<AcceptQuoteResponse>, Status> {
        let request = request.into_inner();
        let quote = quote(&request.name);
        let job = Job {
            name: "jobs/a".to_owned(),
            display_name: "Blue estate".to_owned(),
            stage: Stage::Assessed.into(),
            approval: Some(Approval {
                approved_by: request.approved_by,
                amount: quote.gross_total.clone(),
                note: request.note,
                quote: quote.name.clone(),
                ..Default::default()
            }),
            ..Default::default()
        };
        Ok(Response::new(AcceptQuoteResponse {
            quote: Some(quote),
            job: Some(job),
        }))
    }
}
