//! `lamella vehicle new`.

use lamella_proto::v1;

use crate::commands::vehicle::panel_spec::{FORM, PanelSpec};
use crate::errors::CliError;
use crate::render;
use crate::session::Session;

/// Enter a vehicle and its panels.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella vehicle new 'Blue estate' --id blue-estate --panel hood:steel:clear-coat:light:1.6m2 \\
      --panel front-bumper:plastic:clear-coat")]
pub(crate) struct Args {
    /// Name for people.
    #[arg(value_name = "NAME")]
    display_name: String,
    /// A panel, with what it is made of, its outermost layer, how it looks and
    /// its area; repeat for more.
    #[arg(long, value_name = FORM)]
    panel: Vec<PanelSpec>,
    /// Registration plate.
    #[arg(long, value_name = "PLATE")]
    registration: Option<String>,
    /// Colour as the shop says it.
    #[arg(long, value_name = "TEXT")]
    color: Option<String>,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// The last part of the vehicle's resource name. [default: chosen by the
    /// server]
    #[arg(long)]
    id: Option<String>,
    /// Makes a retry safe: the same id with the same request is done once.
    #[arg(long, value_name = "ID")]
    request_id: Option<String>,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let vehicle = v1::Vehicle {
        display_name: args.display_name,
        registration: args.registration.unwrap_or_default(),
        color: args.color.unwrap_or_default(),
        panels: args.panel.into_iter().map(|panel| panel.0).collect(),
        note: args.note.unwrap_or_default(),
        ..Default::default()
    };
    let mut vehicles = session.vehicles().await?;
    let request = session.request(v1::CreateVehicleRequest {
        vehicle: Some(vehicle),
        vehicle_id: args.id.unwrap_or_default(),
        request_id: args.request_id.unwrap_or_default(),
    });
    let vehicle = session.answer(vehicles.create_vehicle(request)).await?;
    session.show(&vehicle, render::vehicle::full)
}
