//! A quote in the making: the author gives lines with quantity and unit price; what
//! follows from them is worked out here, by the same rules that the shop checks:
//!
//! - `amount = round(quantity * unit_price / 1000)` for each line;
//! - the tax of a class on the sum of its lines, or on each line and then added up, as
//!   the shop's rules say;
//! - totals are the sums of what stands above them.

use crate::{
    Line, MoneyRules, PPM, Quote, Refusal, THOUSANDTHS, TaxBasis, TaxLine, divide_rounded,
};

/// The lines of a quote, and notes for the shop.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Draft {
    lines: Vec<DraftLine>,
    notes: Vec<String>,
}

/// One line in the making; see [`line()`](crate::line()).
#[derive(Debug, Clone, PartialEq)]
pub struct DraftLine {
    code: String,
    description: String,
    quantity: i64,
    unit: String,
    unit_price: i64,
    tax_class: Option<String>,
    reason: String,
}

/// A line: a code of the shop's own list, what it is for the customer, how much of it in
/// thousandths of the unit, the unit ("h", "m2", "pc"), and the price of one unit in
/// minor units before tax (below zero for a discount).
///
/// It is taxed in the first class of the shop's rules unless [`DraftLine::taxed`] says
/// otherwise.
pub fn line(
    code: impl Into<String>,
    description: impl Into<String>,
    quantity_thousandths: i64,
    unit: impl Into<String>,
    unit_price_minor: i64,
) -> DraftLine {
    DraftLine {
        code: code.into(),
        description: description.into(),
        quantity: quantity_thousandths,
        unit: unit.into(),
        unit_price: unit_price_minor,
        tax_class: None,
        reason: String::new(),
    }
}

impl DraftLine {
    /// Names its tax class.
    #[must_use]
    pub fn taxed(mut self, tax_class: impl Into<String>) -> Self {
        self.tax_class = Some(tax_class.into());
        self
    }

    /// Says why it is here and costs what it does, for the shop.
    #[must_use]
    pub fn because(mut self, reason: impl Into<String>) -> Self {
        self.reason = reason.into();
        self
    }

    /// Its amount before tax, minor units, rounded as the shop rounds; `None` where it
    /// does not fit 64 bits.
    #[must_use]
    pub fn amount_minor(&self, rules: &MoneyRules) -> Option<i64> {
        let thousandfold = i128::from(self.quantity) * i128::from(self.unit_price);
        i64::try_from(divide_rounded(thousandfold, THOUSANDTHS, rules.rounding)).ok()
    }
}

impl Draft {
    /// An empty one.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a line.
    pub fn push(&mut self, line: DraftLine) {
        self.lines.push(line);
    }

    /// Adds something to tell the shop.
    pub fn note(&mut self, note: impl Into<String>) {
        self.notes.push(note.into());
    }

    /// The lines so far.
    #[must_use]
    pub fn lines(&self) -> &[DraftLine] {
        &self.lines
    }

    /// Works out amounts, taxes and totals. The macros call this; a unit test of a rule
    /// may too.
    ///
    /// # Errors
    /// `Missing` where there is no line or no tax class; `NotCovered` where a line names a
    /// class that the rules lack, an amount does not fit 64 bits, or the net or gross total
    /// is below zero.
    pub fn finish(self, rules: &MoneyRules) -> Result<Quote, Refusal> {
        if self.lines.is_empty() {
            return Err(Refusal::Missing("anything to price".into()));
        }
        let mut lines = Vec::with_capacity(self.lines.len());
        let mut classes: Vec<ClassSum> = Vec::new();
        for (index, draft) in self.lines.into_iter().enumerate() {
            let amount = draft
                .amount_minor(rules)
                .ok_or_else(|| too_large(&format!("lines[{index}].amount")))?;
            let name = tax_class(&draft, rules)?;
            let at = classes.iter().position(|class| class.name == name);
            let at = at.unwrap_or_else(|| {
                classes.push(ClassSum::new(&name, rules));
                classes.len() - 1
            });
            classes[at].add(amount, rules);
            lines.push(Line {
                code: draft.code,
                description: draft.description,
                quantity: draft.quantity,
                unit: draft.unit,
                unit_price: draft.unit_price,
                amount,
                tax_class: name,
                reason: draft.reason,
            });
        }
        let taxes = classes
            .into_iter()
            .map(|class| class.finish(rules))
            .collect::<Result<Vec<_>, _>>()?;
        let net = lines.iter().map(|line| i128::from(line.amount)).sum();
        let tax = taxes.iter().map(|entry| i128::from(entry.tax)).sum();
        Ok(Quote {
            lines,
            taxes,
            net_total: payable(net, "net_total")?,
            tax_total: narrow(tax, "tax_total")?,
            gross_total: payable(net + tax, "gross_total")?,
            notes: self.notes,
        })
    }
}

/// What the lines of one class come to, minor units.
struct ClassSum {
    name: String,
    rate_ppm: u32,
    net: i128,
    tax_by_line: i128,
}

impl ClassSum {
    fn new(name: &str, rules: &MoneyRules) -> Self {
        let class = rules.tax_classes.iter().find(|class| class.name == name);
        Self {
            name: name.to_owned(),
            rate_ppm: class.map_or(0, |class| class.rate_ppm),
            net: 0,
            tax_by_line: 0,
        }
    }

    fn add(&mut self, amount: i64, rules: &MoneyRules) {
        self.net += i128::from(amount);
        self.tax_by_line += self.tax(amount.into(), rules);
    }

    fn tax(&self, net: i128, rules: &MoneyRules) -> i128 {
        // At most 2^32 lines of 2^63 at a rate below 2^32: that fits 127 bits.
        divide_rounded(net * i128::from(self.rate_ppm), PPM, rules.rounding)
    }

    fn finish(self, rules: &MoneyRules) -> Result<TaxLine, Refusal> {
        let tax = match rules.tax_basis {
            TaxBasis::Line => self.tax_by_line,
            TaxBasis::Class => self.tax(self.net, rules),
        };
        Ok(TaxLine {
            net: narrow(self.net, &format!("net of tax class `{}`", self.name))?,
            tax: narrow(tax, &format!("tax of tax class `{}`", self.name))?,
            tax_class: self.name,
        })
    }
}

fn tax_class(draft: &DraftLine, rules: &MoneyRules) -> Result<String, Refusal> {
    let Some(name) = &draft.tax_class else {
        let first = rules.tax_classes.first();
        return first
            .map(|class| class.name.clone())
            .ok_or_else(|| Refusal::Missing("a tax class in the shop's rules of money".into()));
    };
    if rules.tax_classes.iter().any(|class| class.name == *name) {
        Ok(name.clone())
    } else {
        Err(Refusal::NotCovered(format!(
            "tax class `{name}` of line `{}` is not among the shop's",
            draft.code
        )))
    }
}

/// Discounts may come to more than there is to pay: also by a cent of tax that each line
/// rounds away and the discount does not.
fn payable(amount: i128, place: &str) -> Result<i64, Refusal> {
    if amount < 0 {
        return Err(Refusal::NotCovered(format!(
            "{place} {amount} is below zero"
        )));
    }
    narrow(amount, place)
}

fn narrow(amount: i128, place: &str) -> Result<i64, Refusal> {
    i64::try_from(amount).map_err(|_| too_large(place))
}

fn too_large(place: &str) -> Refusal {
    Refusal::NotCovered(format!("{place} does not fit 64 bits"))
}

#[cfg(test)]
#[path = "draft_tests.rs"]
mod tests;
