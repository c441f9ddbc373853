//! `lamella plugin enable`, `disable` and `remove`.

use lamella_proto::v1;

use crate::commands::shared::ChangeArgs;
use crate::errors::CliError;
use crate::names::PluginName;
use crate::render;
use crate::session::Session;

/// Let a plugin serve. It is loaded first; what fails leaves it as it was.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella plugin enable shop-prices")]
pub(crate) struct EnableArgs {
    /// The plugin: plugins/ID, or its ID.
    plugin: PluginName,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Take a plugin out of service. Calls under way are answered.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella plugin disable shop-prices")]
pub(crate) struct DisableArgs {
    /// The plugin: plugins/ID, or its ID.
    plugin: PluginName,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Remove a plugin. The quotes that it made can still be shown and run again.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella plugin remove shop-prices")]
pub(crate) struct RemoveArgs {
    /// The plugin: plugins/ID, or its ID.
    plugin: PluginName,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs `enable`.
///
/// # Errors
/// The server's.
pub(crate) async fn enable(args: EnableArgs, session: &Session) -> Result<(), CliError> {
    let session = session.patient();
    let mut plugins = session.plugins().await?;
    let request = session.request(v1::EnablePluginRequest {
        name: args.plugin.0,
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let plugin = session.answer(plugins.enable_plugin(request)).await?;
    session.show(&plugin, render::plugin::full)
}

/// Runs `disable`.
///
/// # Errors
/// The server's.
pub(crate) async fn disable(args: DisableArgs, session: &Session) -> Result<(), CliError> {
    let mut plugins = session.plugins().await?;
    let request = session.request(v1::DisablePluginRequest {
        name: args.plugin.0,
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let plugin = session.answer(plugins.disable_plugin(request)).await?;
    session.show(&plugin, render::plugin::full)
}

/// Runs `remove`.
///
/// # Errors
/// The server's.
pub(crate) async fn remove(args: RemoveArgs, session: &Session) -> Result<(), CliError> {
    let mut plugins = session.plugins().await?;
    let request = session.request(v1::DeletePluginRequest {
        name: args.plugin.0,
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let plugin = session.answer(plugins.delete_plugin(request)).await?;
    session.show(&plugin, |plugin, view| {
        format!("removed\n{}", render::plugin::full(plugin, view))
    })
}
