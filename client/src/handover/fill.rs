//! From what the daemon answered to what the template is given.

use lamella_proto::v1;

use super::gather::Gathered;
use super::sheet::{Approval, Caution, Job, Quote, QuoteLine, QuoteTax, Service, Sheet, Vehicle};
use super::{Paper, paint, picture, timeline, work};
use crate::money;
use crate::names::clean;
use crate::render;
use crate::text::View;
use crate::units::number;

/// Version of the contract with templates.
const VERSION: u32 = 1;

/// The sheet. At most `most_photos` photos are shown.
pub(crate) fn sheet(
    all: &Gathered,
    shop: &str,
    paper: Paper,
    most_photos: usize,
    view: &View,
) -> Sheet {
    let (job, vehicle, records) = (&all.job, &all.vehicle, &all.records);
    let now = prost_types::Timestamp {
        seconds: view.now.as_second(),
        nanos: 0,
    };
    let draft = job.stage() != v1::Stage::HandedOver;
    Sheet {
        version: VERSION,
        paper: paper.css(),
        shop: shop.to_owned(),
        made: view.time(&now),
        draft: draft.then(|| render::job::stage(job.stage())),
        job: Job {
            name: clean(&job.name),
            display_name: clean(&job.display_name),
            stage: render::job::stage(job.stage()),
            customer: job
                .customer
                .as_ref()
                .map(|customer| clean(&customer.display_name))
                .unwrap_or_default(),
            received: moved(all, v1::Stage::Received, view),
            handed_over: moved(all, v1::Stage::HandedOver, view),
            promised: job
                .promise_time
                .as_ref()
                .map(|t| view.time(t))
                .unwrap_or_default(),
            arrival_condition: lines(&job.arrival_condition),
            wishes: lines(&job.wishes),
        },
        vehicle: Vehicle {
            name: clean(&vehicle.name),
            display_name: clean(&vehicle.display_name),
            registration: clean(&vehicle.registration),
            color: clean(&vehicle.color),
        },
        services: job
            .services
            .iter()
            .map(|service| Service {
                code: clean(&service.code),
                description: clean(&service.description),
                panels: work::panel_names(vehicle, &service.panels, ""),
            })
            .collect(),
        approval: job.approval.as_ref().map(|approval| Approval {
            by: clean(&approval.approved_by),
            when: approval
                .approve_time
                .as_ref()
                .map(|t| view.time(t))
                .unwrap_or_default(),
            amount: approval
                .amount
                .as_ref()
                .map(money::shown)
                .unwrap_or_default(),
            note: clean(&approval.note),
        }),
        quote: all.quote.as_ref().map(quote),
        panels: paint::panels(all, view),
        gauge: all
            .after
            .gauge
            .as_ref()
            .map(|gauge| {
                format!(
                    "limit of error {} + {} % of the reading, step {}",
                    view.units.thickness(gauge.limit_um.unwrap_or_default()),
                    number(gauge.limit_percent.unwrap_or_default()),
                    view.units
                        .thickness(gauge.resolution_um.unwrap_or_default()),
                )
            })
            .unwrap_or_default(),
        passes: work::passes(records, vehicle, view),
        film: work::film(records, vehicle, view),
        coats: work::coats(records, vehicle, view),
        mixes: work::mixes(records, vehicle, view),
        products: work::products(records),
        parts: work::parts(records, view),
        timeline: timeline::timeline(records, vehicle, view),
        photos: picture::photos(&all.photos, vehicle, most_photos, view),
        aftercare: cautions(all.aftercare.iter().filter(|c| !in_timeline(c))),
        cautions: cautions(while_working(all)),
    }
}

/// Said by the timeline, in the shop's own time.
fn in_timeline(caution: &v1::Caution) -> bool {
    caution.code == "CURE_WINDOW_OPEN"
}

