//! How fast a coating cures at a temperature, and in moist or dry air.
//!
//! The rate is relative to the product's reference conditions: an Arrhenius
//! factor, exp(Ea/R (1/Tref - 1/T)), a power of Q10, or the product's own table
//! of rates; times, for a coating that cures by moisture, a power of the
//! vapour in the air. Rate times time is the dose, in hours at the reference;
//! doses add over segments, and a milestone is reached when the dose equals its
//! stated time.

use super::coating::{CoatingData, RatePoint, TemperatureResponse};
use crate::air::ln_absolute_humidity;

/// Molar gas constant, J/(mol K): exact since the 2019 SI.
pub const GAS_CONSTANT: f64 = 8.314_462_618;
pub(crate) const KELVIN: f64 = 273.15;

/// Rate of cure at `panel_c` (Celsius, -20 to 150) relative to the product's
/// reference temperature; 2 is twice as fast, 1 where the product states no
/// response. A table is read with straight lines between the logarithms of its
/// rates; above its hottest point that rate is held, below its coldest the last
/// line is continued, so that neither end promises more speed than was stated.
///
/// Held against tables computed with R above; see the tests.
pub fn rate(coating: &CoatingData, panel_c: f64) -> f64 {
    bounded_exp(Response::of(coating).ln_temperature(panel_c))
}

/// Rate of a moisture cure in air of `air_c` (Celsius, -20 to 100) and
/// `relative_humidity_percent` (above 0 to 100), relative to the reference air:
/// (rho/rho_ref)^n, rho the vapour in grams per cubic metre. 1 where the product
/// states no response.
///
/// That such coatings follow absolute, not relative, humidity: a supplier's note,
/// check values, section 2. The power law and its exponent are common practice,
/// no source; the product's own data come first.
pub fn humidity_rate(coating: &CoatingData, air_c: f64, relative_humidity_percent: f64) -> f64 {
    bounded_exp(Response::of(coating).ln_moisture(air_c, relative_humidity_percent))
}

/// What `hours` at `panel_c` are worth, in hours at the reference temperature.
pub fn dose_hours(coating: &CoatingData, panel_c: f64, hours: f64) -> f64 {
    rate(coating, panel_c) * hours
}

/// A coating's responses with what is constant worked out once.
#[derive(Debug, Clone)]
pub(crate) struct Response {
    temperature: OfTemperature,
    moisture: Option<OfMoisture>,
}

#[derive(Debug, Clone)]
enum OfTemperature {
    None,
    Arrhenius {
        kelvins: f64,
        reference_inverse: f64,
    },
    Q10 {
        ln_per_k: f64,
        reference_c: f64,
    },
    /// Temperatures with the logarithms of their rates, 0 at the reference.
    Table(Vec<(f64, f64)>),
}

#[derive(Debug, Clone, Copy)]
struct OfMoisture {
    exponent: f64,
    ln_reference: f64,
}

impl Response {
    pub(crate) fn of(coating: &CoatingData) -> Self {
        let reference_c = coating.reference_c;
        let temperature = match &coating.temperature_response {
            None => OfTemperature::None,
            Some(TemperatureResponse::Arrhenius {
                activation_energy_kj_per_mol: energy,
            }) => OfTemperature::Arrhenius {
                kelvins: energy * 1000.0 / GAS_CONSTANT,
                reference_inverse: 1.0 / (reference_c + KELVIN),
            },
            Some(TemperatureResponse::Q10 { factor }) => OfTemperature::Q10 {
                ln_per_k: factor.ln() / 10.0,
                reference_c,
            },
            Some(TemperatureResponse::Table { points }) => {
                let log = |point: &RatePoint| (point.panel_c, point.rate.ln());
                let mut logs: Vec<(f64, f64)> = points.iter().map(log).collect();
                let ln_reference = ln_of_table(&logs, reference_c);
                logs.iter_mut().for_each(|(_, ln)| *ln -= ln_reference);
                OfTemperature::Table(logs)
            }
        };
        let moisture = coating.humidity_response.map(|response| OfMoisture {
            exponent: response.exponent,
            ln_reference: ln_absolute_humidity(
                reference_c,
                response.reference_relative_humidity_percent,
            ),
        });
        Self {
            temperature,
            moisture,
        }
    }

    /// Natural logarithm of the rate by temperature.
    pub(crate) fn ln_temperature(&self, panel_c: f64) -> f64 {
        match &self.temperature {
            OfTemperature::None => 0.0,
            OfTemperature::Arrhenius {
                kelvins,
                reference_inverse,
            } => kelvins * (reference_inverse - 1.0 / (panel_c + KELVIN)),
            OfTemperature::Q10 {
                ln_per_k,
                reference_c,
            } => ln_per_k * (panel_c - reference_c),
            OfTemperature::Table(logs) => ln_of_table(logs, panel_c),
        }
    }

    /// Natural logarithm of the rate by moisture.
    pub(crate) fn ln_moisture(&self, air_c: f64, relative_humidity_percent: f64) -> f64 {
        self.moisture.map_or(0.0, |moisture| {
            let ln_vapour = ln_absolute_humidity(air_c, relative_humidity_percent);
            moisture.exponent * (ln_vapour - moisture.ln_reference)
        })
    }

    /// The same, blind to moisture: for air that nobody measured.
    pub(crate) fn without_moisture(self) -> Self {
        Self {
            moisture: None,
            ..self
        }
    }

    /// Whether moisture counts.
    pub(crate) fn by_moisture(&self) -> bool {
        self.moisture.is_some()
    }

    /// Temperatures where the rate has a corner, rising.
    pub(crate) fn corners_c(&self) -> impl DoubleEndedIterator<Item = f64> + '_ {
        let logs: &[(f64, f64)] = match &self.temperature {
            OfTemperature::Table(logs) => logs,
            OfTemperature::None | OfTemperature::Arrhenius { .. } | OfTemperature::Q10 { .. } => {
                &[]
            }
        };
        logs.iter().map(|(panel_c, _)| *panel_c)
    }
}

/// The exponential, kept from under- and overflow, which no real cure comes near.
pub(crate) fn bounded_exp(ln_rate: f64) -> f64 {
    ln_rate.clamp(-80.0, 80.0).exp()
}

/// Natural logarithm of a table's rate at `panel_c`. Fewer than two points, which
/// no checked table has, say nothing.
fn ln_of_table(logs: &[(f64, f64)], panel_c: f64) -> f64 {
    let Some(&(hottest_c, ln_hottest)) = logs.last() else {
        return 0.0;
    };
    if panel_c >= hottest_c {
        return ln_hottest;
    }
    let above = logs.partition_point(|(c, _)| *c <= panel_c).max(1);
    match (logs.get(above - 1), logs.get(above)) {
        (Some(low), Some(high)) => low.1 + (panel_c - low.0) / (high.0 - low.0) * (high.1 - low.1),
        _ => ln_hottest,
    }
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
