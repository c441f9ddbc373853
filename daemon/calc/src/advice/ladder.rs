//! A ladder of setups, least aggressive first, each rung one factor harder than the one below.
//!
//! The order of the default ladder is common practice, no source.

use super::setup::{Choice, Factor, Setup, StepSize};
use crate::error::CalcError;
use crate::violation::Checks;
use std::collections::BTreeMap;

/// Most rungs of a ladder.
pub const MAX_RUNGS: usize = 100;
/// The way from one rung to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// The one factor that becomes more aggressive.
    pub factor: Factor,
    /// How big a change that is.
    pub size: StepSize,
}

/// A setup and the step that leads to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Rung {
    /// What is set.
    pub setup: Setup,
    /// The step from the rung below; absent at rung 0.
    pub step: Option<Step>,
}

/// Rungs numbered from 0, least aggressive first.
#[derive(Debug, Clone, PartialEq)]
pub struct Ladder {
    rungs: Vec<Rung>,
}

impl Ladder {
    /// Makes a ladder of 1 to [`MAX_RUNGS`] setups, least aggressive first.
    ///
    /// # Errors
    /// [`CalcError::Invalid`] (fields `ladder[i]...`) for values out of range, for a rung that
    /// differs from the one below in no factor or in several, or whose one changed factor is not
    /// more aggressive, and for a name that stands for two levels.
    pub fn try_new(setups: Vec<Setup>) -> Result<Self, CalcError> {
        let mut checks = Checks::new();
        let count = setups.len();
        checks.require((1..=MAX_RUNGS).contains(&count), "ladder", || {
            format!("must have 1 to {MAX_RUNGS} rungs, got {count}")
        });
        // Of a ladder that is too long, only its length is worth saying.
        let checked = if count > MAX_RUNGS { &[] } else { &setups[..] };
        for (i, setup) in checked.iter().enumerate() {
            setup.check(&format!("ladder[{i}]"), &mut checks);
        }
        check_names(checked, &mut checks);
        for (below, pair) in checked.windows(2).enumerate() {
            check_step(below, &pair[0], &pair[1], &mut checks);
        }
        checks.finish()?;
        Ok(Self::from_checked(setups))
    }

    /// The rungs, least aggressive first; never empty.
    #[must_use]
    pub fn rungs(&self) -> &[Rung] {
        &self.rungs
    }

    /// The last rung before the first step that changes one of `factors`; the top when none does.
    #[must_use]
    pub fn last_before(&self, factors: &[Factor]) -> usize {
        let changes = |rung: &Rung| rung.step.is_some_and(|step| factors.contains(&step.factor));
        self.rungs
            .iter()
            .position(changes)
            .unwrap_or(self.rungs.len())
            .saturating_sub(1)
    }

    fn from_checked(setups: Vec<Setup>) -> Self {
        let mut rungs: Vec<Rung> = Vec::with_capacity(setups.len());
        for setup in setups {
            let changes = rungs.last().map(|below| below.setup.changes_to(&setup));
            let step = changes
                .and_then(|changes| changes.first().copied())
                .map(|(factor, _)| Step {
                    factor,
                    size: factor.step_size(),
                });
            rungs.push(Rung { setup, step });
        }
        Self { rungs }
    }
}

/// Thirteen rungs of plain, generic setups. Between two full steps lie the half steps that are to
/// hand; the full steps are pad, liquid, pad, liquid and last the machine. Common practice, no source.
impl Default for Ladder {
    fn default() -> Self {
        let choice = |name: &str, level| Choice {
            name: name.to_owned(),
            level,
        };
        let mut setup = Setup {
            machine: choice("random-orbital machine", 1),
            pad: choice("soft finishing pad", 1),
            liquid: choice("finishing polish", 1),
            speed_level: 2,
            pressure_kpa: 2.0,
            seconds: 30.0,
        };
        let mut setups = vec![setup.clone()];
        let steps: [&dyn Fn(&mut Setup); 12] = [
            &|s| s.speed_level = 3,
            &|s| s.seconds = 45.0,
            &|s| s.pressure_kpa = 3.0,
            &|s| s.pad = choice("medium polishing pad", 2),
            &|s| s.speed_level = 4,
            &|s| s.seconds = 60.0,
            &|s| s.liquid = choice("medium polish", 2),
            &|s| s.pressure_kpa = 4.0,
            &|s| s.speed_level = 5,
            &|s| s.pad = choice("firm cutting pad", 3),
            &|s| s.liquid = choice("cutting compound", 3),
            &|s| s.machine = choice("forced-rotation machine", 2),
        ];
        for step in steps {
            step(&mut setup);
            setups.push(setup.clone());
        }
        Self::from_checked(setups)
    }
}

