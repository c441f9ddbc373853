//! Moist air: dew point, wet bulb, humidity ratio.
//!
//! Saturation pressure after Hyland and Wexler (1983) as printed in ASHRAE
//! Fundamentals 2017, chapter 1; the dew point is its inverse by bisection.
//! Below 0 C everything is over ice: what is called the dew point is then the
//! frost point. Equation numbers are from memory; the figures are held against
//! PsychroLib.

use crate::caution::{Caution, CautionCode, Severity};
use crate::error::CalcError;
use crate::violation::Checks;

#[cfg(test)]
mod tests;

/// Air in the bay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirInput {
    /// Dry-bulb temperature, Celsius, -20 to 60.
    pub air_c: f64,
    /// Relative humidity, percent, above 0 to 100; not so dry that the dew point
    /// falls below -100 C, where the formula ends.
    pub relative_humidity_percent: f64,
    /// Station pressure, pascals, 50 000 to 110 000; absent: from `altitude_m`, or
    /// 101 325.
    pub pressure_pa: Option<f64>,
    /// Height above sea level, metres, -500 to 5000, in place of `pressure_pa`;
    /// not both. See [`standard_pressure_pa`].
    pub altitude_m: Option<f64>,
}

/// What the air tells.
#[derive(Debug, Clone, PartialEq)]
pub struct AirResult {
    /// Station pressure that was used, pascals: given, from the altitude, or standard.
    pub pressure_pa: f64,
    /// Dew point, Celsius; below 0 the frost point over ice.
    pub dew_point_c: f64,
    /// Whether `dew_point_c` is a frost point.
    pub frost: bool,
    /// Thermodynamic wet-bulb temperature, Celsius.
    pub wet_bulb_c: f64,
    /// Kilograms of water vapour per kilogram of dry air.
    pub humidity_ratio: f64,
    /// The same in grains per pound of dry air, as US product data state it.
    pub grains_per_lb: f64,
    /// Saturation pressure of water vapour at the air's temperature, pascals.
    pub saturation_pa: f64,
    /// Water vapour, grams per cubic metre of air.
    pub absolute_humidity_g_per_m3: f64,
    /// Panel temperature less dew point, kelvins.
    pub dew_margin_k: Option<f64>,
    /// The model, in words.
    pub model: &'static str,
    /// What to look out for.
    pub cautions: Vec<Caution>,
}

/// Standard atmosphere at sea level, pascals (ASHRAE Fundamentals 2017, chapter 1, table 1).
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;
/// Least distance of a surface above the dew point while coating, kelvins
/// (ISO 8502-4 and ISO 12944-7, as cited in secondary sources).
pub const LEAST_DEW_MARGIN_K: f64 = 3.0;
/// Highest relative humidity for coating unless the product says otherwise, percent (same).
pub const HIGHEST_HUMIDITY_PERCENT: f64 = 85.0;

const MODEL: &str = "Hyland-Wexler saturation pressure (ASHRAE Fundamentals 2017, chapter 1), inverted; over ice below 0 C";
const KELVIN: f64 = 273.15;
/// Grains in a pound, exact.
const GRAINS_PER_LB: f64 = 7000.0;
/// Lowest temperature of the saturation formula, Celsius.
const LOWEST_C: f64 = -100.0;

