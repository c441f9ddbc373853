//! A quote as text: the price first, then what it is made of.

use std::fmt::Write as _;

use lamella_proto::v1;

use crate::money;
use crate::names::clean;
use crate::render::{job, plugin};
use crate::text::{self, View};

/// A quote in full; with `why`, the reason of each line below it.
pub(crate) fn full(quote: &v1::Quote, why: bool, view: &View) -> String {
    let inputs = quote.inputs.clone().unwrap_or_default();
    let price = sum(quote.gross_total.as_ref());
    let head = format!("{price}  {}", clean(&inputs.job_display_name));
    let mut out = format!("{}\n", text::strong(head.trim_end()));
    let mut line = |name: &str, value: &str| {
        if !value.is_empty() {
            let _ = writeln!(out, "{name:<9} {}", clean(value));
        }
    };
    let time = |time: Option<&prost_types::Timestamp>| time.map(|t| view.time(t));
    let stored = if quote.name.is_empty() {
        "not stored"
    } else {
        &quote.name
    };
    line("quote", stored);
    line("plugin", &made_by(quote));
    line(
        "made",
        &time(quote.create_time.as_ref()).unwrap_or_default(),
    );
    line(
        "accepted",
        &time(quote.accept_time.as_ref()).unwrap_or_default(),
    );
    for setting in &inputs.settings {
        line("setting", &format!("{} = {}", setting.key, setting.value));
    }
    out.push('\n');
    out.push_str(&lines(&quote.lines, why));
    out.push('\n');
    out.push_str(&totals(quote));
    for note in &quote.notes {
        let _ = writeln!(out, "note      {}", clean(note));
    }
    out + &text::cautions(&quote.cautions)
}

/// A page of quotes, one to a line.
pub(crate) fn list(page: &v1::ListQuotesResponse, view: &View) -> String {
    if page.quotes.is_empty() && page.next_page_token.is_empty() {
        return "no quotes\n".to_owned();
    }
    let prices = right(
        page.quotes
            .iter()
            .map(|quote| sum(quote.gross_total.as_ref())),
    );
    let rows: Vec<[String; 5]> = page
        .quotes
        .iter()
        .zip(prices)
        .map(|(quote, price)| {
            let time = |time: &prost_types::Timestamp| view.time(time);
            let accepted = quote.accept_time.as_ref();
            [
                clean(&quote.name),
                price,
                clean(&quote.plugin),
                quote.create_time.as_ref().map(time).unwrap_or_default(),
                accepted
                    .map(|at| format!("accepted {}", time(at)))
                    .unwrap_or_default(),
            ]
        })
        .collect();
    text::table(&rows) + &job::more(&page.next_page_token)
}

/// A quote that was accepted, and the job with its approval.
pub(crate) fn accepted(answer: &v1::AcceptQuoteResponse, view: &View) -> String {
    let quote = answer.quote.clone().unwrap_or_default();
    let mut out = format!(
        "accepted  {}, {}\n",
        clean(&quote.name),
        sum(quote.gross_total.as_ref())
    );
    if let Some(job) = &answer.job {
        out.push_str(&job::full(job, view));
    }
    out
}

/// What came of running a quote again.
pub(crate) fn rerun(answer: &v1::RerunQuoteResponse) -> String {
    let quote = answer.quote.clone().unwrap_or_default();
    let price = sum(quote.gross_total.as_ref());
    if answer.same {
        format!("{}  the same, line for line\n", text::strong(&price))
    } else {
        format!(
            "{}  not the same\n{}",
            text::strong(&price),
            differences(&answer.differences)
        )
    }
}

/// In what two quotes differ, one thing to a line.
pub(crate) fn differences(differences: &[v1::QuoteDifference]) -> String {
    if differences.is_empty() {
        return "no difference\n".to_owned();
    }
    let shown = |value: &str| {
        if value.is_empty() {
            "(nothing)".to_owned()
        } else {
            clean(value)
        }
    };
    let rows: Vec<[String; 3]> = differences
        .iter()
        .map(|difference| {
            [
                clean(&difference.field),
                shown(&difference.before),
                format!("-> {}", shown(&difference.after)),
            ]
        })
        .collect();
    text::table(&rows)
}

fn made_by(quote: &v1::Quote) -> String {
    let version = quote.plugin_version.as_ref().map(plugin::version);
    let parts = [quote.plugin.clone(), version.unwrap_or_default()];
    let parts: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    parts.join(", ")
}

