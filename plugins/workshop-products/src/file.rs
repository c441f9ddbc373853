//! The text's form: a table for each product, its fields named as in the contract. What
//! it does not know it refuses, so a misspelt field is told and not passed over.

use lamella_plugin_sdk as sdk;
use serde::Deserialize;

/// The whole text.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Products {
    #[serde(default)]
    chemical: Vec<Chemical>,
    #[serde(default)]
    film: Vec<Film>,
    #[serde(default)]
    coating: Vec<Coating>,
    #[serde(default)]
    setup: Vec<Setup>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Chemical {
    id: String,
    name: String,
    substance: Substance,
    strength_percent: f64,
    density_g_per_ml: Option<f64>,
    #[serde(default)]
    dilutions: Vec<Dilution>,
    #[serde(default)]
    hazards: Vec<String>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Substance {
    Other,
    IsopropylAlcohol,
    Ethanol,
    AlkalineCleaner,
    AcidCleaner,
    Shampoo,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Dilution {
    use_for: String,
    product_parts: f64,
    water_parts: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Film {
    id: String,
    name: String,
    width_mm: f64,
    length_mm: Option<f64>,
    overwrap_mm: f64,
    handling_margin_mm: f64,
    settle_hours: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Coating {
    id: String,
    name: String,
    reference_c: f64,
    response: Option<Response>,
    /// Earliest and latest.
    wipe_minutes: Option<[f64; 2]>,
    /// Earliest and latest.
    recoat_hours: Option<[f64; 2]>,
    dry_hours: f64,
    wash_hours: Option<f64>,
    full_cure_hours: Option<f64>,
    min_panel_c: Option<f64>,
    max_panel_c: Option<f64>,
    max_relative_humidity_percent: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Response {
    ActivationEnergyKjPerMol(f64),
    Q10(f64),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Ranked {
    name: String,
    rank: u32,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Setup {
    id: String,
    machine: Ranked,
    pad: Ranked,
    liquid: Ranked,
    speed: u32,
    pressure_kpa: f64,
    seconds: f64,
}

impl From<Products> for sdk::ProductSet {
    fn from(products: Products) -> Self {
        Self {
            chemicals: products.chemical.into_iter().map(Into::into).collect(),
            films: products.film.into_iter().map(Into::into).collect(),
            coatings: products.coating.into_iter().map(Into::into).collect(),
            setups: products.setup.into_iter().map(Into::into).collect(),
        }
    }
}

impl From<Chemical> for sdk::Chemical {
    fn from(chemical: Chemical) -> Self {
        Self {
            id: chemical.id,
            name: chemical.name,
            substance: match chemical.substance {
                Substance::Other => sdk::Substance::Other,
                Substance::IsopropylAlcohol => sdk::Substance::IsopropylAlcohol,
                Substance::Ethanol => sdk::Substance::Ethanol,
                Substance::AlkalineCleaner => sdk::Substance::AlkalineCleaner,
                Substance::AcidCleaner => sdk::Substance::AcidCleaner,
                Substance::Shampoo => sdk::Substance::Shampoo,
            },
            strength_percent: chemical.strength_percent,
            density_g_per_ml: chemical.density_g_per_ml,
            dilutions: chemical
                .dilutions
                .into_iter()
                .map(|dilution| sdk::Dilution {
                    use_for: dilution.use_for,
                    product_parts: dilution.product_parts,
                    water_parts: dilution.water_parts,
                })
                .collect(),
            hazards: chemical.hazards,
        }
    }
}

impl From<Film> for sdk::Film {
    fn from(film: Film) -> Self {
        Self {
            id: film.id,
            name: film.name,
            width_mm: film.width_mm,
            length_mm: film.length_mm,
            overwrap_mm: film.overwrap_mm,
            handling_margin_mm: film.handling_margin_mm,
            settle_hours: film.settle_hours,
        }
    }
}

impl From<Coating> for sdk::Coating {
    fn from(coating: Coating) -> Self {
        let window = |[earliest, latest]: [f64; 2]| sdk::Window { earliest, latest };
        Self {
            id: coating.id,
            name: coating.name,
            reference_c: coating.reference_c,
            response: coating.response.map(|response| match response {
                Response::ActivationEnergyKjPerMol(energy) => {
                    sdk::TemperatureResponse::ActivationEnergyKjPerMol(energy)
                }
                Response::Q10(factor) => sdk::TemperatureResponse::Q10(factor),
            }),
            wipe_minutes: coating.wipe_minutes.map(window),
            recoat_hours: coating.recoat_hours.map(window),
            dry_hours: coating.dry_hours,
            wash_hours: coating.wash_hours,
            full_cure_hours: coating.full_cure_hours,
            min_panel_c: coating.min_panel_c,
            max_panel_c: coating.max_panel_c,
            max_relative_humidity_percent: coating.max_relative_humidity_percent,
        }
    }
}

impl From<Ranked> for sdk::Ranked {
    fn from(ranked: Ranked) -> Self {
        Self {
            name: ranked.name,
            rank: ranked.rank,
        }
    }
}

impl From<Setup> for sdk::Setup {
    fn from(setup: Setup) -> Self {
        Self {
            id: setup.id,
            machine: setup.machine.into(),
            pad: setup.pad.into(),
            liquid: setup.liquid.into(),
            speed: setup.speed,
            pressure_kpa: setup.pressure_kpa,
            seconds: setup.seconds,
        }
    }
}
