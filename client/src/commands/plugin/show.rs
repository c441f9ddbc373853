//! `lamella plugin show`.

use lamella_proto::v1;

use crate::errors::CliError;
use crate::names::PluginName;
use crate::render;
use crate::session::Session;

/// Show a plugin: what serves, what it is told, what served before.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella plugin show shop-prices")]
pub(crate) struct Args {
    /// The plugin: plugins/ID, or its ID.
    plugin: PluginName,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut plugins = session.plugins().await?;
    let request = session.request(v1::GetPluginRequest {
        name: args.plugin.0,
    });
    let plugin = session.answer(plugins.get_plugin(request)).await?;
    session.show(&plugin, render::plugin::full)
}
