//! Records: their ranges, their panels and parts, what is computed, and what
//! is cautioned.

use lamella_calc::advice::PassOutcome;
use lamella_calc::caution::{CautionCode, Severity};

use super::{Bay, coat, part_off, readings, refit};
use crate::record::{Entry, Labour, Mix, Note, Pass, PassSetup, RankedItem};
use crate::refusal::Refusal;
use crate::stage::Stage;
use crate::vehicle::Finish;

fn fields(refusal: Refusal) -> Vec<String> {
    match refusal {
        Refusal::Invalid(violations) => violations.into_iter().map(|v| v.field).collect(),
        other => panic!("{other}"),
    }
}

fn pass(panel: &str, panel_c: f64) -> Entry {
    let item = |name: &str| RankedItem {
        name: name.to_owned(),
        rank: 1,
    };
    Entry::Pass(Pass {
        panel: panel.to_owned(),
        setup: PassSetup {
            machine: item("random-orbital machine"),
            pad: item("soft finishing pad"),
            liquid: item("finishing polish"),
            speed: 3,
            pressure_kpa: 2.0,
            seconds: 40.0,
        },
        panel_c: Some(panel_c),
        removal_um: None,
        outcome: PassOutcome::Improved,
        override_reason: String::new(),
    })
}

#[test]
fn every_violation_of_a_record_is_named_at_once() {
    let mut bay = Bay::at(Stage::InWork);
    let mix = Entry::Mix(Mix {
        product: " ".to_owned(),
        concentrate_ml: -1.0,
        diluent_ml: f64::NAN,
        strength_percent: Some(140.0),
        lot: String::new(),
        panels: vec!["hod".to_owned()],
    });
    assert_eq!(
        fields(bay.add(mix).unwrap_err()),
        [
            "record.mix.product",
            "record.mix.concentrate_ml",
            "record.mix.diluent_ml",
            "record.mix.strength_percent",
            "record.mix.panels[0]",
        ]
    );
}

#[test]
fn violations_that_the_calculators_find_come_with_the_others() {
    let mut bay = Bay::at(Stage::InWork);
    let Entry::CoatLayer(mut layer) = coat(&["hood", "hod"], f64::INFINITY) else {
        panic!("a coat is a coat")
    };
    layer.coating.dry_hours = 0.0;
    assert_eq!(
        fields(bay.add(Entry::CoatLayer(layer)).unwrap_err()),
        [
            "record.coat_layer.panels[1]",
            "record.coat_layer.coating.dry_hours",
            "record.coat_layer.panel_c",
        ]
    );
}

#[test]
fn a_panel_that_the_vehicle_does_not_have_is_refused_beside_those_it_has() {
    let mut bay = Bay::at(Stage::Received);
    let error = bay.add(readings("hod")).unwrap_err().to_string();
    assert_eq!(
        error,
        "record.gauge_readings.panel: `hod` is not a panel of vehicles/v; it has: hood, roof, sill"
    );
}

#[test]
fn a_part_comes_off_once_and_goes_back_on_only_when_it_is_off() {
    let mut bay = Bay::at(Stage::InWork);
    bay.add(part_off("front badge")).unwrap();
    let twice = bay.add(part_off("front badge")).unwrap_err().to_string();
    assert!(
        twice.contains("is off already, kept at `shelf 2`"),
        "{twice}"
    );
    let other = bay.add(refit("rear badge")).unwrap_err().to_string();
    assert!(other.contains("off are: front badge"), "{other}");
    bay.add(refit("front badge")).unwrap();
    assert!(bay.situation().parts_off().is_empty());
}

#[test]
fn labour_ends_after_it_begins_and_within_a_day() {
    let mut bay = Bay::at(Stage::InWork);
    let labour = |from: &str, to: &str| {
        Entry::Labour(Labour {
            worker: "Kim".to_owned(),
            activity: "correction".to_owned(),
            from_time: from.parse().unwrap(),
            to_time: to.parse().unwrap(),
        })
    };
    let backwards = labour("2026-03-02T09:00:00Z", "2026-03-02T08:00:00Z");
    assert_eq!(
        fields(bay.add(backwards).unwrap_err()),
        ["record.labour.to_time"]
    );
    let endless = labour("2026-03-02T09:00:00Z", "2026-03-03T09:00:01Z");
    assert_eq!(
        fields(bay.add(endless).unwrap_err()),
        ["record.labour.to_time"]
    );
    bay.add(labour("2026-03-02T09:00:00Z", "2026-03-03T09:00:00Z"))
        .unwrap();
}

#[test]
fn a_pass_on_a_hot_or_matt_panel_is_taken_and_cautioned() {
    let mut bay = Bay::at(Stage::InWork);
    let cool = bay.add(pass("hood", 30.0)).unwrap();
    assert_eq!(cool.cautions, []);
    let hot = bay.add(pass("hood", 95.0)).unwrap();
    assert_eq!(hot.cautions[0].code, CautionCode::PanelHot);
    bay.vehicle.as_mut().unwrap().fields.panels[0].finish = Finish::Matt;
    let matt = bay.add(pass("hood", 30.0)).unwrap();
    assert_eq!(matt.cautions[0].code, CautionCode::FinishMatt);
    assert_eq!(matt.cautions[0].severity, Severity::Stop);
}

#[test]
fn a_layer_outside_the_recoat_window_of_the_one_below_is_cautioned() {
    for (hours, expected) in [
        (0, Some("could be recoated from 2026-03-02T09:00:00Z on")),
        (1, None),
        (6, None),
        (7, Some("had to be recoated by 2026-03-02T14:00:00Z")),
    ] {
        let mut bay = Bay::at(Stage::InWork);
        bay.add(coat(&["hood"], 20.0)).unwrap();
        bay.wait_hours(hours);
        let second = bay.add(coat(&["hood"], 20.0)).unwrap();
        let missed: Vec<&str> = second
            .cautions
            .iter()
            .filter(|caution| caution.code == CautionCode::RecoatWindowMissed)
            .map(|caution| caution.text.as_str())
            .collect();
        match expected {
            Some(text) => assert!(missed[0].contains(text), "{hours} h: {missed:?}"),
            None => assert!(missed.is_empty(), "{hours} h: {missed:?}"),
        }
    }
}

#[test]
fn a_job_that_is_over_takes_only_notes() {
    let mut bay = Bay::at(Stage::HandedOver);
    let closed = Refusal::Closed {
        stage: Stage::HandedOver,
    };
    assert_eq!(bay.add(readings("hood")), Err(closed));
    let note = Note {
        text: "came by to say thanks".to_owned(),
        panel: None,
    };
    bay.add(Entry::Note(note)).unwrap();
}

#[test]
fn a_record_from_the_far_future_is_refused() {
    let mut bay = Bay::at(Stage::Received);
    let mut record = bay.draft(readings("hood"));
    record.record_time = "2026-03-03T08:00:01Z".parse().unwrap();
    let error = crate::append::append(&bay.situation(), record).unwrap_err();
    assert_eq!(fields(error), ["record.record_time"]);
    bay.wait_hours(1);
}
