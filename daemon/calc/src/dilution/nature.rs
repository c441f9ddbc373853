//! What is in the bottle beyond volumes that add: weights, true volume and
//! strength, flash point, hazard class, occupational limits, cost, label.
//!
//! With an injector all of it is about the bottle; only the cost is told at the
//! panel too.

use super::mix::{DilutionInput, Substance};
use super::number::shown;
use crate::mix::Alcohol;
use crate::mix::alcohol::WATER_G_PER_ML;
use crate::mix::contraction::{Poured, RealMix, exact_water_ml, pooled};
use crate::mix::cost::{Cost, cost};
use crate::mix::exposure::{ExposureLimit, limits};
use crate::mix::flash::{FlashPoint, bound};
use crate::mix::hazard::{Category, Component, HazardInput, HazardResult, MixFacts, classify};
use crate::mix::label;

/// What is in the bottle. What is not known is left out, never guessed.
#[derive(Debug, Clone, PartialEq)]
pub struct Nature {
    /// Grams to weigh out, where the stock's density is known.
    pub weights: Option<Weights>,
    /// 2-propanol and ethanol: what the amounts truly yield at 20 C.
    pub real: Option<RealMix>,
    /// 2-propanol and ethanol: what makes exactly the volume and strength wanted,
    /// where an existing mix allows it.
    pub exact: Option<ExactPour>,
    /// 2-propanol and ethanol: lower bound of the flash point, where one is known.
    pub flash: Option<FlashPoint>,
    /// Hazard classes, where the ingredients or a pH are known.
    pub hazard: Option<HazardResult>,
    /// Occupational limits of the vapour.
    pub exposure_limits: &'static [ExposureLimit],
    /// Cost, where a price was given.
    pub cost: Option<Cost>,
    /// Lines of the bottle's label, where one was asked for; none longer than
    /// [`label::MAX_LINE_CHARS`].
    pub label_lines: Vec<String>,
}

/// Weights of the amounts at 20 C; the diluent is water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    /// Stock to pour, grams.
    pub concentrate_g: f64,
    /// Water to add, grams.
    pub diluent_g: f64,
    /// Density of the stock that was used, g/ml.
    pub stock_density_g_per_ml: f64,
}

/// What makes exactly the volume and strength wanted, at 20 C. Only the water
/// differs from volumes that add.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExactPour {
    /// Stock to pour, millilitres.
    pub concentrate_ml: f64,
    /// Water to add, millilitres.
    pub diluent_ml: f64,
    /// The same water, grams.
    pub diluent_g: f64,
}

/// The pour as the balance found it; percent by volume.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mixed {
    pub(super) stock_percent: f64,
    pub(super) concentrate_ml: f64,
    pub(super) diluent_ml: f64,
    pub(super) existing_ml: f64,
    pub(super) existing_percent: f64,
    pub(super) total_ml: f64,
    pub(super) strength_percent: f64,
    pub(super) water_parts: f64,
    /// Share of what arrives at the panel that comes from the bottle, 0 to 1.
    pub(super) panel_share: Option<f64>,
}

impl Substance {
    /// The alcohol that it is, if it is one whose mixtures are known.
    pub const fn alcohol(self) -> Option<Alcohol> {
        match self {
            Self::IsopropylAlcohol => Some(Alcohol::TwoPropanol),
            Self::Ethanol => Some(Alcohol::Ethanol),
            Self::Unspecified | Self::AlkalineCleaner | Self::AcidCleaner | Self::Shampoo => None,
        }
    }
}

impl Nature {
    /// What `mixed` is, with an `input` that was checked.
    pub(super) fn of(input: &DilutionInput, mixed: &Mixed) -> Self {
        let alcohol = input.substance.alcohol();
        let real = alcohol.map(|alcohol| pooled(alcohol, &mixed.poured(mixed.diluent_ml)));
        let flash = alcohol
            .zip(real.as_ref())
            .and_then(|(alcohol, real)| bound(alcohol, real.true_strength_percent));
        let density = input
            .stock_density_g_per_ml
            .or_else(|| Some(alcohol?.density_at_volume_percent(mixed.stock_percent)));
        let hazard = hazard(input, mixed, real.as_ref(), flash.as_ref(), density);
        let label_lines = input.label.as_ref().map_or_else(Vec::new, |label| {
            label::lines(label, &mixed.in_words(), mixed.total_ml, hazard.as_ref())
        });
        Self {
            weights: density.map(|density| mixed.weights(density, alcohol)),
            exact: alcohol.and_then(|alcohol| mixed.exact(alcohol)),
            flash,
            exposure_limits: alcohol.map_or(&[], limits),
            cost: input.stock_price.as_ref().map(|price| {
                let stock_ml = mixed.stock_share() * mixed.total_ml;
                let (poured_ml, total_ml) = (mixed.concentrate_ml, mixed.total_ml);
                cost(price, poured_ml, stock_ml, total_ml, mixed.panel_share)
            }),
            label_lines,
            hazard,
            real,
        }
    }
}