/// The lines under a heading, figures to the right.
fn lines(lines: &[v1::QuoteLine], why: bool) -> String {
    let head = |text: &str| std::iter::once(text.to_owned());
    let quantities = lines.iter().map(quantity);
    let unit_prices = lines.iter().map(|line| sum(line.unit_price.as_ref()));
    let amounts = lines.iter().map(|line| sum(line.amount.as_ref()));
    let mut figures = right(head("quantity").chain(quantities))
        .zip(right(head("unit price").chain(unit_prices)))
        .zip(right(head("amount").chain(amounts)));
    let ((quantity, unit_price), amount) = figures.next().unwrap_or_default();
    let heading = ["code", "description"].map(str::to_owned);
    let [code, description] = heading;
    let mut rows = vec![[
        code,
        description,
        quantity,
        unit_price,
        amount,
        "tax".to_owned(),
    ]];
    rows.extend(lines.iter().zip(figures).map(|(line, figures)| {
        let ((quantity, unit_price), amount) = figures;
        [
            clean(&line.code),
            clean(&line.description),
            quantity,
            unit_price,
            amount,
            clean(&line.tax_class),
        ]
    }));
    let table = text::table(&rows);
    let mut shown = table.lines();
    let mut out = format!("{}\n", text::faint(shown.next().unwrap_or_default()));
    for (row, line) in shown.zip(lines) {
        let _ = writeln!(out, "{row}");
        if why && !line.reason.is_empty() {
            let _ = writeln!(out, "  {}", text::faint(&clean(&line.reason)));
        }
    }
    out
}

fn totals(quote: &v1::Quote) -> String {
    let taxes = quote.taxes.iter().map(|tax| {
        let what = format!(
            "tax, {} {} % of {}",
            clean(&tax.tax_class),
            decimal(tax.rate_ppm, 4),
            sum(tax.net.as_ref())
        );
        (what, sum(tax.tax.as_ref()))
    });
    let mut rows = vec![("net".to_owned(), sum(quote.net_total.as_ref()))];
    rows.extend(taxes);
    if quote.taxes.len() != 1 {
        rows.push(("tax".to_owned(), sum(quote.tax_total.as_ref())));
    }
    rows.push(("gross".to_owned(), sum(quote.gross_total.as_ref())));
    let figures = right(rows.iter().map(|(_, figure)| figure.clone()));
    let rows: Vec<[String; 2]> = rows
        .iter()
        .zip(figures)
        .map(|((what, _), figure)| [what.clone(), figure])
        .collect();
    text::table(&rows)
}

fn quantity(line: &v1::QuoteLine) -> String {
    let number = decimal(line.quantity_thousandths, 3);
    format!("{number} {}", clean(&line.unit))
        .trim_end()
        .to_owned()
}

fn sum(money: Option<&v1::Money>) -> String {
    money.map_or_else(|| "no amount".to_owned(), money::shown)
}

/// A whole number of small parts as a decimal, zeros at the end left out.
fn decimal(parts: i64, places: usize) -> String {
    let sign = if parts < 0 { "-" } else { "" };
    let digits = format!("{:0>width$}", parts.unsigned_abs(), width = places + 1);
    let (whole, fraction) = digits.split_at(digits.len() - places);
    let fraction = fraction.trim_end_matches('0');
    let point = if fraction.is_empty() { "" } else { "." };
    format!("{sign}{whole}{point}{fraction}")
}

