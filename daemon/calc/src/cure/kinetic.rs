//! Mean kinetic temperature: the one temperature that does as much as many.

use super::rate::{GAS_CONSTANT, KELVIN};
use crate::error::CalcError;
use crate::violation::Checks;

/// Activation energy that stands in where data say nothing, kJ/mol (USP 29 <1160>).
pub const USUAL_ENERGY_KJ_PER_MOL: f64 = 83.144;

/// Mean kinetic temperature of equally spaced averages, Celsius:
/// T = (E/R) / -ln(mean of exp(-E/(R T_i))), T in kelvins.
///
/// `temperatures_c` are 1 to 20 000 values of -100 to 200 Celsius;
/// `activation_energy_kj_per_mol` is 10 to 200, usually [`USUAL_ENERGY_KJ_PER_MOL`].
/// USP 29 <1160>; a long window hides an excursion (USP Stimuli article, PF 44(4)).
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range, up to 20 of them.
pub fn mean_kinetic_c(
    temperatures_c: &[f64],
    activation_energy_kj_per_mol: f64,
) -> Result<f64, CalcError> {
    let mut checks = Checks::new();
    let field = "activation_energy_kj_per_mol";
    checks.in_range(field, activation_energy_kj_per_mol, 10.0, 200.0, "kJ/mol");
    let count = temperatures_c.len();
    checks.require((1..=20_000).contains(&count), "temperatures_c", || {
        format!("must have 1 to 20000 entries, got {count}")
    });
    let bad = temperatures_c
        .iter()
        .enumerate()
        .filter(|(_, c)| !(-100.0..=200.0).contains(*c));
    for (index, celsius) in bad.take(20) {
        checks.in_range(
            format!("temperatures_c[{index}]"),
            *celsius,
            -100.0,
            200.0,
            "C",
        );
    }
    checks.finish()?;
    let kelvins = activation_energy_kj_per_mol * 1000.0 / GAS_CONSTANT;
    // Relative to the first, so that no exponential is tiny.
    let first_inverse = 1.0 / (temperatures_c[0] + KELVIN);
    let sum: f64 = temperatures_c
        .iter()
        .map(|celsius| (kelvins * (first_inverse - 1.0 / (celsius + KELVIN))).exp())
        .sum();
    let count = temperatures_c.iter().map(|_| 1.0).sum::<f64>();
    Ok(1.0 / (first_inverse - (sum / count).ln() / kelvins) - KELVIN)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Check values, section 3, computed with dH 83.144 kJ/mol.
    #[test]
    fn agrees_with_the_computed_means() {
        for (temperatures, expected) in [
            (&[20.0, 25.0, 30.0][..], 25.8582),
            (&[15.0, 15.0, 15.0, 40.0], 28.5300),
            (&[4.0, 4.0, 4.0, 4.0, 16.0], 8.1088),
            (
                &[
                    20.0, 22.0, 24.0, 26.0, 28.0, 30.0, 32.0, 30.0, 28.0, 26.0, 24.0, 22.0,
                ],
                26.6544,
            ),
        ] {
            let found = mean_kinetic_c(temperatures, USUAL_ENERGY_KJ_PER_MOL).unwrap();
            assert!((found - expected).abs() < 1e-4, "{temperatures:?}: {found}");
        }
    }

    proptest! {
        #[test]
        fn lies_between_mean_and_hottest(all in prop::collection::vec(-40.0..80.0f64, 1..50), kj in 10.0..200.0f64) {
            let found = mean_kinetic_c(&all, kj).unwrap();
            let mean = all.iter().sum::<f64>() / all.iter().map(|_| 1.0).sum::<f64>();
            let hottest = all.iter().copied().fold(f64::MIN, f64::max);
            prop_assert!(found <= hottest + 1e-9, "{found} above {hottest}");
            // Holds where E/(R T) is above 2, which it is for 10 kJ/mol up to 328 C.
            prop_assert!(found >= mean - 1e-9, "{found} below {mean}");
        }

        #[test]
        fn no_number_makes_it_panic(all in prop::collection::vec(any::<f64>(), 0..30), kj: f64) {
            let _ = mean_kinetic_c(&all, kj);
        }
    }
}
