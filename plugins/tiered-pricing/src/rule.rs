//! The rule itself. What is not covered and what is missing is gathered over the whole
//! job before it is refused.

use crate::prices::Prices;
use lamella_plugin_sdk::{
    Condition, Draft, DraftLine, Measure, Panel, PricingRequest, Refusal, Rounding, Service,
    THOUSANDTHS, divide_rounded, line,
};

/// The lines for a job.
///
/// # Errors
/// `BadSetting`, `NotCovered` or `Missing`, the first of these that there is any of.
pub(crate) fn apply(request: &PricingRequest, prices: &Prices<'_>) -> Result<Draft, Refusal> {
    let mut work = Work {
        request,
        prices,
        draft: Draft::new(),
        nets: Vec::new(),
        bad: Vec::new(),
        not_covered: Vec::new(),
        missing: Vec::new(),
    };
    for service in &request.job.services {
        work.service(service);
    }
    for measure in &request.measures {
        work.measure(measure);
    }
    work.discount();
    for (faults, refusal) in [
        (work.bad, Refusal::BadSetting as fn(String) -> Refusal),
        (work.not_covered, Refusal::NotCovered),
        (work.missing, Refusal::Missing),
    ] {
        if !faults.is_empty() {
            return Err(refusal(faults.join("; ")));
        }
    }
    Ok(work.draft)
}

struct Work<'a> {
    request: &'a PricingRequest,
    prices: &'a Prices<'a>,
    draft: Draft,
    /// What the lines of each tax class come to, minor units, in order of use.
    nets: Vec<(&'a str, i128)>,
    bad: Vec<String>,
    not_covered: Vec<String>,
    missing: Vec<String>,
}

/// How a service is priced.
enum Own {
    /// By the square metre: small, medium, large.
    BySize([u32; 3]),
    Each(u32),
    /// It has no price: its hours are charged.
    ByLabour,
    Contradictory(&'static str),
}

impl<'a> Work<'a> {
    fn service(&mut self, service: &Service) {
        let code = &service.code;
        match self.own_price(code) {
            Own::BySize(per_m2) => self.by_size(service, per_m2),
            Own::Each(each) => self.push(
                self.prices.work_class,
                line(
                    code,
                    or(&service.description, code),
                    1_000,
                    "pc",
                    each.into(),
                )
                .because("a price of its own"),
            ),
            Own::ByLabour => {
                let mut measures = self.request.measures.iter();
                if measures.any(|measure| {
                    measure.kind == "labour" && measure.item == *code && measure.quantity > 0
                }) {
                    self.draft
                        .note(format!("service `{code}` is priced by its hours"));
                } else {
                    once(
                        &mut self.missing,
                        format!("labour hours of service `{code}`"),
                    );
                }
            }
            Own::Contradictory(what) => once(&mut self.bad, format!("service `{code}` {what}")),
        }
    }

    fn own_price(&self, code: &str) -> Own {
        let sizes = ["small-per-m2", "medium-per-m2", "large-per-m2"];
        let sizes = sizes.map(|name| self.prices.own(name, code));
        match (sizes, self.prices.own("each", code)) {
            ([Some(small), Some(medium), Some(large)], None) => Own::BySize([small, medium, large]),
            ([None, None, None], Some(each)) => Own::Each(each),
            ([None, None, None], None) => Own::ByLabour,
            (_, Some(_)) => Own::Contradictory("has a price each and a price by size"),
            (_, None) => Own::Contradictory("has prices for some sizes only"),
        }
    }

    fn by_size(&mut self, service: &Service, per_m2: [u32; 3]) {
        let on_car = &self.request.job.panels;
        if service.panels.is_empty() && on_car.is_empty() {
            once(
                &mut self.missing,
                format!("panels for service `{}`", service.code),
            );
        }
        if service.panels.is_empty() {
            for panel in on_car {
                self.panel(service, panel, per_m2);
            }
        }
        for id in &service.panels {
            match on_car.iter().find(|panel| panel.id == *id) {
                Some(panel) => self.panel(service, panel, per_m2),
                None => once(
                    &mut self.missing,
                    format!("panel `{id}` of service `{}` on the vehicle", service.code),
                ),
            }
        }
    }

