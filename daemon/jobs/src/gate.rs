//! The gates: what must hold before a stage lets a job in.
//!
//! | stage | what must hold |
//! |---|---|
//! | received | the job names its vehicle |
//! | assessed | the vehicle's panels are listed, each in scope says what it is made of, and each that a workshop gauge reads (steel, aluminium) has readings |
//! | approved | at least one service, and the customer's approval |
//! | in work | nothing beyond approval |
//! | curing | a coat layer or a settling film piece is recorded |
//! | ready | every part that was taken off is back on, and no cure window is open |
//! | handed over | the same again, for what was recorded since |
//!
//! Panels that no gauge on site can read are no reason to refuse: the advice
//! then works with unknown thickness, which caps it.

use std::collections::BTreeMap;

use jiff::Timestamp;
use lamella_calc::cure::MilestoneKind;
use lamella_calc::gauge::Substrate;

use crate::job::Job;
use crate::record::{Entry, PartOff, Record};
use crate::refusal::Unmet;
use crate::stage::Stage;
use crate::vehicle::{Finish, Panel, Vehicle};

/// All that a gate looks at.
#[derive(Debug, Clone, Copy)]
pub struct Situation<'a> {
    /// The job.
    pub job: &'a Job,
    /// Its vehicle, where it names one that exists.
    pub vehicle: Option<&'a Vehicle>,
    /// Its records, oldest first.
    pub records: &'a [Record],
    /// The moment of asking.
    pub now: Timestamp,
}

/// A cure window that is still open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenCure {
    /// What is curing, in words.
    pub what: String,
    /// On which panels.
    pub panels: Vec<String>,
    /// Until when.
    pub until: Timestamp,
}

impl<'a> Situation<'a> {
    /// The conditions for entering `to` that do not hold; empty means that the
    /// gate is open. Stages that are gone back to have no gate.
    pub fn unmet(&self, to: Stage) -> Vec<Unmet> {
        match to {
            Stage::Received => self.vehicle_named(),
            Stage::Assessed => self.panels_judged(),
            Stage::Approved => self.work_agreed(),
            Stage::Curing => self.something_cures(),
            Stage::Ready | Stage::HandedOver => self.may_leave(),
            Stage::Booked | Stage::InWork | Stage::Cancelled => Vec::new(),
        }
    }

