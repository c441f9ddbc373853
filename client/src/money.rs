//! Amounts of money as typed and as shown: `850.00 EUR`. Minor units come from
//! ISO 4217; there is no floating point anywhere.

use std::str::FromStr;

use iso_currency::Currency;
use lamella_proto::v1;

/// An amount as typed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Amount(pub(crate) v1::Money);

/// Why an amount cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum MoneyError {
    /// Of another form.
    #[error("`{given}` is not an amount; write \"850.00 EUR\", with a point and no separators")]
    Form {
        /// What was given.
        given: String,
    },
    /// No such currency, or one without minor units.
    #[error("`{code}` is not a currency of ISO 4217 that prices are made in")]
    Currency {
        /// The code given.
        code: String,
    },
    /// More decimals than the currency has.
    #[error("`{given}` has more than the {places} decimals that {code} has")]
    Decimals {
        /// What was given.
        given: String,
        /// The decimals that the currency has.
        places: usize,
        /// The currency.
        code: String,
    },
    /// Too large.
    #[error("`{given}` is too large")]
    TooLarge {
        /// What was given.
        given: String,
    },
}

impl FromStr for Amount {
    type Err = MoneyError;

    fn from_str(text: &str) -> Result<Self, MoneyError> {
        let given = text.trim();
        let form = || MoneyError::Form {
            given: given.to_owned(),
        };
        let at = given
            .find(|c: char| c.is_ascii_alphabetic())
            .ok_or_else(form)?;
        let (number, code) = given.split_at(at);
        let (number, code) = (number.trim(), code.trim().to_ascii_uppercase());
        let places = decimals(&code).ok_or_else(|| MoneyError::Currency { code: code.clone() })?;
        let (whole, fraction) = match number.split_once('.') {
            Some((_, "")) => return Err(form()),
            Some((whole, fraction)) => (whole, fraction),
            None => (number, ""),
        };
        let digits = |part: &str| part.chars().all(|c| c.is_ascii_digit());
        if whole.is_empty() || !digits(whole) || !digits(fraction) {
            return Err(form());
        }
        if fraction.len() > places {
            return Err(MoneyError::Decimals {
                given: given.to_owned(),
                places,
                code,
            });
        }
        let minor_units = format!("{whole}{fraction:0<places$}")
            .parse()
            .map_err(|_| MoneyError::TooLarge {
                given: given.to_owned(),
            })?;
        Ok(Self(v1::Money {
            currency_code: code,
            minor_units,
        }))
    }
}

/// An amount as people write it. A currency that this client does not know is
/// shown in its minor unit, and says so.
pub(crate) fn shown(money: &v1::Money) -> String {
    let code = crate::names::clean(&money.currency_code);
    let Some(places) = decimals(&money.currency_code) else {
        return format!("{} minor units of {code}", money.minor_units);
    };
    let sign = if money.minor_units < 0 { "-" } else { "" };
    let digits = format!(
        "{:0>width$}",
        money.minor_units.unsigned_abs(),
        width = places + 1
    );
    let (whole, fraction) = digits.split_at(digits.len() - places);
    let point = if places == 0 { "" } else { "." };
    format!("{sign}{whole}{point}{fraction} {code}")
}

fn decimals(code: &str) -> Option<usize> {
    Currency::from_code(code)?.exponent().map(usize::from)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    // ISO 4217 minor units: list one of 2026-01-01, from the PyPI package
    // iso4217 (shared/check-values.md, section 8).
    #[test]
    fn minor_units_of_published_currencies() {
        for (codes, places) in [
            ("USD EUR GBP", 2),
            ("JPY KRW CLP ISK VND", 0),
            ("KWD BHD JOD OMR TND IQD LYD", 3),
            ("CLF UYW", 4),
        ] {
            for code in codes.split(' ') {
                assert_eq!(decimals(code), Some(places), "{code}");
            }
        }
        assert_eq!(decimals("XAU"), None);
        assert_eq!(decimals("ZZZ"), None);
    }

    #[test]
    fn amounts_in_and_out() {
        let all = [
            "850.00 EUR",
            "850EUR",
            "0.05 usd",
            "1200 JPY",
            "1.2345 KWD",
            "1.5 JPY",
            "8,50 EUR",
            "850",
            "EUR",
            "850. EUR",
            "-5 EUR",
            "5 ZZZ",
            "99999999999999999999 EUR",
        ]
        .map(|text| match text.parse::<Amount>() {
            Ok(amount) => format!("{text}: {}", shown(&amount.0)),
            Err(error) => format!("{text}: {error}"),
        });
        insta::assert_snapshot!(all.join("\n"), @r#"
        850.00 EUR: 850.00 EUR
        850EUR: 850.00 EUR
        0.05 usd: 0.05 USD
        1200 JPY: 1200 JPY
        1.2345 KWD: `1.2345 KWD` has more than the 3 decimals that KWD has
        1.5 JPY: `1.5 JPY` has more than the 0 decimals that JPY has
        8,50 EUR: `8,50 EUR` is not an amount; write "850.00 EUR", with a point and no separators
        850: `850` is not an amount; write "850.00 EUR", with a point and no separators
        EUR: `EUR` is not an amount; write "850.00 EUR", with a point and no separators
        850. EUR: `850. EUR` is not an amount; write "850.00 EUR", with a point and no separators
        -5 EUR: `-5 EUR` is not an amount; write "850.00 EUR", with a point and no separators
        5 ZZZ: `ZZZ` is not a currency of ISO 4217 that prices are made in
        99999999999999999999 EUR: `99999999999999999999 EUR` is too large
        "#);
    }

    proptest! {
        #[test]
        fn what_is_shown_can_be_typed(
            minor_units in 0..i64::MAX,
            code in prop::sample::select(vec!["EUR", "JPY", "KWD"]),
        ) {
            let money = v1::Money { currency_code: code.to_owned(), minor_units };
            prop_assert_eq!(shown(&money).parse::<Amount>().unwrap().0, money);
        }

        #[test]
        fn nothing_typed_makes_it_panic(text in "\\PC*", minor_units: i64, code in "\\PC{0,4}") {
            let _ = text.parse::<Amount>();
            let _ = shown(&v1::Money { currency_code: code, minor_units });
        }
    }
}
