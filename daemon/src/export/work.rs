//! Rows of jobs, stage changes, labour, mixes, film and coatings.
//!
//! Measured quantities are rounded to the decimals of their column, halves away
//! from zero; hours are computed in decimal and rounded in the same way.

use lamella_export::table::{Cell, Column, MONEY_SCALE, date, decimal, integer, text, timestamp};
use lamella_proto::v1::{self, job_event::Change, record::Entry};
use rust_decimal::Decimal;

use super::cells::{instant, joined, money, stage, timestamp as moment};
use super::dataset::{Row, Span};
use super::error::ExportFailed;
use crate::ledger::Happening;

/// Decimals of measured quantities: thousandths.
const THOUSANDTHS: u8 = 3;
/// Decimals of an area in square metres: square millimetres.
const AREA: u8 = 6;

pub(super) const JOBS: &[Column] = &[
    text("job"),
    text("job_name"),
    text("vehicle"),
    text("stage"),
    text("services"),
    timestamp("promise_time"),
    timestamp("approve_time"),
    integer("approved_minor"),
    decimal("approved", MONEY_SCALE),
    text("currency"),
    timestamp("create_time"),
    timestamp("delete_time"),
    timestamp("first_time"),
];

pub(super) const STAGE_CHANGES: &[Column] = &[
    date("day"),
    timestamp("time"),
    text("job"),
    text("job_name"),
    text("from_stage"),
    text("to_stage"),
    text("note"),
    integer("sequence"),
];

pub(super) const LABOUR: &[Column] = &[
    date("day"),
    timestamp("time"),
    text("job"),
    text("job_name"),
    text("worker"),
    text("activity"),
    timestamp("from_time"),
    timestamp("to_time"),
    decimal("hours", THOUSANDTHS),
    text("author"),
    text("record"),
    integer("sequence"),
];

pub(super) const MIXES: &[Column] = &[
    date("day"),
    timestamp("time"),
    text("job"),
    text("job_name"),
    text("product"),
    text("lot"),
    decimal("concentrate_ml", THOUSANDTHS),
    decimal("diluent_ml", THOUSANDTHS),
    decimal("strength_percent", THOUSANDTHS),
    text("panels"),
    text("author"),
    text("record"),
    integer("sequence"),
];

pub(super) const FILM: &[Column] = &[
    date("day"),
    timestamp("time"),
    text("job"),
    text("job_name"),
    text("panel"),
    text("film"),
    text("roll"),
    text("lot"),
    decimal("width_mm", THOUSANDTHS),
    decimal("length_mm", THOUSANDTHS),
    decimal("area_m2", AREA),
    timestamp("settled_time"),
    text("author"),
    text("record"),
    integer("sequence"),
];

pub(super) const COATINGS: &[Column] = &[
    date("day"),
    timestamp("time"),
    text("job"),
    text("job_name"),
    text("panels"),
    text("product"),
    integer("layer"),
    text("lot"),
    decimal("panel_c", THOUSANDTHS),
    decimal("air_c", THOUSANDTHS),
    decimal("relative_humidity_percent", THOUSANDTHS),
    timestamp("dry_time"),
    timestamp("wash_time"),
    timestamp("full_cure_time"),
    text("author"),
    text("record"),
    integer("sequence"),
];

/// A job's row, at the first thing that happened to it.
pub(super) fn job(at: &Happening, span: &mut Span<'_>) -> Result<Option<Row>, ExportFailed> {
    if !span.listed.insert(at.event.job.clone()) {
        return Ok(None);
    }
    let job = span.job(&at.event.job)?;
    let approval = job.approval.as_ref();
    let approved = approval.and_then(|approval| approval.amount.as_ref());
    let [minor, amount] = money(approved);
    Ok(Some(vec![
        Cell::text(&at.event.job),
        Cell::text(&job.display_name),
        Cell::text(&job.vehicle),
        stage(job.stage()),
        joined(job.services.iter().map(|service| service.code.as_str())),
        instant(job.promise_time.as_ref()),
        instant(approval.and_then(|approval| approval.approve_time.as_ref())),
        minor,
        amount,
        Cell::text(approved.map_or("", |money| money.currency_code.as_str())),
        instant(job.create_time.as_ref()),
        instant(job.delete_time.as_ref()),
        Cell::Timestamp(at.at),
    ]))
}

/// A job's step from stage to stage; its creation is the step to its first.
pub(super) fn stage_change(
    at: &Happening,
    span: &mut Span<'_>,
) -> Result<Option<Row>, ExportFailed> {
    let cells = match &at.event.change {
        Some(Change::Created(job)) => [Cell::Empty, stage(job.stage()), Cell::Empty],
        Some(Change::StageChanged(moved)) => [
            stage(moved.from_stage()),
            stage(moved.to_stage()),
            Cell::text(&moved.note),
        ],
        Some(
            Change::Updated(_)
            | Change::Recorded(_)
            | Change::Deleted(_)
            | Change::Undeleted(_)
            | Change::Quoted(_)
            | Change::QuoteAccepted(_)
            | Change::Photographed(_)
            | Change::PhotoDeleted(_),
        )
        | None => return Ok(None),
    };
    let mut row = span.lead(at)?;
    row.extend(cells);
    row.push(Cell::Integer(at.event.sequence));
    Ok(Some(row))
}

