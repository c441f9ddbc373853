//! Reading a number with its unit. A bare number is refused, because `1000`
//! means different things to different people; so is a decimal comma, because
//! it is a thousands separator elsewhere.

use std::str::FromStr;

use super::table::{Dimension, Unit};

/// Why a quantity cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum QuantityError {
    /// No number at the front.
    #[error("`{given}` does not begin with a number; write for example 10{usual}")]
    Number {
        /// What was given.
        given: String,
        /// The usual unit.
        usual: &'static str,
    },
    /// A comma.
    #[error("`{given}` has a comma; write a decimal point, and no thousands separator")]
    Comma {
        /// What was given.
        given: String,
    },
    /// No unit.
    #[error(
        "`{given}` has no unit; write {given}{first}{}",
        or(given, first, second)
    )]
    NoUnit {
        /// What was given.
        given: String,
        /// One unit that would do.
        first: &'static str,
        /// Another.
        second: &'static str,
    },
    /// Another unit.
    #[error("`{unit}` in `{given}` is not a unit that fits here; accepted: {accepted}")]
    Unit {
        /// What was given.
        given: String,
        /// The unit found.
        unit: String,
        /// Those that would do.
        accepted: String,
    },
    /// Too large to be a number here.
    #[error("`{given}` is too large")]
    TooLarge {
        /// What was given.
        given: String,
    },
}

macro_rules! quantity {
    ($(#[$about:meta])* $name:ident, $dimension:ident) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub(crate) struct $name(pub(crate) f64);

        impl FromStr for $name {
            type Err = QuantityError;

            fn from_str(text: &str) -> Result<Self, QuantityError> {
                read(Dimension::$dimension, text).map(Self)
            }
        }
    };
}

quantity!(
    /// A volume, millilitres.
    VolumeMl, Volume
);
quantity!(
    /// A weight, grams.
    MassG, Mass
);
quantity!(
    /// A length, millimetres.
    LengthMm, Length
);
quantity!(
    /// A thickness, micrometres.
    ThicknessUm, Thickness
);
quantity!(
    /// A temperature, degrees Celsius.
    TemperatureC, Temperature
);
quantity!(
    /// A pressure, pascals.
    PressurePa, Pressure
);
quantity!(
    /// A flow, litres per minute.
    FlowLPerMin, Flow
);

quantity!(
    /// An area, square metres.
    AreaM2, Area
);

quantity!(
    /// A size of files or disks, bytes.
    SizeBytes, Size
);

/// A duration, seconds. May be put together: `1h30min`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct DurationS(pub(crate) f64);

/// A percentage. The sign may be left out, because the flags that take one say
/// so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Percent(pub(crate) f64);

impl FromStr for DurationS {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let mut total_s = 0.0;
        let mut rest = text.trim();
        loop {
            // A part ends where the next number begins.
            let (_, unit) = split(Dimension::Duration, rest)?;
            let end = unit
                .find(|c: char| c.is_ascii_digit())
                .unwrap_or(unit.len());
            let (part, next) = rest.split_at(rest.len() - unit.len() + end);
            total_s += read(Dimension::Duration, part)?;
            if next.is_empty() {
                return Ok(Self(total_s));
            }
            rest = next;
        }
    }
}

impl FromStr for Percent {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        match read(Dimension::Percent, text) {
            Err(QuantityError::NoUnit { .. }) => read(Dimension::Percent, &format!("{text}%")),
            other => other,
        }
        .map(Self)
    }
}

/// Reads values in a row, where a value without a unit has that of the next one
/// that has: `108 111 107um`.
///
/// # Errors
/// The first value that cannot be read; the last must have a unit.
pub(crate) fn series(dimension: Dimension, texts: &[&str]) -> Result<Vec<f64>, QuantityError> {
    let mut values = Vec::with_capacity(texts.len());
    let mut current: Option<&'static Unit> = None;
    for text in texts.iter().rev() {
        let value = match (number_and_unit(dimension, text)?, current) {
            ((value, Some(unit)), _) => {
                current = Some(unit);
                unit.to_base(value)
            }
            ((value, None), Some(unit)) => unit.to_base(value),
            ((_, None), None) => return Err(no_unit(dimension, text)),
        };
        values.push(finite(value, text)?);
    }
    values.reverse();
    Ok(values)
}

