//! `lamella vehicle list`.

use lamella_proto::v1;

use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::render;
use crate::session::Session;

/// List vehicles in the order they were entered.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella vehicle list --all")]
pub(crate) struct Args {
    /// Deleted vehicles as well.
    #[arg(long)]
    deleted: bool,
    #[command(flatten)]
    page: PageArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut vehicles = session.vehicles().await?;
    let mut list = v1::ListVehiclesResponse::default();
    let mut page_token = args.page.token();
    loop {
        let request = session.request(v1::ListVehiclesRequest {
            page_size: args.page.size(),
            page_token,
            show_deleted: args.deleted,
        });
        let page = session.answer(vehicles.list_vehicles(request)).await?;
        list.vehicles.extend(page.vehicles);
        list.next_page_token = page.next_page_token;
        if !args.page.all || list.next_page_token.is_empty() {
            return session.show(&list, render::vehicle::list);
        }
        page_token = list.next_page_token.clone();
    }
}
