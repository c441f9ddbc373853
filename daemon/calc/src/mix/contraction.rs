//! What alcohol and water yield when poured together: mostly less than the sum, a
//! trace more where a weak mix is thinned.
//!
//! Weights add: m = sum V rho(s), alcohol = sum V s rho(100 %). Then the true
//! volume is m / rho(alcohol / m).

use super::alcohol::Alcohol;
use crate::error::CalcError;
use crate::violation::Checks;

/// One liquid that is poured in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Poured {
    /// How much, millilitres at 20 C, 0 to 10 000 000.
    pub volume_ml: f64,
    /// Alcohol in it, percent by volume at 20 C, 0 (water) to 100.
    pub strength_percent: f64,
}

/// What results.
#[derive(Debug, Clone, PartialEq)]
pub struct RealMix {
    /// Volume at 20 C, millilitres.
    pub true_total_ml: f64,
    /// How far that may be off, millilitres: the error of the density.
    pub true_total_uncertainty_ml: f64,
    /// Alcohol, percent by volume at 20 C.
    pub true_strength_percent: f64,
    /// Alcohol, percent by weight.
    pub weight_percent: f64,
    /// Weight, grams.
    pub mass_g: f64,
    /// Density at 20 C, g/ml.
    pub density_g_per_ml: f64,
    /// How much less than the sum of the volumes, percent of that sum; negative
    /// if more.
    pub contraction_percent: f64,
    /// The model, in words.
    pub model: &'static str,
}

/// Most liquids in one mix.
pub const MAX_LIQUIDS: usize = 32;
/// Most of one liquid, millilitres.
pub const MAX_ML: f64 = 1e7;

/// What the liquids of one alcohol and water yield together at 20 C.
///
/// Good to [`Alcohol::density_error_g_per_ml`]. Source: see
/// [`alcohol`](super::alcohol).
///
/// # Errors
/// [`CalcError::Invalid`] naming every `poured[i]` out of range, and `poured`
/// if there are none, more than [`MAX_LIQUIDS`], or less than a microlitre in all.
pub fn real_mix(alcohol: Alcohol, poured: &[Poured]) -> Result<RealMix, CalcError> {
    let mut checks = Checks::new();
    checks.require((1..=MAX_LIQUIDS).contains(&poured.len()), "poured", || {
        format!("must be 1 to {MAX_LIQUIDS} liquids, got {}", poured.len())
    });
    for (index, liquid) in poured.iter().enumerate().take(MAX_LIQUIDS) {
        let at = |name| format!("poured[{index}].{name}");
        checks.in_range(at("volume_ml"), liquid.volume_ml, 0.0, MAX_ML, "ml");
        let percent = liquid.strength_percent;
        checks.in_range(at("strength_percent"), percent, 0.0, 100.0, "percent");
    }
    let total_ml: f64 = poured.iter().map(|liquid| liquid.volume_ml).sum();
    checks.require(total_ml >= 1e-3, "poured", || {
        format!("must be at least 0.001 ml in all, got {total_ml}")
    });
    checks.finish()?;
    Ok(pooled(alcohol, poured))
}

/// Water to add, millilitres, so that what was poured becomes exactly `total_ml`
/// of `strength_percent`; `None` where that would be less than nothing. The
/// alcohol must be right already.
pub(crate) fn exact_water_ml(
    alcohol: Alcohol,
    total_ml: f64,
    strength_percent: f64,
    poured: &[Poured],
) -> Option<f64> {
    let wanted_g = total_ml * alcohol.density_at_volume_percent(strength_percent);
    let water_ml = (wanted_g - mass_g(alcohol, poured)) / alcohol.density_g_per_ml(0.0);
    // A trillionth of the bottle is rounding.
    (water_ml >= -1e-12 * total_ml).then(|| water_ml.max(0.0))
}

/// As [`real_mix`], for liquids that were checked.
pub(crate) fn pooled(alcohol: Alcohol, poured: &[Poured]) -> RealMix {
    let pure = alcohol.density_g_per_ml(100.0);
    let mass_g = mass_g(alcohol, poured);
    let alcohol_g: f64 = poured
        .iter()
        .map(|liquid| liquid.volume_ml * liquid.strength_percent / 100.0 * pure)
        .sum();
    let weight_percent = (100.0 * alcohol_g / mass_g).clamp(0.0, 100.0);
    let density_g_per_ml = alcohol.density_g_per_ml(weight_percent);
    let true_total_ml = mass_g / density_g_per_ml;
    let sum_ml: f64 = poured.iter().map(|liquid| liquid.volume_ml).sum();
    let error = alcohol.density_error_g_per_ml() / density_g_per_ml;
    RealMix {
        true_total_ml,
        true_total_uncertainty_ml: error * true_total_ml,
        true_strength_percent: alcohol.volume_percent(weight_percent),
        weight_percent,
        mass_g,
        density_g_per_ml,
        contraction_percent: 100.0 * (1.0 - true_total_ml / sum_ml),
        model: alcohol.density_source(),
    }
}