fn read(dimension: Dimension, text: &str) -> Result<f64, QuantityError> {
    match number_and_unit(dimension, text)? {
        (value, Some(unit)) => finite(unit.to_base(value), text),
        (_, None) => Err(no_unit(dimension, text)),
    }
}

fn number_and_unit(
    dimension: Dimension,
    text: &str,
) -> Result<(f64, Option<&'static Unit>), QuantityError> {
    let given = text.trim();
    let (value, name) = split(dimension, given)?;
    if name.is_empty() {
        return Ok((value, None));
    }
    match dimension.find(name) {
        Some(unit) => Ok((value, Some(unit))),
        None if name.contains(',') => Err(QuantityError::Comma {
            given: given.to_owned(),
        }),
        None => Err(QuantityError::Unit {
            given: given.to_owned(),
            unit: name.to_owned(),
            accepted: dimension.accepted(),
        }),
    }
}

/// The number at the front and what follows it. No exponent and no names such
/// as `inf`: nobody writes a bottle that way.
fn split(dimension: Dimension, given: &str) -> Result<(f64, &str), QuantityError> {
    let unsigned = given.trim_start_matches(['+', '-', '\u{2212}']);
    let digits = unsigned
        .find(|c: char| !c.is_ascii_digit() && c != '.')
        .unwrap_or(unsigned.len());
    let (number, rest) = unsigned.split_at(digits);
    let sign = match given.strip_suffix(unsigned).unwrap_or_default() {
        "" | "+" => 1.0,
        "-" | "\u{2212}" => -1.0,
        _ => f64::NAN,
    };
    match number.parse::<f64>() {
        Ok(value) if !sign.is_nan() => Ok((sign * finite(value, given)?, rest.trim())),
        _ => Err(QuantityError::Number {
            given: given.to_owned(),
            usual: dimension.hint().0,
        }),
    }
}

fn finite(value: f64, given: &str) -> Result<f64, QuantityError> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(QuantityError::TooLarge {
            given: given.trim().chars().take(40).collect(),
        })
    }
}

fn no_unit(dimension: Dimension, text: &str) -> QuantityError {
    let (first, second) = dimension.hint();
    QuantityError::NoUnit {
        given: text.trim().to_owned(),
        first,
        second,
    }
}

