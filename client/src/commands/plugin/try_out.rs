//! `lamella plugin test`.

use std::path::PathBuf;

use lamella_proto::v1;
use lamella_proto::v1::plugin_trial::Outcome;
use lamella_proto::v1::try_plugin_request::Part;

use crate::commands::plugin::upload::{Upload, Wasi};
use crate::commands::setting::{self, Setting};
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;

/// Run a plugin on recorded jobs without installing it.
///
/// Prints what it makes of each job, and what it wrote to its log. A product
/// list takes no jobs; what it holds is printed. The exit code is 3 when a job
/// got no quote.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella plugin test shop-prices.wasm --job blue-estate --job red-van
  lamella plugin test price-rule-in-python.wasm --wasi empty --job blue-estate --set per-hour=7200")]
pub(crate) struct Args {
    /// The component.
    file: PathBuf,
    /// A job to price: jobs/ID, or its ID; repeat for more, up to 100.
    #[arg(long)]
    job: Vec<JobName>,
    /// Which WASI it is given. [default: none]
    #[arg(long, value_enum)]
    wasi: Option<Wasi>,
    /// What it is told; repeat for more.
    #[arg(long, value_name = "KEY=VALUE")]
    set: Vec<Setting>,
    /// Why each line is there and costs what it does.
    #[arg(long)]
    why: bool,
}

/// Runs the command.
///
/// # Errors
/// When the file cannot be read or a job got no quote; else the server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let session = session.patient();
    let upload = Upload::read(&args.file)?;
    let header = v1::TryPluginHeader {
        sha256: upload.sha256.clone(),
        wasi: args.wasi.map_or(0, i32::from),
        settings: setting::to_proto(&args.set),
        jobs: args.job.into_iter().map(|job| job.0).collect(),
    };
    let parts = std::iter::once(Part::Header(header)).chain(upload.chunks().map(Part::Chunk));
    let messages = parts.map(|part| v1::TryPluginRequest { part: Some(part) });
    let mut plugins = session.plugins().await?;
    let request = session.request(tokio_stream::iter(messages));
    let answer = session.answer(plugins.try_plugin(request)).await?;
    session.show(&answer, |answer, view| {
        render::plugin::trials(answer, args.why, view)
    })?;
    let quoted = |trial: &&v1::PluginTrial| matches!(trial.outcome, Some(Outcome::Quote(_)));
    let failed = answer.trials.len() - answer.trials.iter().filter(quoted).count();
    if failed == 0 {
        Ok(())
    } else {
        let of = answer.trials.len();
        Err(CliError::CameOutBad(format!(
            "no quote for {failed} of {of} {}",
            if of == 1 { "job" } else { "jobs" }
        )))
    }
}