    /// The parts that are off the car, in the order they came off.
    pub fn parts_off(&self) -> Vec<&'a PartOff> {
        let mut off: Vec<&PartOff> = Vec::new();
        for record in self.records {
            match &record.entry {
                Entry::PartOff(part) => off.push(part),
                Entry::PartRefit(refit) => off.retain(|part| part.part != refit.part),
                Entry::GaugeReadings(_)
                | Entry::Pass(_)
                | Entry::Mix(_)
                | Entry::FilmPiece(_)
                | Entry::CoatLayer(_)
                | Entry::BayAir(_)
                | Entry::Labour(_)
                | Entry::Note(_) => {}
            }
        }
        off
    }

    /// The coats and film that have not dried or settled at `now`.
    pub fn open_cures(&self) -> Vec<OpenCure> {
        self.records
            .iter()
            .filter_map(cure_of)
            .filter(|cure| cure.until > self.now)
            .collect()
    }

    /// The panels that the services touch; all of them where a service, or the
    /// job, names none.
    pub fn panels_in_scope(&self) -> Vec<&'a Panel> {
        let Some(vehicle) = self.vehicle else {
            return Vec::new();
        };
        let services = &self.job.fields.services;
        let whole_car = services.is_empty() || services.iter().any(|s| s.panels.is_empty());
        vehicle
            .fields
            .panels
            .iter()
            .filter(|panel| whole_car || services.iter().any(|s| s.panels.contains(&panel.id)))
            .collect()
    }

    /// The number of readings on each panel.
    fn readings(&self) -> BTreeMap<&'a str, usize> {
        let mut counts = BTreeMap::new();
        for record in self.records {
            if let Entry::GaugeReadings(readings) = &record.entry {
                *counts.entry(readings.panel.as_str()).or_default() += readings.readings_um.len();
            }
        }
        counts
    }

    fn vehicle_named(&self) -> Vec<Unmet> {
        if self.vehicle.is_some() {
            return Vec::new();
        }
        vec![Unmet {
            code: "VEHICLE_MISSING",
            subject: format!("jobs/{}", self.job.id),
            description: "the job names no vehicle; set `vehicle`".to_owned(),
        }]
    }

    fn panels_judged(&self) -> Vec<Unmet> {
        let Some(vehicle) = self.vehicle else {
            return self.vehicle_named();
        };
        let mut unmet = Vec::new();
        if vehicle.fields.panels.is_empty() {
            unmet.push(Unmet {
                code: "PANELS_MISSING",
                subject: format!("vehicles/{}", vehicle.id),
                description: "the vehicle lists no panels".to_owned(),
            });
        }
        for service in &self.job.fields.services {
            for id in service
                .panels
                .iter()
                .filter(|id| vehicle.panel(id).is_none())
            {
                unmet.push(Unmet {
                    code: "SERVICE_PANEL_UNKNOWN",
                    subject: format!("services/{}", service.code),
                    description: format!(
                        "service `{}` names panel `{id}`, which the vehicle does not have; it has: {}",
                        service.code,
                        vehicle.panel_list()
                    ),
                });
            }
        }
        let readings = self.readings();
        let painted = self
            .panels_in_scope()
            .into_iter()
            .filter(|p| p.finish != Finish::Unpainted);
        for panel in painted {
            let measured = readings.contains_key(panel.id.as_str());
            match panel.substrate {
                Substrate::Unknown => unmet.push(Unmet {
                    code: "SUBSTRATE_UNKNOWN",
                    subject: format!("panels/{}", panel.id),
                    description: format!(
                        "panel `{}` does not say what it is made of, so it is not known which gauge reads it",
                        panel.id
                    ),
                }),
                Substrate::Steel | Substrate::Aluminium if !measured => unmet.push(Unmet {
                    code: "PANEL_NOT_MEASURED",
                    subject: format!("panels/{}", panel.id),
                    description: format!("panel `{}` has no gauge readings", panel.id),
                }),
                Substrate::Steel
                | Substrate::Aluminium
                | Substrate::Composite
                | Substrate::Plastic => {}
            }
        }
        unmet
    }

    fn work_agreed(&self) -> Vec<Unmet> {
        let subject = format!("jobs/{}", self.job.id);
        let mut unmet = Vec::new();
        if self.job.fields.services.is_empty() {
            unmet.push(Unmet {
                code: "SERVICES_MISSING",
                subject: subject.clone(),
                description: "the job lists no services".to_owned(),
            });
        }
        if self.job.fields.approval.is_none() {
            unmet.push(Unmet {
                code: "APPROVAL_MISSING",
                subject,
                description: "the customer's approval is not recorded; set `approval`".to_owned(),
            });
        }
        unmet
    }

    fn something_cures(&self) -> Vec<Unmet> {
        if self.records.iter().any(|record| cure_of(record).is_some()) {
            return Vec::new();
        }
        vec![Unmet {
            code: "NOTHING_TO_CURE",
            subject: format!("jobs/{}", self.job.id),
            description: "no coat layer or settling film is recorded; go straight to ready"
                .to_owned(),
        }]
    }

    fn may_leave(&self) -> Vec<Unmet> {
        let parts = self.parts_off().into_iter().map(|part| Unmet {
            code: "PART_OFF",
            subject: format!("parts/{}", part.part),
            description: format!(
                "part `{}` is off the car; it is kept at `{}`",
                part.part, part.kept_at
            ),
        });
        let cures = self.open_cures().into_iter().map(|cure| Unmet {
            code: "CURE_WINDOW_OPEN",
            subject: format!("panels/{}", cure.panels.join(",")),
            description: format!(
                "{} on {} is not dry until {}",
                cure.what,
                cure.panels.join(", "),
                whole_minutes(cure.until)
            ),
        });
        parts.chain(cures).collect()
    }
}

/// What in this record has to cure, and until when.
fn cure_of(record: &Record) -> Option<OpenCure> {
    match &record.entry {
        Entry::CoatLayer(coat) => {
            let dry = coat
                .milestones
                .iter()
                .find(|m| m.kind == MilestoneKind::Dry)?;
            Some(OpenCure {
                what: format!("`{}` (layer {})", coat.coating.name, coat.layer),
                panels: coat.panels.clone(),
                until: dry.due_time?,
            })
        }
        Entry::FilmPiece(film) => Some(OpenCure {
            what: format!("film `{}`", film.film),
            panels: vec![film.panel.clone()],
            until: film.settled_time?,
        }),
        Entry::GaugeReadings(_)
        | Entry::Pass(_)
        | Entry::Mix(_)
        | Entry::BayAir(_)
        | Entry::Labour(_)
        | Entry::PartOff(_)
        | Entry::PartRefit(_)
        | Entry::Note(_) => None,
    }
}

/// The instant rounded up to a whole minute, so that a message never promises
/// a release earlier than the gate gives it.
fn whole_minutes(instant: Timestamp) -> Timestamp {
    let seconds = instant.as_second() + i64::from(instant.subsec_nanosecond() > 0);
    let up = seconds.div_euclid(60) + i64::from(seconds.rem_euclid(60) > 0);
    Timestamp::from_second(up.saturating_mul(60)).unwrap_or(instant)
}
