//! What can be wrong with a quote.

/// One thing wrong with a quote or with the rules it was made under. Amounts are in
/// the currency's minor unit; `place` is the path of the field within the quote.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuoteFault {
    /// The currency is not in ISO 4217.
    #[error("rules.currency `{currency}` is not an ISO 4217 code")]
    UnknownCurrency {
        /// What it says.
        currency: String,
    },
    /// The currency has another number of minor digits.
    #[error("rules.minor_digits {found} is not the {expected} that ISO 4217 gives {currency}")]
    MinorDigits {
        /// The currency.
        currency: String,
        /// What ISO 4217 has.
        expected: u8,
        /// What the rules have.
        found: u8,
    },
    /// The rules name a tax class twice.
    #[error("rules.tax_classes has `{tax_class}` twice")]
    RepeatedClass {
        /// The class.
        tax_class: String,
    },
    /// The quote has no lines.
    #[error("lines is empty; a plugin with nothing to charge refuses instead")]
    NoLines,
    /// A text that a customer or the shop needs is empty.
    #[error("{place} is empty")]
    EmptyText {
        /// The field.
        place: String,
    },
    /// A quantity is below zero; a discount has a price below zero instead.
    #[error("{place} {found} is below 0; a discount has a negative unit price")]
    NegativeQuantity {
        /// The field.
        place: String,
        /// What it says, thousandths.
        found: i64,
    },
    /// A line or a tax names a class that the rules do not have.
    #[error("{place} `{tax_class}` is not a tax class of this shop")]
    UnknownClass {
        /// The field.
        place: String,
        /// The class.
        tax_class: String,
    },
    /// The taxes have two entries for one class.
    #[error("{place} has `{tax_class}` for the second time")]
    RepeatedTax {
        /// The field.
        place: String,
        /// The class.
        tax_class: String,
    },
    /// The taxes lack a class that a line uses.
    #[error("taxes has no entry for `{tax_class}`, which a line uses")]
    MissingTax {
        /// The class.
        tax_class: String,
    },
    /// The taxes have a class that no line uses.
    #[error("{place} `{tax_class}` is used by no line")]
    UnusedTax {
        /// The field.
        place: String,
        /// The class.
        tax_class: String,
    },
    /// An amount is not what the arithmetic gives.
    #[error("{place} is {found}, expected {expected}")]
    WrongAmount {
        /// The field.
        place: String,
        /// What the arithmetic gives.
        expected: i64,
        /// What the plugin says.
        found: i64,
    },
    /// An amount is too large for 64 bits.
    #[error("{place} does not fit 64 bits: it would be {expected}")]
    Overflow {
        /// The field.
        place: String,
        /// What the arithmetic gives.
        expected: i128,
    },
    /// The customer would be paid.
    #[error("{place} {found} is below 0")]
    NegativeTotal {
        /// The field.
        place: String,
        /// What it says.
        found: i64,
    },
}
