//! A change to a job as one line.

use std::fmt::Write as _;

use lamella_proto::v1;
use lamella_proto::v1::job_event::Change;

use crate::names::clean;
use crate::render::{job, record};
use crate::text::View;

/// What happened, on one line: when, to which job, what.
pub(crate) fn line(event: &v1::JobEvent, view: &View) -> String {
    let when = event
        .event_time
        .as_ref()
        .map(|time| view.time(time))
        .unwrap_or_default();
    let change = match &event.change {
        Some(Change::Created(job)) => format!("created  {}", job.display_name),
        Some(Change::Updated(updated)) => {
            let paths = updated
                .update_mask
                .as_ref()
                .map(|mask| mask.paths.join(", "));
            format!("updated  {}", paths.unwrap_or_default())
        }
        Some(Change::StageChanged(moved)) => {
            let from = job::stage(moved.from_stage());
            let note = if moved.note.is_empty() {
                String::new()
            } else {
                format!(": {}", moved.note)
            };
            format!("stage    {from} -> {}{note}", job::stage(moved.to_stage()))
        }
        Some(Change::Recorded(entry)) => record::line(entry, view),
        Some(Change::Deleted(_)) => "deleted".to_owned(),
        Some(Change::Undeleted(_)) => "undeleted".to_owned(),
        Some(Change::Quoted(quote)) => format!("quoted   {}", gross(quote)),
        Some(Change::QuoteAccepted(accepted)) => {
            let quote = accepted.quote.as_ref();
            format!("accepted {}", quote.map(gross).unwrap_or_default())
        }
        Some(Change::Photographed(photo)) => {
            format!("photo    {}", crate::render::photo::line(photo))
        }
        Some(Change::PhotoDeleted(photo)) => {
            format!("photo    {} deleted", photo.name)
        }
        None => "a change that this client does not know".to_owned(),
    };
    clean(&format!(
        "{:>6}  {when}  {}  {change}",
        event.sequence, event.job
    ))
}

/// A quote's name and what the customer pays.
fn gross(quote: &v1::Quote) -> String {
    let total = quote.gross_total.as_ref().map(crate::money::shown);
    format!("{}  {}", quote.name, total.unwrap_or_default())
}

/// A page of history, one change to a line.
pub(crate) fn list(page: &v1::ListJobHistoryResponse, view: &View) -> String {
    let mut out = String::new();
    for event in &page.events {
        let _ = writeln!(out, "{}", line(event, view));
    }
    out + &job::more(&page.next_page_token)
}

#[cfg(test)]
mod tests {
    use lamella_proto::v1::record::Entry;

    use super::*;
    use crate::text::tests::view;
    use crate::units::System;

    fn at(seconds: i64) -> Option<prost_types::Timestamp> {
        Some(prost_types::Timestamp { seconds, nanos: 0 })
    }

    fn recorded(entry: Entry) -> Change {
        let author = "Sam".to_owned();
        Change::Recorded(v1::Record {
            author,
            entry: Some(entry),
            ..Default::default()
        })
    }

    fn item(name: &str, rank: i32) -> Option<v1::RankedItem> {
        Some(v1::RankedItem {
            name: name.to_owned(),
            rank,
        })
    }

    fn paint_entries() -> Vec<Entry> {
        vec![
            Entry::GaugeReadings(v1::GaugeReadings {
                panel: "hood".to_owned(),
                spot: "left front".to_owned(),
                readings_um: vec![108.0, 111.0, 107.0],
                gauge: "gauge 2".to_owned(),
            }),
            Entry::Pass(v1::Pass {
                panel: "hood".to_owned(),
                setup: Some(v1::Setup {
                    machine: item("dual action", 1),
                    pad: item("soft foam", 1),
                    liquid: item("fine polish", 1),
                    speed: 4,
                    pressure_kpa: 10.0,
                    seconds: 20.0,
                }),
                panel_c: Some(30.7),
                removal_um: Some(1.0),
                outcome: v1::PassOutcome::Improved.into(),
                override_reason: "owner insists".to_owned(),
            }),
            Entry::Mix(v1::Mix {
                product: "wipe-down".to_owned(),
                concentrate_ml: Some(384.6),
                diluent_ml: Some(615.4),
                strength_percent: Some(35.0),
                lot: "A1".to_owned(),
                panels: vec!["hood".to_owned()],
            }),
            Entry::FilmPiece(v1::FilmPiece {
                panel: "hood".to_owned(),
                film: "clear gloss film".to_owned(),
                film_id: String::new(),
                roll: "main".to_owned(),
                lot: "B2".to_owned(),
                width_mm: Some(1240.0),
                length_mm: Some(1540.0),
                settle_hours: Some(24.0),
                settled_time: at(1_772_528_400),
            }),
        ]
    }

