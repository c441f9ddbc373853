//! How fast a coating cures at a temperature.
//!
//! The rate is relative to the product's reference temperature: an Arrhenius
//! factor, exp(Ea/R (1/Tref - 1/T)), or a power of Q10. Rate times time is the
//! dose, in hours at the reference temperature; doses add over segments, and a
//! milestone is reached when the dose equals its stated time.

use super::coating::{CoatingData, TemperatureResponse};

/// Molar gas constant, J/(mol K): exact since the 2019 SI.
pub const GAS_CONSTANT: f64 = 8.314_462_618;
const KELVIN: f64 = 273.15;

/// Rate of cure at `panel_c` (Celsius, -20 to 150) relative to the product's
/// reference temperature; 2 is twice as fast, 1 where the product states no
/// response.
///
/// Held against tables computed with R above; see the tests.
pub fn rate(coating: &CoatingData, panel_c: f64) -> f64 {
    match coating.temperature_response {
        Some(TemperatureResponse::Arrhenius {
            activation_energy_kj_per_mol,
        }) => {
            let inverse_kelvin = 1.0 / (coating.reference_c + KELVIN) - 1.0 / (panel_c + KELVIN);
            (activation_energy_kj_per_mol * 1000.0 / GAS_CONSTANT * inverse_kelvin).exp()
        }
        Some(TemperatureResponse::Q10 { factor }) => {
            factor.powf((panel_c - coating.reference_c) / 10.0)
        }
        None => 1.0,
    }
}

/// What `hours` at `panel_c` are worth, in hours at the reference temperature.
pub fn dose_hours(coating: &CoatingData, panel_c: f64, hours: f64) -> f64 {
    rate(coating, panel_c) * hours
}

