//! The units and their exact factors.
//!
//! Source: NIST Handbook 44, appendix C, for gallon (231 cubic inches), fluid
//! ounce and pound; the international yard and pound agreement of 1959 for inch
//! and pound. The imperial gallon is 4.54609 l exactly (UK Weights and Measures
//! Act 1985, from memory). A day is 24 hours.

/// What is measured, and in which unit it travels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Dimension {
    /// Millilitres.
    Volume,
    /// Grams.
    Mass,
    /// Millimetres.
    Length,
    /// Micrometres.
    Thickness,
    /// Degrees Celsius.
    Temperature,
    /// Pascals.
    Pressure,
    /// Litres per minute.
    Flow,
    /// Seconds.
    Duration,
    /// Percent.
    Percent,
    /// Square metres.
    Area,
    /// Bytes.
    Size,
}

/// A unit: base value = (value + `offset`) * `factor` / `divisor`. The fraction
/// keeps 95 F exactly 35 C.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Unit {
    /// How it may be written, lower case, without spaces; the first is how it
    /// is usually written.
    pub(crate) names: &'static [&'static str],
    /// Added before scaling.
    pub(crate) offset: f64,
    /// Numerator.
    pub(crate) factor: f64,
    /// Denominator.
    pub(crate) divisor: f64,
}

/// Millilitres in a US fluid ounce.
pub(crate) const ML_PER_FLOZ: f64 = 29.573_529_562_5;
/// Millilitres in a US gallon.
pub(crate) const ML_PER_GALLON: f64 = 3_785.411_784;
/// Millimetres in an inch.
pub(crate) const MM_PER_INCH: f64 = 25.4;
/// Micrometres in a mil, a thousandth of an inch.
pub(crate) const UM_PER_MIL: f64 = 25.4;
/// Grams in a pound.
pub(crate) const G_PER_POUND: f64 = 453.592_37;
/// Pascals in a pound per square inch: 0.45359237 * 9.80665 / 0.0254^2.
pub(crate) const PA_PER_PSI: f64 = 6_894.757_293_168_362;
/// Litres in a US gallon.
const L_PER_GALLON: f64 = 3.785_411_784;
/// Square metres in a square foot.
pub(crate) const M2_PER_SQFT: f64 = 0.092_903_04;

const fn unit(names: &'static [&'static str], factor: f64) -> Unit {
    Unit {
        names,
        offset: 0.0,
        factor,
        divisor: 1.0,
    }
}

const VOLUME: &[Unit] = &[
    unit(&["ml"], 1.0),
    unit(&["cl"], 10.0),
    unit(&["l"], 1_000.0),
    unit(&["floz"], ML_PER_FLOZ),
    unit(&["pt"], 473.176_473),
    unit(&["qt"], 946.352_946),
    unit(&["gal"], ML_PER_GALLON),
    unit(&["impfloz"], 28.413_062_5),
    unit(&["imppt"], 568.261_25),
    unit(&["impgal"], 4_546.09),
];
const LENGTH: &[Unit] = &[
    unit(&["mm"], 1.0),
    unit(&["cm"], 10.0),
    unit(&["m"], 1_000.0),
    unit(&["in", "\"", "inch"], MM_PER_INCH),
    unit(&["ft", "'"], 304.8),
    unit(&["yd"], 914.4),
    Unit {
        names: &["um", "µm", "μm"],
        offset: 0.0,
        factor: 1.0,
        divisor: 1_000.0,
    },
    Unit {
        names: &["mil"],
        offset: 0.0,
        factor: MM_PER_INCH,
        divisor: 1_000.0,
    },
];
const THICKNESS: &[Unit] = &[
    unit(&["um", "µm", "μm"], 1.0),
    unit(&["mil"], UM_PER_MIL),
    unit(&["mm"], 1_000.0),
];
const TEMPERATURE: &[Unit] = &[
    unit(&["c", "°c", "degc"], 1.0),
    Unit {
        names: &["f", "°f", "degf"],
        offset: -32.0,
        factor: 5.0,
        divisor: 9.0,
    },
    Unit {
        names: &["k"],
        offset: -273.15,
        factor: 1.0,
        divisor: 1.0,
    },
];
const PRESSURE: &[Unit] = &[
    unit(&["kpa"], 1_000.0),
    unit(&["psi"], PA_PER_PSI),
    unit(&["bar"], 100_000.0),
    unit(&["hpa", "mbar"], 100.0),
    unit(&["pa"], 1.0),
];
const FLOW: &[Unit] = &[
    unit(&["l/min"], 1.0),
    unit(&["gal/min", "gpm"], L_PER_GALLON),
    Unit {
        names: &["ml/min"],
        offset: 0.0,
        factor: 1.0,
        divisor: 1_000.0,
    },
    Unit {
        names: &["floz/min"],
        offset: 0.0,
        factor: ML_PER_FLOZ,
        divisor: 1_000.0,
    },
    Unit {
        names: &["l/h"],
        offset: 0.0,
        factor: 1.0,
        divisor: 60.0,
    },
];
const DURATION: &[Unit] = &[
    unit(&["s", "sec"], 1.0),
    unit(&["min"], 60.0),
    unit(&["h", "hr"], 3_600.0),
    unit(&["d", "day", "days"], 86_400.0),
    Unit {
        names: &["ms"],
        offset: 0.0,
        factor: 1.0,
        divisor: 1_000.0,
    },
];
const MASS: &[Unit] = &[
    unit(&["g"], 1.0),
    unit(&["kg"], 1_000.0),
    unit(&["oz"], G_PER_POUND / 16.0),
    unit(&["lb", "lbs"], G_PER_POUND),
];
const PERCENT: &[Unit] = &[unit(&["%"], 1.0)];
const AREA: &[Unit] = &[
    unit(&["m2", "m²", "sqm"], 1.0),
    Unit {
        names: &["cm2", "cm²", "sqcm"],
        offset: 0.0,
        factor: 1.0,
        divisor: 10_000.0,
    },
    unit(&["sqft", "ft2", "ft²"], M2_PER_SQFT),
    unit(&["sqin", "in2", "in²"], 0.000_645_16),
];

