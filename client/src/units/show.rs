//! Writing quantities: the chosen system first, the other in brackets.

use super::table::{
    G_PER_POUND, M2_PER_SQFT, ML_PER_FLOZ, ML_PER_GALLON, MM_PER_INCH, PA_PER_PSI, UM_PER_MIL,
};

/// Which units come first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum System {
    /// Millilitres, millimetres, degrees Celsius.
    Metric,
    /// US customary: fluid ounces, inches, degrees Fahrenheit.
    Us,
}

impl System {
    /// A volume given in millilitres.
    pub(crate) fn volume(self, ml: f64) -> String {
        let metric = if ml < 1_000.0 {
            unit(ml, "ml")
        } else {
            unit(ml / 1_000.0, "l")
        };
        let us = if ml < ML_PER_GALLON {
            unit(ml / ML_PER_FLOZ, "fl oz")
        } else {
            unit(ml / ML_PER_GALLON, "gal")
        };
        self.both(&metric, &us)
    }

    /// A weight given in grams.
    pub(crate) fn mass(self, g: f64) -> String {
        let metric = if g < 1_000.0 {
            unit(g, "g")
        } else {
            unit(g / 1_000.0, "kg")
        };
        let us = if g < G_PER_POUND {
            unit(g * 16.0 / G_PER_POUND, "oz")
        } else {
            unit(g / G_PER_POUND, "lb")
        };
        self.both(&metric, &us)
    }

    /// A length given in millimetres.
    pub(crate) fn length(self, mm: f64) -> String {
        let metric = if mm < 10_000.0 {
            format!("{} mm", decimals(mm, if mm < 100.0 { 1 } else { 0 }))
        } else {
            format!("{} m", decimals(mm / 1_000.0, 2))
        };
        let us = if mm < 120.0 * MM_PER_INCH {
            unit(mm / MM_PER_INCH, "in")
        } else {
            unit(mm / MM_PER_INCH / 12.0, "ft")
        };
        self.both(&metric, &us)
    }

    /// A thickness given in micrometres.
    pub(crate) fn thickness(self, um: f64) -> String {
        let metric = format!("{} µm", decimals(um, 1));
        self.both(
            &metric,
            &format!(
                "{} mil",
                decimals(um / UM_PER_MIL, if um < 2.5 { 3 } else { 2 })
            ),
        )
    }

    /// A temperature given in degrees Celsius.
    pub(crate) fn temperature(self, c: f64) -> String {
        let metric = format!("{} °C", decimals(c, 1));
        self.both(
            &metric,
            &format!("{} °F", decimals(c * 9.0 / 5.0 + 32.0, 1)),
        )
    }

    /// A difference of temperatures given in kelvins.
    pub(crate) fn difference(self, k: f64) -> String {
        let metric = format!("{} K", decimals(k, 1));
        self.both(&metric, &format!("{} °F", decimals(k * 9.0 / 5.0, 1)))
    }

    /// A pressure given in pascals.
    pub(crate) fn pressure(self, pa: f64) -> String {
        self.both(&unit(pa / 1_000.0, "kPa"), &unit(pa / PA_PER_PSI, "psi"))
    }

    /// An area given in square metres.
    pub(crate) fn area(self, m2: f64) -> String {
        self.both(&unit(m2, "m²"), &unit(m2 / M2_PER_SQFT, "sq ft"))
    }

    fn both(self, metric: &str, us: &str) -> String {
        match self {
            Self::Metric => format!("{metric} ({us})"),
            Self::Us => format!("{us} ({metric})"),
        }
    }
}

/// A size of files or disks, given in bytes: `44.92 GB`.
pub(crate) fn size(bytes: f64) -> String {
    let units = [(1e12, "TB"), (1e9, "GB"), (1e6, "MB"), (1e3, "kB")];
    match units.into_iter().find(|(least, _)| bytes >= *least) {
        Some((factor, name)) => unit(bytes / factor, name),
        None => unit(bytes, "B"),
    }
}

