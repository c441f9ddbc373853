//! What is known of an ingredient, as its safety data sheet says in sections 2,
//! 3 and 9.

use crate::violation::Checks;

/// What is known of the stock.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HazardInput {
    /// Its ingredients, up to [`MAX_COMPONENTS`].
    pub components: Vec<Component>,
    /// pH of the stock, -2 to 16.
    pub stock_ph: Option<f64>,
    /// pH of the finished mix, measured, -2 to 16. Without it the stock's is
    /// taken, since a buffered product hardly moves when diluted.
    pub mix_ph: Option<f64>,
}

/// An ingredient of the stock.
#[derive(Debug, Clone, PartialEq)]
pub struct Component {
    /// What it is, 1 to 80 characters.
    pub name: String,
    /// How much of the stock, percent by weight, above 0 to 100: the upper end
    /// where a range is printed.
    pub percent_by_weight: f64,
    /// What it is classed as.
    pub categories: Vec<Category>,
    /// Its own pH, -2 to 16.
    pub ph: Option<f64>,
    /// Whether it irritates in smaller amounts than the sums assume (acids, bases,
    /// inorganic salts, aldehydes, phenols, surfactants).
    pub not_additive: bool,
}

/// A class of an ingredient.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Category {
    /// Skin corrosion, category 1 with its subcategories (H314).
    SkinCorrosive1,
    /// Skin irritation, category 2 (H315).
    SkinIrritant2,
    /// Serious eye damage, category 1 (H318).
    EyeDamaging1,
    /// Eye irritation, category 2 (H319).
    EyeIrritant2,
    /// Single exposure, category 3, irritates the airways (H335).
    AirwayIrritant3,
    /// Single exposure, category 3, drowsiness (H336).
    Narcotic3,
    /// Flammable liquid of any category (H224, H225, H226).
    Flammable,
}

/// Most ingredients.
pub const MAX_COMPONENTS: usize = 64;
/// Longest name, characters.
pub const MAX_NAME_CHARS: usize = 80;
/// pH that counts as extreme: at most this (CLP Annex I 3.2.3.1.2).
pub const EXTREME_ACID_PH: f64 = 2.0;
/// pH that counts as extreme: at least this (CLP Annex I 3.2.3.1.2).
pub const EXTREME_BASE_PH: f64 = 11.5;

/// Whether a pH is extreme.
pub(super) fn is_extreme(ph: f64) -> bool {
    ph <= EXTREME_ACID_PH || ph >= EXTREME_BASE_PH
}

impl Component {
    /// Whether one of these classes is among its own.
    pub(super) fn is_any(&self, of: &[Category]) -> bool {
        self.categories.iter().any(|category| of.contains(category))
    }

    /// Whether the sums do not hold for it.
    pub(super) fn stands_alone(&self) -> bool {
        self.not_additive || self.ph.is_some_and(is_extreme)
    }
}

impl HazardInput {
    /// Notes what is out of range, below `components[i]`, `stock_ph`, `mix_ph`.
    pub(crate) fn check(&self, checks: &mut Checks) {
        let count = self.components.len();
        checks.require(count <= MAX_COMPONENTS, "components", || {
            format!("must be at most {MAX_COMPONENTS}, got {count}")
        });
        checks.optional_in_range("stock_ph", self.stock_ph, -2.0, 16.0, "on the pH scale");
        checks.optional_in_range("mix_ph", self.mix_ph, -2.0, 16.0, "on the pH scale");
        for (index, component) in self.components.iter().enumerate().take(MAX_COMPONENTS) {
            let at = |name| format!("components[{index}].{name}");
            let chars = component.name.chars().count();
            let holds = !component.name.trim().is_empty() && chars <= MAX_NAME_CHARS;
            checks.require(holds, at("name"), || {
                format!("must have 1 to {MAX_NAME_CHARS} characters, got {chars}")
            });
            let percent = component.percent_by_weight;
            checks.above(at("percent_by_weight"), percent, 0.0, 100.0, "percent");
            checks.optional_in_range(at("ph"), component.ph, -2.0, 16.0, "on the pH scale");
        }
        // Upper ends of printed ranges may add up to more than the whole.
    }
}
