//! Flash point (closed cup) of alcohol in water: a lower bound, erring to the
//! safe side. Never a clearance: a hot bay, a hot panel, a mist or a wet cloth
//! can flash where this says that a still cup would not.
//!
//! - 2-propanol in water: computed, for want of a measured table that can be
//!   opened: x gamma Psat(T) = Psat(flash point of the pure liquid, 12 C), water
//!   inert, gamma by modified UNIFAC with the secondary alcohol's group (thermo
//!   0.6.1, DOUFSG 81, DOUFIP2006). Model error 5 K at best, from 15 % by weight;
//!   11 K at 5 %.
//! - Ethanol in water: list in a DCHAS-L post of 28 Jan 2015; the same model
//!   agrees with it to 2.7 K, so 3 K are taken off.
//! - Neat: NIOSH Pocket Guide, npgd0359 (53 F) and npgd0262 (55 F). Water only
//!   raises it, since the vapour pressure of the alcohol falls.

use super::alcohol::Alcohol;
use super::pchip::pchip;
use crate::error::CalcError;
use crate::violation::Checks;

/// Where a mix may flash.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlashPoint {
    /// Lower bound, Celsius, closed cup: it is not expected to flash below it.
    pub lower_c: f64,
    /// The figure before the model's error was taken off, Celsius.
    pub estimate_c: f64,
    /// The error that was taken off, kelvins.
    pub error_k: f64,
    /// Where it comes from.
    pub basis: &'static str,
}

/// Weakest 2-propanol with a figure, percent by weight.
pub const LEAST_TWO_PROPANOL_WEIGHT_PERCENT: f64 = 5.0;
/// Weakest ethanol with a figure, percent by volume.
pub const LEAST_ETHANOL_VOLUME_PERCENT: f64 = 10.0;

/// 2-propanol: percent by weight, Celsius; see above.
const TWO_PROPANOL: [(f64, f64); 14] = [
    (5.0, 41.43),
    (7.5, 35.50),
    (10.0, 31.73),
    (15.0, 27.13),
    (20.0, 24.44),
    (25.0, 22.73),
    (30.0, 21.61),
    (40.0, 20.37),
    (50.0, 19.82),
    (60.0, 19.45),
    (70.0, 18.92),
    (80.0, 17.83),
    (90.0, 15.73),
    (100.0, 12.0),
];
/// Error of the model, kelvins, at percent by weight: 11 K at 5 %, 5 K from 15 %,
/// where the original UNIFAC comes within 5 K of this table.
const TWO_PROPANOL_ERROR: [(f64, f64); 2] = [(5.0, 11.0), (15.0, 5.0)];
const TWO_PROPANOL_NEAT_C: f64 = 11.7;

/// Ethanol: percent by volume, Celsius; the last point is the neat liquid.
const ETHANOL: [(f64, f64); 11] = [
    (10.0, 49.0),
    (20.0, 36.0),
    (30.0, 29.0),
    (40.0, 26.0),
    (50.0, 24.0),
    (60.0, 22.0),
    (70.0, 21.0),
    (80.0, 20.0),
    (90.0, 17.0),
    (96.0, 17.0),
    (100.0, 12.8),
];
const ETHANOL_ERROR_K: f64 = 3.0;
const ETHANOL_NEAT_C: f64 = 12.8;

/// Lower bound of the flash point of a mix with `volume_percent` of alcohol.
/// `None` for a mix weaker than the tables reach, which proves nothing of its
/// safety.
///
/// # Errors
/// [`CalcError::Invalid`] on `volume_percent` outside 0 to 100.
pub fn flash_point(alcohol: Alcohol, volume_percent: f64) -> Result<Option<FlashPoint>, CalcError> {
    let mut checks = Checks::new();
    checks.in_range("volume_percent", volume_percent, 0.0, 100.0, "percent");
    checks.finish()?;
    Ok(bound(alcohol, volume_percent))
}

