//! The shop's price rule, the quote, and the customer's yes.

use lamella_proto::v1::{self, install_plugin_request::Part};
use sha2::{Digest as _, Sha256};

use super::{JOB, move_on};
use crate::demo::teller::Teller;
use crate::quoting;

/// The price rule that is shipped, as the repository has it; its source is in
/// `plugins/tiered-pricing`.
const RULE: &[u8] = include_bytes!(concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../plugins/prebuilt/tiered-pricing.wasm"
));

pub(super) async fn tell(teller: &mut Teller) -> anyhow::Result<()> {
    install(teller).await?;
    let quote = quote(teller).await?;
    accept(teller, quote).await
}

async fn install(teller: &mut Teller) -> anyhow::Result<()> {
    teller.step(
        "The shop has a price rule of its own, a WebAssembly component. It runs in a box: \
         no files, no network, no clock.",
        "plugin install plugins/prebuilt/tiered-pricing.wasm --id tiered-pricing \
         --set discount-per-mille=50",
    );
    let header = v1::InstallPluginHeader {
        plugin_id: "tiered-pricing".to_owned(),
        sha256: hex::encode(Sha256::digest(RULE)),
        settings: vec![v1::PluginSetting {
            key: "discount-per-mille".to_owned(),
            value: "50".to_owned(),
        }],
        ..v1::InstallPluginHeader::default()
    };
    let parts = [Part::Header(header), Part::Chunk(RULE.to_vec())];
    let messages = parts.map(|part| v1::InstallPluginRequest { part: Some(part) });
    let stream = tokio_stream::iter(messages);
    let plugin = teller.plugins.install_plugin(stream).await?.into_inner();
    let version = plugin.current.unwrap_or_default();
    teller.answer(&format!(
        "{} {}, {} kB, SHA-256 {:.12}...: {}",
        version.name,
        version.version,
        version.size_bytes / 1000,
        version.sha256,
        version.summary
    ));
    Ok(())
}

async fn quote(teller: &mut Teller) -> anyhow::Result<v1::Quote> {
    teller.step(
        "What does it cost? Panels, their condition and what was used so far go in.",
        "quote blue-estate",
    );
    let request = v1::CreateQuoteRequest {
        parent: JOB.to_owned(),
        ..v1::CreateQuoteRequest::default()
    };
    let quote = teller.quotes.create_quote(request).await?.into_inner();
    let rules = quote.inputs.clone().unwrap_or_default().money;
    let digits = rules.unwrap_or_default().minor_digits;
    let money = |money: &Option<v1::Money>| quoting::money(money.as_ref(), digits);
    for line in &quote.lines {
        let quantity = quoting::quantity(line.quantity_thousandths, &line.unit);
        teller.answer(&format!(
            "{:<46} {quantity:>10} {:>14}",
            line.description,
            money(&line.amount)
        ));
    }
    for tax in &quote.taxes {
        teller.answer(&format!(
            "{:<46} {:>10} {:>14}",
            format!("tax, {}", tax.tax_class),
            quoting::percent(tax.rate_ppm),
            money(&tax.tax)
        ));
    }
    teller.answer(&format!(
        "{:<46} {:>10} {:>14}",
        "to pay",
        "",
        money(&quote.gross_total)
    ));
    for note in &quote.notes {
        teller.answer(&format!("note: {note}"));
    }
    teller.cautions(&quote.cautions);
    let rerun = v1::RerunQuoteRequest {
        name: quote.name.clone(),
    };
    let id = quote_id(&quote);
    teller.command(&format!("quote rerun {id}"));
    let again = teller.quotes.rerun_quote(rerun).await?.into_inner();
    anyhow::ensure!(again.same, "the same rule must give the same price");
    teller.answer("the same to the cent");
    Ok(quote)
}

async fn accept(teller: &mut Teller, quote: v1::Quote) -> anyhow::Result<()> {
    let id = quote_id(&quote);
    teller.step(
        "The customer says yes.",
        &format!("quote accept {id} --by 'the owner' --note 'by phone'"),
    );
    let request = v1::AcceptQuoteRequest {
        name: quote.name.clone(),
        approved_by: "the owner".to_owned(),
        note: "by phone".to_owned(),
        ..v1::AcceptQuoteRequest::default()
    };
    let accepted = teller.quotes.accept_quote(request).await?.into_inner();
    let approval = accepted.job.unwrap_or_default().approval;
    let approval = approval.unwrap_or_default();
    anyhow::ensure!(
        approval.amount == quote.gross_total && approval.quote == quote.name,
        "the yes must be to the quote"
    );
    teller.answer(&format!("{} is what was said yes to", approval.quote));
    move_on(teller).await?;
    move_on(teller).await
}

/// `blue-estate/12`, as a person types it.
fn quote_id(quote: &v1::Quote) -> String {
    let id = quote.name.trim_start_matches("jobs/");
    id.replace("/quotes/", "/")
}
