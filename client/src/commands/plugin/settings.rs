//! `lamella plugin settings`.

use lamella_proto::v1;

use crate::commands::setting::{self, Setting};
use crate::commands::shared::ChangeArgs;
use crate::errors::CliError;
use crate::names::PluginName;
use crate::render;
use crate::session::Session;

/// Show what the shop tells a plugin, or change it.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella plugin settings shop-prices
  lamella plugin settings shop-prices --set per-hour=7200 --unset film-per-metre")]
pub(crate) struct Args {
    /// The plugin: plugins/ID, or its ID.
    plugin: PluginName,
    /// Tell it this, in place of what it was told under that key; repeat for more.
    #[arg(long, value_name = "KEY=VALUE")]
    set: Vec<Setting>,
    /// Tell it this no more; repeat for more.
    #[arg(long, value_name = "KEY")]
    unset: Vec<String>,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs the command.
///
/// # Errors
/// A usage error for an --unset of what there is not; else the server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut plugins = session.plugins().await?;
    let request = session.request(v1::GetPluginRequest {
        name: args.plugin.0,
    });
    let current = session.answer(plugins.get_plugin(request)).await?;
    if args.set.is_empty() && args.unset.is_empty() {
        return session.show(&current, |plugin, _| render::plugin::settings(plugin));
    }
    let settings = setting::change(current.settings, &args.set, &args.unset).map_err(|rule| {
        CliError::Argument {
            argument: "--unset",
            rule,
        }
    })?;
    // With the etag, so that nobody else's change is lost in between.
    let request = session.request(v1::UpdatePluginRequest {
        plugin: Some(v1::Plugin {
            name: current.name,
            settings,
            etag: args.change.etag.unwrap_or(current.etag),
            ..Default::default()
        }),
        update_mask: Some(prost_types::FieldMask {
            paths: vec!["settings".to_owned()],
        }),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let plugin = session.answer(plugins.update_plugin(request)).await?;
    session.show(&plugin, |plugin, _| render::plugin::settings(plugin))
}
