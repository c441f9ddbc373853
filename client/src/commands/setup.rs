//! What a pass is made with, as typed: `NAME@RANK` for a thing with its place
//! in a series, and a whole rung of a ladder.

use std::str::FromStr;

use lamella_proto::v1;

use crate::units::{DurationS, PressurePa, QuantityError};

/// A machine, pad or liquid with its rank.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ranked(pub(crate) v1::RankedItem);

/// A rung: `MACHINE@RANK/PAD@RANK/LIQUID@RANK/SPEED/PRESSURE/TIME`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Rung(pub(crate) v1::Setup);

/// Seconds; the unit may be left out, because the flag says so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Seconds(pub(crate) f64);

/// Why something put together cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum SpecError {
    /// Of another form.
    #[error("`{given}` is not of the form {form}")]
    Form {
        /// What was given.
        given: String,
        /// The form expected.
        form: &'static str,
    },
    /// A whole number was expected.
    #[error("`{given}` is not a whole number; it stands for the {what}")]
    Whole {
        /// What was given.
        given: String,
        /// What it stands for.
        what: &'static str,
    },
    /// A word that is none of those known.
    #[error("`{given}` is none of: {known}")]
    Word {
        /// What was given.
        given: String,
        /// Those known.
        known: String,
    },
    /// A quantity in it cannot be read.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
}

impl FromStr for Ranked {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: "NAME@RANK, for example \"soft foam@1\", where 1 is the gentlest",
        };
        let (name, rank) = text.rsplit_once('@').ok_or_else(form)?;
        if name.trim().is_empty() {
            return Err(form());
        }
        Ok(Self(v1::RankedItem {
            name: name.trim().to_owned(),
            rank: whole(rank, "rank")?,
        }))
    }
}

impl FromStr for Rung {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let parts: Vec<&str> = text.split('/').collect();
        let [machine, pad, liquid, speed, pressure, time] = parts.as_slice() else {
            return Err(SpecError::Form {
                given: text.to_owned(),
                form: "MACHINE@RANK/PAD@RANK/LIQUID@RANK/SPEED/PRESSURE/TIME",
            });
        };
        Ok(Self(v1::Setup {
            machine: Some(machine.parse::<Ranked>()?.0),
            pad: Some(pad.parse::<Ranked>()?.0),
            liquid: Some(liquid.parse::<Ranked>()?.0),
            speed: whole(speed, "speed")?,
            pressure_kpa: pressure.parse::<PressurePa>()?.0 / 1_000.0,
            seconds: time.parse::<DurationS>()?.0,
        }))
    }
}

impl FromStr for Seconds {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        match text.parse::<DurationS>() {
            Err(QuantityError::NoUnit { .. }) => format!("{text}s").parse::<DurationS>(),
            other => other,
        }
        .map(|time| Self(time.0))
    }
}

/// Reads a whole number.
///
/// # Errors
/// [`SpecError::Whole`].
pub(crate) fn whole(text: &str, what: &'static str) -> Result<i32, SpecError> {
    text.trim().parse().map_err(|_| SpecError::Whole {
        given: text.to_owned(),
        what,
    })
}

/// Reads one of the words of a choice.
///
/// # Errors
/// [`SpecError::Word`] with the words that there are.
pub(crate) fn word<C: clap::ValueEnum>(text: &str) -> Result<C, SpecError> {
    C::from_str(text.trim(), true).map_err(|_| {
        let known: Vec<String> = C::value_variants()
            .iter()
            .filter_map(|value| Some(value.to_possible_value()?.get_name().to_owned()))
            .collect();
        SpecError::Word {
            given: text.to_owned(),
            known: known.join(", "),
        }
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_rung_is_read_whole() {
        let rung: Rung = "dual action@2/soft foam@1/fine polish@1/4/10kPa/20s"
            .parse()
            .unwrap();
        assert_eq!(rung.0.machine.unwrap().name, "dual action");
        assert_eq!(rung.0.pad.unwrap().rank, 1);
        assert_eq!(rung.0.speed, 4);
        assert!((rung.0.pressure_kpa - 10.0).abs() < 1e-12);
        assert!((rung.0.seconds - 20.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_wrong_is_said() {
        let rung = |text: &str| text.parse::<Rung>().unwrap_err().to_string();
        let all = [
            rung("a@1/b@1"),
            rung("a/b@1/c@1/4/10kPa/20s"),
            rung("a@one/b@1/c@1/4/10kPa/20s"),
            rung("a@1/b@1/c@1/4/10/20s"),
            rung("a@1/b@1/c@1/fast/10kPa/20s"),
            word::<crate::commands::choices::Substrate>("iron")
                .unwrap_err()
                .to_string(),
        ];
        insta::assert_snapshot!(all.join("\n"), @r#"
        `a@1/b@1` is not of the form MACHINE@RANK/PAD@RANK/LIQUID@RANK/SPEED/PRESSURE/TIME
        `a` is not of the form NAME@RANK, for example "soft foam@1", where 1 is the gentlest
        `one` is not a whole number; it stands for the rank
        `10` has no unit; write 10kPa or 10psi
        `fast` is not a whole number; it stands for the speed
        `iron` is none of: steel, aluminium, composite, plastic
        "#);
    }

    proptest! {
        #[test]
        fn nothing_typed_makes_it_panic(text in "\\PC*") {
            let _ = text.parse::<Ranked>();
            let _ = text.parse::<Rung>();
            let _ = format!("{text}/{text}@1/@/1/1kPa/1s").parse::<Rung>();
            let _ = text.parse::<Seconds>();
        }
    }
}
