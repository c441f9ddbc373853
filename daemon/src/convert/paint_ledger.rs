//! The paint ledger.

use lamella_calc::advice::limits::DEFAULT_FLOOR_UM;
use lamella_calc::error::CalcError;
use lamella_calc::paint::{Compared, PanelEvent, ReadStanding, TraceStep, trace};
use lamella_calc::violation::Checks;
use lamella_jobs::check;
use lamella_proto::v1::{self, paint_ledger_entry::Entry};

use super::calc::paint::{
    clear_to_pb, count, gauge_from_pb, gauge_to_pb, removal_verdict_to_pb, uncertainty_to_pb,
};
use super::{caution, names, time, vehicle};
use crate::ledger::{Origin, Page, PaintQuery, PanelLedger};

/// Most entries of one panel in an answer.
const MOST_ENTRIES: usize = 200;

pub(crate) fn query_from_pb(
    request: &v1::ListPaintLedgerRequest,
    checks: &mut Checks,
) -> PaintQuery {
    let panel = (!request.panel.is_empty()).then(|| request.panel.clone());
    if let Some(panel) = &panel {
        check::id(checks, "panel", panel);
    }
    let query = PaintQuery {
        vehicle: names::id(&request.name, "vehicles", "name", checks),
        panel,
        gauge: request
            .gauge
            .as_ref()
            .map(|gauge| gauge_from_pb(gauge, checks)),
        floor_um: request.floor_um,
    };
    // The ranges of gauge and floor, checked by the calculator on a history without events.
    match trace(&query.terms()) {
        Ok(_) => {}
        Err(CalcError::Invalid(violations)) => checks.take(violations),
        Err(CalcError::Infeasible { field, message, .. }) => {
            checks.require(false, field, || message);
        }
    }
    query
}

pub(crate) fn page_to_pb(
    page: &Page<PanelLedger>,
    query: &PaintQuery,
) -> v1::ListPaintLedgerResponse {
    v1::ListPaintLedgerResponse {
        panels: page.items.iter().map(panel_to_pb).collect(),
        next_page_token: page.next_page_token.clone(),
        gauge: Some(gauge_to_pb(&query.gauge.clone().unwrap_or_default())),
        floor_um: query.floor_um.unwrap_or(DEFAULT_FLOOR_UM),
        model: trace::MODEL.to_owned(),
    }
}

fn panel_to_pb(ledger: &PanelLedger) -> v1::PaintLedgerPanel {
    let trace = &ledger.trace;
    let mut entries: Vec<v1::PaintLedgerEntry> = Vec::new();
    for (index, ((event, origin), step)) in ledger.events.iter().zip(&trace.steps).enumerate() {
        entries.extend(step_to_pb(event, step, origin).map(|entry| dated(entry, origin)));
        let compared = trace
            .compared
            .iter()
            .filter(|compared| compared.after_event == index);
        entries.extend(compared.map(|compared| {
            let before = ledger
                .events
                .get(compared.before_event)
                .map(|(_, origin)| origin);
            let entry = Entry::Compared(compared_to_pb(compared, before));
            v1::PaintLedgerEntry {
                record: String::new(),
                ..dated(entry, origin)
            }
        }));
    }
    let older_entries = count(entries.len().saturating_sub(MOST_ENTRIES));
    entries.reverse();
    entries.truncate(MOST_ENTRIES);
    v1::PaintLedgerPanel {
        panel: ledger.panel.id.clone(),
        substrate: vehicle::substrate_to_pb(ledger.panel.substrate).into(),
        finish: vehicle::finish_to_pb(ledger.panel.finish).into(),
        entries,
        older_entries,
        left: trace.left.as_ref().map(clear_to_pb),
        governing_spot: trace.governing_spot.clone().unwrap_or_default(),
        budget_um: trace.budget_um,
        removed_um: trace.removed_um.map(|(removed_um, _)| removed_um),
        removed_standard_um: trace.removed_um.map(|(_, standard_um)| standard_um),
        cautions: caution::all_to_pb(&trace.cautions),
    }
}

fn dated(entry: Entry, origin: &Origin) -> v1::PaintLedgerEntry {
    v1::PaintLedgerEntry {
        entry_time: Some(time::to_pb(origin.time)),
        job: names::job(&origin.job),
        record: origin
            .record
            .as_ref()
            .map(|record| names::record(&origin.job, record))
            .unwrap_or_default(),
        entry: Some(entry),
    }
}

/// A visit is no entry: its first record shows it.
fn step_to_pb(event: &PanelEvent, step: &TraceStep, origin: &Origin) -> Option<Entry> {
    match (event, step) {
        (
            PanelEvent::Read {
                spot,
                gauge,
                readings_um,
            },
            TraceStep::Read {
                mean_um,
                uncertainty,
                standing,
            },
        ) => Some(Entry::Measured(v1::PaintMeasured {
            spot: spot.clone(),
            gauge: gauge.clone(),
            count: count(readings_um.len()),
            mean_um: *mean_um,
            uncertainty: Some(uncertainty_to_pb(uncertainty)),
            standing: standing_to_pb(*standing).into(),
        })),
        (
            PanelEvent::Pass { .. },
            TraceStep::Pass {
                removal_um,
                standard_um,
                measured,
            },
        ) => Some(Entry::Passed(v1::PaintPassed {
            removal_um: *removal_um,
            standard_um: *standard_um,
            measured: *measured,
        })),
        (PanelEvent::Film, _) => Some(Entry::Filmed(v1::PaintFilmed {
            film: origin.film.clone(),
        })),
        (PanelEvent::Visit | PanelEvent::Read { .. } | PanelEvent::Pass { .. }, _) => None,
    }
}

fn compared_to_pb(compared: &Compared, before: Option<&Origin>) -> v1::PaintCompared {
    v1::PaintCompared {
        removal_um: compared.result.removal_um,
        uncertainty: Some(uncertainty_to_pb(&compared.result.uncertainty)),
        verdict: removal_verdict_to_pb(compared.result.verdict).into(),
        passes: count(compared.passes),
        before_time: before.map(|origin| time::to_pb(origin.time)),
    }
}

fn standing_to_pb(standing: ReadStanding) -> v1::ReadingStanding {
    match standing {
        ReadStanding::Counted => v1::ReadingStanding::Counted,
        ReadStanding::NotReadable => v1::ReadingStanding::NotReadable,
        ReadStanding::OverFilm => v1::ReadingStanding::OverFilm,
        ReadStanding::Unexplained => v1::ReadingStanding::Unexplained,
        ReadStanding::Unrecorded => v1::ReadingStanding::Unrecorded,
    }
}