/// Made equally wide, to the right.
fn right(cells: impl Iterator<Item = String>) -> impl Iterator<Item = String> {
    let cells: Vec<String> = cells.collect();
    let width = cells.iter().map(|c| c.chars().count()).max().unwrap_or(0);
    cells.into_iter().map(move |cell| format!("{cell:>width$}"))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::text::tests::{caution, plain, view};
    use crate::units::System;

    fn eur(minor_units: i64) -> Option<v1::Money> {
        Some(v1::Money {
            currency_code: "EUR".to_owned(),
            minor_units,
        })
    }

    /// A quote with everything set. 1772442900 is 2 March 2026, 10:15 in Berlin.
    pub(crate) fn example() -> v1::Quote {
        let line =
            |code: &str, description: &str, quantity, unit: &str, price, amount| v1::QuoteLine {
                code: code.to_owned(),
                description: description.to_owned(),
                quantity_thousandths: quantity,
                unit: unit.to_owned(),
                unit_price: eur(price),
                amount: eur(amount),
                tax_class: "standard".to_owned(),
                reason: format!("priced by the {unit}"),
            };
        v1::Quote {
            name: "jobs/blue-estate/quotes/1".to_owned(),
            plugin: "plugins/shop-prices".to_owned(),
            plugin_version: Some(v1::PluginVersion {
                name: "tiered-pricing".to_owned(),
                version: "1.0.0".to_owned(),
                sha256: "ab".repeat(32),
                ..Default::default()
            }),
            inputs: Some(v1::QuoteInputs {
                job_display_name: "Blue estate".to_owned(),
                settings: vec![v1::PluginSetting {
                    key: "per-hour".to_owned(),
                    value: "7200".to_owned(),
                }],
                ..Default::default()
            }),
            // 1.5 m2 at 97.50 is 146.25; 0.25 h at 72.00 is 18.00, less 164.25
            // in all at 19 %: 31.2075, 31.21.
            lines: vec![
                line("correct", "hood,\nmoderate", 1_500, "m2", 9_750, 14_625),
                line("labour", "masking", 250, "h", 7_200, 1_800),
            ],
            taxes: vec![v1::QuoteTax {
                tax_class: "standard".to_owned(),
                rate_ppm: 190_000,
                net: eur(16_425),
                tax: eur(3_121),
            }],
            net_total: eur(16_425),
            tax_total: eur(3_121),
            gross_total: eur(19_546),
            notes: vec!["polish is not charged".to_owned()],
            create_time: Some(prost_types::Timestamp {
                seconds: 1_772_442_900,
                nanos: 0,
            }),
            cautions: vec![caution(
                v1::Severity::Warning,
                "TAX_NOT_CONFIGURED",
                "No tax is configured.",
            )],
            ..Default::default()
        }
    }

    #[test]
    fn a_quote_in_full() {
        insta::assert_snapshot!(plain(&full(&example(), true, &view(System::Metric))), @"
        195.46 EUR  Blue estate
        quote     jobs/blue-estate/quotes/1
        plugin    plugins/shop-prices, tiered-pricing 1.0.0, sha256 abababababab
        made      Mon 2026-03-02 10:15
        setting   per-hour = 7200

        code     description     quantity  unit price      amount  tax
        correct  hood, moderate    1.5 m2   97.50 EUR  146.25 EUR  standard
          priced by the m2
        labour   masking           0.25 h   72.00 EUR   18.00 EUR  standard
          priced by the h

        net                               164.25 EUR
        tax, standard 19 % of 164.25 EUR   31.21 EUR
        gross                             195.46 EUR
        note      polish is not charged

        WARNING  No tax is configured.
                 [TAX_NOT_CONFIGURED] common practice, no source
        ");
        let dry = v1::Quote {
            name: String::new(),
            ..example()
        };
        let text = plain(&full(&dry, false, &view(System::Metric)));
        assert!(text.contains("quote     not stored\n"), "{text}");
        assert!(!text.contains("priced by"), "{text}");
    }

    #[test]
    fn a_list_of_quotes() {
        let page = v1::ListQuotesResponse {
            quotes: vec![
                example(),
                v1::Quote {
                    name: "jobs/blue-estate/quotes/2".to_owned(),
                    gross_total: eur(-5),
                    accept_time: example().create_time,
                    ..example()
                },
            ],
            next_page_token: "t".to_owned(),
        };
        insta::assert_snapshot!(plain(&list(&page, &view(System::Metric))), @"
        jobs/blue-estate/quotes/1  195.46 EUR  plugins/shop-prices  Mon 2026-03-02 10:15
        jobs/blue-estate/quotes/2   -0.05 EUR  plugins/shop-prices  Mon 2026-03-02 10:15  accepted Mon 2026-03-02 10:15
        more: --all, or --page-token t
        ");
    }

    #[test]
    fn what_differs() {
        let difference = |field: &str, before: &str, after: &str| v1::QuoteDifference {
            field: field.to_owned(),
            before: before.to_owned(),
            after: after.to_owned(),
        };
        let all = [
            difference("lines[1].amount", "18.00 EUR", "19.00 EUR"),
            difference("notes[0]", "", "by hand"),
        ];
        insta::assert_snapshot!(differences(&all), @"
        lines[1].amount  18.00 EUR  -> 19.00 EUR
        notes[0]         (nothing)  -> by hand
        ");
        assert_eq!(differences(&[]), "no difference\n");
    }

    #[test]
    fn decimals_without_floats() {
        for (parts, places, text) in [
            (1_500, 3, "1.5"),
            (-1, 3, "-0.001"),
            (2_000, 3, "2"),
            (0, 3, "0"),
            (190_000, 4, "19"),
            (88_750, 4, "8.875"),
            (i64::MIN, 3, "-9223372036854775.808"),
        ] {
            assert_eq!(decimal(parts, places), text);
        }
    }
}
