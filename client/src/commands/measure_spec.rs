//! A quantity to price, as typed: `film:clear film=4.2m`.
//!
//! Film, chemicals and labour take any unit of length, volume and time and
//! travel in `m`, `ml` and `h`, to the nearer thousandth of them; what the plugin
//! may know beside those keeps the unit that was written.

use std::str::FromStr;

use lamella_proto::v1;

use crate::commands::setup::SpecError;
use crate::units::{DurationS, LengthMm, QuantityError, VolumeMl};

/// A quantity to price.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct MeasureSpec(pub(crate) v1::QuoteMeasure);

impl FromStr for MeasureSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: "KIND:ITEM=QUANTITY, for example film:clear=4.2m, \
                   chemical:shampoo=32floz, labour:correct=1h30min",
        };
        let (kind, rest) = text.split_once(':').ok_or_else(form)?;
        let (item, quantity) = rest.rsplit_once('=').ok_or_else(form)?;
        let (kind, item, quantity) = (kind.trim(), item.trim(), quantity.trim());
        if kind.is_empty() || item.is_empty() {
            return Err(form());
        }
        let (quantity_thousandths, unit) = match kind {
            "film" => (whole(quantity.parse::<LengthMm>()?.0, quantity)?, "m"),
            "chemical" => (
                whole(quantity.parse::<VolumeMl>()?.0 * 1_000.0, quantity)?,
                "ml",
            ),
            "labour" => (
                whole(quantity.parse::<DurationS>()?.0 / 3.6, quantity)?,
                "h",
            ),
            _ => as_written(quantity).ok_or_else(form)?,
        };
        Ok(Self(v1::QuoteMeasure {
            kind: kind.to_owned(),
            item: item.to_owned(),
            quantity_thousandths,
            unit: unit.to_owned(),
        }))
    }
}

/// The nearest whole number, halves away from zero.
fn whole(thousandths: f64, given: &str) -> Result<i64, QuantityError> {
    format!("{:.0}", thousandths.round())
        .parse()
        .map_err(|_| QuantityError::TooLarge {
            given: given.chars().take(40).collect(),
        })
}

/// A number with at most three decimals, in thousandths, and the unit after it.
fn as_written(quantity: &str) -> Option<(i64, &str)> {
    let end = quantity.find(|c: char| !c.is_ascii_digit() && c != '.')?;
    let (number, unit) = quantity.split_at(end);
    let (units, fraction) = number.split_once('.').unwrap_or((number, ""));
    let digits = |part: &str| part.chars().all(|c| c.is_ascii_digit());
    if units.is_empty() || fraction.len() > 3 || !digits(units) || !digits(fraction) {
        return None;
    }
    let thousandths = format!("{units}{fraction:0<3}").parse().ok()?;
    Some((thousandths, unit.trim()))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn shown(text: &str) -> String {
        match text.parse::<MeasureSpec>() {
            Ok(MeasureSpec(m)) => format!(
                "{} | {} | {} | {}",
                m.kind, m.item, m.quantity_thousandths, m.unit
            ),
            Err(error) => error.to_string(),
        }
    }

    // 60 in is 1.524 m and 32 fl oz are 946.352946 ml (NIST Handbook 44).
    #[test]
    fn quantities_in_either_system() {
        let all = [
            "film:clear film=4.2m",
            "film:clear=60in",
            "chemical:pre-wash=32floz",
            "chemical:a=b=1l",
            "labour:correct=1h30min",
            "labour:correct=100s",
            "part:clip=4.5pc",
            "film:clear=4.2",
            "film:clear=4.2ml",
            "film=4.2m",
            "part:clip=4",
            "part:clip=1.2345 pc",
            "film:clear=99999999999999999m",
        ]
        .map(shown);
        insta::assert_snapshot!(all.join("\n"), @"
        film | clear film | 4200 | m
        film | clear | 1524 | m
        chemical | pre-wash | 946353 | ml
        chemical | a=b | 1000000 | ml
        labour | correct | 1500 | h
        labour | correct | 28 | h
        part | clip | 4500 | pc
        `4.2` has no unit; write 4.2mm or 4.2in
        `ml` in `4.2ml` is not a unit that fits here; accepted: mm, cm, m, in, ft, yd, um, mil
        `film=4.2m` is not of the form KIND:ITEM=QUANTITY, for example film:clear=4.2m, chemical:shampoo=32floz, labour:correct=1h30min
        `part:clip=4` is not of the form KIND:ITEM=QUANTITY, for example film:clear=4.2m, chemical:shampoo=32floz, labour:correct=1h30min
        `part:clip=1.2345 pc` is not of the form KIND:ITEM=QUANTITY, for example film:clear=4.2m, chemical:shampoo=32floz, labour:correct=1h30min
        `99999999999999999m` is too large
        ");
    }

    proptest! {
        #[test]
        fn nothing_typed_makes_it_panic(text in "\\PC*", quantity in "[0-9.]{0,25}(m|pc)?") {
            let _ = text.parse::<MeasureSpec>();
            let _ = format!("part:clip={quantity}").parse::<MeasureSpec>();
            let _ = format!("film:clear={quantity}").parse::<MeasureSpec>();
        }

        #[test]
        fn millimetres_and_millilitres_stay_themselves(n in 0..1_000_000_000_i64) {
            let film: MeasureSpec = format!("film:x={n}mm").parse().unwrap();
            prop_assert_eq!(film.0.quantity_thousandths, n);
            let part: MeasureSpec = format!("part:x={n}pc").parse().unwrap();
            prop_assert_eq!(part.0.quantity_thousandths, n * 1_000);
        }
    }
}
