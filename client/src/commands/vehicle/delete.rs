//! `lamella vehicle delete` and `lamella vehicle undelete`.

use lamella_proto::v1;

use crate::commands::shared::ChangeArgs;
use crate::errors::CliError;
use crate::names::VehicleName;
use crate::render;
use crate::session::Session;

/// Mark a vehicle deleted. Refused while it has a live job; it can be taken back.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella vehicle delete blue-estate")]
pub(crate) struct DeleteArgs {
    /// The vehicle: vehicles/ID, or its ID.
    vehicle: VehicleName,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Take back a deletion.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella vehicle undelete blue-estate")]
pub(crate) struct UndeleteArgs {
    /// The vehicle: vehicles/ID, or its ID.
    vehicle: VehicleName,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs `delete`.
///
/// # Errors
/// The server's.
pub(crate) async fn delete(args: DeleteArgs, session: &Session) -> Result<(), CliError> {
    let mut vehicles = session.vehicles().await?;
    let request = session.request(v1::DeleteVehicleRequest {
        name: args.vehicle.0,
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let vehicle = session.answer(vehicles.delete_vehicle(request)).await?;
    session.show(&vehicle, render::vehicle::full)
}

/// Runs `undelete`.
///
/// # Errors
/// The server's.
pub(crate) async fn undelete(args: UndeleteArgs, session: &Session) -> Result<(), CliError> {
    let mut vehicles = session.vehicles().await?;
    let request = session.request(v1::UndeleteVehicleRequest {
        name: args.vehicle.0,
        etag: args.change.etag.unwrap_or_default(),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let vehicle = session.answer(vehicles.undelete_vehicle(request)).await?;
    session.show(&vehicle, render::vehicle::full)
}
