//! In what two quotes differ, field by field, in words that a person reads.

use jiff::Timestamp;
use lamella_proto::v1;

/// Every field of price and inputs in which two quotes differ; none when they come
/// to the same for the same reasons. Lines go together by code and description,
/// whatever their place. Names, times, fuel and cautions of the quotes are left out:
/// those are about the act of quoting.
pub(crate) fn differences(before: &v1::Quote, after: &v1::Quote) -> Vec<v1::QuoteDifference> {
    let mut found = Found(Vec::new());
    found.field("plugin", &before.plugin, &after.plugin);
    let version = |quote: &v1::Quote| quote.plugin_version.clone().unwrap_or_default();
    let (old, new) = (version(before), version(after));
    found.field("plugin_version.version", &old.version, &new.version);
    found.field("plugin_version.sha256", &old.sha256, &new.sha256);
    let inputs = |quote: &v1::Quote| quote.inputs.clone().unwrap_or_default();
    let (old, new) = (inputs(before), inputs(after));
    found.inputs(&old, &new);
    let digits = |inputs: &v1::QuoteInputs| inputs.money.as_ref().map_or(0, |m| m.minor_digits);
    found.price((before, digits(&old)), (after, digits(&new)));
    found.0
}

/// Whether two quotes come to the same: every line, tax and total.
pub(crate) fn same_price(one: &v1::Quote, other: &v1::Quote) -> bool {
    one.lines == other.lines
        && one.taxes == other.taxes
        && one.net_total == other.net_total
        && one.tax_total == other.tax_total
        && one.gross_total == other.gross_total
}

struct Found(Vec<v1::QuoteDifference>);