impl Mixed {
    fn poured(&self, water_ml: f64) -> [Poured; 3] {
        [
            (self.concentrate_ml, self.stock_percent),
            (self.existing_ml, self.existing_percent),
            (water_ml, 0.0),
        ]
        .map(|(volume_ml, strength_percent)| Poured {
            volume_ml,
            strength_percent,
        })
    }

    fn exact(&self, alcohol: Alcohol) -> Option<ExactPour> {
        let dry = self.poured(0.0);
        let diluent_ml = exact_water_ml(alcohol, self.total_ml, self.strength_percent, &dry)?;
        Some(ExactPour {
            concentrate_ml: self.concentrate_ml,
            diluent_ml,
            diluent_g: diluent_ml * water_g_per_ml(Some(alcohol)),
        })
    }

    fn weights(&self, stock_density_g_per_ml: f64, alcohol: Option<Alcohol>) -> Weights {
        Weights {
            concentrate_g: self.concentrate_ml * stock_density_g_per_ml,
            diluent_g: self.diluent_ml * water_g_per_ml(alcohol),
            stock_density_g_per_ml,
        }
    }

    /// Stock in the mix by volume, as if all of it had been mixed fresh.
    fn stock_share(&self) -> f64 {
        self.strength_percent / self.stock_percent
    }

    /// For the label.
    fn in_words(&self) -> String {
        let percent = shown(self.strength_percent);
        format!(
            "{percent} % by volume, 1 + {} water",
            shown(self.water_parts)
        )
    }
}

/// The density that the alcohol's own table gives water, so that weights and
/// volumes fit; else that of OIML R 22.
fn water_g_per_ml(alcohol: Option<Alcohol>) -> f64 {
    alcohol.map_or(WATER_G_PER_ML, |alcohol| alcohol.density_g_per_ml(0.0))
}

/// From what was said of the ingredients; of an alcohol alone, from what is known
/// of it.
fn hazard(
    input: &DilutionInput,
    mixed: &Mixed,
    real: Option<&RealMix>,
    flash: Option<&FlashPoint>,
    density: Option<f64>,
) -> Option<HazardResult> {
    let flash_point_c = flash.map(|flash| flash.lower_c);
    if let Some(hazards) = &input.hazards {
        // Without a density there are no ingredients to weigh, only a pH.
        let stock_density = density.unwrap_or(WATER_G_PER_ML);
        let by_volume = mixed.stock_share();
        let mix_density = real.map_or_else(
            || by_volume * stock_density + (1.0 - by_volume) * WATER_G_PER_ML,
            |real| real.density_g_per_ml,
        );
        let stock_share = by_volume * stock_density / mix_density;
        return Some(classify(
            hazards,
            &MixFacts {
                stock_share,
                flash_point_c,
            },
        ));
    }
    let (alcohol, real) = input.substance.alcohol().zip(real)?;
    let alone = HazardInput {
        components: vec![known(alcohol, real.weight_percent)],
        ..HazardInput::default()
    };
    Some(classify(
        &alone,
        &MixFacts {
            stock_share: 1.0,
            flash_point_c,
        },
    ))
}

/// What an alcohol is classed as. 2-propanol: published safety data sheets
/// (flammable 2, eye 2, drowsiness 3). Ethanol: harmonised entry 603-002-00-5
/// (flammable 2 only); that makers add eye 2 is from memory, and taken as the safe side.
fn known(alcohol: Alcohol, percent_by_weight: f64) -> Component {
    let categories = match alcohol {
        Alcohol::TwoPropanol => {
            vec![
                Category::Flammable,
                Category::EyeIrritant2,
                Category::Narcotic3,
            ]
        }
        Alcohol::Ethanol => vec![Category::Flammable, Category::EyeIrritant2],
    };
    Component {
        name: alcohol.name().to_owned(),
        percent_by_weight,
        categories,
        ph: None,
        not_additive: false,
    }
}
