//! One invented car, the moves it can make, and what stands in its way.

mod approvals;
mod bookings;
mod gates;
mod moves;
mod records;

use jiff::{SignedDuration, Timestamp};
use lamella_calc::cure::{CoatingData, TemperatureResponse};
use lamella_calc::gauge::Substrate;

use crate::append::append;
use crate::gate::Situation;
use crate::job::{Approval, Job, JobFields, Service};
use crate::record::{CoatLayer, Entry, GaugeReadings, PartOff, PartRefit, Record};
use crate::refusal::Refusal;
use crate::stage::Stage;
use crate::transition::{self, JobEvent, MoveRequest};
use crate::vehicle::{Condition, Finish, Panel, Vehicle, VehicleFields};

/// A bay: one car, its job, and a clock that only the test moves.
struct Bay {
    job: Job,
    vehicle: Option<Vehicle>,
    records: Vec<Record>,
    now: Timestamp,
}

impl Bay {
    fn new() -> Self {
        let now: Timestamp = "2026-03-02T08:00:00Z".parse().unwrap();
        let fields = JobFields {
            display_name: "Blue estate".to_owned(),
            ..JobFields::default()
        };
        let JobEvent::Created(job) = transition::create_job("a".to_owned(), fields, now).unwrap()
        else {
            panic!("a creation creates")
        };
        Self {
            job,
            vehicle: None,
            records: Vec::new(),
            now,
        }
    }

    /// A bay whose job is at `stage` with nothing standing in its way so far.
    fn at(stage: Stage) -> Self {
        let mut bay = Self::new();
        bay.bring_car();
        bay.job.stage = stage;
        bay.agree();
        bay
    }

    fn bring_car(&mut self) {
        let panel = |id: &str, substrate, finish| Panel {
            id: id.to_owned(),
            display_name: String::new(),
            substrate,
            finish,
            note: String::new(),
            area_m2: Some(1.6),
            condition: Condition::Light,
        };
        let fields = VehicleFields {
            display_name: "Blue estate".to_owned(),
            panels: vec![
                panel("hood", Substrate::Steel, Finish::ClearCoat),
                panel("roof", Substrate::Composite, Finish::ClearCoat),
                panel("sill", Substrate::Unknown, Finish::Unpainted),
            ],
            ..VehicleFields::default()
        };
        self.vehicle = Some(transition::create_vehicle("v".to_owned(), fields, self.now).unwrap());
        self.job.fields.vehicle = Some("v".to_owned());
    }

    fn agree(&mut self) {
        self.job.fields.services = vec![Service {
            code: "correct-one-step".to_owned(),
            panels: vec!["hood".to_owned(), "roof".to_owned()],
            ..Service::default()
        }];
        self.job.fields.approval = Some(Approval {
            approved_by: "the owner".to_owned(),
            approve_time: self.now,
            amount: None,
            note: String::new(),
            quote: None,
        });
    }

    fn situation(&self) -> Situation<'_> {
        Situation {
            job: &self.job,
            vehicle: self.vehicle.as_ref(),
            records: &self.records,
            now: self.now,
        }
    }

    fn add(&mut self, entry: Entry) -> Result<Record, Refusal> {
        let record = append(&self.situation(), self.draft(entry))?;
        self.records.push(record.clone());
        Ok(record)
    }

    fn draft(&self, entry: Entry) -> Record {
        Record {
            id: (self.records.len() + 1).to_string(),
            record_time: self.now,
            author: String::new(),
            create_time: self.now,
            entry,
            cautions: Vec::new(),
        }
    }

    fn advance(&mut self, to: Stage, note: &str) -> Result<Job, Refusal> {
        let moved = transition::advance_stage(
            &self.situation(),
            MoveRequest {
                to: Some(to),
                note: note.to_owned(),
                only_asking: false,
            },
        )?;
        let JobEvent::StageChanged { job, .. } = moved else {
            panic!("a move moves")
        };
        self.job = job.clone();
        Ok(job)
    }

    /// The codes and subjects of what stands in the way of `to`.
    fn unmet(&self, to: Stage) -> Vec<(&'static str, String)> {
        self.situation()
            .unmet(to)
            .into_iter()
            .map(|unmet| (unmet.code, unmet.subject))
            .collect()
    }

    fn wait_hours(&mut self, hours: i64) {
        self.now += SignedDuration::from_hours(hours);
    }
}

fn readings(panel: &str) -> Entry {
    Entry::GaugeReadings(GaugeReadings {
        panel: panel.to_owned(),
        readings_um: vec![108.0, 111.0, 107.0],
        ..GaugeReadings::default()
    })
}

fn part_off(part: &str) -> Entry {
    Entry::PartOff(PartOff {
        part: part.to_owned(),
        fasteners: "2 nuts M6".to_owned(),
        kept_at: "shelf 2".to_owned(),
    })
}

fn refit(part: &str) -> Entry {
    Entry::PartRefit(PartRefit {
        part: part.to_owned(),
        note: String::new(),
    })
}

/// A coat that dries in 12 h at 20 C and is recoated within 1 to 6 h.
fn coat(panels: &[&str], panel_c: f64) -> Entry {
    Entry::CoatLayer(CoatLayer {
        panels: panels.iter().map(|&panel| panel.to_owned()).collect(),
        coating: CoatingData {
            name: "two-layer coating".to_owned(),
            reference_c: 20.0,
            temperature_response: Some(TemperatureResponse::Q10 { factor: 2.0 }),
            humidity_response: None,
            wipe: None,
            recoat: Some(lamella_calc::cure::RecoatWindow {
                open_hours: 1.0,
                close_hours: 6.0,
            }),
            dry_hours: 12.0,
            wash_hours: Some(168.0),
            full_cure_hours: None,
            min_panel_c: None,
            max_panel_c: None,
            min_relative_humidity_percent: None,
            max_relative_humidity_percent: None,
        },
        lot: String::new(),
        layer: 1,
        panel_c,
        air: None,
        milestones: Vec::new(),
    })
}