/// As [`flash_point`], for a strength that was checked.
pub(crate) fn bound(alcohol: Alcohol, volume_percent: f64) -> Option<FlashPoint> {
    match alcohol {
        Alcohol::TwoPropanol => {
            let weight_percent = alcohol.weight_percent(volume_percent);
            // A billionth of a percent is the rounding of the inverse.
            if weight_percent < LEAST_TWO_PROPANOL_WEIGHT_PERCENT - 1e-9 {
                return None;
            }
            let error_k = straight(&TWO_PROPANOL_ERROR, weight_percent);
            let estimate_c = pchip(&TWO_PROPANOL, weight_percent);
            Some(FlashPoint {
                lower_c: (estimate_c - error_k).max(TWO_PROPANOL_NEAT_C),
                estimate_c,
                error_k,
                basis: "computed: modified UNIFAC from the neat liquid's flash point, less a model \
                        error of 5 K (11 K at 5 % by weight), not below the neat liquid's \
                        (NIOSH Pocket Guide, npgd0359)",
            })
        }
        Alcohol::Ethanol => {
            if volume_percent < LEAST_ETHANOL_VOLUME_PERCENT - 1e-9 {
                return None;
            }
            let estimate_c = pchip(&ETHANOL, volume_percent);
            Some(FlashPoint {
                lower_c: (estimate_c - ETHANOL_ERROR_K).max(ETHANOL_NEAT_C),
                estimate_c,
                error_k: ETHANOL_ERROR_K,
                basis: "published list (DCHAS-L post of 28 Jan 2015), less 3 K, not below the neat \
                        liquid's (NIOSH Pocket Guide, npgd0262)",
            })
        }
    }
}

/// Straight line between two points, level outside them.
fn straight(&[(x0, y0), (x1, y1)]: &[(f64, f64); 2], x: f64) -> f64 {
    y0 + (y1 - y0) * ((x - x0) / (x1 - x0)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn by_weight(percent: f64) -> FlashPoint {
        let volume = Alcohol::TwoPropanol.volume_percent(percent);
        flash_point(Alcohol::TwoPropanol, volume).unwrap().unwrap()
    }

    /// Published: safety data sheet of 70 % by weight, 18.3 C; NIOSH, neat 11.7 C.
    /// From memory (NFPA 325): 87.9 % by weight, 13.9 C.
    #[test]
    fn no_published_figure_lies_below_the_bound() {
        for (percent, published_c) in [(70.0, 18.3), (87.9, 13.9), (100.0, 11.7)] {
            let found = by_weight(percent);
            assert!(found.lower_c <= published_c, "{percent}: {found:?}");
        }
        assert!((by_weight(70.0).estimate_c - 18.3).abs() < 5.0);
    }

    /// Original UNIFAC, the gloomier model, computed with thermo 0.6.1: percent by
    /// weight, Celsius.
    #[test]
    fn the_other_model_lies_above_the_bound() {
        for (percent, other_c) in [
            (5.0, 35.36),
            (7.5, 30.14),
            (10.0, 27.10),
            (15.0, 23.88),
            (20.0, 22.42),
            (30.0, 21.54),
        ] {
            let found = by_weight(percent);
            assert!(found.lower_c <= other_c, "{percent}: {found:?}");
        }
    }

    #[test]
    fn a_weak_mix_has_no_figure_and_garbage_is_refused() {
        assert_eq!(flash_point(Alcohol::TwoPropanol, 3.0), Ok(None));
        assert_eq!(flash_point(Alcohol::Ethanol, 9.0), Ok(None));
        for bad in [f64::NAN, -1.0, 101.0] {
            assert!(flash_point(Alcohol::Ethanol, bad).is_err());
        }
    }

    proptest! {
        #[test]
        fn stronger_never_flashes_later(weak in 10.0..99.0f64, by in 0.0..1.0f64) {
            for alcohol in [Alcohol::TwoPropanol, Alcohol::Ethanol] {
                let at = |percent| flash_point(alcohol, percent).unwrap().unwrap().lower_c;
                prop_assert!(at(weak + by) <= at(weak) + 1e-9);
            }
        }
    }
}
