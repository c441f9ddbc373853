//! Records: what is written down while the work is done.

use jiff::Timestamp;
use lamella_calc::advice::PassOutcome as Outcome;
use lamella_calc::violation::Checks;
use lamella_jobs::check::join;
use lamella_jobs::record::{
    BayAir, CoatLayer, Entry, FilmPiece, GaugeReadings, Labour, Mix, Note, PartOff, PartRefit,
    Pass, Record,
};
use lamella_proto::v1::{self, record::Entry as Message};

use super::{caution, names, product, required, time};

/// A record as a request gives it: what the ledger fills in is still open.
#[derive(Clone)]
pub(crate) struct Draft {
    record_time: Option<Timestamp>,
    author: String,
    entry: Entry,
}

impl Draft {
    /// Notes every value out of its stated range. That the record's time is not
    /// far ahead is left to the ledger, which knows what time it is.
    pub(crate) fn check(&self, path: &str, checks: &mut Checks) {
        self.clone()
            .at(Timestamp::MAX)
            .check(Timestamp::MAX, checks, path);
    }

    /// The record, with `now` where no time was given.
    pub(crate) fn at(self, now: Timestamp) -> Record {
        Record {
            id: String::new(),
            record_time: self.record_time.unwrap_or(now),
            author: self.author,
            create_time: now,
            entry: self.entry,
            cautions: Vec::new(),
        }
    }
}

/// A record from a request; none where it holds no entry, which is noted.
pub(crate) fn draft_from_pb(record: &v1::Record, path: &str, checks: &mut Checks) -> Option<Draft> {
    let record_time = time::from_pb(
        record.record_time.as_ref(),
        &join(path, "record_time"),
        checks,
    );
    checks.require(record.entry.is_some(), join(path, "entry"), || {
        "is required: one of gauge_readings, pass, mix, film_piece, coat_layer, bay_air, labour, \
         part_off, part_refit, note"
            .to_owned()
    });
    let entry = record
        .entry
        .as_ref()
        .map(|entry| entry_from_pb(entry, path, checks))?;
    Some(Draft {
        record_time,
        author: record.author.clone(),
        entry,
    })
}

/// A whole record as it is stored. Its cautions are for readers and are left
/// aside.
pub(crate) fn record_from_pb(record: &v1::Record, checks: &mut Checks) -> Option<Record> {
    let create_time = time::required(record.create_time.as_ref(), "create_time", checks);
    let draft = draft_from_pb(record, "", checks)?;
    let id = record
        .name
        .rsplit('/')
        .next()
        .unwrap_or_default()
        .to_owned();
    Some(Record {
        id,
        create_time,
        ..draft.at(create_time)
    })
}

pub(crate) fn record_to_pb(job_id: &str, record: &Record) -> v1::Record {
    v1::Record {
        name: names::record(job_id, &record.id),
        record_time: Some(time::to_pb(record.record_time)),
        author: record.author.clone(),
        create_time: Some(time::to_pb(record.create_time)),
        entry: Some(entry_to_pb(&record.entry)),
        cautions: caution::all_to_pb(&record.cautions),
    }
}

pub(crate) fn outcome_from_pb(value: i32, field: &str, checks: &mut Checks) -> Outcome {
    match v1::PassOutcome::try_from(value) {
        Ok(v1::PassOutcome::Cleared) => Outcome::Cleared,
        Ok(v1::PassOutcome::Improved) => Outcome::Improved,
        Ok(v1::PassOutcome::Unchanged) => Outcome::Unchanged,
        Ok(v1::PassOutcome::Worse) => Outcome::Worse,
        Ok(v1::PassOutcome::Unspecified) | Err(_) => {
            checks.require(false, field, || {
                "is required: cleared, improved, unchanged or worse".to_owned()
            });
            Outcome::Unchanged
        }
    }
}

fn outcome_to_pb(outcome: Outcome) -> v1::PassOutcome {
    match outcome {
        Outcome::Cleared => v1::PassOutcome::Cleared,
        Outcome::Improved => v1::PassOutcome::Improved,
        Outcome::Unchanged => v1::PassOutcome::Unchanged,
        Outcome::Worse => v1::PassOutcome::Worse,
    }
}

