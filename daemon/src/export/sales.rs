//! Rows of quotes, takings and the journal.
//!
//! A job counts as taken when it is handed over. Its price is its accepted quote,
//! while the approval still says that quote's amount; else what was approved by
//! hand, of which no tax is known. A job deleted after its hand-over is taken back
//! when it is deleted, and taken again when the deletion is.

use lamella_export::books::{Amount, Line, Sale, Share, Side};
use lamella_export::table::{Cell, Column, MONEY_SCALE, date, decimal, integer, text, timestamp};
use lamella_proto::v1::{self, job_event::Change};

use super::cells::{decimals, instant, money};
use super::dataset::{Row, Span};
use super::error::ExportFailed;
use crate::ledger::Happening;

pub(super) const QUOTES: &[Column] = &[
    date("day"),
    timestamp("time"),
    text("job"),
    text("job_name"),
    text("event"),
    text("quote"),
    text("plugin"),
    text("plugin_version"),
    integer("lines"),
    integer("net_minor"),
    decimal("net", MONEY_SCALE),
    integer("tax_minor"),
    decimal("tax", MONEY_SCALE),
    integer("gross_minor"),
    decimal("gross", MONEY_SCALE),
    text("currency"),
    integer("sequence"),
];

pub(super) const TAKINGS: &[Column] = &[
    date("day"),
    timestamp("time"),
    text("job"),
    text("job_name"),
    text("event"),
    text("basis"),
    text("quote"),
    timestamp("approve_time"),
    integer("net_minor"),
    decimal("net", MONEY_SCALE),
    integer("tax_minor"),
    decimal("tax", MONEY_SCALE),
    integer("gross_minor"),
    decimal("gross", MONEY_SCALE),
    text("currency"),
    integer("sequence"),
];

pub(super) const JOURNAL: &[Column] = &[
    date("day"),
    timestamp("time"),
    integer("entry"),
    integer("line"),
    text("account"),
    text("tax_class"),
    integer("debit_minor"),
    decimal("debit", MONEY_SCALE),
    integer("credit_minor"),
    decimal("credit", MONEY_SCALE),
    text("currency"),
    text("job"),
    text("job_name"),
    text("event"),
    text("quote"),
];

/// A quote that was made or accepted.
pub(super) fn quote(at: &Happening, span: &mut Span<'_>) -> Result<Option<Row>, ExportFailed> {
    let (event, quote) = match &at.event.change {
        Some(Change::Quoted(quote)) => ("made", quote),
        Some(Change::QuoteAccepted(v1::QuoteAccepted {
            quote: Some(quote), ..
        })) => ("accepted", quote),
        Some(
            Change::Created(_)
            | Change::Updated(_)
            | Change::StageChanged(_)
            | Change::Recorded(_)
            | Change::Deleted(_)
            | Change::Undeleted(_)
            | Change::QuoteAccepted(_)
            | Change::Photographed(_)
            | Change::PhotoDeleted(_),
        )
        | None => return Ok(None),
    };
    let version = quote.plugin_version.as_ref();
    let mut row = span.lead(at)?;
    row.extend([
        Cell::text(event),
        Cell::text(&quote.name),
        Cell::text(&quote.plugin),
        Cell::text(version.map_or("", |version| version.version.as_str())),
        Cell::Integer(i64::try_from(quote.lines.len()).unwrap_or(i64::MAX)),
    ]);
    row.extend(money(quote.net_total.as_ref()));
    row.extend(money(quote.tax_total.as_ref()));
    row.extend(money(quote.gross_total.as_ref()));
    row.push(currency(quote.gross_total.as_ref()));
    row.push(Cell::Integer(at.event.sequence));
    Ok(Some(row))
}

/// What was taken, or taken back.
pub(super) fn taking(at: &Happening, span: &mut Span<'_>) -> Result<Option<Row>, ExportFailed> {
    let Some(taking) = Taking::of(at, span)? else {
        return Ok(None);
    };
    let quote = taking.quote.as_ref();
    let signed = |amount: Option<&v1::Money>| money(taking.signed(amount).as_ref());
    let mut row = span.lead(at)?;
    row.extend([
        Cell::text(taking.event()),
        Cell::text(if quote.is_some() { "quote" } else { "approval" }),
        Cell::text(quote.map_or("", |quote| quote.name.as_str())),
        instant(taking.approval.approve_time.as_ref()),
    ]);
    row.extend(signed(quote.and_then(|quote| quote.net_total.as_ref())));
    row.extend(signed(quote.and_then(|quote| quote.tax_total.as_ref())));
    row.extend(signed(Some(&taking.gross)));
    row.push(currency(Some(&taking.gross)));
    row.push(Cell::Integer(at.event.sequence));
    Ok(Some(row))
}