// Decimal prefixes are the SI's, binary ones those of IEC 80000-13.
const SIZE: &[Unit] = &[
    unit(&["b"], 1.0),
    unit(&["kb"], 1e3),
    unit(&["mb"], 1e6),
    unit(&["gb"], 1e9),
    unit(&["tb"], 1e12),
    unit(&["kib"], 1_024.0),
    unit(&["mib"], 1_048_576.0),
    unit(&["gib"], 1_073_741_824.0),
    unit(&["tib"], 1_099_511_627_776.0),
];

impl Dimension {
    /// Its units; the first is the usual one.
    pub(crate) fn units(self) -> &'static [Unit] {
        match self {
            Self::Volume => VOLUME,
            Self::Mass => MASS,
            Self::Length => LENGTH,
            Self::Thickness => THICKNESS,
            Self::Temperature => TEMPERATURE,
            Self::Pressure => PRESSURE,
            Self::Flow => FLOW,
            Self::Duration => DURATION,
            Self::Percent => PERCENT,
            Self::Area => AREA,
            Self::Size => SIZE,
        }
    }

    /// The unit of that name, whatever the case and the spaces inside it.
    pub(crate) fn find(self, name: &str) -> Option<&'static Unit> {
        let name: String = name
            .chars()
            .filter(|c| !c.is_whitespace())
            .flat_map(char::to_lowercase)
            .collect();
        self.units()
            .iter()
            .find(|unit| unit.names.contains(&name.as_str()))
    }

    /// How its units are usually written, for messages.
    pub(crate) fn accepted(self) -> String {
        let names: Vec<&str> = self
            .units()
            .iter()
            .filter_map(|unit| unit.names.first().copied())
            .map(shown)
            .collect();
        names.join(", ")
    }

    /// Two ways of writing something usual, for messages about a number without
    /// a unit.
    pub(crate) fn hint(self) -> (&'static str, &'static str) {
        match self {
            Self::Volume => ("ml", "floz"),
            Self::Mass => ("g", "oz"),
            Self::Length => ("mm", "in"),
            Self::Thickness => ("um", "mil"),
            Self::Temperature => ("C", "F"),
            Self::Pressure => ("kPa", "psi"),
            Self::Flow => ("l/min", "gal/min"),
            Self::Duration => ("min", "h"),
            Self::Percent => ("%", "%"),
            Self::Area => ("m2", "sqft"),
            Self::Size => ("MB", "GB"),
        }
    }
}

impl Unit {
    /// The value in the dimension's own unit.
    pub(crate) fn to_base(self, value: f64) -> f64 {
        (value + self.offset) * self.factor / self.divisor
    }
}