fn entry_from_pb(entry: &Message, path: &str, checks: &mut Checks) -> Entry {
    match entry {
        Message::GaugeReadings(readings) => Entry::GaugeReadings(GaugeReadings {
            panel: readings.panel.clone(),
            spot: readings.spot.clone(),
            readings_um: readings.readings_um.clone(),
            gauge: readings.gauge.clone(),
        }),
        Message::Pass(pass) => {
            let path = join(path, "pass");
            Entry::Pass(Pass {
                panel: pass.panel.clone(),
                setup: product::pass_setup_from_pb(
                    pass.setup.as_ref(),
                    &join(&path, "setup"),
                    checks,
                ),
                panel_c: pass.panel_c,
                removal_um: pass.removal_um,
                outcome: outcome_from_pb(pass.outcome, &join(&path, "outcome"), checks),
                override_reason: pass.override_reason.clone(),
            })
        }
        Message::Mix(mix) => {
            let at = |field: &str| join(path, &format!("mix.{field}"));
            Entry::Mix(Mix {
                product: mix.product.clone(),
                concentrate_ml: required(mix.concentrate_ml, &at("concentrate_ml"), checks),
                diluent_ml: required(mix.diluent_ml, &at("diluent_ml"), checks),
                strength_percent: mix.strength_percent,
                lot: mix.lot.clone(),
                panels: mix.panels.clone(),
            })
        }
        Message::FilmPiece(film) => {
            let at = |field: &str| join(path, &format!("film_piece.{field}"));
            Entry::FilmPiece(FilmPiece {
                panel: film.panel.clone(),
                film: film.film.clone(),
                roll: film.roll.clone(),
                lot: film.lot.clone(),
                width_mm: required(film.width_mm, &at("width_mm"), checks),
                length_mm: required(film.length_mm, &at("length_mm"), checks),
                settle_hours: film.settle_hours,
                settled_time: time::from_pb(
                    film.settled_time.as_ref(),
                    &at("settled_time"),
                    checks,
                ),
            })
        }
        Message::CoatLayer(coat) => {
            let at = |field: &str| join(path, &format!("coat_layer.{field}"));
            Entry::CoatLayer(CoatLayer {
                panels: coat.panels.clone(),
                coating: product::coating_from_pb(coat.coating.as_ref(), &at("coating"), checks),
                lot: coat.lot.clone(),
                layer: if coat.layer == 0 { 1 } else { coat.layer },
                panel_c: required(coat.panel_c, &at("panel_c"), checks),
                air: coat
                    .air
                    .as_ref()
                    .map(|air| product::air_from_pb(air, &at("air"), checks)),
                milestones: coat
                    .milestones
                    .iter()
                    .filter_map(|milestone| product::milestone_from_pb(milestone, checks))
                    .collect(),
            })
        }
        Message::BayAir(bay) => {
            let at = |field: &str| join(path, &format!("bay_air.{field}"));
            let air = bay.air.unwrap_or_default();
            checks.require(bay.air.is_some(), at("air"), || "is required".to_owned());
            Entry::BayAir(BayAir {
                air: product::air_from_pb(&air, &at("air"), checks),
                panel_c: bay.panel_c,
                dew_point_c: bay.dew_point_c,
            })
        }
        Message::Labour(labour) => {
            let at = |field: &str| join(path, &format!("labour.{field}"));
            Entry::Labour(Labour {
                worker: labour.worker.clone(),
                activity: labour.activity.clone(),
                from_time: time::required(labour.from_time.as_ref(), &at("from_time"), checks),
                to_time: time::required(labour.to_time.as_ref(), &at("to_time"), checks),
            })
        }
        Message::PartOff(part) => Entry::PartOff(PartOff {
            part: part.part.clone(),
            fasteners: part.fasteners.clone(),
            kept_at: part.kept_at.clone(),
        }),
        Message::PartRefit(part) => Entry::PartRefit(PartRefit {
            part: part.part.clone(),
            note: part.note.clone(),
        }),
        Message::Note(note) => Entry::Note(Note {
            text: note.text.clone(),
            panel: (!note.panel.is_empty()).then(|| note.panel.clone()),
        }),
    }
}

fn entry_to_pb(entry: &Entry) -> Message {
    match entry {
        Entry::GaugeReadings(readings) => Message::GaugeReadings(v1::GaugeReadings {
            panel: readings.panel.clone(),
            spot: readings.spot.clone(),
            readings_um: readings.readings_um.clone(),
            gauge: readings.gauge.clone(),
        }),
        Entry::Pass(pass) => Message::Pass(v1::Pass {
            panel: pass.panel.clone(),
            setup: Some(product::pass_setup_to_pb(&pass.setup)),
            panel_c: pass.panel_c,
            removal_um: pass.removal_um,
            outcome: outcome_to_pb(pass.outcome).into(),
            override_reason: pass.override_reason.clone(),
        }),
        Entry::Mix(mix) => Message::Mix(v1::Mix {
            product: mix.product.clone(),
            concentrate_ml: Some(mix.concentrate_ml),
            diluent_ml: Some(mix.diluent_ml),
            strength_percent: mix.strength_percent,
            lot: mix.lot.clone(),
            panels: mix.panels.clone(),
        }),
        Entry::FilmPiece(film) => Message::FilmPiece(v1::FilmPiece {
            panel: film.panel.clone(),
            film: film.film.clone(),
            roll: film.roll.clone(),
            lot: film.lot.clone(),
            width_mm: Some(film.width_mm),
            length_mm: Some(film.length_mm),
            settle_hours: film.settle_hours,
            settled_time: film.settled_time.map(time::to_pb),
            film_id: String::new(),
        }),
        Entry::CoatLayer(coat) => Message::CoatLayer(v1::CoatLayer {
            panels: coat.panels.clone(),
            coating: Some(product::coating_to_pb(&coat.coating)),
            lot: coat.lot.clone(),
            layer: coat.layer,
            panel_c: Some(coat.panel_c),
            air: coat.air.as_ref().map(product::air_to_pb),
            milestones: coat
                .milestones
                .iter()
                .map(product::milestone_to_pb)
                .collect(),
        }),
        Entry::BayAir(bay) => Message::BayAir(v1::BayAir {
            air: Some(product::air_to_pb(&bay.air)),
            panel_c: bay.panel_c,
            dew_point_c: bay.dew_point_c,
        }),
        Entry::Labour(labour) => Message::Labour(v1::Labour {
            worker: labour.worker.clone(),
            activity: labour.activity.clone(),
            from_time: Some(time::to_pb(labour.from_time)),
            to_time: Some(time::to_pb(labour.to_time)),
        }),
        Entry::PartOff(part) => Message::PartOff(v1::PartOff {
            part: part.part.clone(),
            fasteners: part.fasteners.clone(),
            kept_at: part.kept_at.clone(),
        }),
        Entry::PartRefit(part) => Message::PartRefit(v1::PartRefit {
            part: part.part.clone(),
            note: part.note.clone(),
        }),
        Entry::Note(note) => Message::Note(v1::Note {
            text: note.text.clone(),
            panel: note.panel.clone().unwrap_or_default(),
        }),
    }
}
