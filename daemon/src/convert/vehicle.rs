//! Vehicles and panels.

use lamella_calc::gauge::Substrate;
use lamella_calc::violation::Checks;
use lamella_jobs::check::join;
use lamella_jobs::vehicle::{Condition, Finish, Panel, Vehicle, VehicleField, VehicleFields};
use lamella_proto::v1;

use super::{job, names, time};

pub(crate) fn substrate_to_pb(substrate: Substrate) -> v1::Substrate {
    match substrate {
        Substrate::Unknown => v1::Substrate::Unspecified,
        Substrate::Steel => v1::Substrate::Steel,
        Substrate::Aluminium => v1::Substrate::Aluminium,
        Substrate::Composite => v1::Substrate::Composite,
        Substrate::Plastic => v1::Substrate::Plastic,
    }
}

pub(crate) fn substrate_from_pb(value: i32, field: &str, checks: &mut Checks) -> Substrate {
    let known = v1::Substrate::try_from(value).ok();
    checks.require(known.is_some(), field, || {
        format!("{value} is not a known substrate")
    });
    match known.unwrap_or_default() {
        v1::Substrate::Unspecified => Substrate::Unknown,
        v1::Substrate::Steel => Substrate::Steel,
        v1::Substrate::Aluminium => Substrate::Aluminium,
        v1::Substrate::Composite => Substrate::Composite,
        v1::Substrate::Plastic => Substrate::Plastic,
    }
}

pub(crate) fn finish_to_pb(finish: Finish) -> v1::Finish {
    match finish {
        Finish::Unknown => v1::Finish::Unspecified,
        Finish::ClearCoat => v1::Finish::ClearCoat,
        Finish::SingleStage => v1::Finish::SingleStage,
        Finish::Matt => v1::Finish::Matt,
        Finish::Unpainted => v1::Finish::Unpainted,
    }
}

pub(crate) fn finish_from_pb(value: i32, field: &str, checks: &mut Checks) -> Finish {
    let known = v1::Finish::try_from(value).ok();
    checks.require(known.is_some(), field, || {
        format!("{value} is not a known finish")
    });
    match known.unwrap_or_default() {
        v1::Finish::Unspecified => Finish::Unknown,
        v1::Finish::ClearCoat => Finish::ClearCoat,
        v1::Finish::SingleStage => Finish::SingleStage,
        v1::Finish::Matt => Finish::Matt,
        v1::Finish::Unpainted => Finish::Unpainted,
    }
}

fn condition_to_pb(condition: Condition) -> v1::PanelCondition {
    match condition {
        Condition::Unknown => v1::PanelCondition::Unspecified,
        Condition::Good => v1::PanelCondition::Good,
        Condition::Light => v1::PanelCondition::Light,
        Condition::Moderate => v1::PanelCondition::Moderate,
        Condition::Severe => v1::PanelCondition::Severe,
    }
}

fn condition_from_pb(value: i32, field: &str, checks: &mut Checks) -> Condition {
    let known = v1::PanelCondition::try_from(value).ok();
    checks.require(known.is_some(), field, || {
        format!("{value} is not a known condition")
    });
    match known.unwrap_or_default() {
        v1::PanelCondition::Unspecified => Condition::Unknown,
        v1::PanelCondition::Good => Condition::Good,
        v1::PanelCondition::Light => Condition::Light,
        v1::PanelCondition::Moderate => Condition::Moderate,
        v1::PanelCondition::Severe => Condition::Severe,
    }
}

/// What a person wrote about a vehicle.
pub(crate) fn fields_from_pb(
    vehicle: &v1::Vehicle,
    path: &str,
    checks: &mut Checks,
) -> VehicleFields {
    let panels = vehicle.panels.iter().enumerate().map(|(index, panel)| {
        let path = format!("{}[{index}]", join(path, "panels"));
        Panel {
            id: panel.panel_id.clone(),
            display_name: panel.display_name.clone(),
            substrate: substrate_from_pb(panel.substrate, &join(&path, "substrate"), checks),
            finish: finish_from_pb(panel.finish, &join(&path, "finish"), checks),
            note: panel.note.clone(),
            area_m2: panel.area_m2,
            condition: condition_from_pb(panel.condition, &join(&path, "condition"), checks),
        }
    });
    VehicleFields {
        display_name: vehicle.display_name.clone(),
        registration: vehicle.registration.clone(),
        color: vehicle.color.clone(),
        panels: panels.collect(),
        note: vehicle.note.clone(),
    }
}

/// A whole vehicle as it is stored.
pub(crate) fn vehicle_from_pb(vehicle: &v1::Vehicle, checks: &mut Checks) -> Vehicle {
    Vehicle {
        id: names::id(&vehicle.name, "vehicles", "name", checks),
        fields: fields_from_pb(vehicle, "", checks),
        create_time: time::required(vehicle.create_time.as_ref(), "create_time", checks),
        update_time: time::required(vehicle.update_time.as_ref(), "update_time", checks),
        delete_time: time::from_pb(vehicle.delete_time.as_ref(), "delete_time", checks),
    }
}

pub(crate) fn vehicle_to_pb(vehicle: &Vehicle, etag: &str) -> v1::Vehicle {
    let fields = &vehicle.fields;
    v1::Vehicle {
        name: names::vehicle(&vehicle.id),
        display_name: fields.display_name.clone(),
        registration: fields.registration.clone(),
        color: fields.color.clone(),
        panels: fields
            .panels
            .iter()
            .map(|panel| v1::Panel {
                panel_id: panel.id.clone(),
                display_name: panel.display_name.clone(),
                substrate: substrate_to_pb(panel.substrate).into(),
                finish: finish_to_pb(panel.finish).into(),
                note: panel.note.clone(),
                area_m2: panel.area_m2,
                condition: condition_to_pb(panel.condition).into(),
            })
            .collect(),
        note: fields.note.clone(),
        create_time: Some(time::to_pb(vehicle.create_time)),
        update_time: Some(time::to_pb(vehicle.update_time)),
        delete_time: vehicle.delete_time.map(time::to_pb),
        etag: etag.to_owned(),
    }
}

/// The fields that an update writes; see [`job::mask_from_pb`].
pub(crate) fn mask_from_pb(
    mask: Option<&prost_types::FieldMask>,
    fields: &VehicleFields,
    checks: &mut Checks,
) -> Vec<VehicleField> {
    match mask.filter(|mask| !mask.paths.is_empty()) {
        Some(mask) => job::masked(&VehicleField::ALL, VehicleField::as_str, mask, checks),
        None => VehicleField::ALL
            .into_iter()
            .filter(|field| field.is_set_in(fields))
            .collect(),
    }
}
