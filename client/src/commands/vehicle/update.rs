//! `lamella vehicle update`.

use lamella_proto::v1;

use crate::commands::shared::ChangeArgs;
use crate::commands::vehicle::panel_spec::{FORM, PanelSpec};
use crate::errors::CliError;
use crate::names::VehicleName;
use crate::render;
use crate::session::Session;

/// Change a vehicle. What is not given stays as it is.
///
/// --panel changes the panel of that id, or adds it.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella vehicle update blue-estate --panel roof:composite:clear-coat --remove-panel antenna")]
pub(crate) struct Args {
    /// The vehicle: vehicles/ID, or its ID.
    vehicle: VehicleName,
    /// New name for people.
    #[arg(long)]
    name: Option<String>,
    /// A panel to change or add; repeat for more.
    #[arg(long, value_name = FORM)]
    panel: Vec<PanelSpec>,
    /// A panel to take out; repeat for more.
    #[arg(long, value_name = "ID")]
    remove_panel: Vec<String>,
    /// Registration plate; empty to clear it.
    #[arg(long, value_name = "PLATE")]
    registration: Option<String>,
    /// Colour; empty to clear it.
    #[arg(long, value_name = "TEXT")]
    color: Option<String>,
    /// Anything else; empty to clear it.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    #[command(flatten)]
    change: ChangeArgs,
}

/// Runs the command.
///
/// # Errors
/// A usage error when there is nothing to change; else the server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut vehicles = session.vehicles().await?;
    let mut vehicle = v1::Vehicle {
        name: args.vehicle.0,
        ..Default::default()
    };
    let mut paths = Vec::new();
    if !args.panel.is_empty() || !args.remove_panel.is_empty() {
        // The panels travel as a whole: keep those not named, and the etag, so
        // that nobody else's change is lost in between.
        let request = session.request(v1::GetVehicleRequest {
            name: vehicle.name.clone(),
        });
        let current = session.answer(vehicles.get_vehicle(request)).await?;
        vehicle.etag = current.etag;
        vehicle.panels = merge(current.panels, args.panel, &args.remove_panel)?;
        paths.push("panels");
    }
    vehicle.etag = args.change.etag.unwrap_or(vehicle.etag);
    for (path, field, value) in [
        ("display_name", &mut vehicle.display_name, args.name),
        ("registration", &mut vehicle.registration, args.registration),
        ("color", &mut vehicle.color, args.color),
        ("note", &mut vehicle.note, args.note),
    ] {
        if let Some(value) = value {
            *field = value;
            paths.push(path);
        }
    }
    if paths.is_empty() {
        return Err(CliError::Argument {
            argument: "vehicle update",
            rule: "nothing to change; name at least one field".to_owned(),
        });
    }
    let paths = paths.into_iter().map(str::to_owned).collect();
    let request = session.request(v1::UpdateVehicleRequest {
        vehicle: Some(vehicle),
        update_mask: Some(prost_types::FieldMask { paths }),
        request_id: args.change.request_id.unwrap_or_default(),
    });
    let vehicle = session.answer(vehicles.update_vehicle(request)).await?;
    session.show(&vehicle, render::vehicle::full)
}

/// The panels after the change. A panel named again keeps its name for people
/// and its note.
fn merge(
    mut panels: Vec<v1::Panel>,
    changed: Vec<PanelSpec>,
    removed: &[String],
) -> Result<Vec<v1::Panel>, CliError> {
    for id in removed {
        let before = panels.len();
        panels.retain(|panel| panel.panel_id != *id);
        if panels.len() == before {
            return Err(CliError::Argument {
                argument: "--remove-panel",
                rule: format!("the vehicle has no panel `{id}`"),
            });
        }
    }
    for change in changed {
        match panels
            .iter_mut()
            .find(|panel| panel.panel_id == change.0.panel_id)
        {
            Some(panel) => change.change(panel),
            None => panels.push(change.0),
        }
    }
    Ok(panels)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn panels_are_changed_added_and_removed() {
        let panel = |text: &str| text.parse::<PanelSpec>().unwrap();
        let mut before = vec![panel("hood:steel:matt").0, panel("roof:steel:clear-coat").0];
        before[0].note = "repainted".to_owned();
        let changed = vec![panel("hood:aluminium"), panel("boot:composite")];
        let after = merge(before, changed, &["roof".to_owned()]).unwrap();
        assert_eq!(after.len(), 2);
        assert_eq!(after[0].substrate(), v1::Substrate::Aluminium);
        assert_eq!(after[0].finish(), v1::Finish::Matt);
        assert_eq!(after[0].note, "repainted");
        assert_eq!(after[1].panel_id, "boot");
        assert!(merge(after, Vec::new(), &["wing".to_owned()]).is_err());
    }
}
