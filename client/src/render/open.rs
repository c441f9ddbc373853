//! What a job visibly waits for, read off its own fields and records. Whether a
//! stage lets it in is for the server to say, when it is asked to move.

use lamella_proto::v1;
use lamella_proto::v1::record::Entry;

use crate::commands::cure;
use crate::render::job;
use crate::text::{Edge, View};
use crate::times;

/// The next stage, and what is plainly missing or still running before the car
/// may leave; one line each.
pub(crate) fn points(job: &v1::Job, records: &[v1::Record], view: &View) -> Vec<String> {
    let mut points = Vec::new();
    points.extend(next(job.stage()).map(|stage| format!("next: {stage}")));
    points.extend(missing(job));
    points.extend(
        parts_off(records)
            .into_iter()
            .map(|part| format!("part off: {}, kept at {}", part.part, part.kept_at)),
    );
    points.extend(records.iter().flat_map(|record| running(record, view)));
    points
}

/// Where the job can go from here.
fn next(stage: v1::Stage) -> Option<String> {
    use v1::Stage;
    let stages: &[Stage] = match stage {
        Stage::Booked => &[Stage::Received],
        Stage::Received => &[Stage::Assessed],
        Stage::Assessed => &[Stage::Approved],
        Stage::Approved => &[Stage::InWork],
        Stage::InWork => &[Stage::Curing, Stage::Ready],
        Stage::Curing => &[Stage::Ready],
        Stage::Ready => &[Stage::HandedOver],
        Stage::Unspecified | Stage::HandedOver | Stage::Cancelled => return None,
    };
    let names: Vec<String> = stages.iter().map(|&stage| job::stage(stage)).collect();
    Some(names.join(" or "))
}

/// A field of the job that the next stages need.
fn missing(job: &v1::Job) -> Vec<String> {
    use v1::Stage;
    let (vehicle, approval) = match job.stage() {
        Stage::Booked => (job.vehicle.is_empty(), false),
        Stage::Received | Stage::Assessed => (job.vehicle.is_empty(), job.approval.is_none()),
        Stage::Unspecified
        | Stage::Approved
        | Stage::InWork
        | Stage::Curing
        | Stage::Ready
        | Stage::HandedOver
        | Stage::Cancelled => (false, false),
    };
    let id = job.name.trim_start_matches("jobs/");
    let mut lines = Vec::new();
    if vehicle {
        lines.push(format!(
            "no vehicle yet: lamella job update {id} --vehicle VEHICLE"
        ));
    }
    if approval && job.services.is_empty() {
        lines.push(format!(
            "no service yet: lamella job update {id} --service CODE"
        ));
    }
    if approval {
        lines.push(format!(
            "not approved yet: lamella job approve {id} --by NAME"
        ));
    }
    lines
}

/// Parts that went off and have not come back.
fn parts_off(records: &[v1::Record]) -> Vec<&v1::PartOff> {
    let mut off: Vec<&v1::PartOff> = Vec::new();
    for record in records {
        match &record.entry {
            Some(Entry::PartOff(part)) => off.push(part),
            Some(Entry::PartRefit(refit)) => off.retain(|part| part.part != refit.part),
            Some(
                Entry::GaugeReadings(_)
                | Entry::Pass(_)
                | Entry::Mix(_)
                | Entry::FilmPiece(_)
                | Entry::CoatLayer(_)
                | Entry::BayAir(_)
                | Entry::Labour(_)
                | Entry::Note(_),
            )
            | None => {}
        }
    }
    off
}

/// Times that are still to come.
fn running(record: &v1::Record, view: &View) -> Vec<String> {
    let ahead = |time: &Option<prost_types::Timestamp>, edge: Edge| {
        let time = time.as_ref()?;
        (times::from_proto(time)? > view.now).then(|| view.minute(time, edge))
    };
    match &record.entry {
        Some(Entry::CoatLayer(coat)) => coat
            .milestones
            .iter()
            .filter_map(|milestone| {
                let kind = milestone.kind();
                let due = ahead(&milestone.due_time, cure::edge(kind))?;
                Some(format!(
                    "{}: {} {due}",
                    coat.panels.join(", "),
                    cure::words(kind)
                ))
            })
            .collect(),
        Some(Entry::FilmPiece(film)) => ahead(&film.settled_time, Edge::Opens)
            .map(|due| format!("{}: film settled {due}", film.panel))
            .into_iter()
            .collect(),
        Some(
            Entry::GaugeReadings(_)
            | Entry::Pass(_)
            | Entry::Mix(_)
            | Entry::BayAir(_)
            | Entry::Labour(_)
            | Entry::PartOff(_)
            | Entry::PartRefit(_)
            | Entry::Note(_),
        )
        | None => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::view;
    use crate::units::System;

    fn record(entry: Entry) -> v1::Record {
        v1::Record {
            entry: Some(entry),
            ..Default::default()
        }
    }

    fn off(part: &str) -> v1::Record {
        let (part, kept_at) = (part.to_owned(), "tray 3".to_owned());
        record(Entry::PartOff(v1::PartOff {
            part,
            kept_at,
            fasteners: String::new(),
        }))
    }

    // The view's present is 2 March 2026, 10:15 in Berlin: 1772442900.
    fn drying(due: i64) -> v1::Record {
        let milestone = v1::CureMilestone {
            kind: v1::CureMilestoneKind::Dry.into(),
            after_hours: 12.0,
            due_time: Some(prost_types::Timestamp {
                seconds: due,
                nanos: 0,
            }),
            ..Default::default()
        };
        record(Entry::CoatLayer(v1::CoatLayer {
            panels: vec!["hood".to_owned()],
            milestones: vec![milestone],
            ..Default::default()
        }))
    }

    fn at(stage: v1::Stage, records: &[v1::Record]) -> String {
        let job = v1::Job {
            stage: stage.into(),
            ..Default::default()
        };
        points(&job, records, &view(System::Metric)).join("\n")
    }

    #[test]
    fn a_part_is_open_until_it_is_back_and_a_cure_until_it_is_past() {
        let refit = v1::PartRefit {
            part: "badge".to_owned(),
            note: String::new(),
        };
        let records = [
            off("badge"),
            off("mirror cap"),
            record(Entry::PartRefit(refit)),
            drying(1_772_442_899),
            drying(1_772_442_901),
        ];
        insta::assert_snapshot!(at(v1::Stage::InWork, &records), @"
        next: curing or ready
        part off: mirror cap, kept at tray 3
        hood: road and rain from Mon 2026-03-02 10:16
        ");
    }

    #[test]
    fn what_the_next_stage_needs_is_said() {
        insta::assert_snapshot!(at(v1::Stage::Booked, &[]), @"
        next: received
        no vehicle yet: lamella job update  --vehicle VEHICLE
        ");
        insta::assert_snapshot!(at(v1::Stage::Assessed, &[]), @"
        next: approved
        no vehicle yet: lamella job update  --vehicle VEHICLE
        no service yet: lamella job update  --service CODE
        not approved yet: lamella job approve  --by NAME
        ");
        assert_eq!(at(v1::Stage::HandedOver, &[]), "");
    }
}