/// Dew point, wet bulb and humidity of the air, and how far a panel at
/// `panel_c` (Celsius, -20 to 150) is above the dew point.
///
/// Agrees with PsychroLib 2.5.0 within 0.05 K (measured: 0.0011 K at worst, on
/// 7878 points at two pressures) over -20 to 50 C and 5 to 100 %.
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range, and air so dry that
/// its dew point lies below -100 C.
pub fn dew_point(air: &AirInput, panel_c: Option<f64>) -> Result<AirResult, CalcError> {
    let mut checks = Checks::new();
    air.check(&mut checks);
    checks.optional_in_range("panel_c", panel_c, -20.0, 150.0, "C");
    checks.finish()?;
    let pressure_pa = air.pressure();
    let saturated_pa = saturation_pa(air.air_c);
    let vapour_pa = air.relative_humidity_percent / 100.0 * saturated_pa;
    let humidity_ratio = ratio(vapour_pa, pressure_pa);
    let dew_point_c = inverse(LOWEST_C, air.air_c, |t| saturation_pa(t) - vapour_pa);
    let wet_bulb_c = inverse(dew_point_c, air.air_c, |t| {
        wet_bulb_ratio(air.air_c, t, pressure_pa) - humidity_ratio
    });
    let absolute = absolute_humidity_g_per_m3(air.air_c, air.relative_humidity_percent);
    let dew_margin_k = panel_c.map(|panel_c| panel_c - dew_point_c);
    Ok(AirResult {
        pressure_pa,
        dew_point_c,
        frost: dew_point_c < 0.0,
        wet_bulb_c,
        humidity_ratio,
        grains_per_lb: humidity_ratio * GRAINS_PER_LB,
        saturation_pa: saturated_pa,
        absolute_humidity_g_per_m3: absolute,
        dew_margin_k,
        model: MODEL,
        cautions: cautions(air, dew_margin_k, dew_point_c),
    })
}

/// Pressure of the standard atmosphere at a height above sea level, metres, -500
/// to 5000: p = 101 325 (1 - 2.25577e-5 Z)^5.2559 pascals (ASHRAE Fundamentals 2017,
/// chapter 1, equation 3). Weather moves the true pressure by some 3 %.
///
/// ```
/// // Table 1 of the same chapter.
/// assert!((lamella_calc::air::standard_pressure_pa(500.0) - 95_461.0).abs() < 1.0);
/// ```
pub fn standard_pressure_pa(altitude_m: f64) -> f64 {
    STANDARD_PRESSURE_PA * (1.0 - 2.25577e-5 * altitude_m).powf(5.2559)
}

/// Water vapour in air, grams per cubic metre, from its temperature (Celsius,
/// -20 to 100) and relative humidity (percent, 0 to 100): ideal gas, 461.5 J/(kg K).
pub(crate) fn absolute_humidity_g_per_m3(air_c: f64, relative_humidity_percent: f64) -> f64 {
    let vapour_pa = relative_humidity_percent / 100.0 * saturation_pa(air_c);
    vapour_pa / (461.5 * (air_c + KELVIN)) * 1000.0
}

/// Natural logarithm of the same, for relative humidity above 0.
pub(crate) fn ln_absolute_humidity(air_c: f64, relative_humidity_percent: f64) -> f64 {
    // One logarithm for the quotient.
    ln_saturation_pa(air_c)
        + (relative_humidity_percent / 100.0 / (461.5 * (air_c + KELVIN)) * 1000.0).ln()
}

impl AirInput {
    /// Station pressure, pascals.
    fn pressure(&self) -> f64 {
        self.pressure_pa
            .or_else(|| self.altitude_m.map(standard_pressure_pa))
            .unwrap_or(STANDARD_PRESSURE_PA)
    }

    /// Notes every value out of range, under its own name.
    pub(crate) fn check(&self, checks: &mut Checks) {
        checks.in_range("air_c", self.air_c, -20.0, 60.0, "C");
        let humidity = self.relative_humidity_percent;
        checks.above("relative_humidity_percent", humidity, 0.0, 100.0, "percent");
        // Only a number in range gets here false; NaN is noted above.
        let too_dry = humidity / 100.0 * saturation_pa(self.air_c) < saturation_pa(LOWEST_C);
        checks.require(!too_dry, "relative_humidity_percent", || {
            format!("must leave the dew point above {LOWEST_C} C, got {humidity} percent")
        });
        checks.optional_in_range("pressure_pa", self.pressure_pa, 50_000.0, 110_000.0, "Pa");
        checks.optional_in_range("altitude_m", self.altitude_m, -500.0, 5000.0, "m");
        let both = self.pressure_pa.is_some() && self.altitude_m.is_some();
        checks.require(!both, "altitude_m", || {
            "must not be given together with pressure_pa: one tells the other".to_owned()
        });
    }
}

