//! Paint gauge readings of one panel, and which kind of gauge reads which panel.
//!
//! Mean and sample standard deviation `s = sqrt(sum (x - mean)^2 / (n - 1))` (JCGM 100:2008, 4.2).

use crate::error::CalcError;
use crate::violation::Checks;

/// Most readings in one summary.
pub const MAX_READINGS: usize = 10_000;
/// Thickest reading accepted, in um; more than any paint and filler on a panel.
pub const MAX_READING_UM: f64 = 20_000.0;

/// What a panel is made of, under its paint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Substrate {
    /// Not stated. Treated as the most delicate.
    #[default]
    Unknown,
    /// Magnetic steel sheet.
    Steel,
    /// Aluminium sheet.
    Aluminium,
    /// Fibre-reinforced resin. Carbon fibre conducts a little and misleads an eddy-current gauge.
    Composite,
    /// Plastic, such as a bumper skin.
    Plastic,
}

/// How a gauge senses the distance through the paint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum GaugePrinciple {
    /// Magnetic: non-magnetic coating on a magnetic metal.
    Magnetic,
    /// Eddy current: non-conductive coating on a non-magnetic, conductive metal.
    EddyCurrent,
    /// Ultrasonic pulse echo: any base that reflects sound at the paint's lower face.
    Ultrasonic,
}

/// Readings of one panel or spot in figures.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugeSummary {
    /// How many readings.
    pub count: usize,
    /// Arithmetic mean, in um.
    pub mean_um: f64,
    /// Sample standard deviation, in um; absent for a single reading.
    pub sample_sd_um: Option<f64>,
    /// Smallest reading, in um.
    pub min_um: f64,
    /// Largest reading, in um.
    pub max_um: f64,
}

/// Summarises readings in um, each 0 to [`MAX_READING_UM`], at least one, at most [`MAX_READINGS`].
///
/// # Errors
/// [`CalcError::Invalid`] naming each reading that is none (field `readings_um[i]`), or
/// `readings_um` when there are none or too many.
pub fn summarise(readings_um: &[f64]) -> Result<GaugeSummary, CalcError> {
    let count = readings_um.len();
    let mut checks = Checks::new();
    checks.require((1..=MAX_READINGS).contains(&count), "readings_um", || {
        format!("must have 1 to {MAX_READINGS} readings, got {count}")
    });
    for (i, &reading) in readings_um.iter().take(MAX_READINGS).enumerate() {
        checks.in_range(
            format!("readings_um[{i}]"),
            reading,
            0.0,
            MAX_READING_UM,
            "um",
        );
    }
    checks.finish()?;
    #[expect(
        clippy::cast_precision_loss,
        reason = "at most MAX_READINGS, far below 2^52"
    )]
    let n = count as f64;
    let mean_um = readings_um.iter().sum::<f64>() / n;
    let squares: f64 = readings_um.iter().map(|r| (r - mean_um).powi(2)).sum();
    Ok(GaugeSummary {
        count,
        mean_um,
        sample_sd_um: (count > 1).then(|| (squares / (n - 1.0)).sqrt()),
        min_um: readings_um.iter().copied().fold(f64::INFINITY, f64::min),
        max_um: readings_um
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max),
    })
}

/// Gauge principles that read paint on this substrate; none when it is unknown.
#[must_use]
pub const fn readable_by(substrate: Substrate) -> &'static [GaugePrinciple] {
    match substrate {
        Substrate::Unknown => &[],
        Substrate::Steel => &[GaugePrinciple::Magnetic],
        Substrate::Aluminium => &[GaugePrinciple::EddyCurrent],
        Substrate::Composite | Substrate::Plastic => &[GaugePrinciple::Ultrasonic],
    }
}