/// Units are matched in lower case but written as people write them.
fn shown(name: &'static str) -> &'static str {
    match name {
        "c" => "C",
        "f" => "F",
        "k" => "K",
        "kpa" => "kPa",
        "hpa" => "hPa",
        "pa" => "Pa",
        "b" => "B",
        "kb" => "kB",
        "mb" => "MB",
        "gb" => "GB",
        "tb" => "TB",
        "kib" => "KiB",
        "mib" => "MiB",
        "gib" => "GiB",
        "tib" => "TiB",
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn to_base(dimension: Dimension, name: &str, value: f64) -> f64 {
        dimension.find(name).unwrap().to_base(value)
    }

    // NIST Handbook 44 appendix C and the 1959 agreement, as listed in
    // shared/check-values.md, section 9; there checked with pint 0.25.3.
    #[test]
    #[expect(clippy::float_cmp, reason = "the conversions are exact by definition")]
    fn published_conversions() {
        use Dimension::*;
        assert_eq!(to_base(Volume, "gal", 1.0), 3_785.411_784);
        assert_eq!(to_base(Volume, "qt", 1.0), 946.352_946);
        assert_eq!(to_base(Volume, "pt", 1.0), 473.176_473);
        assert_eq!(to_base(Volume, "fl oz", 1.0), 29.573_529_562_5);
        assert_eq!(to_base(Volume, "impfloz", 1.0), 28.413_062_5);
        assert_eq!(to_base(Volume, "impgal", 1.0), 4_546.09);
        assert_eq!(to_base(Mass, "lb", 1.0), 453.592_37);
        assert_eq!(to_base(Mass, "oz", 16.0), 453.592_37);
        assert_eq!(to_base(Length, "in", 1.0), 25.4);
        assert_eq!(to_base(Length, "ft", 1.0), 304.8);
        assert_eq!(to_base(Pressure, "psi", 1.0), 6_894.757_293_168_362);
        assert_eq!(to_base(Pressure, "bar", 1.0), 100_000.0);
        assert_eq!(to_base(Flow, "gpm", 1.0), 3.785_411_784);
        assert_eq!(to_base(Area, "sq ft", 1.0), 0.092_903_04);
        assert_eq!(to_base(Area, "in2", 1.0), 0.000_645_16);
        assert_eq!(to_base(Area, "cm²", 16_000.0), 1.6);
        for (fahrenheit, celsius) in [
            (-40.0, -40.0),
            (32.0, 0.0),
            (68.0, 20.0),
            (77.0, 25.0),
            (95.0, 35.0),
            (140.0, 60.0),
            (212.0, 100.0),
        ] {
            assert_eq!(to_base(Temperature, "F", fahrenheit), celsius);
        }
        for (mil, um) in [
            (0.5, 12.7),
            (1.5, 38.1),
            (2.0, 50.8),
            (4.0, 101.6),
            (5.0, 127.0),
        ] {
            assert!((to_base(Thickness, "mil", mil) - um).abs() < 1e-12);
        }
    }

    // The definition: a gallon is 231 cubic inches, 128 fluid ounces; a pint is
    // an eighth and a quart a quarter of it. An imperial gallon is 160 imperial
    // fluid ounces and 8 imperial pints.
    #[test]
    fn the_factors_fit_each_other() {
        let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-15, "{a} {b}");
        near(231.0 * 2.54_f64.powi(3), ML_PER_GALLON);
        near(128.0 * ML_PER_FLOZ, ML_PER_GALLON);
        near(to_base(Dimension::Volume, "pt", 8.0), ML_PER_GALLON);
        near(to_base(Dimension::Volume, "qt", 4.0), ML_PER_GALLON);
        near(
            to_base(Dimension::Volume, "impfloz", 160.0),
            to_base(Dimension::Volume, "impgal", 1.0),
        );
        near(
            to_base(Dimension::Volume, "imppt", 8.0),
            to_base(Dimension::Volume, "impgal", 1.0),
        );
        near(0.453_592_37 * 9.806_65 / 0.0254_f64.powi(2), PA_PER_PSI);
        near(0.3048 * 0.3048, M2_PER_SQFT);
        near(to_base(Dimension::Area, "sqin", 144.0), M2_PER_SQFT);
        near(0.0254 * 0.0254, to_base(Dimension::Area, "sqin", 1.0));
    }
}