/// Saturation pressure of water vapour, pascals, over ice below 0 C and over
/// water above; -100 to 200 C.
fn saturation_pa(celsius: f64) -> f64 {
    ln_saturation_pa(celsius).exp()
}

/// Natural logarithm of the same.
fn ln_saturation_pa(celsius: f64) -> f64 {
    let t = celsius + KELVIN;
    if celsius < 0.0 {
        -5.674_535_9e3 / t + 6.392_524_7 - 9.677_843e-3 * t
            + 6.221_570_1e-7 * t.powi(2)
            + 2.074_782_5e-9 * t.powi(3)
            - 9.484_024e-13 * t.powi(4)
            + 4.163_501_9 * t.ln()
    } else {
        -5.800_220_6e3 / t + 1.391_499_3 - 4.864_023_9e-2 * t + 4.176_476_8e-5 * t.powi(2)
            - 1.445_209_3e-8 * t.powi(3)
            + 6.545_967_3 * t.ln()
    }
}

/// Humidity ratio from vapour pressure (same chapter, equation 20).
fn ratio(vapour_pa: f64, pressure_pa: f64) -> f64 {
    0.621_945 * vapour_pa / (pressure_pa - vapour_pa)
}

/// Humidity ratio of air at `air_c` whose wet bulb is `wet_c` (equations 33
/// and 35).
fn wet_bulb_ratio(air_c: f64, wet_c: f64, pressure_pa: f64) -> f64 {
    let saturated = ratio(saturation_pa(wet_c), pressure_pa);
    if wet_c >= 0.0 {
        ((2501.0 - 2.326 * wet_c) * saturated - 1.006 * (air_c - wet_c))
            / (2501.0 + 1.86 * air_c - 4.186 * wet_c)
    } else {
        ((2830.0 - 0.24 * wet_c) * saturated - 1.006 * (air_c - wet_c))
            / (2830.0 + 1.86 * air_c - 2.1 * wet_c)
    }
}

/// The temperature between `low_c` and `high_c` where a rising function is zero.
/// 60 halvings of at most 160 K leave less than a nanokelvin.
///
/// The wet-bulb function steps down where ice turns to water, so a wet bulb near
/// 0 C can have two answers, over ice and over water, up to 1 K apart. Halving
/// from dew point to air temperature takes the one that PsychroLib takes.
fn inverse(low_c: f64, high_c: f64, rising: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (low_c, high_c);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if rising(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

fn cautions(air: &AirInput, dew_margin_k: Option<f64>, dew_point_c: f64) -> Vec<Caution> {
    let mut cautions = Vec::new();
    if let Some(margin) = dew_margin_k.filter(|margin| *margin < LEAST_DEW_MARGIN_K) {
        let dew = format!("{dew_point_c:.1} C ({:.1} F)", dew_point_c * 1.8 + 32.0);
        let text = if margin > 0.0 {
            format!(
                "The panel is {margin:.1} K ({:.1} F) above the dew point of {dew}; at least 3 K \
                 (5.4 F) is usual, or moisture may settle under the coating. Warm the panel or dry \
                 the air.",
                margin * 1.8
            )
        } else {
            format!(
                "The panel is at or below the dew point of {dew}: water settles on it. Do not coat; \
                 warm the panel to at least 3 K (5.4 F) above it, or dry the air."
            )
        };
        cautions.push(Caution {
            code: CautionCode::DewPointNear,
            severity: Severity::Warning,
            text,
            basis: "ISO 8502-4 and ISO 12944-7, secondary sources",
        });
    }
    if air.relative_humidity_percent > HIGHEST_HUMIDITY_PERCENT {
        cautions.push(Caution {
            code: CautionCode::HumidityHigh,
            severity: Severity::Caution,
            text: format!(
                "Relative humidity is {:.1} %; at most 85 % is usual unless the product says otherwise.",
                air.relative_humidity_percent
            ),
            basis: "ISO 8502-4 and ISO 12944-7, secondary sources",
        });
    }
    cautions
}
