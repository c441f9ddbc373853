//! The paint ledger of a vehicle: what its records over all jobs say of each
//! panel. Nothing is stored for it; it is worked out on every read.

use std::collections::{HashMap, HashSet};

use jiff::Timestamp;
use lamella_calc::advice::limits::prior_removal_um;
use lamella_calc::advice::{Choice, Setup};
use lamella_calc::paint::trace::MAX_EVENTS;
use lamella_calc::paint::{GaugeSpec, PanelEvent, PanelHistory, PanelTrace, trace};
use lamella_calc::violation::Checks;
use lamella_jobs::check::quote;
use lamella_jobs::record::{Entry, PassSetup, RankedItem, Record};
use lamella_jobs::refusal::Refusal;
use lamella_jobs::vehicle::{Panel, Vehicle};
use lamella_store::KvRead;

use super::error::LedgerError;
use super::{Ledger, Page, keys, load};
use crate::convert;

/// Which part of the ledger, and on what terms.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PaintQuery {
    /// The vehicle's id.
    pub vehicle: String,
    /// Only this panel.
    pub panel: Option<String>,
    /// What the shop's gauges are like.
    pub gauge: Option<GaugeSpec>,
    /// Clear coat that must stay, um, 0 to 1000.
    pub floor_um: Option<f64>,
}

/// One panel over all jobs.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelLedger {
    /// The panel.
    pub panel: Panel,
    /// What happened to it, oldest first, with its origin; one for each step of `trace`.
    pub events: Vec<(PanelEvent, Origin)>,
    /// All of it, worked out.
    pub trace: PanelTrace,
}

/// Where an event comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Origin {
    /// When it happened.
    pub time: Timestamp,
    /// The job's id.
    pub job: String,
    /// The record's id; absent for a visit.
    pub record: Option<String>,
    /// Film as the shop names it, for film.
    pub film: String,
}

impl PaintQuery {
    /// Gauge and floor as a history of nothing, so that the calculator can check them before
    /// anything is read.
    pub(crate) fn terms(&self) -> PanelHistory {
        PanelHistory {
            gauge: self.gauge.clone(),
            floor_um: self.floor_um,
            ..PanelHistory::default()
        }
    }
}

/// Records with the jobs that they belong to, by time.
type Log = Vec<(String, Record)>;

