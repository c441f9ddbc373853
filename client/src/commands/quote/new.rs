//! `lamella quote JOB`.

use lamella_proto::v1;

use crate::commands::measure_spec::MeasureSpec;
use crate::commands::setting::{self, Setting};
use crate::errors::CliError;
use crate::names::{JobName, PluginName};
use crate::render;
use crate::session::Session;

/// What to price, and how.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    /// The price rule. [default: the only one enabled]
    #[arg(long, value_name = "PLUGIN")]
    plugin: Option<PluginName>,
    /// A setting that differs from the plugin's own for this quote; repeat for
    /// more.
    #[arg(long, value_name = "KEY=VALUE")]
    set: Vec<Setting>,
    /// A quantity to price besides those on record, or in place of the one of
    /// its kind and item: film:clear=4.2m, chemical:shampoo=32floz,
    /// labour:correct=1h30min; repeat for more.
    #[arg(long, value_name = "KIND:ITEM=QUANTITY")]
    measure: Vec<MeasureSpec>,
    /// Only price it; nothing is stored.
    #[arg(long)]
    dry_run: bool,
    /// Why each line is there and costs what it does.
    #[arg(long)]
    why: bool,
    /// Makes a retry safe: the same id with the same request is done once.
    #[arg(long, value_name = "ID")]
    request_id: Option<String>,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    // The plugin may have to be compiled first.
    let session = session.patient();
    let mut quotes = session.quotes().await?;
    let request = session.request(v1::CreateQuoteRequest {
        parent: args.job.0,
        plugin: args.plugin.map(|plugin| plugin.0).unwrap_or_default(),
        settings: setting::to_proto(&args.set),
        measures: args.measure.into_iter().map(|measure| measure.0).collect(),
        validate_only: args.dry_run,
        request_id: args.request_id.unwrap_or_default(),
    });
    let quote = session.answer(quotes.create_quote(request)).await?;
    session.show(&quote, |quote, view| {
        render::quote::full(quote, args.why, view)
    })
}