impl GaugePrinciple {
    /// The standard that describes the method. ISO 2178 and ISO 2360 from their catalogue scopes;
    /// the ultrasonic pair from memory.
    #[must_use]
    pub const fn standard(self) -> &'static str {
        match self {
            Self::Magnetic => "ISO 2178:2016",
            Self::EddyCurrent => "ISO 2360",
            Self::Ultrasonic => "ISO 2808 (ultrasonic method), ASTM D6132",
        }
    }
}

impl GaugePrinciple {
    /// Lower-case trade word, for sentences.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Magnetic => "magnetic",
            Self::EddyCurrent => "eddy-current",
            Self::Ultrasonic => "ultrasonic",
        }
    }
}

impl Substrate {
    /// Lower-case trade word, for sentences.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Unknown => "unknown material",
            Self::Steel => "steel",
            Self::Aluminium => "aluminium",
            Self::Composite => "composite",
            Self::Plastic => "plastic",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Check values, section 5: mean 109.6, s 2.0736 (computed with a reference library).
    #[test]
    fn summary_of_five_readings() {
        let summary = summarise(&[108., 111., 107., 112., 110.]).unwrap();
        assert!((summary.mean_um - 109.6).abs() < 1e-9);
        assert!((summary.sample_sd_um.unwrap() - 2.0736).abs() < 5e-5);
        assert!((summary.min_um - 107.).abs() < 1e-9 && (summary.max_um - 112.).abs() < 1e-9);
        assert_eq!(summary.count, 5);
    }

    #[test]
    fn one_reading_has_no_spread_and_none_has_no_summary() {
        assert_eq!(summarise(&[95.0]).unwrap().sample_sd_um, None);
        let Err(CalcError::Invalid(none)) = summarise(&[]) else {
            panic!("expected a violation")
        };
        assert_eq!(
            none.iter().map(|v| v.field.as_str()).collect::<Vec<_>>(),
            ["readings_um"]
        );
        let Err(CalcError::Invalid(bad)) = summarise(&[1.0, f64::NAN, -2.0, 3e4]) else {
            panic!("expected violations")
        };
        let fields: Vec<&str> = bad.iter().map(|v| v.field.as_str()).collect();
        assert_eq!(
            fields,
            ["readings_um[1]", "readings_um[2]", "readings_um[3]"]
        );
    }

    /// Scopes of ISO 2178:2016 and ISO 2360 (catalogue); ultrasonic from memory.
    #[test]
    fn each_substrate_has_its_gauge() {
        assert_eq!(readable_by(Substrate::Steel), [GaugePrinciple::Magnetic]);
        assert_eq!(
            readable_by(Substrate::Aluminium),
            [GaugePrinciple::EddyCurrent]
        );
        assert_eq!(
            readable_by(Substrate::Composite),
            [GaugePrinciple::Ultrasonic]
        );
        assert_eq!(
            readable_by(Substrate::Plastic),
            [GaugePrinciple::Ultrasonic]
        );
        assert_eq!(readable_by(Substrate::Unknown), []);
    }

    proptest! {
        #[test]
        fn any_readings_are_refused_or_ordered(readings: Vec<f64>) {
            if let Ok(s) = summarise(&readings) {
                prop_assert!(s.min_um <= s.mean_um + 1e-6 && s.mean_um <= s.max_um + 1e-6);
                prop_assert!(s.sample_sd_um.is_none_or(|sd| sd >= 0.0));
            }
        }

        #[test]
        fn a_shift_moves_the_mean_and_not_the_spread(
            readings in prop::collection::vec(50.0..200.0f64, 2..40), shift in 0.0..500.0f64,
        ) {
            let plain = summarise(&readings).unwrap();
            let moved: Vec<f64> = readings.iter().map(|r| r + shift).collect();
            let moved = summarise(&moved).unwrap();
            prop_assert!((moved.mean_um - plain.mean_um - shift).abs() < 1e-9);
            let (a, b) = (moved.sample_sd_um.unwrap(), plain.sample_sd_um.unwrap());
            prop_assert!((a - b).abs() < 1e-6);
        }
    }
}
