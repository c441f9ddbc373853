//! Density of an alcohol in water at 20 C, and what it makes of percent by
//! weight and percent by volume.
//!
//! v = w rho(w) / rho(1): volume of pure alcohol per volume of mixture, with w
//! its share by weight. Volumes do not add, weights do.
//!
//! - 2-propanol: R. B. Lebo, Properties of mixtures of isopropyl alcohol and
//!   water, 1921 (seen in an open transcription), monotone cubic between the points.
//!   Held against the USP 32 monograph's range for 68 to 72 % it is good to
//!   0.001 g/ml.
//! - Ethanol: OIML R 22 (1975), general formula at 20 C (seen in several agreeing
//!   transcriptions).

use super::pchip::pchip;

/// Density of water at 20 C, g/ml: first coefficient of OIML R 22.
pub const WATER_G_PER_ML: f64 = 0.998_201_23;

/// An alcohol whose mixtures with water are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Alcohol {
    /// 2-propanol.
    TwoPropanol,
    /// Ethanol.
    Ethanol,
}

/// Lebo 1921: percent by weight, g/ml at 20 C. Water as in the source.
const LEBO: [(f64, f64); 11] = [
    (0.0, 0.998),
    (9.58, 0.982_93),
    (21.39, 0.968_47),
    (33.17, 0.945_90),
    (43.02, 0.924_18),
    (53.07, 0.898_68),
    (65.22, 0.870_03),
    (74.35, 0.848_28),
    (85.09, 0.822_82),
    (90.35, 0.808_66),
    (100.0, 0.785_56),
];

/// OIML R 22: kg/m3 at 20 C, powers of the share by weight from 0.
const OIML: [f64; 12] = [
    998.201_23,
    -192.976_949_5,
    389.123_895_8,
    -1_668.103_923,
    13_522.154_41,
    -88_292.783_88,
    306_287.404_2,
    -613_838.123_4,
    747_017.299_8,
    -547_846.135_4,
    223_446.033_4,
    -39_032.854_26,
];

impl Alcohol {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::TwoPropanol => "2-propanol",
            Self::Ethanol => "ethanol",
        }
    }

    /// Where its densities come from.
    pub const fn density_source(self) -> &'static str {
        match self {
            Self::TwoPropanol => "Lebo 1921 at 20 C (secondary source), monotone cubic",
            Self::Ethanol => "OIML R 22 (1975) at 20 C (secondary source)",
        }
    }

    /// How good the densities are, g/ml: the distance to an independent
    /// published figure (USP 32 for 2-propanol, Perry's handbook for ethanol).
    pub const fn density_error_g_per_ml(self) -> f64 {
        match self {
            Self::TwoPropanol => 0.001,
            Self::Ethanol => 0.0001,
        }
    }

    /// Density at 20 C, g/ml, of a mixture with `weight_percent` (0 to 100, held
    /// to that range) of alcohol.
    pub fn density_g_per_ml(self, weight_percent: f64) -> f64 {
        let percent = weight_percent.clamp(0.0, 100.0);
        match self {
            Self::TwoPropanol => pchip(&LEBO, percent),
            Self::Ethanol => {
                let share = percent / 100.0;
                OIML.iter().rev().fold(0.0, |sum, a| sum * share + a) / 1000.0
            }
        }
    }

    /// Percent by volume at 20 C of a mixture with `weight_percent` (0 to 100,
    /// held to that range) of alcohol.
    pub fn volume_percent(self, weight_percent: f64) -> f64 {
        let percent = weight_percent.clamp(0.0, 100.0);
        percent * self.density_g_per_ml(percent) / self.density_g_per_ml(100.0)
    }

    /// Percent by weight of a mixture with `volume_percent` (0 to 100, held to
    /// that range) of alcohol at 20 C: the inverse, by false position (Illinois).
    pub fn weight_percent(self, volume_percent: f64) -> f64 {
        let wanted = volume_percent.clamp(0.0, 100.0);
        let (mut low, mut high) = ((0.0, -wanted), (100.0, 100.0 - wanted));
        // The volume rises almost straight with the weight: about ten steps do.
        for _ in 0..60 {
            if low.1 >= 0.0 {
                return low.0;
            }
            if high.1 <= 0.0 {
                return high.0;
            }
            let weight = (low.0 * high.1 - high.0 * low.1) / (high.1 - low.1);
            let over = self.volume_percent(weight) - wanted;
            if over.abs() < 1e-12 {
                return weight;
            }
            // An end that stays put counts half, so that both close in.
            if over < 0.0 {
                low = (weight, over);
                high.1 *= 0.5;
            } else {
                high = (weight, over);
                low.1 *= 0.5;
            }
        }
        0.5 * (low.0 + high.0)
    }

    /// Density at 20 C, g/ml, of a mixture with `volume_percent` (0 to 100, held
    /// to that range) of alcohol.
    pub fn density_at_volume_percent(self, volume_percent: f64) -> f64 {
        self.density_g_per_ml(self.weight_percent(volume_percent))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn close(found: f64, expected: f64, within: f64) {
        assert!(
            (found - expected).abs() <= within,
            "{found}, expected {expected}"
        );
    }

    /// Published: OIML R 22 as transcribed; shares by weight and kg/m3 at 20 C.
    #[test]
    fn ethanol_agrees_with_the_table() {
        for (volume, share, kg) in [
            (10.0, 0.08015, 984.71),
            (40.0, 0.33300, 948.05),
            (70.0, 0.62386, 885.56),
            (96.0, 0.93839, 807.42),
        ] {
            close(
                Alcohol::Ethanol.weight_percent(volume) / 100.0,
                share,
                1.1e-5,
            );
            close(
                Alcohol::Ethanol.density_at_volume_percent(volume) * 1000.0,
                kg,
                0.006,
            );
        }
    }

    /// Published: USP 32, isopropyl rubbing alcohol: 68 to 72 % by volume has a
    /// specific gravity of 0.872 to 0.883 at 20 C; the table agrees to 0.001.
    #[test]
    fn two_propanol_lies_in_the_monograph_range() {
        let gravity =
            |percent| Alcohol::TwoPropanol.density_at_volume_percent(percent) / WATER_G_PER_ML;
        close(gravity(68.0), 0.883, 0.001);
        close(gravity(72.0), 0.872, 0.001);
    }

    proptest! {
        #[test]
        fn weight_and_volume_are_inverse(percent in 0.0..=100.0f64) {
            for alcohol in [Alcohol::TwoPropanol, Alcohol::Ethanol] {
                let back = alcohol.volume_percent(alcohol.weight_percent(percent));
                prop_assert!((back - percent).abs() < 1e-9, "{percent}: {back}");
            }
        }

        #[test]
        fn more_by_weight_is_more_by_volume(low in 0.0..99.9f64, by in 1e-3..0.1f64) {
            for alcohol in [Alcohol::TwoPropanol, Alcohol::Ethanol] {
                prop_assert!(alcohol.volume_percent(low + by) > alcohol.volume_percent(low));
            }
        }
    }
}
