//! The dilution calculator: C1 V1 = C2 V2, with top-up and injector.
//!
//! An injector draws from the bottle into a stream: share = draw / (draw +
//! water), where `water_l_per_min` is the flow before the draw joins it (a flow
//! measured at the outlet is water + draw). The bottle must then hold target /
//! share, and lasts volume / draw.

use super::cautions;
use super::nature::{Mixed, Nature};
use super::number::shown;
use super::pour::{Balance, infeasible};
use super::strength::{PartsOf, Strength, product_percent};
use crate::caution::Caution;
use crate::error::CalcError;
use crate::mix::cost::StockPrice;
use crate::mix::hazard::HazardInput;
use crate::mix::label::LabelInput;
use crate::violation::Checks;

/// What to mix.
#[derive(Debug, Clone, PartialEq)]
pub struct DilutionInput {
    /// The stock bottle. Percent: product by volume; parts or label: a premix of
    /// neat product.
    pub stock: Strength,
    /// Percent: the final strength by volume. Parts, or a label in parts or
    /// shares: a recipe, parts of the stock as it is. With an injector: what
    /// arrives at the panel.
    pub target: Strength,
    /// Volume to end up with, millilitres, above 0 to 10 000 000.
    pub total_ml: f64,
    /// What is in the bottle already.
    pub existing: Option<ExistingMix>,
    /// The lance or injector that dilutes once more.
    pub injector: Option<Injector>,
    /// Where the target holds when there is an injector.
    pub target_at: TargetAt,
    /// What kind of product it is: 2-propanol and ethanol bring their densities,
    /// flash points and limits, the others their cautions.
    pub substance: Substance,
    /// Density of the stock, g/ml, 0.5 to 2.5; for 2-propanol and ethanol known
    /// without it. Required with ingredients.
    pub stock_density_g_per_ml: Option<f64>,
    /// What the stock is made of, for the hazard class of the mix.
    pub hazards: Option<HazardInput>,
    /// What the stock cost.
    pub stock_price: Option<StockPrice>,
    /// What to print on the bottle.
    pub label: Option<LabelInput>,
}

/// Where a target strength holds when an injector dilutes once more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum TargetAt {
    /// Where it arrives: the bottle is made stronger.
    #[default]
    Panel,
    /// In the bottle: the result says what arrives.
    Bottle,
}

/// A part-used bottle.
#[derive(Debug, Clone, PartialEq)]
pub struct ExistingMix {
    /// How much is in it, millilitres, above 0 to 10 000 000.
    pub volume_ml: f64,
    /// How strong it is; parts and labels are a recipe, as in the target.
    pub strength: Strength,
}

/// A lance or injector.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Injector {
    /// Water before the draw is added, litres per minute, above 0 to 1000.
    pub water_l_per_min: f64,
    /// Drawn from the bottle, litres per minute, above 0 to 1000.
    pub draw_l_per_min: f64,
}

/// What kind of product it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Substance {
    /// Not said: general cautions only.
    #[default]
    Unspecified,
    /// 2-propanol, as in wipe-downs.
    IsopropylAlcohol,
    /// Ethanol.
    Ethanol,
    /// Alkaline cleaner.
    AlkalineCleaner,
    /// Acid cleaner.
    AcidCleaner,
    /// Neutral shampoo or pre-wash.
    Shampoo,
}

/// What to pour, and what results.
#[derive(Debug, Clone, PartialEq)]
pub struct Dilution {
    /// Stock to pour, millilitres.
    pub concentrate_ml: f64,
    /// Water or other diluent to add, millilitres.
    pub diluent_ml: f64,
    /// What was in the bottle already, millilitres.
    pub existing_ml: f64,
    /// What results, millilitres.
    pub total_ml: f64,
    /// Strength in the bottle afterwards, percent by volume.
    pub strength_percent: f64,
    /// Parts of diluent to one part of stock in the finished bottle, as if all of
    /// it had been mixed fresh; 0 if it is no weaker than the stock.
    pub water_parts: f64,
    /// How parts and labels were read, and how they could have been.
    pub readings: Vec<Reading>,
    /// With an injector: what it does.
    pub injector: Option<InjectorResult>,
    /// What is in the bottle, beyond volumes that add.
    pub nature: Nature,
    /// The model, in words.
    pub model: &'static str,
    /// What to look out for.
    pub cautions: Vec<Caution>,
}

/// One way to read a strength.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Which input: "stock", "target" or "existing.strength".
    pub field: &'static str,
    /// The reading in words.
    pub text: String,
    /// What it means by itself, percent by volume: for a recipe, of the stock as it is.
    pub percent: f64,
    /// Whether this reading was used.
    pub used: bool,
}

