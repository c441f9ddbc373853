//! `[money]`: how the shop reckons prices and taxes.

use iso_currency::Currency;
use rust_decimal::Decimal;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ConfigError;

/// The currency unless told otherwise.
const DEFAULT_CURRENCY: &str = "EUR";
/// Most tax classes that a shop may have.
const MOST_CLASSES: usize = 20;

/// The section as the file has it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MoneySection {
    /// ISO 4217 code of a currency with a minor unit.
    #[schemars(extend("default" = DEFAULT_CURRENCY))]
    pub currency: Option<String>,
    /// How amounts between two minor units are rounded.
    #[schemars(extend("default" = Rounding::default()))]
    pub rounding: Option<Rounding>,
    /// Where tax is rounded.
    #[schemars(extend("default" = TaxBasis::default()))]
    pub tax_basis: Option<TaxBasis>,
    /// The tax classes, first the usual one, each name once. Unset: "standard" at
    /// 0 %, and every quote says so.
    #[schemars(length(min = 1, max = MOST_CLASSES))]
    pub tax_classes: Option<Vec<TaxClassSection>>,
}

/// One `[[money.tax_classes]]` as the file has it.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TaxClassSection {
    /// Its name: 1 to 63 of lower-case letters, digits and hyphens.
    #[schemars(example = &"standard")]
    pub name: String,
    /// Its rate in percent as decimal text, "0" to "100" and at most four decimals:
    /// "19.0". Text, because a binary fraction would not be exact.
    #[schemars(example = &"19.0")]
    pub rate_percent: String,
}

/// The shop's money, with nothing left open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Money {
    /// ISO 4217 code.
    pub currency_code: String,
    /// Digits of the currency's minor unit, from ISO 4217: 2 for EUR, 0 for JPY.
    pub minor_digits: u8,
    /// How amounts are rounded.
    pub rounding: Rounding,
    /// Where tax is rounded.
    pub tax_basis: TaxBasis,
    /// The tax classes, 1 to 20, each name once.
    pub tax_classes: Vec<TaxClass>,
    /// Whether somebody said what the taxes are.
    pub tax_configured: bool,
}

/// One class of tax.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TaxClass {
    /// Its name.
    pub name: String,
    /// Its rate in millionths, 0 to 1 000 000: 190 000 is 19 %.
    pub rate_ppm: u32,
}

/// How amounts that fall between two minor units are rounded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Rounding {
    /// To the nearer; halves away from zero.
    #[default]
    HalfUp,
    /// To the nearer; halves to the even one.
    HalfEven,
}

/// Where tax is rounded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum TaxBasis {
    /// Once for each tax class, on the sum of its lines.
    #[default]
    Class,
    /// For each line, then added up.
    Line,
}

impl Default for Money {
    fn default() -> Self {
        Self {
            currency_code: DEFAULT_CURRENCY.to_owned(),
            minor_digits: 2,
            rounding: Rounding::default(),
            tax_basis: TaxBasis::default(),
            tax_classes: vec![TaxClass {
                name: "standard".to_owned(),
                rate_ppm: 0,
            }],
            tax_configured: false,
        }
    }
}

impl MoneySection {
    pub(super) fn resolve(self) -> Result<Money, ConfigError> {
        let default = Money::default();
        let currency_code = self.currency.unwrap_or(default.currency_code);
        let minor_digits = minor_digits(&currency_code)?;
        let tax_configured = self.tax_classes.is_some();
        let tax_classes = match self.tax_classes {
            None => default.tax_classes,
            Some(classes) => tax_classes(classes)?,
        };
        Ok(Money {
            currency_code,
            minor_digits,
            rounding: self.rounding.unwrap_or_default(),
            tax_basis: self.tax_basis.unwrap_or_default(),
            tax_classes,
            tax_configured,
        })
    }
}

fn minor_digits(code: &str) -> Result<u8, ConfigError> {
    let digits = Currency::from_code(code).and_then(Currency::exponent);
    digits
        .and_then(|digits| u8::try_from(digits).ok())
        .ok_or_else(|| ConfigError::Value {
            key: "money.currency",
            value: code.to_owned(),
            reason: "expected an ISO 4217 code of a currency with a minor unit, such as \"EUR\""
                .to_owned(),
        })
}