fn mass_g(alcohol: Alcohol, poured: &[Poured]) -> f64 {
    let weigh = |liquid: &Poured| {
        liquid.volume_ml * alcohol.density_at_volume_percent(liquid.strength_percent)
    };
    poured.iter().map(weigh).sum()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn two(alcohol: Alcohol, strong: (f64, f64), water_ml: f64) -> RealMix {
        let (volume_ml, strength_percent) = strong;
        let water = Poured {
            volume_ml: water_ml,
            strength_percent: 0.0,
        };
        real_mix(
            alcohol,
            &[
                Poured {
                    volume_ml,
                    strength_percent,
                },
                water,
            ],
        )
        .unwrap()
    }

    /// Computed in the check values (scipy PCHIP on Lebo's table): parts of 1 l.
    #[test]
    fn two_propanol_and_water_shrink_as_computed() {
        for (alcohol_ml, total_ml, percent) in [
            (700.0, 974.9, 71.8),
            (500.0, 967.5, 51.7),
            (300.0, 971.2, 30.9),
            (150.0, 986.3, 15.2),
            (100.0, 991.5, 10.1),
        ] {
            let mix = two(
                Alcohol::TwoPropanol,
                (alcohol_ml, 100.0),
                1000.0 - alcohol_ml,
            );
            assert!((mix.true_total_ml - total_ml).abs() < 0.06, "{mix:?}");
            assert!(
                (mix.true_strength_percent - percent).abs() < 0.06,
                "{mix:?}"
            );
        }
    }

    /// Computed in the check values from OIML R 22.
    #[test]
    fn ethanol_and_water_shrink_as_computed() {
        let half = two(Alcohol::Ethanol, (500.0, 100.0), 500.0);
        assert!((half.true_total_ml - 964.6).abs() < 0.06, "{half:?}");
        let stock = [Poured {
            volume_ml: 1000.0,
            strength_percent: 96.0,
        }];
        let total_ml = 1000.0 * 96.0 / 70.0;
        assert!((total_ml - 1371.4_f64).abs() < 0.06);
        let water_ml = exact_water_ml(Alcohol::Ethanol, total_ml, 70.0, &stock).unwrap();
        assert!((water_ml - 407.8).abs() < 0.06, "{water_ml}");
    }

    #[test]
    fn every_bad_liquid_is_named() {
        let bad = Poured {
            volume_ml: f64::NAN,
            strength_percent: 140.0,
        };
        let text = real_mix(Alcohol::Ethanol, &[bad]).unwrap_err().to_string();
        assert!(text.contains("poured[0].volume_ml"), "{text}");
        assert!(
            text.contains("poured[0].strength_percent: must be 0 to 100"),
            "{text}"
        );
        assert!(real_mix(Alcohol::Ethanol, &[]).is_err());
    }

    proptest! {
        #[test]
        fn the_exact_pour_is_exact(stock in 20.0..100.0f64, part in 0.05..1.0f64) {
            for alcohol in [Alcohol::TwoPropanol, Alcohol::Ethanol] {
                let target = stock * part;
                let poured =
                    [Poured { volume_ml: 1000.0 * part, strength_percent: stock }];
                let water_ml = exact_water_ml(alcohol, 1000.0, target, &poured).unwrap();
                let mix = pooled(alcohol, &[poured[0], Poured {
                    volume_ml: water_ml,
                    strength_percent: 0.0,
                }]);
                prop_assert!((mix.true_total_ml - 1000.0).abs() < 1e-6, "{mix:?}");
                prop_assert!((mix.true_strength_percent - target).abs() < 1e-6, "{mix:?}");
            }
        }

        #[test]
        fn garbage_never_panics(a in any::<f64>(), b in any::<f64>(), c in any::<f64>()) {
            let one = Poured { volume_ml: a, strength_percent: b };
            let other = Poured { volume_ml: c, strength_percent: a };
            for alcohol in [Alcohol::TwoPropanol, Alcohol::Ethanol] {
                if let Ok(mix) = real_mix(alcohol, &[one, other]) {
                    prop_assert!(mix.true_total_ml.is_finite() && mix.mass_g > 0.0);
                }
            }
        }
    }
}