/// A name that means two levels would let a change of level hide.
fn check_names(setups: &[Setup], checks: &mut Checks) {
    let mut first_seen: BTreeMap<(&str, &str), (usize, u32)> = BTreeMap::new();
    for (i, setup) in setups.iter().enumerate() {
        for (kind, choice) in setup.choices() {
            let (at, level) = *first_seen
                .entry((kind, choice.name.as_str()))
                .or_insert((i, choice.level));
            checks.require(
                level == choice.level,
                format!("ladder[{i}].{kind}.rank"),
                || {
                    format!(
                        "must be {level} as for `{}` at rung {}, got {}",
                        choice.name,
                        at + 1,
                        choice.level
                    )
                },
            );
        }
    }
}

fn check_step(below: usize, lower: &Setup, upper: &Setup, checks: &mut Checks) {
    let changes = lower.changes_to(upper);
    let field = format!("ladder[{}]", below + 1);
    // People and the API count rungs from 1.
    let rung = below + 1;
    let words: Vec<&str> = changes.iter().map(|(factor, _)| factor.word()).collect();
    checks.require(changes.len() == 1, field.clone(), || {
        let got = if words.is_empty() {
            "none".to_owned()
        } else {
            words.join(", ")
        };
        format!(
            "rung {} must differ from rung {rung} in exactly one factor, got {got}",
            rung + 1
        )
    });
    if let [(factor, ordering)] = changes[..] {
        checks.require(ordering.is_gt(), field, || {
            format!(
                "rung {} must be more aggressive in {} than rung {rung}",
                rung + 1,
                factor.word()
            )
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn setups() -> Vec<Setup> {
        Ladder::default()
            .rungs()
            .iter()
            .map(|r| r.setup.clone())
            .collect()
    }

    fn problems(setups: Vec<Setup>) -> Vec<(String, String)> {
        match Ladder::try_new(setups) {
            Err(CalcError::Invalid(v)) => v.into_iter().map(|v| (v.field, v.message)).collect(),
            other => panic!("expected violations, got {other:?}"),
        }
    }

    #[test]
    fn the_default_ladder_keeps_its_own_rules() {
        let ladder = Ladder::default();
        assert_eq!(Ladder::try_new(setups()).unwrap(), ladder);
        // Common practice, no source: three half steps come before the first full step.
        let sizes: Vec<_> = ladder.rungs()[1..4]
            .iter()
            .map(|r| r.step.unwrap().size)
            .collect();
        assert_eq!(sizes, [StepSize::Half; 3]);
        assert_eq!(ladder.last_before(&[Factor::Pad]), 3);
        assert_eq!(ladder.last_before(&[Factor::Liquid, Factor::Machine]), 6);
        assert_eq!(ladder.last_before(&[]), ladder.rungs().len() - 1);
    }

    #[test]
    fn a_rung_that_changes_two_factors_or_none_names_rung_and_factors() {
        let mut skipping = setups();
        skipping.remove(4);
        skipping[4].seconds = 50.0;
        let found = problems(skipping);
        assert_eq!(found[0].0, "ladder[4]");
        assert_eq!(
            found[0].1,
            "rung 5 must differ from rung 4 in exactly one factor, got pad, speed, time"
        );
        let mut twice = setups();
        twice.insert(2, twice[1].clone());
        assert_eq!(
            problems(twice),
            [(
                "ladder[2]".to_owned(),
                "rung 3 must differ from rung 2 in exactly one factor, got none".to_owned()
            )]
        );
    }

    #[test]
    fn a_milder_rung_and_an_equal_swap_are_refused() {
        let mut falling = setups()[..2].to_vec();
        falling.reverse();
        assert_eq!(
            problems(falling)[0].1,
            "rung 2 must be more aggressive in speed than rung 1"
        );
        let mut swap = vec![setups()[0].clone(); 2];
        swap[1].pad.name = "another soft pad".to_owned();
        assert_eq!(
            problems(swap)[0].1,
            "rung 2 must be more aggressive in pad than rung 1"
        );
    }

    #[test]
    fn values_out_of_range_are_all_named() {
        let mut bad = setups()[..1].to_vec();
        bad[0].machine = Choice {
            name: " ".to_owned(),
            level: 0,
        };
        bad[0].pad.level = 21;
        bad[0].speed_level = 11;
        bad[0].pressure_kpa = f64::NAN;
        bad[0].seconds = -1.0;
        let fields: Vec<String> = problems(bad).into_iter().map(|(field, _)| field).collect();
        assert_eq!(
            fields,
            [
                "machine.name",
                "machine.rank",
                "pad.rank",
                "speed",
                "pressure_kpa",
                "seconds"
            ]
            .map(|f| format!("ladder[0].{f}"))
        );
        assert_eq!(problems(Vec::new())[0].0, "ladder");
        assert_eq!(problems(vec![setups()[0].clone(); 101])[0].0, "ladder");
        let mut renamed = setups()[3..5].to_vec();
        renamed[1].pad.name = renamed[0].pad.name.clone();
        assert_eq!(problems(renamed)[0].0, "ladder[1].pad.rank");
    }
}
