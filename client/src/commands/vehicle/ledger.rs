//! `lamella vehicle ledger`.

use lamella_proto::v1;

use crate::commands::paint::GaugeArgs;
use crate::errors::CliError;
use crate::names::VehicleName;
use crate::render;
use crate::session::Session;
use crate::units::ThicknessUm;

/// Show a vehicle's paint over all its jobs: per panel what was measured, what
/// was removed and what is left, newest first.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella vehicle ledger blue-estate
  lamella vehicle ledger blue-estate --panel hood --gauge-error 1um --gauge-percent 2%")]
pub(crate) struct Args {
    /// The vehicle: vehicles/ID, or its ID.
    vehicle: VehicleName,
    /// Only this panel.
    #[arg(long, value_name = "PANEL")]
    panel: Option<String>,
    /// Clear coat that must stay. [default: 30um]
    #[arg(long, value_name = "THICKNESS")]
    floor: Option<ThicknessUm>,
    /// How many panels at a time, 1 to 200. [default: 50]
    #[arg(long, value_name = "COUNT")]
    page_size: Option<i32>,
    /// Where the page before ended.
    #[arg(long, value_name = "TOKEN")]
    page_token: Option<String>,
    #[command(flatten)]
    gauge: GaugeArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut vehicles = session.vehicles().await?;
    let request = session.request(v1::ListPaintLedgerRequest {
        name: args.vehicle.0,
        panel: args.panel.unwrap_or_default(),
        page_size: args.page_size.unwrap_or_default(),
        page_token: args.page_token.unwrap_or_default(),
        gauge: args.gauge.to_proto(),
        floor_um: args.floor.map(|floor| floor.0),
    });
    let answer = session.answer(vehicles.list_paint_ledger(request)).await?;
    session.show(&answer, render::paint_ledger::ledger)
}