fn or(given: &str, first: &str, second: &str) -> String {
    if first == second {
        String::new()
    } else {
        format!(" or {given}{second}")
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn message<T: FromStr<Err = QuantityError> + std::fmt::Debug>(text: &str) -> String {
        text.parse::<T>().unwrap_err().to_string()
    }

    #[test]
    #[expect(clippy::float_cmp, reason = "the conversions are exact by definition")]
    fn units_of_either_system_in_any_spelling() {
        assert_eq!("1 l".parse::<VolumeMl>().unwrap().0, 1000.0);
        assert_eq!("0.5L".parse::<VolumeMl>().unwrap().0, 500.0);
        assert_eq!("128 fl oz".parse::<VolumeMl>().unwrap().0, 3_785.411_784);
        assert_eq!("60in".parse::<LengthMm>().unwrap().0, 1524.0);
        assert_eq!("5 µm".parse::<ThicknessUm>().unwrap().0, 5.0);
        assert_eq!("5 μm".parse::<ThicknessUm>().unwrap().0, 5.0);
        assert_eq!("95 °F".parse::<TemperatureC>().unwrap().0, 35.0);
        assert_eq!("\u{2212}40F".parse::<TemperatureC>().unwrap().0, -40.0);
        assert_eq!("273.15K".parse::<TemperatureC>().unwrap().0, 0.0);
        assert_eq!("1 bar".parse::<PressurePa>().unwrap().0, 100_000.0);
        assert_eq!("600ml/min".parse::<FlowLPerMin>().unwrap().0, 0.6);
        assert_eq!("16 sq ft".parse::<AreaM2>().unwrap().0, 1.486_448_64);
        assert_eq!("500MB".parse::<SizeBytes>().unwrap().0, 5e8);
        assert_eq!("2 GiB".parse::<SizeBytes>().unwrap().0, 2_147_483_648.0);
        assert_eq!("7d".parse::<DurationS>().unwrap().0, 604_800.0);
        assert_eq!("1h 30min".parse::<DurationS>().unwrap().0, 5_400.0);
        assert_eq!("50".parse::<Percent>().unwrap().0, 50.0);
        assert_eq!("50 %".parse::<Percent>().unwrap().0, 50.0);
    }

    #[test]
    fn a_row_takes_the_unit_that_follows() {
        assert_eq!(
            series(Dimension::Thickness, &["108", "111", "107um"]).unwrap(),
            [108.0, 111.0, 107.0]
        );
        assert_eq!(
            series(Dimension::Thickness, &["4", "5mil", "100um"]).unwrap(),
            [101.6, 127.0, 100.0]
        );
        assert!(series(Dimension::Thickness, &["108um", "111"]).is_err());
    }

    #[test]
    fn what_is_wrong_is_said() {
        let all = [
            message::<VolumeMl>("1000"),
            message::<VolumeMl>("1,5l"),
            message::<VolumeMl>("1.000,5 ml"),
            message::<VolumeMl>("12in"),
            message::<VolumeMl>("a litre"),
            message::<VolumeMl>(""),
            message::<VolumeMl>("infml"),
            message::<VolumeMl>("1.2.3ml"),
            message::<TemperatureC>("--5C"),
            message::<DurationS>("1h30"),
            message::<DurationS>("3 weeks"),
            message::<Percent>("5ml"),
            message::<AreaM2>("1.6"),
            message::<AreaM2>("16ft"),
            message::<SizeBytes>("500"),
            message::<SizeBytes>("2GV"),
            message::<LengthMm>(&format!("1{}m", "0".repeat(400))),
        ];
        insta::assert_snapshot!(all.join("\n"), @"
        `1000` has no unit; write 1000ml or 1000floz
        `1,5l` has a comma; write a decimal point, and no thousands separator
        `1.000,5 ml` has a comma; write a decimal point, and no thousands separator
        `in` in `12in` is not a unit that fits here; accepted: ml, cl, l, floz, pt, qt, gal, impfloz, imppt, impgal
        `a litre` does not begin with a number; write for example 10ml
        `` does not begin with a number; write for example 10ml
        `infml` does not begin with a number; write for example 10ml
        `1.2.3ml` does not begin with a number; write for example 10ml
        `--5C` does not begin with a number; write for example 10C
        `30` has no unit; write 30min or 30h
        `weeks` in `3 weeks` is not a unit that fits here; accepted: s, min, h, d, ms
        `ml` in `5ml` is not a unit that fits here; accepted: %
        `1.6` has no unit; write 1.6m2 or 1.6sqft
        `ft` in `16ft` is not a unit that fits here; accepted: m2, cm2, sqft, sqin
        `500` has no unit; write 500MB or 500GB
        `GV` in `2GV` is not a unit that fits here; accepted: B, kB, MB, GB, TB, KiB, MiB, GiB, TiB
        `1000000000000000000000000000000000000000` is too large
        ");
    }

    proptest! {
        #[test]
        fn nothing_typed_makes_it_panic(text in "\\PC*") {
            let _ = text.parse::<VolumeMl>();
            let _ = text.parse::<TemperatureC>();
            let _ = text.parse::<DurationS>();
            let _ = text.parse::<Percent>();
            let _ = series(Dimension::Length, &[&text, &text]);
        }

        #[test]
        fn nothing_like_a_quantity_makes_it_panic(
            text in "[-+−]?[0-9.,]{0,6} ?(ml|floz|µm|°C|F|h|min|%|x|')?[0-9]{0,3}"
        ) {
            let _ = text.parse::<VolumeMl>();
            let _ = text.parse::<DurationS>();
            let _ = text.parse::<TemperatureC>();
        }

        #[test]
        fn a_number_in_the_base_unit_stays_itself(value in -1e9..1e9_f64) {
            prop_assert_eq!(format!("{value}ml").parse(), Ok(VolumeMl(value)));
            prop_assert_eq!(format!("{value} °C").parse(), Ok(TemperatureC(value)));
            prop_assert_eq!(format!("{value} um").parse(), Ok(ThicknessUm(value)));
        }
    }
}
