//! The classes of a mix. Codes and signal words are those of GHS; the texts are
//! ours and shorter.

/// A hazard class of a mix with its category.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HazardClass {
    /// Flammable liquid, category 2: flash point below 23 C.
    Flammable2,
    /// Flammable liquid, category 3: 23 to 60 C.
    Flammable3,
    /// Flammable liquid, category 4 (GHS only): above 60 to 93 C.
    Flammable4,
    /// Skin corrosion, category 1.
    SkinCorrosion1,
    /// Skin irritation, category 2.
    SkinIrritation2,
    /// Serious eye damage, category 1.
    EyeDamage1,
    /// Eye irritation, category 2.
    EyeIrritation2,
    /// Single exposure, category 3: irritates the airways.
    AirwayIrritation3,
    /// Single exposure, category 3: drowsiness.
    Drowsiness3,
}

/// The word in front.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SignalWord {
    /// No class.
    None,
    /// The milder classes.
    Warning,
    /// The severe classes.
    Danger,
}

impl SignalWord {
    /// As printed; empty for none.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::None => "",
            Self::Warning => "WARNING",
            Self::Danger => "DANGER",
        }
    }
}

impl HazardClass {
    /// Every class, the gravest first.
    pub const ALL: &'static [Self] = &[
        Self::SkinCorrosion1,
        Self::EyeDamage1,
        Self::Flammable2,
        Self::Flammable3,
        Self::Flammable4,
        Self::SkinIrritation2,
        Self::EyeIrritation2,
        Self::AirwayIrritation3,
        Self::Drowsiness3,
    ];

    /// Code of its hazard statement.
    pub const fn statement(self) -> &'static str {
        match self {
            Self::Flammable2 => "H225",
            Self::Flammable3 => "H226",
            Self::Flammable4 => "H227",
            Self::SkinCorrosion1 => "H314",
            Self::SkinIrritation2 => "H315",
            Self::EyeDamage1 => "H318",
            Self::EyeIrritation2 => "H319",
            Self::AirwayIrritation3 => "H335",
            Self::Drowsiness3 => "H336",
        }
    }

    /// What it means, for a label.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Flammable2 => "Liquid and vapour catch fire very easily.",
            Self::Flammable3 => "Liquid and vapour catch fire.",
            Self::Flammable4 => "Burns when warmed.",
            Self::SkinCorrosion1 => "Burns skin and eyes badly.",
            Self::SkinIrritation2 => "Irritates the skin.",
            Self::EyeDamage1 => "Damages eyes for good.",
            Self::EyeIrritation2 => "Irritates the eyes badly.",
            Self::AirwayIrritation3 => "Irritates nose and airways.",
            Self::Drowsiness3 => "Vapour makes drowsy and dizzy.",
        }
    }

    /// Its signal word (GHS, annex on labels; from memory).
    pub const fn signal_word(self) -> SignalWord {
        match self {
            Self::Flammable2 | Self::SkinCorrosion1 | Self::EyeDamage1 => SignalWord::Danger,
            Self::Flammable3
            | Self::Flammable4
            | Self::SkinIrritation2
            | Self::EyeIrritation2
            | Self::AirwayIrritation3
            | Self::Drowsiness3 => SignalWord::Warning,
        }
    }
}
