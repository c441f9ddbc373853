//! Arguments of `lamella cure` with a form of their own.

use std::str::FromStr;

use lamella_proto::v1;

use crate::commands::setup::SpecError;
use crate::units::{DurationS, TemperatureC};

/// A lamp: `30min..1h@60C`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LampArg {
    from_s: f64,
    to_s: f64,
    panel_c: f64,
}

/// A difference of temperatures, kelvins: `1.5K`, `3F`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Apart(pub(crate) f64);

/// A milestone that releases the car.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum ReleaseMilestone {
    /// The next layer may go on.
    Recoat,
    /// May be driven and rained on; what is meant unless another is named.
    Dry,
    /// May be washed.
    Wash,
    /// Fully cured.
    Full,
}

impl From<ReleaseMilestone> for v1::CureMilestoneKind {
    fn from(milestone: ReleaseMilestone) -> Self {
        match milestone {
            ReleaseMilestone::Recoat => Self::RecoatOpen,
            ReleaseMilestone::Dry => Self::Dry,
            ReleaseMilestone::Wash => Self::Wash,
            ReleaseMilestone::Full => Self::FullCure,
        }
    }
}

impl LampArg {
    /// The lamp as it travels.
    pub(crate) fn to_proto(self) -> v1::CureLamp {
        v1::CureLamp {
            from_hours: Some(self.from_s / 3_600.0),
            to_hours: Some(self.to_s / 3_600.0),
            panel_c: Some(self.panel_c),
        }
    }
}

impl FromStr for LampArg {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: "FROM..TO@TEMPERATURE, for example 30min..1h@60C",
        };
        let (times, panel) = text.split_once('@').ok_or_else(form)?;
        let (from, to) = times.split_once("..").ok_or_else(form)?;
        Ok(Self {
            from_s: from.parse::<DurationS>()?.0,
            to_s: to.parse::<DurationS>()?.0,
            panel_c: panel.parse::<TemperatureC>()?.0,
        })
    }
}

impl FromStr for Apart {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let given = text.trim();
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: "a difference in K (or C) or in F, for example 1.5K or 3F",
        };
        let unit = given.chars().last().ok_or_else(form)?.to_ascii_lowercase();
        let number = given[..given.len() - unit.len_utf8()].trim();
        let number: f64 = number.parse().map_err(|_| form())?;
        match unit {
            'k' | 'c' => Ok(Self(number)),
            // 9 F are 5 K, exactly.
            'f' => Ok(Self(number * 5.0 / 9.0)),
            _ => Err(form()),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn lamps_are_read() {
        let lamp: LampArg = "30min..1h30min@140F".parse().unwrap();
        // 140 F is 60 C: check values, section 9.
        let expected = LampArg {
            from_s: 1_800.0,
            to_s: 5_400.0,
            panel_c: 60.0,
        };
        assert_eq!(lamp, expected);
        for bad in ["", "1h@60C", "1h..2h", "1h..2h@60", "..2h@60C", "1..2@60C"] {
            assert!(bad.parse::<LampArg>().is_err(), "{bad}");
        }
    }

    /// A difference of 9 F is 5 K: check values, section 9.
    #[test]
    fn differences_have_no_zero_point() {
        assert_eq!("9F".parse::<Apart>().unwrap(), Apart(5.0));
        assert_eq!("1.5 K".parse::<Apart>().unwrap(), Apart(1.5));
        assert_eq!("2C".parse::<Apart>().unwrap(), Apart(2.0));
        for bad in ["", "2", "K", "2m", "2µ", "two K"] {
            assert!(bad.parse::<Apart>().is_err(), "{bad}");
        }
    }

    proptest! {
        #[test]
        fn nothing_typed_makes_it_panic(text in "\\PC*") {
            let _ = text.parse::<LampArg>();
            let _ = text.parse::<Apart>();
        }
    }
}
