//! What happens when a record is added: it is checked against the job, its
//! computed parts are filled in, and it gets its cautions.
//!
//! A record says what happened, so one that reports a mistake (a panel too hot,
//! a coat too late) is taken and cautioned, not refused.

use jiff::{SignedDuration, Timestamp};
use lamella_calc::advice::limits::default_ceiling_c;
use lamella_calc::air::dew_point;
use lamella_calc::caution::{COMMON_PRACTICE, Caution, CautionCode, Severity};
use lamella_calc::cure::{CureInput, MISSED_RECOAT_WINDOW, MilestoneKind, time_cure};
use lamella_calc::error::CalcError;
use lamella_calc::gauge::Substrate;
use lamella_calc::violation::Checks;

use crate::check::quote;
use crate::gate::Situation;
use crate::record::{BayAir, CoatLayer, DueMilestone, Entry, Pass, Record};
use crate::refusal::{Refusal, Unmet};
use crate::stage::Stage;
use crate::vehicle::Finish;

/// The record as it will be kept: milestones, dew point and cautions filled in.
///
/// # Errors
/// [`Refusal::Deleted`], [`Refusal::Closed`] (a job that is over takes only
/// notes), [`Refusal::Invalid`] with every value out of range and every panel
/// that the vehicle does not have, [`Refusal::Unmet`] for a part that is off
/// already or not off.
pub fn append(situation: &Situation<'_>, mut record: Record) -> Result<Record, Refusal> {
    let job = situation.job;
    if job.delete_time.is_some() {
        return Err(Refusal::Deleted {
            name: format!("jobs/{}", job.id),
        });
    }
    if job.stage.is_closed() && !matches!(record.entry, Entry::Note(_)) {
        return Err(Refusal::Closed { stage: job.stage });
    }
    let mut checks = Checks::new();
    record.check(situation.now, &mut checks, "record");
    known_panels(situation, &record.entry, &mut checks);
    let at = record.record_time;
    let cautions = match &mut record.entry {
        Entry::CoatLayer(coat) => coat_layer(situation, coat, at, &mut checks)?,
        Entry::BayAir(air) => bay_air(air, &mut checks)?,
        Entry::FilmPiece(film) => {
            film.settled_time = film.settle_hours.map(|hours| after(at, hours));
            Vec::new()
        }
        Entry::Pass(pass) => pass_cautions(situation, pass),
        Entry::GaugeReadings(_)
        | Entry::Mix(_)
        | Entry::Labour(_)
        | Entry::PartOff(_)
        | Entry::PartRefit(_)
        | Entry::Note(_) => Vec::new(),
    };
    checks.finish()?;
    let unmet = parts(situation, &record.entry);
    if !unmet.is_empty() {
        return Err(Refusal::Unmet {
            what: format!("this {}", record.entry.field()),
            unmet,
        });
    }
    record.cautions = cautions;
    Ok(record)
}

/// What to look out for when a job enters a stage.
pub(crate) fn stage_cautions(situation: &Situation<'_>, to: Stage) -> Vec<Caution> {
    match to {
        Stage::Assessed => situation
            .panels_in_scope()
            .into_iter()
            .filter(|panel| panel.finish != Finish::Unpainted)
            .filter(|panel| matches!(panel.substrate, Substrate::Composite | Substrate::Plastic))
            .map(|panel| Caution {
                code: CautionCode::ThicknessUnknown,
                severity: Severity::Warning,
                text: format!(
                    "Panel {} can only be read by an ultrasonic gauge. Without a reading the \
                     clear coat there is unknown, which caps how far correction may go.",
                    panel.id
                ),
                basis: "ISO 2808 family of methods (from memory)",
            })
            .collect(),
        Stage::Cancelled => situation
            .parts_off()
            .into_iter()
            .map(|part| Caution {
                code: CautionCode::PartOff,
                severity: Severity::Warning,
                text: format!(
                    "Part {} is still off the car; it is kept at {}. Refit it before the car leaves.",
                    part.part, part.kept_at
                ),
                basis: COMMON_PRACTICE,
            })
            .collect(),
        Stage::HandedOver => aftercare(situation),
        Stage::Booked
        | Stage::Received
        | Stage::Approved
        | Stage::InWork
        | Stage::Curing
        | Stage::Ready => Vec::new(),
    }
}

