//! `lamella plugin list`.

use lamella_proto::v1;

use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::render;
use crate::session::Session;

/// List the plugins that are installed, in order of their ids.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella plugin list")]
pub(crate) struct Args {
    #[command(flatten)]
    page: PageArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut plugins = session.plugins().await?;
    let mut list = v1::ListPluginsResponse::default();
    let mut page_token = args.page.token();
    loop {
        let request = session.request(v1::ListPluginsRequest {
            page_size: args.page.size(),
            page_token,
        });
        let page = session.answer(plugins.list_plugins(request)).await?;
        list.plugins.extend(page.plugins);
        list.next_page_token = page.next_page_token;
        if !args.page.all || list.next_page_token.is_empty() {
            return session.show(&list, render::plugin::list);
        }
        page_token = list.next_page_token.clone();
    }
}
