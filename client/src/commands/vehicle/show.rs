//! `lamella vehicle show`.

use lamella_proto::v1;

use crate::errors::CliError;
use crate::names::VehicleName;
use crate::render;
use crate::session::Session;

/// Show a vehicle and its panels.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella vehicle show blue-estate")]
pub(crate) struct Args {
    /// The vehicle: vehicles/ID, or its ID.
    vehicle: VehicleName,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut vehicles = session.vehicles().await?;
    let request = session.request(v1::GetVehicleRequest {
        name: args.vehicle.0,
    });
    let vehicle = session.answer(vehicles.get_vehicle(request)).await?;
    session.show(&vehicle, render::vehicle::full)
}