/// What the customer must still wait with.
fn aftercare(situation: &Situation<'_>) -> Vec<Caution> {
    let coats = situation
        .records
        .iter()
        .filter_map(|record| match &record.entry {
            Entry::CoatLayer(coat) => Some(coat),
            Entry::GaugeReadings(_)
            | Entry::Pass(_)
            | Entry::Mix(_)
            | Entry::FilmPiece(_)
            | Entry::BayAir(_)
            | Entry::Labour(_)
            | Entry::PartOff(_)
            | Entry::PartRefit(_)
            | Entry::Note(_) => None,
        });
    let mut cautions = Vec::new();
    for coat in coats {
        for milestone in &coat.milestones {
            let wait = match milestone.kind {
                MilestoneKind::Wash => "must not be washed",
                MilestoneKind::FullCure => "is not fully cured, keep chemicals off it,",
                MilestoneKind::WipeOpen
                | MilestoneKind::WipeClose
                | MilestoneKind::RecoatOpen
                | MilestoneKind::RecoatClose
                | MilestoneKind::Dry => continue,
            };
            if let Some(due) = milestone.due_time.filter(|due| *due > situation.now) {
                cautions.push(Caution {
                    code: CautionCode::CureWindowOpen,
                    severity: Severity::Caution,
                    text: format!(
                        "{} on {} {wait} before {due:.0}.",
                        coat.coating.name,
                        coat.panels.join(", ")
                    ),
                    basis: "the product's own data, scaled for panel temperature",
                });
            }
        }
    }
    cautions.extend(first_days(situation));
    cautions
}

/// How to treat what is new on the car. The maker's instructions come first.
fn first_days(situation: &Situation<'_>) -> Vec<Caution> {
    let has = |wanted: fn(&Entry) -> bool| situation.records.iter().any(|r| wanted(&r.entry));
    let caution = |code: CautionCode, text: &str| Caution {
        code,
        severity: Severity::Info,
        text: text.to_owned(),
        basis: COMMON_PRACTICE,
    };
    let mut cautions = Vec::new();
    if has(|entry| matches!(entry, Entry::CoatLayer(_))) {
        cautions.push(caution(
            CautionCode::AftercareCoating,
            "The coating maker's care instructions come first. Until it is fully cured take off \
             bird droppings, insects and hard water soon, with plenty of water and without \
             rubbing, and put no wax, polish or solvent on it.",
        ));
    }
    if has(|entry| matches!(entry, Entry::FilmPiece(_))) {
        cautions.push(caution(
            CautionCode::AftercareFilm,
            "The film maker's care instructions come first. Small bubbles and haze of water may \
             take weeks to dry out; do not press or lift them. Keep pressure washers away from \
             the edges.",
        ));
    }
    cautions
}

fn known_panels(situation: &Situation<'_>, entry: &Entry, checks: &mut Checks) {
    for (field, panel) in entry.panels() {
        known_panel(situation, panel, format!("record.{field}"), checks);
    }
}

/// Notes a panel that the job's vehicle does not have.
pub(crate) fn known_panel(
    situation: &Situation<'_>,
    panel: &str,
    field: impl Into<String>,
    checks: &mut Checks,
) {
    let known = situation
        .vehicle
        .is_some_and(|vehicle| vehicle.panel(panel).is_some());
    checks.require(known, field, || match situation.vehicle {
        Some(vehicle) => format!(
            "{} is not a panel of vehicles/{}; it has: {}",
            quote(panel),
            vehicle.id,
            vehicle.panel_list()
        ),
        None => {
            "names a panel, but the job names no vehicle; set the job's `vehicle` first".to_owned()
        }
    });
}

fn coat_layer(
    situation: &Situation<'_>,
    coat: &mut CoatLayer,
    at: Timestamp,
    checks: &mut Checks,
) -> Result<Vec<Caution>, Refusal> {
    let input = CureInput::held(coat.coating.clone(), coat.panel_c, coat.air);
    let timed = match time_cure(&input) {
        Ok(timed) => timed,
        Err(CalcError::Invalid(violations)) => {
            checks.take(violations.below("record.coat_layer"));
            return Ok(Vec::new());
        }
        Err(error @ CalcError::Infeasible { .. }) => return Err(error.into()),
    };
    coat.milestones = timed
        .milestones
        .into_iter()
        .map(|milestone| DueMilestone {
            kind: milestone.kind,
            after_hours: milestone.after_hours,
            due_time: Some(after(at, milestone.after_hours)),
        })
        .collect();
    let mut cautions = timed.cautions;
    cautions.extend(recoat_cautions(situation, coat, at));
    Ok(cautions)
}

/// Whether this layer came inside the recoat window of the newest layer below
/// it, panel by panel.
fn recoat_cautions(situation: &Situation<'_>, coat: &CoatLayer, at: Timestamp) -> Vec<Caution> {
    let mut cautions = Vec::new();
    for panel in &coat.panels {
        let below = situation
            .records
            .iter()
            .rev()
            .find_map(|record| match &record.entry {
                Entry::CoatLayer(below) if below.panels.contains(panel) => Some(below),
                Entry::CoatLayer(_)
                | Entry::GaugeReadings(_)
                | Entry::Pass(_)
                | Entry::Mix(_)
                | Entry::FilmPiece(_)
                | Entry::BayAir(_)
                | Entry::Labour(_)
                | Entry::PartOff(_)
                | Entry::PartRefit(_)
                | Entry::Note(_) => None,
            });
        let due = |kind: MilestoneKind| {
            below?
                .milestones
                .iter()
                .find(|milestone| milestone.kind == kind)?
                .due_time
        };
        let early = due(MilestoneKind::RecoatOpen).filter(|open| at < *open);
        let late = due(MilestoneKind::RecoatClose).filter(|close| at > *close);
        let missed = match (early, late) {
            (Some(open), _) => format!("the layer below could be recoated from {open:.0} on"),
            (None, Some(close)) => format!("the layer below had to be recoated by {close:.0}"),
            (None, None) => continue,
        };
        cautions.push(Caution {
            code: CautionCode::RecoatWindowMissed,
            severity: Severity::Warning,
            text: format!("Panel {panel}: {missed}. {MISSED_RECOAT_WINDOW}"),
            basis: COMMON_PRACTICE,
        });
    }
    cautions
}

