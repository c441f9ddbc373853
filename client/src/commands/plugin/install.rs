//! `lamella plugin install`.

use std::path::PathBuf;

use lamella_proto::v1;
use lamella_proto::v1::install_plugin_request::Part;

use crate::commands::plugin::upload::{Upload, Wasi};
use crate::commands::setting::{self, Setting};
use crate::commands::shared::ChangeArgs;
use crate::errors::CliError;
use crate::render;
use crate::session::Session;

/// Install a plugin, or put a new version in the place of the one with that id.
///
/// The server checks, compiles and calls it before it serves; when that fails,
/// the version before goes on serving.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella plugin install shop-prices.wasm --id shop-prices
  lamella plugin install shop-prices.wasm --id shop-prices --set per-hour=7200 --dry-run
  lamella plugin install price-rule-in-python.wasm --id shop-prices --wasi empty")]
pub(crate) struct Args {
    /// The component.
    file: PathBuf,
    /// The last part of the plugin's resource name.
    #[arg(long)]
    id: String,
    /// Which WASI it is given. [default: none]
    #[arg(long, value_enum)]
    wasi: Option<Wasi>,
    /// What the shop tells it; repeat for more. On an upgrade these take the
    /// place of all that it was told; without any it stays as it was.
    #[arg(long, value_name = "KEY=VALUE")]
    set: Vec<Setting>,
    /// Only check, compile and call it; nothing is kept.
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs the command.
///
/// # Errors
/// When the file cannot be read; else the server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let session = session.patient();
    let upload = Upload::read(&args.file)?;
    let header = v1::InstallPluginHeader {
        plugin_id: args.id,
        sha256: upload.sha256.clone(),
        wasi: args.wasi.map_or(0, i32::from),
        settings: setting::to_proto(&args.set),
        validate_only: args.dry_run,
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
    };
    let parts = std::iter::once(Part::Header(header)).chain(upload.chunks().map(Part::Chunk));
    let messages = parts.map(|part| v1::InstallPluginRequest { part: Some(part) });
    let mut plugins = session.plugins().await?;
    let request = session.request(tokio_stream::iter(messages));
    let plugin = session.answer(plugins.install_plugin(request)).await?;
    session.show(&plugin, |plugin, view| {
        let text = render::plugin::full(plugin, view);
        if args.dry_run {
            format!("it would be installed; nothing was kept\n{text}")
        } else {
            text
        }
    })
}