/// The lines of the entry that a taking makes; its number is the event's.
pub(super) fn journal(at: &Happening, span: &mut Span<'_>) -> Result<Vec<Row>, ExportFailed> {
    let Some(taking) = Taking::of(at, span)? else {
        return Ok(Vec::new());
    };
    let lines = taking.sale(&at.event.job).entry()?;
    let lead = span.lead(at)?;
    let quote = taking.quote.as_ref();
    let mut rows = Vec::with_capacity(lines.len());
    for (number, line) in (1..).zip(&lines) {
        span.totals.add(line);
        let [day, time, job, job_name] = lead.as_slice() else {
            continue;
        };
        let mut row = vec![
            day.clone(),
            time.clone(),
            Cell::Integer(at.event.sequence),
            Cell::Integer(number),
            Cell::text(line.account.as_str()),
            Cell::text(&line.tax_class),
        ];
        row.extend(sides(line));
        row.extend([
            Cell::text(&line.currency),
            job.clone(),
            job_name.clone(),
            Cell::text(taking.event()),
            Cell::text(quote.map_or("", |quote| quote.name.as_str())),
        ]);
        rows.push(row);
    }
    Ok(rows)
}

/// A sale, or its reversal, with what it rests on.
struct Taking {
    reversal: bool,
    approval: v1::Approval,
    /// The accepted quote, while the approval says its amount.
    quote: Option<v1::Quote>,
    gross: v1::Money,
}

impl Taking {
    /// The taking that an event makes; none where it makes none or has no price.
    fn of(at: &Happening, span: &Span<'_>) -> Result<Option<Self>, ExportFailed> {
        let handed_over = |job: &v1::Job| job.stage() == v1::Stage::HandedOver;
        let (job, reversal) = match &at.event.change {
            Some(Change::StageChanged(v1::StageChanged { job: Some(job), .. }))
                if handed_over(job) =>
            {
                (job, false)
            }
            Some(Change::Deleted(job)) if handed_over(job) => (job, true),
            Some(Change::Undeleted(job)) if handed_over(job) => (job, false),
            Some(
                Change::Created(_)
                | Change::Updated(_)
                | Change::StageChanged(_)
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
        let Some(approval) = job.approval.clone() else {
            return Ok(None);
        };
        let accepted = span
            .quote(&approval.quote)?
            .filter(|quote| approval.amount.is_none() || approval.amount == quote.gross_total);
        let by_quote = accepted
            .as_ref()
            .and_then(|quote| quote.gross_total.clone());
        Ok(by_quote
            .or_else(|| approval.amount.clone())
            .map(|gross| Self {
                reversal,
                approval,
                quote: accepted,
                gross,
            }))
    }

    fn event(&self) -> &'static str {
        if self.reversal {
            "deleted after hand-over"
        } else {
            "handed over"
        }
    }

    /// The amount, negative when it is taken back.
    fn signed(&self, amount: Option<&v1::Money>) -> Option<v1::Money> {
        let mut amount = amount?.clone();
        if self.reversal {
            amount.minor_units = amount.minor_units.checked_neg()?;
        }
        Some(amount)
    }

    fn sale(&self, job: &str) -> Sale {
        let shares = self.quote.as_ref().map(|quote| {
            let share = |tax: &v1::QuoteTax| Share {
                tax_class: tax.tax_class.clone(),
                net: amount(tax.net.as_ref(), &self.gross),
                tax: amount(tax.tax.as_ref(), &self.gross),
            };
            quote.taxes.iter().map(share).collect()
        });
        Sale {
            what: job.to_owned(),
            gross: amount(Some(&self.gross), &self.gross),
            shares,
            reversal: self.reversal,
        }
    }
}

/// An amount for the books; where none is given it is zero, in the currency of
/// the whole.
fn amount(money: Option<&v1::Money>, whole: &v1::Money) -> Amount {
    Amount {
        minor_units: money.map_or(0, |money| money.minor_units),
        currency: money.unwrap_or(whole).currency_code.clone(),
    }
}

/// Debit and credit of a line, one of them empty.
fn sides(line: &Line) -> Vec<Cell> {
    let [minor, amount] = Cell::money(line.minor_units, decimals(&line.currency));
    match line.side {
        Side::Debit => vec![minor, amount, Cell::Empty, Cell::Empty],
        Side::Credit => vec![Cell::Empty, Cell::Empty, minor, amount],
    }
}

fn currency(money: Option<&v1::Money>) -> Cell {
    Cell::text(money.map_or("", |money| money.currency_code.as_str()))
}