/// Time worked.
pub(super) fn labour(at: &Happening, span: &mut Span<'_>) -> Result<Option<Row>, ExportFailed> {
    let Some((record, Entry::Labour(labour))) = recorded(at) else {
        return Ok(None);
    };
    let (from, to) = (labour.from_time.as_ref(), labour.to_time.as_ref());
    let hours = moment(from).zip(moment(to)).and_then(|(from, to)| {
        let nanos = i64::try_from(to.duration_since(from).as_nanos()).ok()?;
        Decimal::new(nanos, 9).checked_div(Decimal::from(3600))
    });
    let mut row = span.lead(at)?;
    row.extend([
        Cell::text(&labour.worker),
        Cell::text(&labour.activity),
        instant(from),
        instant(to),
        hours.map_or(Cell::Empty, |hours| Cell::rounded(hours, THOUSANDTHS)),
    ]);
    Ok(Some(signed(row, record, at)))
}

/// A liquid mixed.
pub(super) fn mix(at: &Happening, span: &mut Span<'_>) -> Result<Option<Row>, ExportFailed> {
    let Some((record, Entry::Mix(mix))) = recorded(at) else {
        return Ok(None);
    };
    let mut row = span.lead(at)?;
    row.extend([
        Cell::text(&mix.product),
        Cell::text(&mix.lot),
        Cell::measured(mix.concentrate_ml, THOUSANDTHS),
        Cell::measured(mix.diluent_ml, THOUSANDTHS),
        Cell::measured(mix.strength_percent, THOUSANDTHS),
        joined(mix.panels.iter().map(String::as_str)),
    ]);
    Ok(Some(signed(row, record, at)))
}

/// A piece of film.
pub(super) fn film(at: &Happening, span: &mut Span<'_>) -> Result<Option<Row>, ExportFailed> {
    let Some((record, Entry::FilmPiece(film))) = recorded(at) else {
        return Ok(None);
    };
    let decimal = |mm: Option<f64>| mm.and_then(|mm| Decimal::try_from(mm).ok());
    let area = decimal(film.width_mm)
        .zip(decimal(film.length_mm))
        .and_then(|(width, length)| {
            width
                .checked_mul(length)?
                .checked_div(Decimal::from(1_000_000))
        });
    let mut row = span.lead(at)?;
    row.extend([
        Cell::text(&film.panel),
        Cell::text(&film.film),
        Cell::text(&film.roll),
        Cell::text(&film.lot),
        Cell::measured(film.width_mm, THOUSANDTHS),
        Cell::measured(film.length_mm, THOUSANDTHS),
        area.map_or(Cell::Empty, |area| Cell::rounded(area, AREA)),
        instant(film.settled_time.as_ref()),
    ]);
    Ok(Some(signed(row, record, at)))
}

/// A coat.
pub(super) fn coating(at: &Happening, span: &mut Span<'_>) -> Result<Option<Row>, ExportFailed> {
    let Some((record, Entry::CoatLayer(coat))) = recorded(at) else {
        return Ok(None);
    };
    let due = |kind: v1::CureMilestoneKind| {
        let milestone = coat.milestones.iter().find(|m| m.kind() == kind);
        instant(milestone.and_then(|milestone| milestone.due_time.as_ref()))
    };
    let product = coat
        .coating
        .as_ref()
        .map_or("", |coating| coating.product.as_str());
    let mut row = span.lead(at)?;
    row.extend([
        joined(coat.panels.iter().map(String::as_str)),
        Cell::text(product),
        Cell::Integer(i64::from(coat.layer)),
        Cell::text(&coat.lot),
        Cell::measured(coat.panel_c, THOUSANDTHS),
        Cell::measured(coat.air.as_ref().and_then(|air| air.air_c), THOUSANDTHS),
        Cell::measured(
            coat.air
                .as_ref()
                .and_then(|air| air.relative_humidity_percent),
            THOUSANDTHS,
        ),
        due(v1::CureMilestoneKind::Dry),
        due(v1::CureMilestoneKind::Wash),
        due(v1::CureMilestoneKind::FullCure),
    ]);
    Ok(Some(signed(row, record, at)))
}

/// The record of an event that is one.
fn recorded(at: &Happening) -> Option<(&v1::Record, &Entry)> {
    match &at.event.change {
        Some(Change::Recorded(record)) => Some((record, record.entry.as_ref()?)),
        Some(
            Change::Created(_)
            | Change::Updated(_)
            | Change::StageChanged(_)
            | Change::Deleted(_)
            | Change::Undeleted(_)
            | Change::Quoted(_)
            | Change::QuoteAccepted(_)
            | Change::Photographed(_)
            | Change::PhotoDeleted(_),
        )
        | None => None,
    }
}

/// The row with how every record's ends: author, record, sequence number.
fn signed(mut row: Row, record: &v1::Record, at: &Happening) -> Row {
    row.extend([
        Cell::text(&record.author),
        Cell::text(&record.name),
        Cell::Integer(at.event.sequence),
    ]);
    row
}