/// A field's name, and what it holds.
type Field<T, V = String> = (&'static str, fn(&T) -> V);

/// One entry of a list, ready to be compared.
struct Item {
    /// What stands between the brackets.
    place: String,
    /// What it goes together by.
    key: String,
    /// All of it in few words, for one that the other list lacks.
    whole: String,
    fields: Vec<(&'static str, String)>,
}

impl Found {
    fn field(&mut self, field: &str, before: &str, after: &str) {
        if before != after {
            self.0.push(v1::QuoteDifference {
                field: field.to_owned(),
                before: before.to_owned(),
                after: after.to_owned(),
            });
        }
    }

    /// Compares entries of the same key; each goes together with one other at most.
    fn list(&mut self, path: &str, before: Vec<Item>, after: Vec<Item>) {
        let mut rest: Vec<Option<Item>> = after.into_iter().map(Some).collect();
        for item in before {
            let at = format!("{path}[{}]", item.place);
            let same = |other: &&mut Option<Item>| {
                other.as_ref().is_some_and(|other| other.key == item.key)
            };
            match rest.iter_mut().find(same).and_then(Option::take) {
                None => self.field(&at, &item.whole, ""),
                Some(other) => {
                    for ((name, before), (_, after)) in item.fields.iter().zip(&other.fields) {
                        self.field(&format!("{at}.{name}"), before, after);
                    }
                }
            }
        }
        for item in rest.into_iter().flatten() {
            self.field(&format!("{path}[{}]", item.place), "", &item.whole);
        }
    }

    fn inputs(&mut self, before: &v1::QuoteInputs, after: &v1::QuoteInputs) {
        let texts: [Field<v1::QuoteInputs>; 6] = [
            ("job_id", |inputs| inputs.job_id.clone()),
            ("job_display_name", |inputs| inputs.job_display_name.clone()),
            ("booked_time", |inputs| instant(inputs.booked_time.as_ref())),
            ("promise_time", |inputs| {
                instant(inputs.promise_time.as_ref())
            }),
            ("arrival_condition", |inputs| {
                inputs.arrival_condition.clone()
            }),
            ("wishes", |inputs| inputs.wishes.clone()),
        ];
        for (name, text) in texts {
            self.field(&format!("inputs.{name}"), &text(before), &text(after));
        }
        self.list("inputs.services", services(before), services(after));
        self.list("inputs.panels", panels(before), panels(after));
        self.list("inputs.measures", measures(before), measures(after));
        self.list("inputs.settings", settings(before), settings(after));
        let (old, new) = (
            before.money.clone().unwrap_or_default(),
            after.money.clone().unwrap_or_default(),
        );
        let money: [Field<v1::MoneyRules>; 4] = [
            ("currency_code", |rules| rules.currency_code.clone()),
            ("minor_digits", |rules| rules.minor_digits.to_string()),
            ("rounding", |rules| {
                rules.rounding().as_str_name().to_owned()
            }),
            ("tax_basis", |rules| {
                rules.tax_basis().as_str_name().to_owned()
            }),
        ];
        for (name, text) in money {
            self.field(&format!("inputs.money.{name}"), &text(&old), &text(&new));
        }
        self.list("inputs.money.tax_classes", classes(&old), classes(&new));
    }

    /// Lines, taxes, totals and notes, each with the digits of its currency.
    fn price(&mut self, (before, old): (&v1::Quote, i32), (after, new): (&v1::Quote, i32)) {
        let seen = self.0.len();
        self.list("lines", lines(before, old), lines(after, new));
        if self.0.len() == seen {
            // Nothing but the order can differ now.
            let order = |quote: &v1::Quote| {
                let codes: Vec<&str> = quote.lines.iter().map(|line| line.code.as_str()).collect();
                codes.join(", ")
            };
            self.field("lines", &order(before), &order(after));
        }
        self.list("taxes", taxes(before, old), taxes(after, new));
        let totals: [Field<v1::Quote, Option<v1::Money>>; 3] = [
            ("net_total", |quote| quote.net_total.clone()),
            ("tax_total", |quote| quote.tax_total.clone()),
            ("gross_total", |quote| quote.gross_total.clone()),
        ];
        for (name, total) in totals {
            let before = money(total(before).as_ref(), old);
            let after = money(total(after).as_ref(), new);
            self.field(name, &before, &after);
        }
        self.list("notes", notes(before), notes(after));
    }
}

fn services(inputs: &v1::QuoteInputs) -> Vec<Item> {
    let items = inputs.services.iter().map(|service| Item {
        place: service.code.clone(),
        key: service.code.clone(),
        whole: format!("{} on {}", service.description, where_on(service)),
        fields: vec![
            ("description", service.description.clone()),
            ("panels", where_on(service)),
        ],
    });
    items.collect()
}

fn where_on(service: &v1::Service) -> String {
    if service.panels.is_empty() {
        "the whole car".to_owned()
    } else {
        service.panels.join(", ")
    }
}

fn panels(inputs: &v1::QuoteInputs) -> Vec<Item> {
    let items = inputs.panels.iter().map(|panel| {
        let area = panel.area_m2.map(|m2| format!("{m2} m2"));
        let fields = vec![
            ("display_name", panel.display_name.clone()),
            ("substrate", panel.substrate().as_str_name().to_owned()),
            ("finish", panel.finish().as_str_name().to_owned()),
            ("area_m2", area.unwrap_or_default()),
            ("condition", panel.condition().as_str_name().to_owned()),
        ];
        Item {
            place: panel.panel_id.clone(),
            key: panel.panel_id.clone(),
            whole: in_few_words(&fields),
            fields,
        }
    });
    items.collect()
}

fn measures(inputs: &v1::QuoteInputs) -> Vec<Item> {
    let items = inputs.measures.iter().map(|measure| {
        let quantity = quantity(measure.quantity_thousandths, &measure.unit);
        Item {
            place: format!("{}:{}", measure.kind, measure.item),
            key: format!("{}:{}", measure.kind, measure.item),
            whole: quantity.clone(),
            fields: vec![("quantity", quantity)],
        }
    });
    items.collect()
}

fn settings(inputs: &v1::QuoteInputs) -> Vec<Item> {
    let items = inputs.settings.iter().map(|setting| Item {
        place: setting.key.clone(),
        key: setting.key.clone(),
        whole: setting.value.clone(),
        fields: vec![("value", setting.value.clone())],
    });
    items.collect()
}

fn classes(rules: &v1::MoneyRules) -> Vec<Item> {
    let items = rules.tax_classes.iter().map(|class| Item {
        place: class.name.clone(),
        key: class.name.clone(),
        whole: percent(class.rate_ppm),
        fields: vec![("rate", percent(class.rate_ppm))],
    });
    items.collect()
}

fn lines(quote: &v1::Quote, digits: i32) -> Vec<Item> {
    let items = quote.lines.iter().enumerate().map(|(index, line)| {
        let quantity = quantity(line.quantity_thousandths, &line.unit);
        let amount = money(line.amount.as_ref(), digits);
        Item {
            place: index.to_string(),
            key: format!("{}\n{}", line.code, line.description),
            whole: format!("{}: {}, {quantity}, {amount}", line.code, line.description),
            fields: vec![
                ("quantity", quantity),
                ("unit_price", money(line.unit_price.as_ref(), digits)),
                ("amount", amount),
                ("tax_class", line.tax_class.clone()),
                ("reason", line.reason.clone()),
            ],
        }
    });
    items.collect()
}

fn taxes(quote: &v1::Quote, digits: i32) -> Vec<Item> {
    let items = quote.taxes.iter().map(|tax| {
        let fields = vec![
            ("rate", percent(tax.rate_ppm)),
            ("net", money(tax.net.as_ref(), digits)),
            ("tax", money(tax.tax.as_ref(), digits)),
        ];
        Item {
            place: tax.tax_class.clone(),
            key: tax.tax_class.clone(),
            whole: in_few_words(&fields),
            fields,
        }
    });
    items.collect()
}

fn notes(quote: &v1::Quote) -> Vec<Item> {
    let items = quote.notes.iter().enumerate().map(|(index, note)| Item {
        place: index.to_string(),
        key: note.clone(),
        whole: note.clone(),
        fields: Vec::new(),
    });
    items.collect()
}

fn in_few_words(fields: &[(&'static str, String)]) -> String {
    let said = fields.iter().filter(|(_, text)| !text.is_empty());
    let words: Vec<&str> = said.map(|(_, text)| text.as_str()).collect();
    words.join(", ")
}

fn instant(time: Option<&prost_types::Timestamp>) -> String {
    let instant = time.and_then(|time| Timestamp::new(time.seconds, time.nanos).ok());
    instant
        .map(|instant| instant.to_string())
        .unwrap_or_default()
}

/// 1500 thousandths of "h" as "1.5 h".
pub(crate) fn quantity(thousandths: i64, unit: &str) -> String {
    format!("{} {unit}", decimal(thousandths, 3).normalize())
}

/// 190000 millionths as "19 %".
pub(crate) fn percent(ppm: i64) -> String {
    format!("{} %", decimal(ppm, 4).normalize())
}

/// 1234 cents as "12.34 EUR".
pub(crate) fn money(money: Option<&v1::Money>, digits: i32) -> String {
    let Some(money) = money else {
        return String::new();
    };
    let amount = decimal(money.minor_units, u32::try_from(digits).unwrap_or(0));
    format!("{amount} {}", money.currency_code)
}

/// A whole number with its point moved; 28 digits are the most that there are.
fn decimal(value: i64, places: u32) -> rust_decimal::Decimal {
    rust_decimal::Decimal::new(value, places.min(28))
}

#[cfg(test)]
#[path = "differences_tests.rs"]
mod tests;
