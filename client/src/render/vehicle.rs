//! A vehicle as text.

use std::fmt::Write as _;

use lamella_proto::v1;

use crate::names::clean;
use crate::text::{self, View};

/// A vehicle in full, its panels one to a line.
pub(crate) fn full(vehicle: &v1::Vehicle, view: &View) -> String {
    let mut out = format!("{}\n", text::strong(&clean(&vehicle.display_name)));
    let mut line = |name: &str, value: &str| {
        if !value.is_empty() {
            let _ = writeln!(out, "{name:<9} {}", clean(value));
        }
    };
    line("vehicle", &vehicle.name);
    line("plate", &vehicle.registration);
    line("color", &vehicle.color);
    line("note", &vehicle.note);
    line(
        "deleted",
        &vehicle
            .delete_time
            .as_ref()
            .map(|t| view.time(t))
            .unwrap_or_default(),
    );
    line("etag", &vehicle.etag);
    let rows: Vec<[String; 4]> = vehicle.panels.iter().map(|p| row(p, view)).collect();
    out + &text::table(&rows)
}

/// A page of vehicles, one to a line.
pub(crate) fn list(page: &v1::ListVehiclesResponse, _: &View) -> String {
    if page.vehicles.is_empty() && page.next_page_token.is_empty() {
        return "no vehicles\n".to_owned();
    }
    let rows: Vec<[String; 3]> = page
        .vehicles
        .iter()
        .map(|vehicle| {
            let deleted = if vehicle.delete_time.is_some() {
                " (deleted)"
            } else {
                ""
            };
            [
                clean(&vehicle.name),
                format!("{}{deleted}", clean(&vehicle.display_name)),
                clean(&vehicle.registration),
            ]
        })
        .collect();
    text::table(&rows) + &super::job::more(&page.next_page_token)
}

fn row(panel: &v1::Panel, view: &View) -> [String; 4] {
    let unknown = |words: String, what: &str| {
        if words == "unspecified" {
            format!("{what} unknown")
        } else {
            words
        }
    };
    let condition = match panel.condition() {
        v1::PanelCondition::Unspecified => String::new(),
        known => text::words("PANEL_CONDITION_", known.as_str_name()),
    };
    let area = panel.area_m2.map(|m2| view.units.area(m2));
    let rest = [
        condition,
        area.unwrap_or_default(),
        clean(&panel.display_name),
        clean(&panel.note),
    ];
    let rest: Vec<String> = rest.into_iter().filter(|part| !part.is_empty()).collect();
    [
        format!("  {}", clean(&panel.panel_id)),
        unknown(
            text::words("SUBSTRATE_", panel.substrate().as_str_name()),
            "substrate",
        ),
        unknown(
            text::words("FINISH_", panel.finish().as_str_name()),
            "finish",
        ),
        rest.join(", "),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    #[test]
    fn panels_line_up() {
        let vehicle = v1::Vehicle {
            name: "vehicles/blue-estate".to_owned(),
            display_name: "Blue estate".to_owned(),
            color: "blue".to_owned(),
            panels: vec![
                v1::Panel {
                    panel_id: "hood".to_owned(),
                    substrate: v1::Substrate::Aluminium.into(),
                    finish: v1::Finish::ClearCoat.into(),
                    note: "repainted".to_owned(),
                    area_m2: Some(1.6),
                    condition: v1::PanelCondition::Moderate.into(),
                    ..Default::default()
                },
                v1::Panel {
                    panel_id: "front-bumper".to_owned(),
                    ..Default::default()
                },
            ],
            ..Default::default()
        };
        insta::assert_snapshot!(plain(&full(&vehicle, &view(System::Metric))), @"
        Blue estate
        vehicle   vehicles/blue-estate
        color     blue
          hood          aluminium          clear coat      moderate, 1.6 m² (17.22 sq ft), repainted
          front-bumper  substrate unknown  finish unknown
        ");
    }
}
