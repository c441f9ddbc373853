//! The setup of one pass, and what may change between two passes.
//!
//! A change of machine, pad or liquid is a full step; a change of speed, pressure or time is a half
//! step (common practice, no source).

use crate::violation::Checks;
use std::cmp::Ordering;
use std::ops::RangeInclusive;

/// Longest name of a machine, pad or liquid, in characters.
pub const MAX_NAME_CHARS: usize = 200;
/// Levels of a machine, pad or liquid.
pub const LEVELS: RangeInclusive<u32> = 1..=20;
/// Positions of a machine's speed dial.
pub const SPEED_LEVELS: RangeInclusive<u32> = 1..=10;
/// Highest contact pressure under the pad, in kPa. On a pad of 125 mm, 2 kPa is about 2.5 kg,
/// the machine's own weight included.
pub const MAX_PRESSURE_KPA: f64 = 100.0;
/// Longest time on one section of about 40 cm by 40 cm, in s.
pub const MAX_SECONDS: f64 = 600.0;

/// A machine, pad or liquid: what the shop calls it, and how aggressive it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// The shop's own name, 1 to [`MAX_NAME_CHARS`] characters.
    pub name: String,
    /// Aggressiveness within [`LEVELS`], rising. 1 is the mildest kind there is, such as a
    /// random-orbital machine, a soft finishing pad, a finishing polish; the removal prior rests
    /// on it.
    pub level: u32,
}

/// Everything that is set for one pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// Machine.
    pub machine: Choice,
    /// Pad.
    pub pad: Choice,
    /// Liquid: polish or compound.
    pub liquid: Choice,
    /// Position of the speed dial, within [`SPEED_LEVELS`].
    pub speed_level: u32,
    /// Contact pressure under the pad, in kPa, above 0 to [`MAX_PRESSURE_KPA`].
    pub pressure_kpa: f64,
    /// Time on one section, in s, above 0 to [`MAX_SECONDS`].
    pub seconds: f64,
}

/// What can be changed between passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Factor {
    /// Another machine.
    Machine,
    /// Another pad.
    Pad,
    /// Another liquid.
    Liquid,
    /// Another speed.
    Speed,
    /// Another contact pressure.
    Pressure,
    /// Another time on the section.
    Time,
}

/// How big a change is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum StepSize {
    /// Speed, pressure or time.
    Half,
    /// Machine, pad or liquid.
    Full,
}

impl Setup {
    /// The factors in which `next` differs, and how: `Greater` is more aggressive, `Equal` is another
    /// choice of the same level.
    #[must_use]
    pub fn changes_to(&self, next: &Self) -> Vec<(Factor, Ordering)> {
        let choices = [
            (Factor::Machine, &self.machine, &next.machine),
            (Factor::Pad, &self.pad, &next.pad),
            (Factor::Liquid, &self.liquid, &next.liquid),
        ];
        let dials = [
            (Factor::Speed, next.speed_level.cmp(&self.speed_level)),
            (
                Factor::Pressure,
                next.pressure_kpa.total_cmp(&self.pressure_kpa),
            ),
            (Factor::Time, next.seconds.total_cmp(&self.seconds)),
        ];
        choices
            .into_iter()
            .filter(|(_, old, new)| old != new)
            .map(|(factor, old, new)| (factor, new.level.cmp(&old.level)))
            .chain(dials.into_iter().filter(|(_, ordering)| ordering.is_ne()))
            .collect()
    }

    /// Records everything wrong with the setup under the field path `at`.
    pub(crate) fn check(&self, at: &str, checks: &mut Checks) {
        for (kind, choice) in self.choices() {
            let length = choice.name.chars().count();
            let named = !choice.name.trim().is_empty() && length <= MAX_NAME_CHARS;
            checks.require(named, format!("{at}.{kind}.name"), || {
                format!("must have 1 to {MAX_NAME_CHARS} characters, got {length}")
            });
            within(checks, format!("{at}.{kind}.rank"), choice.level, &LEVELS);
        }
        within(
            checks,
            format!("{at}.speed"),
            self.speed_level,
            &SPEED_LEVELS,
        );
        checks.above(
            format!("{at}.pressure_kpa"),
            self.pressure_kpa,
            0.0,
            MAX_PRESSURE_KPA,
            "kPa",
        );
        checks.above(format!("{at}.seconds"), self.seconds, 0.0, MAX_SECONDS, "s");
    }

    pub(crate) fn choices(&self) -> [(&'static str, &Choice); 3] {
        [
            ("machine", &self.machine),
            ("pad", &self.pad),
            ("liquid", &self.liquid),
        ]
    }
}

impl Factor {
    /// How big a change of this factor is.
    #[must_use]
    pub const fn step_size(self) -> StepSize {
        match self {
            Self::Machine | Self::Pad | Self::Liquid => StepSize::Full,
            Self::Speed | Self::Pressure | Self::Time => StepSize::Half,
        }
    }

    /// Lower-case trade word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Machine => "machine",
            Self::Pad => "pad",
            Self::Liquid => "liquid",
            Self::Speed => "speed",
            Self::Pressure => "pressure",
            Self::Time => "time",
        }
    }
}

impl StepSize {
    /// Lower-case trade word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Half => "half",
            Self::Full => "full",
        }
    }
}

fn within(checks: &mut Checks, field: String, value: u32, range: &RangeInclusive<u32>) {
    checks.require(range.contains(&value), field, || {
        format!("must be {} to {}, got {value}", range.start(), range.end())
    });
}