/// What an injector does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InjectorResult {
    /// Share of the outlet stream that comes from the bottle, percent.
    pub share_percent: f64,
    /// Parts of water to one part drawn.
    pub water_parts: f64,
    /// Strength that the bottle must hold, percent by volume.
    pub bottle_percent: f64,
    /// Strength that arrives at the panel, percent by volume.
    pub outlet_percent: f64,
    /// How long the bottle lasts, minutes.
    pub bottle_minutes: f64,
}

/// Largest volume, millilitres.
pub const MAX_ML: f64 = 1e7;
/// Weakest stock or target that is still measured out, percent: a hundredth of a part per million.
pub const LEAST_PERCENT: f64 = 1e-6;
/// Largest flow, litres per minute.
pub const MAX_L_PER_MIN: f64 = 1000.0;

/// How much stock and how much water.
///
/// Volumes are taken to add. A target as strong as the stock needs no water.
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range and every label that
/// cannot be read one way; paths as in `DiluteRequest`.
/// [`CalcError::Infeasible`] where no pour answers: `TARGET_ABOVE_STOCK`,
/// `BOTTLE_ABOVE_STOCK` (through an injector), `EXISTING_ABOVE_TOTAL`,
/// `EXISTING_TOO_STRONG`, `EXISTING_TOO_WEAK`, `STRENGTH_TOO_LOW`.
pub fn dilute(input: &DilutionInput) -> Result<Dilution, CalcError> {
    let (strengths, readings) = check(input)?;
    let stream = input.injector.map(Stream::new);
    let share = stream.map_or(1.0, |stream| stream.share);
    let target_path = input.target.path("target");
    let target_percent = match input.target_at {
        TargetAt::Panel => strengths.target_percent / share,
        TargetAt::Bottle => strengths.target_percent,
    };
    measurable(&input.stock.path("stock"), strengths.stock_percent)?;
    measurable(&target_path, strengths.target_percent)?;
    if let Some(stream) = stream {
        stream.check(&strengths, target_percent, &target_path)?;
    }
    let balance = Balance {
        stock_percent: strengths.stock_percent,
        target_percent,
        total_ml: input.total_ml,
        existing_ml: input
            .existing
            .as_ref()
            .map_or(0.0, |existing| existing.volume_ml),
        existing_percent: strengths.existing_percent.unwrap_or(0.0),
    };
    let pour = balance.solve(&target_path)?;
    let product = pour.concentrate_ml * balance.stock_percent
        + balance.existing_ml * balance.existing_percent;
    let strength_percent = product / input.total_ml;
    let water_parts = match input.existing {
        None => pour.diluent_ml / pour.concentrate_ml,
        Some(_) => (balance.stock_percent / strength_percent - 1.0).max(0.0),
    };
    let nature = Nature::of(
        input,
        &Mixed {
            stock_percent: balance.stock_percent,
            concentrate_ml: pour.concentrate_ml,
            diluent_ml: pour.diluent_ml,
            existing_ml: balance.existing_ml,
            existing_percent: balance.existing_percent,
            total_ml: input.total_ml,
            strength_percent,
            water_parts,
            panel_share: stream.map(|stream| stream.share),
        },
    );
    Ok(Dilution {
        concentrate_ml: pour.concentrate_ml,
        diluent_ml: pour.diluent_ml,
        existing_ml: balance.existing_ml,
        total_ml: input.total_ml,
        strength_percent,
        water_parts,
        injector: stream.map(|stream| stream.result(strength_percent, input.total_ml)),
        model: model(input),
        cautions: cautions::of(input, &readings, &nature),
        nature,
        readings,
    })
}

/// The strengths of an input, percent of neat product by volume.
struct Strengths {
    stock_percent: f64,
    target_percent: f64,
    existing_percent: Option<f64>,
}

