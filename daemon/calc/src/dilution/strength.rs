//! How strong a liquid is, and how that was understood.

use super::label::{self, Meaning};
use super::mix::Reading;
use super::number::shown;
use crate::violation::Checks;

/// Most parts of product or water.
pub const MAX_PARTS: f64 = 1e6;

/// How strong a liquid is.
#[derive(Debug, Clone, PartialEq)]
pub enum Strength {
    /// Percent by volume, above 0 to 100.
    Percent(f64),
    /// Named parts by volume.
    Parts(Parts),
    /// As printed on a label; see [`label`].
    Label(String),
}

/// Parts by volume.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// Parts of product, above 0 to 1 000 000.
    pub product: f64,
    /// Parts of water or other diluent, 0 to 1 000 000.
    pub water: f64,
}

/// What parts are parts of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PartsOf {
    /// Neat product: the stock bottle's own premix.
    Product,
    /// The stock as it is: a recipe.
    Stock,
}

impl Strength {
    /// Path of what was given below `field`: `target.percent`.
    pub(super) fn path(&self, field: &str) -> String {
        match self {
            Self::Percent(_) => format!("{field}.percent"),
            Self::Parts(_) => format!("{field}.parts"),
            Self::Label(_) => format!("{field}.label"),
        }
    }

    /// What it means, noting what is wrong with it, and how parts and labels
    /// were read. `None` only if something was noted.
    pub(super) fn resolve(
        &self,
        field: &'static str,
        of: PartsOf,
        checks: &mut Checks,
        readings: &mut Vec<Reading>,
    ) -> Option<Meaning> {
        let path = self.path(field);
        let (meaning, other) = match self {
            Self::Percent(percent) => {
                checks.above(path, *percent, 0.0, 100.0, "percent");
                return Some(Meaning::Percent(*percent));
            }
            Self::Parts(parts) => {
                checks.above(
                    format!("{path}.product"),
                    parts.product,
                    0.0,
                    MAX_PARTS,
                    "parts",
                );
                checks.in_range(
                    format!("{path}.water"),
                    parts.water,
                    0.0,
                    MAX_PARTS,
                    "parts",
                );
                (Meaning::Parts(*parts), None)
            }
            Self::Label(text) => match label::read(text) {
                Ok(label) => (label.meaning, label.other),
                Err(message) => {
                    checks.require(false, path, || message);
                    return None;
                }
            },
        };
        let reading = |meaning: Meaning, used| Reading {
            field,
            text: in_words(meaning, of),
            percent: meaning.percent(),
            used,
        };
        readings.push(reading(meaning, true));
        readings.extend(other.map(|other| reading(other, false)));
        Some(meaning)
    }
}

/// Percent of neat product, where parts are parts of a stock of
/// `stock_percent` (100 for neat product).
pub(super) fn product_percent(meaning: Meaning, stock_percent: f64) -> f64 {
    match meaning {
        Meaning::Percent(percent) => percent,
        Meaning::Parts(_) | Meaning::Share { .. } => meaning.percent() * stock_percent / 100.0,
    }
}

fn in_words(meaning: Meaning, of: PartsOf) -> String {
    let what = match of {
        PartsOf::Product => "product",
        PartsOf::Stock => "the stock as it is",
    };
    let counted = |number: f64| {
        let noun = if (number - 1.0).abs() < 1e-12 {
            "part"
        } else {
            "parts"
        };
        format!("{} {noun}", shown(number))
    };
    match meaning {
        Meaning::Percent(percent) => format!("{} % by volume", shown(percent)),
        Meaning::Parts(Parts { product, water }) => {
            format!(
                "{} of {what} + {} of water",
                counted(product),
                counted(water)
            )
        }
        Meaning::Share { product, total } => {
            format!(
                "{} of {what} in {} in all",
                counted(product),
                counted(total)
            )
        }
    }
}
