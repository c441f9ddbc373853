//! Steps, readings, sections and movements of `lamella heat`, as typed.

use std::str::FromStr;

use lamella_proto::v1;
use lamella_proto::v1::pad_motion::Kind;

use crate::commands::setup::SpecError;
use crate::units::{DurationS, LengthMm, PressurePa, TemperatureC};

/// Work or a pause: `60s:3kPa`, `30s:pause`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Step(pub(crate) v1::HeatSegment);

/// A temperature that was read: `60s:27C`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reading(pub(crate) v1::HeatObservation);

/// A difference of temperatures, kelvins: `0.5K`, `1F`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct DifferenceK(pub(crate) f64);

/// A section: `40cmx40cm`, in square centimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SectionCm2(pub(crate) f64);

/// An orbit: `15mm@4000`, its diameter and how many a minute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Orbit {
    diameter_mm: f64,
    per_min: f64,
}

impl Orbit {
    /// The movement of a pad that turns besides, or not.
    pub(crate) fn motion(self, turns_per_min: Option<f64>) -> v1::PadMotion {
        let kind = Kind::DualAction(v1::DualActionMotion {
            orbits_per_min: Some(self.per_min),
            orbit_mm: Some(self.diameter_mm),
            turns_per_min,
        });
        v1::PadMotion { kind: Some(kind) }
    }
}

/// The movement of a pad that only turns.
pub(crate) fn rotary(turns_per_min: f64) -> v1::PadMotion {
    let kind = Kind::Rotary(v1::RotaryMotion {
        turns_per_min: Some(turns_per_min),
    });
    v1::PadMotion { kind: Some(kind) }
}

impl FromStr for Step {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (time, pressure) = halves(
            text,
            ':',
            "TIME:PRESSURE, for example 60s:3kPa or 30s:pause",
        )?;
        let pressure_kpa = match pressure.trim() {
            "pause" => None,
            pressure => Some(pressure.parse::<PressurePa>()?.0 / 1_000.0),
        };
        Ok(Self(v1::HeatSegment {
            seconds: Some(time.parse::<DurationS>()?.0),
            pressure_kpa,
            motion: None,
        }))
    }
}

impl FromStr for Reading {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (time, panel) = halves(text, ':', "TIME:TEMPERATURE, for example 60s:27C")?;
        Ok(Self(v1::HeatObservation {
            after_s: Some(time.parse::<DurationS>()?.0),
            panel_c: Some(panel.parse::<TemperatureC>()?.0),
        }))
    }
}

impl FromStr for DifferenceK {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: "a difference of temperatures, for example 0.5K or 1F",
        };
        let trimmed = text.trim();
        let (number, times) = if let Some(number) = trimmed.strip_suffix(['K', 'k', 'C', 'c']) {
            (number, 1.0)
        } else if let Some(number) = trimmed.strip_suffix(['F', 'f']) {
            (number, 5.0 / 9.0)
        } else {
            return Err(form());
        };
        let number: f64 = number.trim().parse().map_err(|_| form())?;
        Ok(Self(number * times))
    }
}

impl FromStr for SectionCm2 {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (wide, high) = halves(
            text,
            'x',
            "WIDTHxHEIGHT, for example 40cmx40cm or 16inx16in",
        )?;
        let mm = |side: &str| side.parse::<LengthMm>().map(|length| length.0);
        Ok(Self(mm(wide)? * mm(high)? / 100.0))
    }
}

impl FromStr for Orbit {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = "DIAMETER@ORBITS_PER_MINUTE, for example 15mm@4000";
        let (diameter, per_min) = halves(text, '@', form)?;
        let wrong = |_| SpecError::Form {
            given: text.to_owned(),
            form,
        };
        Ok(Self {
            diameter_mm: diameter.parse::<LengthMm>()?.0,
            per_min: per_min.trim().parse().map_err(wrong)?,
        })
    }
}

fn halves<'a>(
    text: &'a str,
    mark: char,
    form: &'static str,
) -> Result<(&'a str, &'a str), SpecError> {
    text.split_once(mark).ok_or_else(|| SpecError::Form {
        given: text.to_owned(),
        form,
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn near(got: f64, expected: f64) {
        assert!(
            (got - expected).abs() < 1e-9,
            "expected {expected}, got {got}"
        );
    }

    // 1 psi = 6.894757293168362 kPa, 9 F of difference = 5 K, 1 in = 25.4 mm (NIST Handbook 44).
    #[test]
    fn steps_readings_and_the_rest_are_read_in_either_units() {
        let step: Step = "1min:0.5psi".parse().unwrap();
        near(step.0.seconds.unwrap(), 60.0);
        near(step.0.pressure_kpa.unwrap(), 6.894_757_293_168_362 / 2.0);
        assert_eq!("30s:pause".parse::<Step>().unwrap().0.pressure_kpa, None);
        let reading: Reading = "60s:80.6F".parse().unwrap();
        near(reading.0.panel_c.unwrap(), 27.0);
        near("9F".parse::<DifferenceK>().unwrap().0, 5.0);
        near("0.5K".parse::<DifferenceK>().unwrap().0, 0.5);
        near("40cmx30cm".parse::<SectionCm2>().unwrap().0, 1200.0);
        near("10inx10in".parse::<SectionCm2>().unwrap().0, 645.16);
        let orbit: Orbit = "15mm@4000".parse().unwrap();
        near(orbit.diameter_mm, 15.0);
        near(orbit.per_min, 4000.0);
    }

    #[test]
    fn other_forms_are_refused_with_the_form() {
        let step = |text: &str| text.parse::<Step>().unwrap_err().to_string();
        insta::assert_snapshot!(step("60s"), @"`60s` is not of the form TIME:PRESSURE, for example 60s:3kPa or 30s:pause");
        insta::assert_snapshot!(step("60:3kPa"), @"`60` has no unit; write 60min or 60h");
        let orbit = "15mm".parse::<Orbit>().unwrap_err().to_string();
        insta::assert_snapshot!(orbit, @"`15mm` is not of the form DIAMETER@ORBITS_PER_MINUTE, for example 15mm@4000");
        let difference = "half".parse::<DifferenceK>().unwrap_err().to_string();
        insta::assert_snapshot!(difference, @"`half` is not of the form a difference of temperatures, for example 0.5K or 1F");
    }

    proptest! {
        #[test]
        fn no_text_makes_them_panic(text in any::<String>()) {
            let _ = text.parse::<Step>();
            let _ = text.parse::<Reading>();
            let _ = text.parse::<DifferenceK>();
            let _ = text.parse::<SectionCm2>();
            let _ = text.parse::<Orbit>();
        }
    }
}