impl Ledger {
    /// A vehicle's panels in its own order, with what was measured, removed and left.
    ///
    /// # Errors
    /// Unknown vehicle, a panel that it does not have, a gauge or floor out of range, a page token
    /// that no list gave out.
    pub async fn paint_ledger(
        &self,
        query: PaintQuery,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<PanelLedger>, LedgerError> {
        let from = match page_token.as_str() {
            "" => 0,
            token => usize::from_str_radix(token, 16).map_err(|_| LedgerError::PageToken)?,
        };
        let handle = self.store().reader();
        let task = tokio::task::spawn_blocking(move || {
            // Commits wait for the view, so only the reading is done inside it.
            let (vehicle, log) = handle.view(|view| gather(view, &query.vehicle))??;
            page(&vehicle, &log, &query, from, page_size)
        });
        task.await
            .map_err(|error| load::unreadable("this".to_owned(), &error))?
    }
}

/// The vehicle and every record about its paint, oldest first. Deleted jobs are left aside: what is
/// in them was a mistake.
fn gather(view: &impl KvRead, vehicle: &str) -> Result<(Vehicle, Log), LedgerError> {
    let found = load::vehicle(view, vehicle)?.domain;
    let mut log = Log::new();
    for (_, id) in view.scan_all(&keys::of_vehicle(vehicle)) {
        let id = String::from_utf8_lossy(&id).into_owned();
        if load::job_message(view, &id)?.delete_time.is_some() {
            continue;
        }
        let records = load::records(view, &id)?.into_iter();
        log.extend(
            records
                .filter(about_paint)
                .map(|record| (id.clone(), record)),
        );
    }
    // Stable: records of one instant stay in the order in which they were written.
    log.sort_by_key(|(_, record)| record.record_time);
    Ok((found, log))
}

fn about_paint(record: &Record) -> bool {
    match record.entry {
        Entry::GaugeReadings(_) | Entry::Pass(_) | Entry::FilmPiece(_) => true,
        Entry::Mix(_)
        | Entry::CoatLayer(_)
        | Entry::BayAir(_)
        | Entry::Labour(_)
        | Entry::PartOff(_)
        | Entry::PartRefit(_)
        | Entry::Note(_) => false,
    }
}

fn page(
    vehicle: &Vehicle,
    log: &Log,
    query: &PaintQuery,
    from: usize,
    page_size: usize,
) -> Result<Page<PanelLedger>, LedgerError> {
    let mut panels: Vec<&Panel> = vehicle.fields.panels.iter().collect();
    if let Some(wanted) = &query.panel {
        panels.retain(|panel| panel.id == *wanted);
        let mut checks = Checks::new();
        checks.require(!panels.is_empty(), "panel", || {
            let (id, list) = (&vehicle.id, vehicle.panel_list());
            format!(
                "{} is not a panel of vehicles/{id}; it has: {list}",
                quote(wanted)
            )
        });
        checks.finish().map_err(Refusal::from)?;
    }
    let mut by_panel: HashMap<&str, Vec<(PanelEvent, Origin)>> = HashMap::new();
    let mut visits: HashSet<(&str, &str)> = HashSet::new();
    for (job, record) in log {
        let Some((panel, event)) = event(&record.entry) else {
            continue;
        };
        let events = by_panel.entry(panel).or_default();
        let origin = |record: Option<&Record>, film: &str, time| Origin {
            time,
            job: job.clone(),
            record: record.map(|record| record.id.clone()),
            film: film.to_owned(),
        };
        if visits.insert((panel, job)) {
            events.push((PanelEvent::Visit, origin(None, "", record.record_time)));
        }
        let film = match &record.entry {
            Entry::FilmPiece(piece) => piece.film.as_str(),
            Entry::GaugeReadings(_)
            | Entry::Pass(_)
            | Entry::Mix(_)
            | Entry::CoatLayer(_)
            | Entry::BayAir(_)
            | Entry::Labour(_)
            | Entry::PartOff(_)
            | Entry::PartRefit(_)
            | Entry::Note(_) => "",
        };
        events.push((event, origin(Some(record), film, record.record_time)));
    }
    let more = panels.len() > from.saturating_add(page_size);
    let items = panels.into_iter().skip(from).take(page_size).map(|panel| {
        let events = by_panel.remove(panel.id.as_str()).unwrap_or_default();
        panel_ledger(panel, events, query)
    });
    Ok(Page {
        items: items.collect::<Result<_, _>>()?,
        next_page_token: if more {
            format!("{:x}", from.saturating_add(page_size))
        } else {
            String::new()
        },
    })
}

fn panel_ledger(
    panel: &Panel,
    mut events: Vec<(PanelEvent, Origin)>,
    query: &PaintQuery,
) -> Result<PanelLedger, LedgerError> {
    // The newest, should a panel ever have more: the layers as made stand in for the rest.
    let excess = events.len().saturating_sub(MAX_EVENTS);
    events.drain(..excess);
    let history = PanelHistory {
        panel: panel.id.clone(),
        substrate: panel.substrate,
        topcoat: convert::calc::paint::topcoat(panel.finish),
        events: events.iter().map(|(event, _)| event.clone()).collect(),
        ..query.terms()
    };
    let trace = trace(&history).map_err(Refusal::from)?;
    Ok(PanelLedger {
        panel: panel.clone(),
        events,
        trace,
    })
}

/// What a record says of a panel's paint.
fn event(entry: &Entry) -> Option<(&str, PanelEvent)> {
    match entry {
        Entry::GaugeReadings(readings) => Some((
            &readings.panel,
            PanelEvent::Read {
                spot: readings.spot.clone(),
                gauge: readings.gauge.clone(),
                readings_um: readings.readings_um.clone(),
            },
        )),
        Entry::Pass(pass) => Some((
            &pass.panel,
            PanelEvent::Pass {
                removal_um: pass.removal_um,
                expected_um: prior_removal_um(&setup(&pass.setup)),
            },
        )),
        Entry::FilmPiece(film) => Some((&film.panel, PanelEvent::Film)),
        Entry::Mix(_)
        | Entry::CoatLayer(_)
        | Entry::BayAir(_)
        | Entry::Labour(_)
        | Entry::PartOff(_)
        | Entry::PartRefit(_)
        | Entry::Note(_) => None,
    }
}

/// The setup of a record as the calculators know it.
fn setup(setup: &PassSetup) -> Setup {
    let choice = |item: &RankedItem| Choice {
        name: item.name.clone(),
        level: u32::try_from(item.rank).unwrap_or(1),
    };
    Setup {
        machine: choice(&setup.machine),
        pad: choice(&setup.pad),
        liquid: choice(&setup.liquid),
        speed_level: u32::try_from(setup.speed).unwrap_or(1),
        pressure_kpa: setup.pressure_kpa,
        seconds: setup.seconds,
    }
}

#[cfg(test)]
mod tests {
    use lamella_calc::advice::PassOutcome;
    use lamella_calc::gauge::Substrate;
    use lamella_calc::paint::{ReadStanding, TraceStep};
    use lamella_jobs::record::{FilmPiece, GaugeReadings, Pass};
    use lamella_jobs::vehicle::{Condition, Finish, VehicleFields};

    use super::*;

    fn car() -> Vehicle {
        let panel = |id: &str, substrate| Panel {
            id: id.to_owned(),
            display_name: String::new(),
            substrate,
            finish: Finish::ClearCoat,
            note: String::new(),
            area_m2: None,
            condition: Condition::default(),
        };
        let panels = vec![
            panel("hood", Substrate::Steel),
            panel("roof", Substrate::Composite),
            panel("trunk", Substrate::Steel),
        ];
        let at = Timestamp::UNIX_EPOCH;
        Vehicle {
            id: "blue-estate".to_owned(),
            fields: VehicleFields {
                panels,
                ..VehicleFields::default()
            },
            create_time: at,
            update_time: at,
            delete_time: None,
        }
    }

