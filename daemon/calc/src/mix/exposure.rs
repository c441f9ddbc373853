//! Occupational limits of alcohol vapour, and ppm as mg/m3.
//!
//! c = ppm M p / (R T). Published figures: NIOSH Pocket Guide, npgd0359 and
//! npgd0262, and the IDLH pages 67-63-0 and 64-17-5. Other countries set other
//! limits; the local code decides.

use super::alcohol::Alcohol;
use crate::cure::GAS_CONSTANT;
use crate::error::CalcError;
use crate::violation::Checks;

/// One limit of the air that is breathed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExposureLimit {
    /// What kind of limit it is.
    pub kind: LimitKind,
    /// Who set it: "NIOSH REL", "OSHA PEL", "NIOSH IDLH".
    pub authority: &'static str,
    /// Parts per million by volume.
    pub ppm: f64,
    /// The same, mg/m3 at 25 C and 101 325 Pa: as printed, or by the printed
    /// factor where none is.
    pub mg_per_m3: f64,
    /// Where it is published.
    pub basis: &'static str,
}

/// What kind of limit it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LimitKind {
    /// Mean over a shift.
    ShiftMean,
    /// Mean over 15 minutes.
    ShortTerm,
    /// Immediately dangerous to life or health.
    ImmediatelyDangerous,
}

const fn limit(
    kind: LimitKind,
    authority: &'static str,
    ppm: f64,
    mg_per_m3: f64,
    basis: &'static str,
) -> ExposureLimit {
    ExposureLimit {
        kind,
        authority,
        ppm,
        mg_per_m3,
        basis,
    }
}

const POCKET_GUIDE_PROPANOL: &str = "NIOSH Pocket Guide, npgd0359";
const POCKET_GUIDE_ETHANOL: &str = "NIOSH Pocket Guide, npgd0262";

const TWO_PROPANOL: [ExposureLimit; 4] = [
    limit(
        LimitKind::ShiftMean,
        "NIOSH REL",
        400.0,
        980.0,
        POCKET_GUIDE_PROPANOL,
    ),
    limit(
        LimitKind::ShortTerm,
        "NIOSH REL",
        500.0,
        1225.0,
        POCKET_GUIDE_PROPANOL,
    ),
    limit(
        LimitKind::ShiftMean,
        "OSHA PEL",
        400.0,
        980.0,
        POCKET_GUIDE_PROPANOL,
    ),
    limit(
        LimitKind::ImmediatelyDangerous,
        "NIOSH IDLH",
        2000.0,
        4920.0,
        "NIOSH IDLH page 67-63-0: a tenth of the lower explosive limit",
    ),
];

const ETHANOL: [ExposureLimit; 3] = [
    limit(
        LimitKind::ShiftMean,
        "NIOSH REL",
        1000.0,
        1900.0,
        POCKET_GUIDE_ETHANOL,
    ),
    limit(
        LimitKind::ShiftMean,
        "OSHA PEL",
        1000.0,
        1900.0,
        POCKET_GUIDE_ETHANOL,
    ),
    limit(
        LimitKind::ImmediatelyDangerous,
        "NIOSH IDLH",
        3300.0,
        6237.0,
        "NIOSH IDLH page 64-17-5: a tenth of the lower explosive limit",
    ),
];

/// The limits of an alcohol's vapour.
pub const fn limits(alcohol: Alcohol) -> &'static [ExposureLimit] {
    match alcohol {
        Alcohol::TwoPropanol => &TWO_PROPANOL,
        Alcohol::Ethanol => &ETHANOL,
    }
}

/// Molar mass, g/mol.
pub const fn molar_mass_g_per_mol(alcohol: Alcohol) -> f64 {
    match alcohol {
        Alcohol::TwoPropanol => 60.095,
        Alcohol::Ethanol => 46.069,
    }
}

/// Vapour in air, mg/m3, at `ppm` by volume (0 to 1 000 000), `air_c` (-20 to
/// 60 C) and `pressure_pa` (50 000 to 110 000 Pa), as an ideal gas.
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range.
pub fn mg_per_m3(
    alcohol: Alcohol,
    ppm: f64,
    air_c: f64,
    pressure_pa: f64,
) -> Result<f64, CalcError> {
    let mut checks = Checks::new();
    checks.in_range("ppm", ppm, 0.0, 1e6, "ppm");
    checks.in_range("air_c", air_c, -20.0, 60.0, "C");
    checks.in_range("pressure_pa", pressure_pa, 50_000.0, 110_000.0, "Pa");
    checks.finish()?;
    let mol_per_m3 = ppm * 1e-6 * pressure_pa / (GAS_CONSTANT * (air_c + 273.15));
    Ok(mol_per_m3 * molar_mass_g_per_mol(alcohol) * 1000.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published: NIOSH Pocket Guide: 1 ppm = 2.46 mg/m3 (2-propanol), 1.89 mg/m3
    /// (its page for ethanol prints that; 1.88 is the ideal gas, rounded).
    #[test]
    fn one_ppm_agrees_with_the_pocket_guide() {
        for (alcohol, printed) in [(Alcohol::TwoPropanol, 2.46), (Alcohol::Ethanol, 1.89)] {
            let found = mg_per_m3(alcohol, 1.0, 25.0, 101_325.0).unwrap();
            assert!((found - printed).abs() < 0.01, "{alcohol:?}: {found}");
            for limit in limits(alcohol) {
                // The tables round to tens.
                assert!(
                    (limit.ppm * printed - limit.mg_per_m3).abs() < 11.0,
                    "{limit:?}"
                );
            }
        }
    }

    #[test]
    fn garbage_is_refused_by_name() {
        let text = mg_per_m3(Alcohol::Ethanol, -1.0, f64::NAN, 0.0)
            .unwrap_err()
            .to_string();
        for field in ["ppm", "air_c", "pressure_pa"] {
            assert!(text.contains(field), "{text}");
        }
    }
}
