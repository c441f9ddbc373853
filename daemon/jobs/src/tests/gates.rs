//! Each gate, closed and open.

use super::{Bay, coat, part_off, readings, refit};
use crate::refusal::Refusal;
use crate::stage::Stage;

#[test]
fn received_needs_a_vehicle() {
    let mut bay = Bay::new();
    assert_eq!(
        bay.unmet(Stage::Received),
        [("VEHICLE_MISSING", "jobs/a".to_owned())]
    );
    bay.bring_car();
    assert_eq!(bay.unmet(Stage::Received), []);
}

#[test]
fn assessed_needs_readings_where_a_workshop_gauge_reads_and_nowhere_else() {
    let mut bay = Bay::at(Stage::Received);
    assert_eq!(
        bay.unmet(Stage::Assessed),
        [("PANEL_NOT_MEASURED", "panels/hood".to_owned())]
    );
    bay.add(readings("hood")).unwrap();
    assert_eq!(bay.unmet(Stage::Assessed), []);
}

#[test]
fn assessed_needs_to_know_what_painted_panels_are_made_of() {
    let mut bay = Bay::at(Stage::Received);
    bay.add(readings("hood")).unwrap();
    let panels = &mut bay.vehicle.as_mut().unwrap().fields.panels;
    panels[1].substrate = lamella_calc::gauge::Substrate::Unknown;
    assert_eq!(
        bay.unmet(Stage::Assessed),
        [("SUBSTRATE_UNKNOWN", "panels/roof".to_owned())]
    );
}

#[test]
fn a_service_on_a_panel_that_is_not_there_is_named() {
    let mut bay = Bay::at(Stage::Received);
    bay.job.fields.services[0].panels.push("hod".to_owned());
    bay.add(readings("hood")).unwrap();
    let unmet = bay.situation().unmet(Stage::Assessed);
    assert_eq!(unmet.len(), 1);
    assert_eq!(
        unmet[0].description,
        "service `correct-one-step` names panel `hod`, which the vehicle does not have; it has: \
         hood, roof, sill"
    );
}

#[test]
fn a_service_for_the_whole_car_puts_every_panel_in_scope() {
    let mut bay = Bay::at(Stage::Received);
    bay.job.fields.services[0].panels.clear();
    let ids: Vec<&str> = bay
        .situation()
        .panels_in_scope()
        .iter()
        .map(|p| p.id.as_str())
        .collect();
    assert_eq!(ids, ["hood", "roof", "sill"]);
}

#[test]
fn approved_needs_services_and_a_yes_and_names_both() {
    let mut bay = Bay::at(Stage::Assessed);
    bay.job.fields.services.clear();
    bay.job.fields.approval = None;
    let codes: Vec<&str> = bay
        .unmet(Stage::Approved)
        .into_iter()
        .map(|(code, _)| code)
        .collect();
    assert_eq!(codes, ["SERVICES_MISSING", "APPROVAL_MISSING"]);
}

#[test]
fn curing_needs_something_that_cures() {
    let mut bay = Bay::at(Stage::InWork);
    assert_eq!(bay.unmet(Stage::Curing)[0].0, "NOTHING_TO_CURE");
    bay.add(coat(&["hood"], 20.0)).unwrap();
    assert_eq!(bay.unmet(Stage::Curing), []);
}

#[test]
fn ready_names_every_part_that_is_off_and_every_cure_that_is_open() {
    let mut bay = Bay::at(Stage::InWork);
    bay.add(part_off("front badge")).unwrap();
    bay.add(part_off("left mirror cap")).unwrap();
    bay.add(coat(&["hood", "roof"], 20.0)).unwrap();
    bay.advance(Stage::Curing, "").unwrap();
    let Err(Refusal::Unmet { unmet, .. }) = bay.advance(Stage::Ready, "") else {
        panic!("the gate is closed")
    };
    let descriptions: Vec<&str> = unmet
        .iter()
        .map(|unmet| unmet.description.as_str())
        .collect();
    assert_eq!(
        descriptions,
        [
            "part `front badge` is off the car; it is kept at `shelf 2`",
            "part `left mirror cap` is off the car; it is kept at `shelf 2`",
            "`two-layer coating` (layer 1) on hood, roof is not dry until 2026-03-02T20:00:00Z",
        ]
    );
    bay.add(refit("front badge")).unwrap();
    bay.add(refit("left mirror cap")).unwrap();
    bay.wait_hours(11);
    assert_eq!(
        bay.unmet(Stage::Ready),
        [("CURE_WINDOW_OPEN", "panels/hood,roof".to_owned())]
    );
    bay.wait_hours(1);
    assert_eq!(bay.unmet(Stage::Ready), []);
    bay.advance(Stage::Ready, "").unwrap();
}

#[test]
fn hand_over_looks_again_at_what_was_recorded_since() {
    let mut bay = Bay::at(Stage::Ready);
    bay.add(part_off("front badge")).unwrap();
    assert_eq!(bay.unmet(Stage::HandedOver)[0].0, "PART_OFF");
}

#[test]
fn a_cold_panel_keeps_the_gate_closed_for_longer() {
    let mut bay = Bay::at(Stage::InWork);
    // Q10 of 2: ten kelvins colder takes twice as long (check values, section 3).
    bay.add(coat(&["hood"], 10.0)).unwrap();
    bay.wait_hours(23);
    assert_eq!(bay.unmet(Stage::Ready)[0].0, "CURE_WINDOW_OPEN");
    bay.wait_hours(1);
    assert_eq!(bay.unmet(Stage::Ready), []);
}