fn tax_classes(sections: Vec<TaxClassSection>) -> Result<Vec<TaxClass>, ConfigError> {
    if !(1..=MOST_CLASSES).contains(&sections.len()) {
        return Err(ConfigError::Value {
            key: "money.tax_classes",
            value: format!("{} classes", sections.len()),
            reason: format!("expected 1 to {MOST_CLASSES}"),
        });
    }
    let mut classes: Vec<TaxClass> = Vec::new();
    for section in sections {
        let refused = |reason: &str| ConfigError::Value {
            key: "money.tax_classes.name",
            value: section.name.clone(),
            reason: reason.to_owned(),
        };
        if !lamella_jobs::check::is_id(&section.name) {
            return Err(refused(
                "expected 1 to 63 of lower-case letters, digits and hyphens",
            ));
        }
        if classes.iter().any(|class| class.name == section.name) {
            return Err(refused("it is there already"));
        }
        classes.push(TaxClass {
            rate_ppm: rate_ppm(&section.rate_percent)?,
            name: section.name,
        });
    }
    Ok(classes)
}

/// Percent as text to millionths, exactly or not at all.
fn rate_ppm(percent: &str) -> Result<u32, ConfigError> {
    let rate = Decimal::from_str_exact(percent)
        .ok()
        .filter(|rate| (Decimal::ZERO..=Decimal::ONE_HUNDRED).contains(rate))
        .map(|rate| (rate * Decimal::from(10_000)).normalize())
        .filter(|ppm| ppm.scale() == 0);
    rate.and_then(|ppm| u32::try_from(ppm).ok())
        .ok_or_else(|| ConfigError::Value {
            key: "money.tax_classes.rate_percent",
            value: percent.to_owned(),
            reason: "expected 0 to 100 percent with at most four decimals, such as \"19.0\""
                .to_owned(),
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Money, ConfigError> {
        let section: MoneySection = toml::from_str(text).unwrap();
        section.resolve()
    }

    /// Minor units: ISO 4217:2015, table A.1 (EUR 2, JPY 0, KWD 3; XAU has none).
    #[test]
    fn currencies_are_those_of_iso_4217_with_their_minor_units() {
        for (code, digits) in [("EUR", 2), ("JPY", 0), ("KWD", 3)] {
            let money = read(&format!("currency = \"{code}\"")).unwrap();
            assert_eq!(
                (money.currency_code.as_str(), money.minor_digits),
                (code, digits)
            );
        }
        for bad in ["XAU", "eur", "EURO", "", "ZZZ"] {
            let error = read(&format!("currency = \"{bad}\""))
                .unwrap_err()
                .to_string();
            assert!(
                error.contains(&format!("money.currency `{bad}`")),
                "{error}"
            );
        }
    }

    #[test]
    fn nothing_said_means_euros_at_no_tax_and_is_known_to_be_unsaid() {
        assert_eq!(read("").unwrap(), Money::default());
        let said = read("[[tax_classes]]\nname = \"standard\"\nrate_percent = \"0\"").unwrap();
        assert!(said.tax_configured);
        assert_eq!(said.tax_classes, Money::default().tax_classes);
    }

    #[test]
    fn rates_are_exact_to_the_millionth_or_refused() {
        for (percent, ppm) in [
            ("19.0", 190_000),
            ("7", 70_000),
            ("8.875", 88_750),
            ("0.0001", 1),
            ("100.0000000", 1_000_000),
        ] {
            assert_eq!(rate_ppm(percent).unwrap(), ppm, "{percent}");
        }
        for bad in ["0.00001", "-1", "100.0001", "19 %", "", "NaN", "19,0"] {
            let error = rate_ppm(bad).unwrap_err().to_string();
            assert!(error.contains("at most four decimals"), "{bad}: {error}");
        }
    }

    #[test]
    fn class_names_are_ids_and_each_is_there_once() {
        let class =
            |name: &str| format!("[[tax_classes]]\nname = \"{name}\"\nrate_percent = \"7\"\n");
        assert_eq!(
            read(&(class("work") + &class("material")))
                .unwrap()
                .tax_classes
                .len(),
            2
        );
        for (text, part) in [
            (class("work") + &class("work"), "it is there already"),
            (class("Work"), "lower-case letters"),
            ("tax_classes = []".to_owned(), "expected 1 to 20"),
            (
                (0..21).map(|n| class(&format!("c{n}"))).collect(),
                "21 classes",
            ),
        ] {
            let error = read(&text).unwrap_err().to_string();
            assert!(error.contains(part), "{text}: {error}");
        }
    }

    #[test]
    fn words_for_rounding_and_basis_are_those_of_the_contract() {
        let money = read("rounding = \"half-even\"\ntax_basis = \"line\"").unwrap();
        assert_eq!(
            (money.rounding, money.tax_basis),
            (Rounding::HalfEven, TaxBasis::Line)
        );
        assert!(toml::from_str::<MoneySection>("rounding = \"up\"").is_err());
        assert!(toml::from_str::<MoneySection>("tax_base = \"line\"").is_err());
    }
}