/// Check values, section 3, is where the computed figures come from.
#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::tests::{arrhenius, coating};
    use super::*;

    /// Check values, section 3: k(T) relative to 20 C, computed with R = 8.314462618.
    #[test]
    fn arrhenius_rates_agree_with_the_table() {
        for (kj, at) in [
            (40.0, [0.5601, 1.3168, 1.7183, 7.1736]),
            (50.0, [0.4846, 1.4106, 1.9674, 11.7401]),
            (60.0, [0.4192, 1.5111, 2.2525, 19.2135]),
            (70.0, [0.3627, 1.6187, 2.5789, 31.4442]),
            (83.144, [0.2998, 1.7719, 3.0810, 60.0807]),
        ] {
            for (panel_c, expected) in [10.0, 25.0, 30.0, 60.0].into_iter().zip(at) {
                let found = rate(&coating(arrhenius(kj)), panel_c);
                assert!(
                    (found - expected).abs() < 6e-5,
                    "{kj} kJ/mol at {panel_c} C: {found}"
                );
            }
        }
    }

    /// Same section: 8 at 40 C and 24 at 70 C give Q10 = 1.4422 (published how-to prints 1.44).
    #[test]
    fn q10_agrees_with_the_published_example() {
        let mut data = coating(Some(TemperatureResponse::Q10 {
            factor: 3f64.powf(1.0 / 3.0),
        }));
        data.reference_c = 40.0;
        assert!((8.0 * rate(&data, 70.0) - 24.0).abs() < 1e-9);
        // Same section: Q10 = 2 between 20 and 30 C needs 51.216 kJ/mol.
        assert!((rate(&coating(arrhenius(51.216)), 30.0) - 2.0).abs() < 1e-4);
    }

    /// Same section, computed: 2 h at 12 C then 1 h at 60 C are worth 20.2160 h at 20 C (Ea
    /// 60 kJ/mol); at 18 C it then takes 4.4812 h more to reach 24.
    #[test]
    fn doses_add_over_segments() {
        let data = coating(arrhenius(60.0));
        let dose = dose_hours(&data, 12.0, 2.0) + dose_hours(&data, 60.0, 1.0);
        assert!((dose - 20.2160).abs() < 5e-5, "{dose}");
        let more = (24.0 - dose) / rate(&data, 18.0);
        assert!((more - 4.4812).abs() < 5e-5, "{more}");
    }

    /// Same section, scipy.integrate.quad, Ea 60 kJ/mol: 15 to 35 C linear in 4 h, 8 h at 35 C,
    /// 35 to 10 C linear in 12 h are 6.66573 + 26.51514 + 17.26471 h; left steps of 15 min give
    /// 50.48213. And 18 + 6 sin(2 pi t/24) C for 24 h is 21.49378 h.
    #[test]
    fn doses_of_changing_temperatures_agree_with_scipy() {
        let data = coating(arrhenius(60.0));
        let sum = |from: f64, to: f64, hours: f64, steps: u32| -> f64 {
            let step = hours / f64::from(steps);
            let celsius = |i: f64| from + (to - from) * i / f64::from(steps);
            (0..steps)
                .map(|i| dose_hours(&data, celsius(f64::from(i) + 0.5), step))
                .sum()
        };
        assert!((sum(15.0, 35.0, 4.0, 1000) - 6.66573).abs() < 1e-5);
        assert!((sum(35.0, 35.0, 8.0, 1) - 26.51514).abs() < 1e-5);
        assert!((sum(35.0, 10.0, 12.0, 1000) - 17.26471).abs() < 1e-5);
        let profile = |hours: f64| match hours {
            hours if hours < 4.0 => 15.0 + 5.0 * hours,
            hours if hours < 12.0 => 35.0,
            hours => 35.0 - 25.0 * (hours - 12.0) / 12.0,
        };
        let left: f64 = (0..96)
            .map(|i| dose_hours(&data, profile(f64::from(i) / 4.0), 0.25))
            .sum();
        assert!((left - 50.48213).abs() < 1e-5, "{left}");
        let sine = |hours: f64| 18.0 + 6.0 * (std::f64::consts::TAU * hours / 24.0).sin();
        let daily: f64 = (0..2400)
            .map(|i| dose_hours(&data, sine((f64::from(i) + 0.5) / 100.0), 0.01))
            .sum();
        assert!((daily - 21.49378).abs() < 1e-5, "{daily}");
    }

    /// Published problems on the two-point form: Purdue general chemistry review, ch. 22, practice
    /// problem 12 (k 2.91e-6 at 573 K, 1.6 at 873 K; the energy, 183.24 kJ/mol, computed), and
    /// calculatorlib.com (0.001 at 298 K, 0.01 at 320 K: 82.98 kJ/mol).
    #[test]
    fn two_point_problems_agree() {
        for (kj, low_k, high_k, ratio) in [
            (183.24, 573.0, 873.0, 1.6 / 2.91e-6),
            (82.98, 298.0, 320.0, 10.0),
        ] {
            let mut data = coating(arrhenius(kj));
            data.reference_c = low_k - 273.15;
            let found: f64 = rate(&data, high_k - 273.15);
            // The energies are printed to 0.01 kJ/mol, which is what is left here.
            let left_kj =
                (found / ratio).ln() * GAS_CONSTANT / 1000.0 / (1.0 / low_k - 1.0 / high_k);
            assert!(left_kj.abs() < 0.006, "{kj}: {found} for {ratio}");
        }
    }

    /// Q10 = 2 between 25 and 35 C needs 52.949 kJ/mol: same section, computed.
    #[test]
    fn q10_between_other_temperatures_agrees() {
        let mut data = coating(arrhenius(52.949));
        data.reference_c = 25.0;
        assert!((rate(&data, 35.0) - 2.0).abs() < 1e-4);
    }

    proptest! {
        #[test]
        fn warmer_is_never_slower(kj in 10.0..200.0f64, low in -20.0..99.0f64, by in 0.0..1.0f64) {
            let data = coating(arrhenius(kj));
            prop_assert!(rate(&data, low + by) >= rate(&data, low));
        }
    }
}