    fn panel(&mut self, service: &Service, panel: &Panel, per_m2: [u32; 3]) {
        let Panel { id, condition, .. } = panel;
        let condition = condition_name(*condition);
        let per_mille = self
            .prices
            .find(&format!("{condition}-per-mille"), &service.code);
        if per_mille.is_none() && panel.condition == Condition::Unknown {
            once(&mut self.missing, format!("condition of panel `{id}`"));
        } else if per_mille.is_none() {
            let fault = format!("panel `{id}` in {condition} condition: there is no multiplier");
            once(&mut self.not_covered, fault);
        }
        let area_cm2 = panel.area_cm2.filter(|area| *area > 0);
        if area_cm2.is_none() {
            once(&mut self.missing, format!("area of panel `{id}`"));
        }
        let (Some(per_mille), Some(area_cm2)) = (per_mille, area_cm2) else {
            return;
        };
        let (small, medium) = self.prices.limits_cm2();
        let (size, per_m2) = match area_cm2 {
            _ if area_cm2 <= small => ("small", per_m2[0]),
            _ if area_cm2 <= medium => ("medium", per_m2[1]),
            _ => ("large", per_m2[2]),
        };
        let price = i128::from(per_m2) * i128::from(per_mille);
        let price = divide_rounded(price, THOUSANDTHS, self.request.money.rounding);
        // Ten square centimetres are a thousandth of a square metre.
        let quantity = divide_rounded(area_cm2.into(), 10, Rounding::HalfUp);
        let description = or(&service.description, &service.code);
        let description = format!("{description}, {}", or(&panel.name, id));
        self.push(
            self.prices.work_class,
            line(
                &service.code,
                description,
                small_enough(quantity),
                "m2",
                small_enough(price),
            )
            .because(format!(
                "{size} panel, {area_cm2} cm2, {condition}: \
                     {per_m2} for 1 m2 at {per_mille} per mille"
            )),
        );
    }

    fn measure(&mut self, measure: &Measure) {
        let Measure {
            kind,
            item,
            quantity,
            unit,
        } = measure;
        if *quantity < 0 {
            once(
                &mut self.not_covered,
                format!("{kind} `{item}`: its quantity is below zero"),
            );
            return;
        }
        match (kind.as_str(), unit.as_str()) {
            ("film", "m") => self.by_quantity(measure, *quantity, "m", "film-per-m"),
            ("chemical", "ml") => {
                let litres = divide_rounded((*quantity).into(), THOUSANDTHS, Rounding::HalfUp);
                self.by_quantity(measure, small_enough(litres), "l", "chemical-per-l");
            }
            ("labour", "h") if matches!(self.own_price(item), Own::ByLabour) => {
                self.by_quantity(measure, *quantity, "h", "labour-per-h");
            }
            ("labour", "h") => self.draft.note(format!(
                "labour `{item}` is in the price of the service: {quantity} thousandths of an hour"
            )),
            _ => once(
                &mut self.not_covered,
                format!("{kind} `{item}`: there is no price by the `{unit}`"),
            ),
        }
    }

    fn by_quantity(&mut self, measure: &Measure, quantity: i64, unit: &str, name: &str) {
        let Measure { kind, item, .. } = measure;
        let Some(price) = self.prices.find(name, item) else {
            once(
                &mut self.not_covered,
                format!("{kind} `{item}`: `{name}` is not set"),
            );
            return;
        };
        // What comes to less than half a thousandth is not worth a line.
        if quantity == 0 {
            return;
        }
        let (class, what) = match kind.as_str() {
            "labour" => (self.prices.work_class, "Labour"),
            "film" => (self.prices.material_class, "Film"),
            _ => (self.prices.material_class, "Liquid"),
        };
        self.push(
            class,
            line(
                kind,
                format!("{what}, {}", or(item, "any")),
                quantity,
                unit,
                price.into(),
            )
            .because(format!("{price} for 1 {unit}")),
        );
    }

    fn discount(&mut self) {
        let per_mille = self.prices.discount_per_mille();
        for (class, net) in std::mem::take(&mut self.nets) {
            let off = net * i128::from(per_mille);
            let off = divide_rounded(off, THOUSANDTHS, self.request.money.rounding);
            // A net that does not fit is refused when the draft is added up.
            if off > 0 && i64::try_from(net).is_ok() {
                self.draft.push(
                    line("discount", "Discount", 1_000, "pc", -small_enough(off))
                        .taxed(class)
                        .because(format!("{per_mille} per mille of {net}")),
                );
            }
        }
    }

    fn push(&mut self, class: &'a str, line: DraftLine) {
        // A line that does not fit is refused when the draft is added up.
        let amount = line.amount_minor(&self.request.money).unwrap_or(i64::MAX);
        match self.nets.iter_mut().find(|(name, _)| *name == class) {
            Some((_, net)) => *net += i128::from(amount),
            None => self.nets.push((class, amount.into())),
        }
        self.draft.push(line.taxed(class));
    }
}

/// Notes a fault that may be met again on the next panel or service.
fn once(faults: &mut Vec<String>, fault: String) {
    if !faults.contains(&fault) {
        faults.push(fault);
    }
}

fn or<'a>(text: &'a str, instead: &'a str) -> &'a str {
    if text.trim().is_empty() {
        instead
    } else {
        text
    }
}

/// All figures that come here are far below 2^63.
fn small_enough(value: i128) -> i64 {
    i64::try_from(value).unwrap_or(i64::MAX)
}

fn condition_name(condition: Condition) -> &'static str {
    match condition {
        Condition::Unknown => "unknown",
        Condition::Good => "good",
        Condition::Light => "light",
        Condition::Moderate => "moderate",
        Condition::Severe => "severe",
    }
}

#[cfg(test)]
#[path = "rule_tests.rs"]
mod tests;
