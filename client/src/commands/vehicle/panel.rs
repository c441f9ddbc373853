//! `lamella vehicle panel`.

use lamella_proto::v1;

use crate::commands::choices::{Finish, PanelCondition, Substrate};
use crate::commands::shared::ChangeArgs;
use crate::errors::CliError;
use crate::names::VehicleName;
use crate::render;
use crate::session::Session;
use crate::units::AreaM2;

/// Change one panel of a vehicle, or add it. What is not given stays as it is.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella vehicle panel blue-estate hood --condition moderate --area 1.6m2
  lamella vehicle panel blue-estate roof --substrate composite --area 20sqft")]
pub(crate) struct Args {
    /// The vehicle: vehicles/ID, or its ID.
    vehicle: VehicleName,
    /// The panel's id.
    #[arg(value_name = "PANEL")]
    panel_id: String,
    /// What it is made of.
    #[arg(long, value_enum)]
    substrate: Option<Substrate>,
    /// Its outermost layer.
    #[arg(long, value_enum)]
    finish: Option<Finish>,
    /// How it looked when it was judged.
    #[arg(long, value_enum)]
    condition: Option<PanelCondition>,
    /// Its area: 1.6m2, 16000cm2, 17sqft, 2500sqin.
    #[arg(long, value_name = "AREA")]
    area: Option<AreaM2>,
    /// Name for people; empty to clear it.
    #[arg(long)]
    name: Option<String>,
    /// Anything odd about it; empty to clear it.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut vehicles = session.vehicles().await?;
    // The panels travel as a whole: keep the others, and the etag, so that
    // nobody else's change is lost in between.
    let request = session.request(v1::GetVehicleRequest {
        name: args.vehicle.0,
    });
    let current = session.answer(vehicles.get_vehicle(request)).await?;
    let mut panels = current.panels;
    let at = panels
        .iter()
        .position(|panel| panel.panel_id == args.panel_id);
    let mut panel = match at {
        Some(at) => panels.remove(at),
        None => v1::Panel {
            panel_id: args.panel_id,
            ..Default::default()
        },
    };
    panel.substrate = args.substrate.map_or(panel.substrate, i32::from);
    panel.finish = args.finish.map_or(panel.finish, i32::from);
    panel.condition = args.condition.map_or(panel.condition, i32::from);
    panel.area_m2 = args.area.map(|area| area.0).or(panel.area_m2);
    panel.display_name = args.name.unwrap_or(panel.display_name);
    panel.note = args.note.unwrap_or(panel.note);
    panels.insert(at.unwrap_or(panels.len()), panel);
    let request = session.request(v1::UpdateVehicleRequest {
        vehicle: Some(v1::Vehicle {
            name: current.name,
            panels,
            etag: args.change.etag.unwrap_or(current.etag),
            ..Default::default()
        }),
        update_mask: Some(prost_types::FieldMask {
            paths: vec!["panels".to_owned()],
        }),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let vehicle = session.answer(vehicles.update_vehicle(request)).await?;
    session.show(&vehicle, render::vehicle::full)
}