    fn other_entries() -> Vec<Entry> {
        vec![
            Entry::CoatLayer(v1::CoatLayer {
                panels: vec!["hood".to_owned(), "roof".to_owned()],
                coating: Some(v1::Coating {
                    product: "coating".to_owned(),
                    ..Default::default()
                }),
                lot: "C3".to_owned(),
                panel_c: Some(18.0),
                ..Default::default()
            }),
            Entry::BayAir(v1::BayAir {
                air: Some(v1::Air {
                    air_c: Some(20.0),
                    relative_humidity_percent: Some(50.0),
                    ..Default::default()
                }),
                panel_c: Some(18.0),
                dew_point_c: Some(9.27),
            }),
            Entry::Labour(v1::Labour {
                worker: "Sam".to_owned(),
                activity: "polishing".to_owned(),
                from_time: at(1_772_442_000),
                to_time: at(1_772_449_200),
            }),
            Entry::PartOff(v1::PartOff {
                part: "front badge".to_owned(),
                fasteners: "2 clips".to_owned(),
                kept_at: "tray 3".to_owned(),
            }),
            Entry::PartRefit(v1::PartRefit {
                part: "front badge".to_owned(),
                note: "one clip replaced".to_owned(),
            }),
            Entry::Note(v1::Note {
                text: "chip at the edge".to_owned(),
                panel: "hood".to_owned(),
            }),
        ]
    }

    #[test]
    fn every_change_on_one_line() {
        let mut changes = vec![
            Change::Created(job::tests::example()),
            Change::Updated(v1::JobUpdated {
                job: None,
                update_mask: Some(prost_types::FieldMask {
                    paths: vec!["vehicle".to_owned(), "wishes".to_owned()],
                }),
            }),
            Change::StageChanged(v1::StageChanged {
                from_stage: v1::Stage::InWork.into(),
                to_stage: v1::Stage::Curing.into(),
                note: "all coats on".to_owned(),
                job: None,
                cautions: Vec::new(),
            }),
        ];
        changes.extend(paint_entries().into_iter().map(recorded));
        changes.extend(other_entries().into_iter().map(recorded));
        changes.push(Change::Deleted(job::tests::example()));
        let events: Vec<v1::JobEvent> = changes
            .into_iter()
            .zip(1..)
            .map(|(change, sequence)| v1::JobEvent {
                sequence,
                event_time: at(1_772_442_000),
                job: "jobs/a".to_owned(),
                change: Some(change),
            })
            .collect();
        let page = v1::ListJobHistoryResponse {
            events,
            next_page_token: String::new(),
        };
        insta::assert_snapshot!(list(&page, &view(System::Metric)), @"
         1  Mon 2026-03-02 10:00  jobs/a  created  Blue estate
         2  Mon 2026-03-02 10:00  jobs/a  updated  vehicle, wishes
         3  Mon 2026-03-02 10:00  jobs/a  stage    in work -> curing: all coats on
         4  Mon 2026-03-02 10:00  jobs/a  readings hood at left front: 3, 107 µm (4.21 mil) to 111 µm (4.37 mil), gauge gauge 2, by Sam
         5  Mon 2026-03-02 10:00  jobs/a  pass     hood: improved; dual action, soft foam, fine polish; speed 4, 10 kPa (1.45 psi), 20 s; panel 30.7 °C (87.3 °F); removed 1 µm (0.039 mil); STOP RULE OVERRIDDEN: owner insists, by Sam
         6  Mon 2026-03-02 10:00  jobs/a  mix      wipe-down: 384.6 ml (13 fl oz) + 615.4 ml (20.81 fl oz) water, 35 %, lot A1 on hood, by Sam
         7  Mon 2026-03-02 10:00  jobs/a  film     hood: 1240 mm (48.82 in) x 1540 mm (60.63 in) of clear gloss film, roll main, lot B2, settled Tue 2026-03-03 10:00, by Sam
         8  Mon 2026-03-02 10:00  jobs/a  coat     hood, roof: layer 1 of coating at 18 °C (64.4 °F), lot C3, by Sam
         9  Mon 2026-03-02 10:00  jobs/a  air      20 °C (68 °F), 50 % humidity, panel 18 °C (64.4 °F), dew point 9.3 °C (48.7 °F), by Sam
        10  Mon 2026-03-02 10:00  jobs/a  labour   Sam: polishing, Mon 2026-03-02 10:00 to Mon 2026-03-02 12:00, by Sam
        11  Mon 2026-03-02 10:00  jobs/a  off      front badge, kept at tray 3, fasteners: 2 clips, by Sam
        12  Mon 2026-03-02 10:00  jobs/a  refit    front badge: one clip replaced, by Sam
        13  Mon 2026-03-02 10:00  jobs/a  note     chip at the edge on hood, by Sam
        14  Mon 2026-03-02 10:00  jobs/a  deleted
        ");
    }
}
