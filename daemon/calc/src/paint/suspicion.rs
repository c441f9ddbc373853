//! Signs of refinish, filler and thin paint.
//!
//! Absolute limits and limits against the car's other panels or the panel's other
//! spots; all of them common practice, no source, except that a total of 90 to
//! 150 um as made is from memory. A sign is a reason to look, not a finding.

use super::readings::{median, robust_sd};
use crate::gauge::Substrate;

/// Thicker than this, um, is more than paint as made: 150 um (from memory) plus a fifth. Common
/// practice, no source.
pub const THICK_UM: f64 = 180.0;
/// Thicker than this, um, is filler or several refinishes. Common practice, no source.
pub const FILLER_UM: f64 = 500.0;
/// Thinner than this, um, has been cut down, or is not all there: 90 um (from memory) less a tenth,
/// and less [`E_COAT_UM`] where there is no e-coat. Common practice, no source.
pub const THIN_UM: f64 = 80.0;
/// E-coat that composite and plastic lack, um (15 to 25, from memory).
pub const E_COAT_UM: f64 = 20.0;
/// Fewest others to compare with.
pub const LEAST_OTHERS: usize = 3;
/// Least distance from the others' median that is a sign, um. Common practice, no source.
pub const LEAST_DISTANCE_UM: f64 = 30.0;
/// The same in robust spreads of the others.
const DISTANCE_SPREADS: f64 = 3.5;

/// What the signs come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Suspicion {
    /// Nothing was read.
    NotJudged,
    /// Nothing odd.
    None,
    /// Thin: cut down before, or a layer is missing.
    Thin,
    /// One place differs from the rest of its panel: a local repair.
    LocalRepair,
    /// The panel has been painted again.
    Refinished,
    /// Filler, or several refinishes.
    Filler,
}

/// One sign.
#[derive(Debug, Clone, PartialEq)]
pub struct Sign {
    /// Which.
    pub code: SignCode,
    /// The spot it was seen at; absent for the panel's mean.
    pub spot: Option<String>,
    /// The thickness seen, um.
    pub seen_um: f64,
    /// The limit it passes, um.
    pub limit_um: f64,
}

/// Which sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SignCode {
    /// Above [`FILLER_UM`].
    FillerThick,
    /// Above [`THICK_UM`].
    ThickerThanMade,
    /// Below [`THIN_UM`].
    ThinnerThanMade,
    /// Well above the car's other panels.
    ThickerThanOthers,
    /// Well below the car's other panels.
    ThinnerThanOthers,
    /// A spot well above the panel's other spots.
    SpotThicker,
    /// A spot well below the panel's other spots.
    SpotThinner,
}

impl SignCode {
    /// The stable text form, in `UPPER_SNAKE_CASE`.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::FillerThick => "FILLER_THICK",
            Self::ThickerThanMade => "THICKER_THAN_MADE",
            Self::ThinnerThanMade => "THINNER_THAN_MADE",
            Self::ThickerThanOthers => "THICKER_THAN_OTHERS",
            Self::ThinnerThanOthers => "THINNER_THAN_OTHERS",
            Self::SpotThicker => "SPOT_THICKER",
            Self::SpotThinner => "SPOT_THINNER",
        }
    }

    const fn suspicion(self) -> Suspicion {
        match self {
            Self::FillerThick => Suspicion::Filler,
            Self::ThickerThanMade | Self::ThickerThanOthers => Suspicion::Refinished,
            Self::SpotThicker => Suspicion::LocalRepair,
            Self::ThinnerThanMade | Self::ThinnerThanOthers | Self::SpotThinner => Suspicion::Thin,
        }
    }
}

impl Suspicion {
    /// Whether the layers can still be taken to be those of the factory.
    #[must_use]
    pub const fn leaves_layers_as_made(self) -> bool {
        match self {
            Self::NotJudged | Self::None | Self::Thin => true,
            Self::LocalRepair | Self::Refinished | Self::Filler => false,
        }
    }
}

/// The gravest suspicion that the signs give rise to.
pub(crate) fn worst(signs: &[Sign]) -> Suspicion {
    signs
        .iter()
        .map(|sign| sign.code.suspicion())
        .max()
        .unwrap_or(Suspicion::None)
}

/// Signs on one panel: `spots` are its spot means by name, `others_um` the means of the car's other
/// panels of the same kind.
pub(crate) fn signs(
    substrate: Substrate,
    mean_um: f64,
    spots: &[(&str, f64)],
    others_um: &[f64],
) -> Vec<Sign> {
    let mut signs = Vec::new();
    let mut say = |code, spot: Option<&str>, seen_um, limit_um| {
        signs.push(Sign {
            code,
            spot: spot.map(str::to_owned),
            seen_um,
            limit_um,
        });
    };
    let (thin_um, thick_um) = made_limits_um(substrate);
    for (spot, um) in spots {
        if *um > FILLER_UM {
            say(SignCode::FillerThick, Some(spot), *um, FILLER_UM);
        } else if *um > thick_um {
            say(SignCode::ThickerThanMade, Some(spot), *um, thick_um);
        } else if *um < thin_um {
            say(SignCode::ThinnerThanMade, Some(spot), *um, thin_um);
        }
    }
    if let Some((low_um, high_um)) = usual(others_um) {
        if mean_um > high_um {
            say(SignCode::ThickerThanOthers, None, mean_um, high_um);
        } else if mean_um < low_um {
            say(SignCode::ThinnerThanOthers, None, mean_um, low_um);
        }
    }
    let means: Vec<f64> = spots.iter().map(|(_, um)| *um).collect();
    // Around the median of all spots: one repaired spot among four hardly moves it.
    if let Some((low_um, high_um)) = usual(&means).filter(|_| means.len() > LEAST_OTHERS) {
        for (spot, um) in spots {
            if *um > high_um {
                say(SignCode::SpotThicker, Some(spot), *um, high_um);
            } else if *um < low_um {
                say(SignCode::SpotThinner, Some(spot), *um, low_um);
            }
        }
    }
    signs
}

/// Total thickness as made, um, with its margins.
pub(crate) fn made_limits_um(substrate: Substrate) -> (f64, f64) {
    match substrate {
        Substrate::Steel | Substrate::Aluminium | Substrate::Unknown => (THIN_UM, THICK_UM),
        Substrate::Composite | Substrate::Plastic => (THIN_UM - E_COAT_UM, THICK_UM - E_COAT_UM),
    }
}

/// The range that comparable thicknesses lead to expect; none with too few of them.
fn usual(others_um: &[f64]) -> Option<(f64, f64)> {
    if others_um.len() < LEAST_OTHERS {
        return None;
    }
    let middle_um = median(others_um);
    let distance_um = (DISTANCE_SPREADS * robust_sd(others_um, middle_um)).max(LEAST_DISTANCE_UM);
    Some((middle_um - distance_um, middle_um + distance_um))
}