/// A number with four digits that count, fewer when the rest are zeros; an
/// exponent only for what nobody would read out.
pub(crate) fn number(value: f64) -> String {
    if value.abs() >= 1e12 || !value.is_finite() {
        return format!("{value:.3e}");
    }
    let whole_digits = match value.abs() {
        size if size >= 1_000.0 => 4,
        size if size >= 100.0 => 3,
        size if size >= 10.0 => 2,
        size if size >= 1.0 => 1,
        size if size >= 0.1 => 0,
        _ => -1,
    };
    decimals(value, usize::try_from(4 - whole_digits).unwrap_or_default())
}

/// A number with at most so many decimals, zeros at the end left out.
pub(crate) fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let text = match text.split_once('.') {
        Some(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        None => text,
    };
    if text == "-0" { "0".to_owned() } else { text }
}

fn unit(value: f64, name: &str) -> String {
    format!("{} {name}", number(value))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::parse::{LengthMm, TemperatureC, VolumeMl};
    use super::*;

    #[test]
    fn the_chosen_system_comes_first() {
        let show = |system: System| {
            [
                system.volume(384.615_384),
                system.volume(1_000.0),
                system.volume(18_927.058_92),
                system.length(1524.0),
                system.length(15_000.0),
                system.length(25.4),
                system.thickness(101.6),
                system.temperature(35.0),
                system.temperature(-0.01),
                system.difference(5.0),
                system.pressure(101_325.0),
                system.pressure(10_000.0),
                system.area(2.25),
            ]
            .join("\n")
        };
        insta::assert_snapshot!(show(System::Metric), @"
        384.6 ml (13.01 fl oz)
        1 l (33.81 fl oz)
        18.93 l (5 gal)
        1524 mm (60 in)
        15 m (49.21 ft)
        25.4 mm (1 in)
        101.6 µm (4 mil)
        35 °C (95 °F)
        0 °C (32 °F)
        5 K (9 °F)
        101.3 kPa (14.7 psi)
        10 kPa (1.45 psi)
        2.25 m² (24.22 sq ft)
        ");
        insta::assert_snapshot!(show(System::Us), @"
        13.01 fl oz (384.6 ml)
        33.81 fl oz (1 l)
        5 gal (18.93 l)
        60 in (1524 mm)
        49.21 ft (15 m)
        1 in (25.4 mm)
        4 mil (101.6 µm)
        95 °F (35 °C)
        32 °F (0 °C)
        9 °F (5 K)
        14.7 psi (101.3 kPa)
        1.45 psi (10 kPa)
        24.22 sq ft (2.25 m²)
        ");
    }

    #[test]
    fn numbers_keep_four_digits() {
        let all = [
            0.0, 0.01234567, 0.5, 1.0, 9.0909, 23.45678, 999.96, 1234.567, 123_456.7,
        ];
        insta::assert_snapshot!(all.map(number).join(" "), @"0 0.01235 0.5 1 9.091 23.46 1000 1235 123457");
    }

    fn parts(text: &str) -> (&str, &str) {
        let (first, rest) = text.split_once(" (").unwrap();
        (first, rest.trim_end_matches(')'))
    }

    proptest! {
        // Both halves of what is printed can be typed again, and mean the same
        // within the rounding of four digits.
        #[test]
        fn what_is_printed_can_be_read(ml in 1.0..1e6_f64, mm in 100.0..1e5_f64, c in -20.0..100_f64) {
            let text = System::Metric.volume(ml);
            let (metric, us) = parts(&text);
            for half in [metric, us] {
                let back = half.parse::<VolumeMl>().unwrap().0;
                prop_assert!((back / ml - 1.0).abs() < 1e-3, "{} {}", ml, half);
            }
            let text = System::Us.length(mm);
            let (us, metric) = parts(&text);
            for half in [metric, us] {
                let back = half.parse::<LengthMm>().unwrap().0;
                prop_assert!((back / mm - 1.0).abs() < 6e-3, "{} {}", mm, half);
            }
            let text = System::Us.temperature(c);
            let (us, metric) = parts(&text);
            for half in [metric, us] {
                let back = half.parse::<TemperatureC>().unwrap().0;
                prop_assert!((back - c).abs() < 0.06, "{} {}", c, half);
            }
        }
    }
}