fn bay_air(bay: &mut BayAir, checks: &mut Checks) -> Result<Vec<Caution>, Refusal> {
    match dew_point(&bay.air, bay.panel_c) {
        Ok(found) => {
            bay.dew_point_c = Some(found.dew_point_c);
            Ok(found.cautions)
        }
        Err(CalcError::Invalid(violations)) => {
            // The panel temperature was checked before, under its own name.
            for violation in violations.iter().filter(|found| found.field != "panel_c") {
                let field = format!("record.bay_air.air.{}", violation.field);
                checks.require(false, field, || violation.message.clone());
            }
            Ok(Vec::new())
        }
        Err(error @ CalcError::Infeasible { .. }) => Err(error.into()),
    }
}

fn pass_cautions(situation: &Situation<'_>, pass: &Pass) -> Vec<Caution> {
    let Some(panel) = situation
        .vehicle
        .and_then(|vehicle| vehicle.panel(&pass.panel))
    else {
        return Vec::new();
    };
    let mut cautions = Vec::new();
    if panel.finish == Finish::Matt {
        cautions.push(Caution {
            code: CautionCode::FinishMatt,
            severity: Severity::Stop,
            text: format!(
                "Panel {} is matt: polishing makes it shine, for good.",
                panel.id
            ),
            basis: COMMON_PRACTICE,
        });
    }
    let ceiling_c = default_ceiling_c(panel.substrate, false);
    if let Some(panel_c) = pass.panel_c.filter(|panel_c| *panel_c >= ceiling_c) {
        cautions.push(Caution {
            code: CautionCode::PanelHot,
            severity: Severity::Stop,
            text: format!(
                "Panel {} reached {panel_c:.1} C ({:.1} F); the usual ceiling here is {ceiling_c:.1} C \
                 ({:.1} F). Let it cool before anything else.",
                panel.id,
                fahrenheit(panel_c),
                fahrenheit(ceiling_c)
            ),
            basis: COMMON_PRACTICE,
        });
    }
    if !pass.override_reason.trim().is_empty() {
        cautions.push(Caution {
            code: CautionCode::StopOverridden,
            severity: Severity::Warning,
            text: "A stop rule was passed over on purpose; the reason is on record.".to_owned(),
            basis: COMMON_PRACTICE,
        });
    }
    cautions
}

/// A part comes off once, and goes on only when it is off.
fn parts(situation: &Situation<'_>, entry: &Entry) -> Vec<Unmet> {
    let off = situation.parts_off();
    let unmet = match entry {
        Entry::PartOff(part) => off
            .iter()
            .find(|other| other.part == part.part)
            .map(|other| Unmet {
                code: "PART_ALREADY_OFF",
                subject: format!("parts/{}", part.part),
                description: format!(
                    "part `{}` is off already, kept at `{}`",
                    other.part, other.kept_at
                ),
            }),
        Entry::PartRefit(part) if off.iter().all(|other| other.part != part.part) => {
            let names: Vec<&str> = off.iter().map(|other| other.part.as_str()).collect();
            let names = if names.is_empty() {
                "none".to_owned()
            } else {
                names.join(", ")
            };
            Some(Unmet {
                code: "PART_NOT_OFF",
                subject: format!("parts/{}", part.part),
                description: format!(
                    "part {} is not off the car; off are: {names}",
                    quote(&part.part)
                ),
            })
        }
        Entry::PartRefit(_)
        | Entry::GaugeReadings(_)
        | Entry::Pass(_)
        | Entry::Mix(_)
        | Entry::FilmPiece(_)
        | Entry::CoatLayer(_)
        | Entry::BayAir(_)
        | Entry::Labour(_)
        | Entry::Note(_) => None,
    };
    unmet.into_iter().collect()
}

/// `hours` after `at`. More hours than a duration holds end with the calendar: a
/// cure that never ends must not read as one that is over.
fn after(at: Timestamp, hours: f64) -> Timestamp {
    let span = SignedDuration::try_from_secs_f64(hours * 3600.0).unwrap_or(SignedDuration::MAX);
    at.saturating_add(span).unwrap_or(Timestamp::MAX)
}

fn fahrenheit(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_beyond_the_calendar_end_with_it() {
        let at: Timestamp = "2026-03-02T09:15:00Z".parse().unwrap();
        assert_eq!(after(at, 24.0), "2026-03-03T09:15:00Z".parse().unwrap());
        for never in [1e9, 1e300, f64::INFINITY, f64::NAN] {
            assert_eq!(after(at, never), Timestamp::MAX, "{never}");
        }
    }
}
