//! `lamella plugin products`.

use lamella_proto::v1;

use crate::errors::CliError;
use crate::render;
use crate::session::Session;

/// List what the enabled product lists hold together.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella plugin products --units us")]
pub(crate) struct Args {}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(_: Args, session: &Session) -> Result<(), CliError> {
    let mut plugins = session.plugins().await?;
    let request = session.request(v1::ListShopProductsRequest {});
    let answer = session.answer(plugins.list_shop_products(request)).await?;
    session.show(&answer, render::shop_products::answer)
}