    fn record(job: &str, hour: i64, entry: Entry) -> (String, Record) {
        let time = Timestamp::from_second(hour * 3600).unwrap();
        let record = Record {
            id: hour.to_string(),
            record_time: time,
            author: String::new(),
            create_time: time,
            entry,
            cautions: Vec::new(),
        };
        (job.to_owned(), record)
    }

    fn read(panel: &str, readings_um: &[f64]) -> Entry {
        Entry::GaugeReadings(GaugeReadings {
            panel: panel.to_owned(),
            readings_um: readings_um.to_vec(),
            ..GaugeReadings::default()
        })
    }

    fn pass(removal_um: Option<f64>) -> Entry {
        let item = RankedItem {
            name: "soft".to_owned(),
            rank: 1,
        };
        Entry::Pass(Pass {
            panel: "hood".to_owned(),
            setup: PassSetup {
                machine: item.clone(),
                pad: item.clone(),
                liquid: item,
                speed: 4,
                pressure_kpa: 4.0,
                seconds: 60.0,
            },
            panel_c: None,
            removal_um,
            outcome: PassOutcome::Improved,
            override_reason: String::new(),
        })
    }

    fn two_visits() -> Log {
        vec![
            record("a", 1, read("hood", &[112.0, 111.0, 113.0])),
            record("a", 2, pass(Some(2.0))),
            record("a", 3, read("hood", &[109.0, 110.0, 109.0])),
            record("b", 100, read("roof", &[95.0, 96.0, 94.0])),
            record("b", 101, read("hood", &[109.0, 110.0, 109.0])),
            record("b", 102, pass(None)),
            record(
                "b",
                103,
                Entry::FilmPiece(FilmPiece {
                    panel: "hood".to_owned(),
                    film: "clear film".to_owned(),
                    ..FilmPiece::default()
                }),
            ),
            record("b", 104, read("hood", &[290.0, 291.0, 289.0])),
        ]
    }

    fn ask(panel: Option<&str>) -> PaintQuery {
        PaintQuery {
            vehicle: "blue-estate".to_owned(),
            panel: panel.map(str::to_owned),
            ..PaintQuery::default()
        }
    }

    #[test]
    fn a_panel_carries_its_history_over_jobs() {
        let found = page(&car(), &two_visits(), &ask(None), 0, 10).unwrap();
        let [hood, roof, trunk] = found.items.as_slice() else {
            panic!("three panels")
        };
        let jobs: Vec<&str> = hood
            .events
            .iter()
            .map(|(_, origin)| origin.job.as_str())
            .collect();
        assert_eq!(jobs, ["a", "a", "a", "a", "b", "b", "b", "b", "b"]);
        assert_eq!(hood.events.len(), hood.trace.steps.len());
        let (removed_um, _) = hood.trace.removed_um.unwrap();
        assert!((removed_um - 2.8).abs() < 1.5, "{removed_um}");
        // A pass without a reading takes what its setup is expected to.
        let Some(TraceStep::Pass {
            removal_um,
            measured: false,
            ..
        }) = hood.trace.steps.get(6)
        else {
            panic!("the second pass: {:?}", hood.trace.steps)
        };
        // 0.1 um at dial 2, 2 kPa, 30 s (common practice, no source); each of the three doubled.
        assert!((removal_um - 0.8).abs() < 1e-12, "{removal_um}");
        let Some(TraceStep::Read { standing, .. }) = hood.trace.steps.last() else {
            panic!("the last reading")
        };
        assert_eq!(*standing, ReadStanding::OverFilm);
        // Composite: what the usual gauge showed does not count.
        assert_eq!((roof.trace.left, roof.trace.budget_um), (None, None));
        assert!(trunk.events.is_empty() && trunk.trace.left.is_none());
    }

    #[test]
    fn pages_go_through_the_panels_once() {
        let (car, log) = (car(), two_visits());
        let first = page(&car, &log, &ask(None), 0, 2).unwrap();
        assert_eq!(
            (first.items.len(), first.next_page_token.as_str()),
            (2, "2")
        );
        let last = page(&car, &log, &ask(None), 2, 2).unwrap();
        assert_eq!(last.items[0].panel.id, "trunk");
        assert_eq!(last.next_page_token, "");
        let one = page(&car, &log, &ask(Some("roof")), 0, 2).unwrap();
        assert_eq!(one.items.len(), 1);
        let unknown = page(&car, &log, &ask(Some("door")), 0, 2)
            .unwrap_err()
            .to_string();
        assert!(
            unknown.contains("panel: `door` is not a panel of vehicles/blue-estate"),
            "{unknown}"
        );
        assert!(
            page(&car, &log, &ask(None), usize::MAX, 2)
                .unwrap()
                .items
                .is_empty()
        );
    }
}