/// What was cautioned while the work was done.
fn while_working(all: &Gathered) -> impl Iterator<Item = &v1::Caution> {
    let records = all.records.iter().flat_map(|record| &record.cautions);
    let judged = [&all.after, &all.before]
        .into_iter()
        .flat_map(|assessed| &assessed.panels)
        .filter(|panel| panel.mean_um.is_some())
        .flat_map(|panel| &panel.cautions);
    let compared = all
        .removals
        .iter()
        .filter_map(|(_, removal)| removal.as_ref().ok())
        .flat_map(|removal| &removal.cautions);
    let ledger = all.ledger.iter().flat_map(|panel| &panel.cautions);
    records.chain(judged).chain(compared).chain(ledger)
}

/// Each once, the gravest first.
fn cautions<'a>(all: impl Iterator<Item = &'a v1::Caution>) -> Vec<Caution> {
    let mut sorted: Vec<&v1::Caution> = all.collect();
    sorted.sort_by_key(|caution| std::cmp::Reverse(caution.severity));
    let mut told: Vec<Caution> = Vec::new();
    for caution in sorted {
        let caution = Caution {
            code: clean(&caution.code),
            severity: match caution.severity() {
                v1::Severity::Unspecified | v1::Severity::Info => "info",
                v1::Severity::Caution => "caution",
                v1::Severity::Warning => "warning",
                v1::Severity::Stop => "stop",
            },
            text: clean(&caution.text),
            basis: clean(&caution.basis),
        };
        if !told.contains(&caution) {
            told.push(caution);
        }
    }
    told
}

/// When the job last came to a stage.
fn moved(all: &Gathered, to: v1::Stage, view: &View) -> String {
    let found = all
        .moves
        .iter()
        .rev()
        .find(|(_, moved)| moved.to_stage() == to);
    found.map(|(when, _)| view.time(when)).unwrap_or_default()
}

fn quote(quote: &v1::Quote) -> Quote {
    let money = |money: &Option<v1::Money>| money.as_ref().map(money::shown).unwrap_or_default();
    Quote {
        name: clean(&quote.name),
        lines: quote
            .lines
            .iter()
            .map(|line| QuoteLine {
                description: clean(&line.description),
                quantity: format!(
                    "{} {}",
                    thousandths(line.quantity_thousandths),
                    clean(&line.unit)
                ),
                amount: money(&line.amount),
            })
            .collect(),
        net: money(&quote.net_total),
        taxes: quote
            .taxes
            .iter()
            .map(|tax| QuoteTax {
                what: format!(
                    "{} {} %",
                    clean(&tax.tax_class),
                    thousandths(tax.rate_ppm / 10)
                ),
                amount: money(&tax.tax),
            })
            .collect(),
        gross: money(&quote.gross_total),
    }
}

/// Thousandths as a decimal number, without zeros at its end.
fn thousandths(value: i64) -> String {
    let sign = if value < 0 { "-" } else { "" };
    let (whole, rest) = (value.unsigned_abs() / 1_000, value.unsigned_abs() % 1_000);
    let text = format!("{sign}{whole}.{rest:03}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Text of several lines, safe to print.
fn lines(text: &str) -> String {
    text.lines().map(clean).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousandths_are_written_exactly() {
        for (value, text) in [
            (1_500, "1.5"),
            (1_000, "1"),
            (0, "0"),
            (-20, "-0.02"),
            (19_000, "19"),
            (7_700, "7.7"),
        ] {
            assert_eq!(thousandths(value), text);
        }
    }

    #[test]
    fn a_caution_is_told_once_and_the_gravest_first() {
        let caution = |code: &str, severity: v1::Severity| v1::Caution {
            code: code.to_owned(),
            severity: severity.into(),
            ..Default::default()
        };
        let all = [
            caution("A", v1::Severity::Info),
            caution("B", v1::Severity::Stop),
            caution("A", v1::Severity::Info),
        ];
        let told: Vec<String> = cautions(all.iter()).into_iter().map(|c| c.code).collect();
        assert_eq!(told, ["B", "A"]);
    }
}