fn check(input: &DilutionInput) -> Result<(Strengths, Vec<Reading>), CalcError> {
    let mut checks = Checks::new();
    let mut readings = Vec::new();
    let stock = input
        .stock
        .resolve("stock", PartsOf::Product, &mut checks, &mut readings);
    let target = input
        .target
        .resolve("target", PartsOf::Stock, &mut checks, &mut readings);
    checks.above("total_ml", input.total_ml, 0.0, MAX_ML, "ml");
    let existing = input.existing.as_ref().and_then(|existing| {
        checks.above("existing.volume_ml", existing.volume_ml, 0.0, MAX_ML, "ml");
        let (field, of) = ("existing.strength", PartsOf::Stock);
        existing
            .strength
            .resolve(field, of, &mut checks, &mut readings)
    });
    if let Some(Injector {
        water_l_per_min,
        draw_l_per_min,
    }) = input.injector
    {
        let unit = "l/min";
        checks.above(
            "injector.water_l_per_min",
            water_l_per_min,
            0.0,
            MAX_L_PER_MIN,
            unit,
        );
        checks.above(
            "injector.draw_l_per_min",
            draw_l_per_min,
            0.0,
            MAX_L_PER_MIN,
            unit,
        );
    }
    let density = input.stock_density_g_per_ml;
    checks.optional_in_range("stock_density_g_per_ml", density, 0.5, 2.5, "g/ml");
    if let Some(hazards) = &input.hazards {
        hazards.check(&mut checks);
        let known = density.is_some() || input.substance.alcohol().is_some();
        checks.require(
            known || hazards.components.is_empty(),
            "stock_density_g_per_ml",
            || "is required with components, to reckon percent by weight".to_owned(),
        );
    }
    if let Some(price) = &input.stock_price {
        price.check(&mut checks);
    }
    if let Some(label) = &input.label {
        label.check(&mut checks);
    }
    checks.finish()?;
    // Whatever could not be read was noted above, so these stand in for nothing.
    let stock_percent = stock.map_or(f64::NAN, |stock| product_percent(stock, 100.0));
    let of_stock = |meaning| product_percent(meaning, stock_percent);
    let strengths = Strengths {
        stock_percent,
        target_percent: target.map_or(f64::NAN, of_stock),
        existing_percent: existing.map(of_stock),
    };
    Ok((strengths, readings))
}

/// Refuses what is too weak to measure out, which also keeps every figure finite.
fn measurable(field: &str, percent: f64) -> Result<(), CalcError> {
    if percent >= LEAST_PERCENT {
        return Ok(());
    }
    let message = format!("{percent:e} % is below {LEAST_PERCENT:e} %, too weak to measure out");
    Err(infeasible("STRENGTH_TOO_LOW", field, message))
}

/// An injector at work.
#[derive(Debug, Clone, Copy)]
struct Stream {
    injector: Injector,
    /// Share of the outlet stream that comes from the bottle, 0 to 1.
    share: f64,
}

impl Stream {
    fn new(injector: Injector) -> Self {
        let Injector {
            water_l_per_min,
            draw_l_per_min,
        } = injector;
        Self {
            injector,
            share: draw_l_per_min / (draw_l_per_min + water_l_per_min),
        }
    }

    /// Refuses a bottle that would have to be stronger than all that could go into it.
    fn check(
        self,
        strengths: &Strengths,
        bottle_percent: f64,
        target: &str,
    ) -> Result<(), CalcError> {
        let strongest = strengths
            .stock_percent
            .max(strengths.existing_percent.unwrap_or(0.0));
        if bottle_percent <= strongest * (1.0 + 1e-12) {
            return Ok(());
        }
        Err(infeasible(
            "BOTTLE_ABOVE_STOCK",
            target,
            format!(
                "{} % at the panel needs {} % in the bottle, and the strongest to fill it with is \
                 {} %; the strongest reachable at the panel is {} %",
                shown(bottle_percent * self.share),
                shown(bottle_percent),
                shown(strongest),
                shown(strongest * self.share)
            ),
        ))
    }

    fn result(self, bottle_percent: f64, bottle_ml: f64) -> InjectorResult {
        let Injector {
            water_l_per_min,
            draw_l_per_min,
        } = self.injector;
        InjectorResult {
            share_percent: self.share * 100.0,
            water_parts: water_l_per_min / draw_l_per_min,
            bottle_percent,
            outlet_percent: bottle_percent * self.share,
            bottle_minutes: bottle_ml / 1000.0 / draw_l_per_min,
        }
    }
}

fn model(input: &DilutionInput) -> &'static str {
    match (&input.existing, &input.injector) {
        (None, None) => "C1 V1 = C2 V2, volumes taken to add",
        (Some(_), None) => "C1 V1 + what the bottle holds = C2 V2, volumes taken to add",
        (None, Some(_)) => {
            "C1 V1 = C2 V2 in the bottle, draw / (draw + water) of it at the panel, volumes taken to add"
        }
        (Some(_), Some(_)) => {
            "C1 V1 + what the bottle holds = C2 V2 in the bottle, draw / (draw + water) of it at \
             the panel, volumes taken to add"
        }
    }
}
