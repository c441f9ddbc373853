//! What a product list holds, as the API shows it.

use lamella_plugin_host as host;
use lamella_proto::v1;

/// All that one plugin lists.
pub(crate) fn to_pb(set: &host::ProductSet, plugin: &str) -> v1::ShopProducts {
    v1::ShopProducts {
        chemicals: set
            .chemicals
            .iter()
            .map(|one| chemical(one, plugin))
            .collect(),
        films: set.films.iter().map(|one| film(one, plugin)).collect(),
        coatings: set
            .coatings
            .iter()
            .map(|one| v1::ShopCoating {
                product_id: one.id.clone(),
                coating: Some(coating(one)),
                plugin: plugin.to_owned(),
            })
            .collect(),
        setups: set
            .setups
            .iter()
            .map(|one| v1::ShopSetup {
                product_id: one.id.clone(),
                setup: Some(setup(one)),
                plugin: plugin.to_owned(),
            })
            .collect(),
    }
}

fn chemical(chemical: &host::Chemical, plugin: &str) -> v1::ShopChemical {
    v1::ShopChemical {
        product_id: chemical.id.clone(),
        display_name: chemical.name.clone(),
        substance: substance(chemical.substance).into(),
        strength_percent: chemical.strength_percent,
        density_g_per_ml: chemical.density_g_per_ml,
        dilutions: chemical
            .dilutions
            .iter()
            .map(|dilution| v1::ShopDilution {
                use_for: dilution.use_for.clone(),
                product_parts: dilution.product_parts,
                water_parts: dilution.water_parts,
            })
            .collect(),
        hazards: chemical.hazards.clone(),
        plugin: plugin.to_owned(),
    }
}

fn substance(substance: host::Substance) -> v1::Substance {
    match substance {
        host::Substance::Other => v1::Substance::Unspecified,
        host::Substance::IsopropylAlcohol => v1::Substance::IsopropylAlcohol,
        host::Substance::Ethanol => v1::Substance::Ethanol,
        host::Substance::AlkalineCleaner => v1::Substance::AlkalineCleaner,
        host::Substance::AcidCleaner => v1::Substance::AcidCleaner,
        host::Substance::Shampoo => v1::Substance::Shampoo,
    }
}

fn film(film: &host::Film, plugin: &str) -> v1::ShopFilm {
    v1::ShopFilm {
        product_id: film.id.clone(),
        display_name: film.name.clone(),
        width_mm: film.width_mm,
        length_mm: film.length_mm,
        overwrap_mm: film.overwrap_mm,
        handling_margin_mm: film.handling_margin_mm,
        settle_hours: film.settle_hours,
        plugin: plugin.to_owned(),
    }
}

fn coating(coating: &host::Coating) -> v1::Coating {
    use v1::coating::TemperatureResponse;
    v1::Coating {
        product: coating.name.clone(),
        reference_c: Some(coating.reference_c),
        temperature_response: coating.response.map(|response| match response {
            host::TemperatureResponse::ActivationEnergyKjPerMol(energy) => {
                TemperatureResponse::ActivationEnergyKjPerMol(energy)
            }
            host::TemperatureResponse::Q10(factor) => TemperatureResponse::Q10(factor),
        }),
        wipe_earliest_minutes: coating.wipe_minutes.map(|window| window.earliest),
        wipe_latest_minutes: coating.wipe_minutes.map(|window| window.latest),
        recoat_open_hours: coating.recoat_hours.map(|window| window.earliest),
        recoat_close_hours: coating.recoat_hours.map(|window| window.latest),
        dry_hours: Some(coating.dry_hours),
        wash_hours: coating.wash_hours,
        full_cure_hours: coating.full_cure_hours,
        min_panel_c: coating.min_panel_c,
        max_panel_c: coating.max_panel_c,
        max_relative_humidity_percent: coating.max_relative_humidity_percent,
        ..v1::Coating::default()
    }
}

fn setup(setup: &host::Setup) -> v1::Setup {
    let item = |item: &host::Ranked| v1::RankedItem {
        name: item.name.clone(),
        // The host has seen that it is 1 to 20.
        rank: i32::try_from(item.rank).unwrap_or(i32::MAX),
    };
    v1::Setup {
        machine: Some(item(&setup.machine)),
        pad: Some(item(&setup.pad)),
        liquid: Some(item(&setup.liquid)),
        // The host has seen that it is 1 to 10.
        speed: i32::try_from(setup.speed).unwrap_or(i32::MAX),
        pressure_kpa: setup.pressure_kpa,
        seconds: setup.seconds,
    }
}
