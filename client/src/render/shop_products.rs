//! What the shop works with, as text: the ids first, because the other commands
//! take these.

use lamella_proto::v1;

use crate::names::clean;
use crate::render::{plugin, record};
use crate::text::{self, Edge, View};
use crate::units::number;

/// What the enabled lists hold together, and which gave no answer.
pub(crate) fn answer(answer: &v1::ListShopProductsResponse, view: &View) -> String {
    let mut out = all(&answer.products.clone().unwrap_or_default(), view);
    for failed in &answer.failures {
        let failure = failed.failure.clone().unwrap_or_default();
        out.push_str(&format!(
            "no answer from {}: {}\n",
            clean(&failed.plugin),
            clean(&plugin::reasoned(&failure))
        ));
    }
    out
}

/// Products by kind.
pub(crate) fn all(products: &v1::ShopProducts, view: &View) -> String {
    let kinds = [
        ("chemicals", rows(&products.chemicals, chemical, view)),
        ("films", rows(&products.films, film, view)),
        ("coatings", rows(&products.coatings, coating, view)),
        ("setups", rows(&products.setups, setup, view)),
    ];
    let mut out = String::new();
    for (kind, rows) in kinds {
        if !rows.is_empty() {
            out.push_str(&format!("{}\n{}", text::strong(kind), text::table(&rows)));
        }
    }
    if out.is_empty() {
        out.push_str("no products\n");
    }
    out
}

fn rows<T>(items: &[T], row: fn(&T, &View) -> [String; 3], view: &View) -> Vec<[String; 3]> {
    let rows = items.iter().map(|item| row(item, view));
    rows.map(|[id, name, rest]| [format!("  {}", clean(&id)), clean(&name), clean(&rest)])
        .collect()
}

fn chemical(chemical: &v1::ShopChemical, _: &View) -> [String; 3] {
    let mut rest = vec![format!("{} %", number(chemical.strength_percent))];
    rest.extend(
        chemical
            .density_g_per_ml
            .map(|d| format!("{} g/ml", number(d))),
    );
    rest.extend(chemical.dilutions.iter().map(|dilution| {
        format!(
            "{} {}:{}",
            dilution.use_for,
            number(dilution.product_parts),
            number(dilution.water_parts)
        )
    }));
    rest.extend(chemical.hazards.iter().cloned());
    [
        chemical.product_id.clone(),
        chemical.display_name.clone(),
        rest.join(", "),
    ]
}

fn film(film: &v1::ShopFilm, view: &View) -> [String; 3] {
    let length = |mm: f64| view.units.length(mm);
    let mut rest = vec![format!("{} wide", length(film.width_mm))];
    rest.extend(film.length_mm.map(|mm| format!("{} long", length(mm))));
    rest.push(format!("overwrap {}", length(film.overwrap_mm)));
    rest.push(format!("margin {}", length(film.handling_margin_mm)));
    let settles = film.settle_hours;
    rest.extend(settles.map(|h| format!("settles {}", text::hours(h, Edge::Opens))));
    [
        film.product_id.clone(),
        film.display_name.clone(),
        rest.join(", "),
    ]
}

fn coating(coating: &v1::ShopCoating, view: &View) -> [String; 3] {
    let cure = coating.coating.clone().unwrap_or_default();
    let hours = |what: &str, hours: Option<f64>| {
        hours.map(|hours| format!("{what} {}", text::hours(hours, Edge::Opens)))
    };
    let mut rest: Vec<String> = Vec::new();
    rest.extend(hours("dry", cure.dry_hours));
    rest.extend(hours("wash", cure.wash_hours));
    rest.extend(hours("cured", cure.full_cure_hours));
    // The API says what an unset reference means.
    let reference_c = cure.reference_c.unwrap_or(20.0);
    rest.push(format!("at {}", view.units.temperature(reference_c)));
    [coating.product_id.clone(), cure.product, rest.join(", ")]
}

fn setup(setup: &v1::ShopSetup, view: &View) -> [String; 3] {
    let made_with = setup.setup.clone().unwrap_or_default();
    [
        setup.product_id.clone(),
        record::setup_line(&made_with, view),
        String::new(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    fn example() -> v1::ListShopProductsResponse {
        let ranked = |name: &str| {
            Some(v1::RankedItem {
                name: name.to_owned(),
                rank: 1,
            })
        };
        let products = v1::ShopProducts {
            chemicals: vec![v1::ShopChemical {
                product_id: "pre-wash".to_owned(),
                display_name: "water-based pre-wash concentrate".to_owned(),
                substance: v1::Substance::Shampoo.into(),
                strength_percent: 100.0,
                density_g_per_ml: Some(1.02),
                dilutions: vec![v1::ShopDilution {
                    use_for: "foam lance".to_owned(),
                    product_parts: 1.0,
                    water_parts: 9.0,
                }],
                hazards: vec!["H319".to_owned()],
                plugin: "plugins/products".to_owned(),
            }],
            films: vec![v1::ShopFilm {
                product_id: "clear-60".to_owned(),
                display_name: "clear film".to_owned(),
                width_mm: 1_524.0,
                length_mm: Some(15_000.0),
                overwrap_mm: 10.0,
                handling_margin_mm: 25.4,
                settle_hours: Some(24.0),
                plugin: "plugins/products".to_owned(),
            }],
            coatings: vec![v1::ShopCoating {
                product_id: "hard".to_owned(),
                coating: Some(v1::Coating {
                    product: "hard coating".to_owned(),
                    dry_hours: Some(12.0),
                    wash_hours: Some(168.0),
                    ..Default::default()
                }),
                plugin: "plugins/products".to_owned(),
            }],
            setups: vec![v1::ShopSetup {
                product_id: "gentle".to_owned(),
                setup: Some(v1::Setup {
                    machine: ranked("dual action"),
                    pad: ranked("soft foam"),
                    liquid: ranked("fine polish"),
                    speed: 3,
                    pressure_kpa: 10.0,
                    seconds: 40.0,
                }),
                plugin: "plugins/products".to_owned(),
            }],
        };
        v1::ListShopProductsResponse {
            products: Some(products),
            failures: vec![v1::ShopProductsFailure {
                plugin: "plugins/other".to_owned(),
                failure: Some(v1::PluginFailure {
                    reason: "TRAPPED".to_owned(),
                    message: "the plugin trapped".to_owned(),
                }),
            }],
        }
    }

    #[test]
    fn products_by_kind_in_either_system() {
        insta::assert_snapshot!(plain(&answer(&example(), &view(System::Metric))), @"
        chemicals
          pre-wash  water-based pre-wash concentrate  100 %, 1.02 g/ml, foam lance 1:9, H319
        films
          clear-60  clear film  1524 mm (60 in) wide, 15 m (49.21 ft) long, overwrap 10 mm (0.3937 in), margin 25.4 mm (1 in), settles 1 d
        coatings
          hard  hard coating  dry 12 h, wash 7 d, at 20 °C (68 °F)
        setups
          gentle  dual action, soft foam, fine polish; speed 3, 10 kPa (1.45 psi), 40 s
        no answer from plugins/other: TRAPPED: the plugin trapped
        ");
        insta::assert_snapshot!(plain(&all(&example().products.unwrap(), &view(System::Us))), @"
        chemicals
          pre-wash  water-based pre-wash concentrate  100 %, 1.02 g/ml, foam lance 1:9, H319
        films
          clear-60  clear film  60 in (1524 mm) wide, 49.21 ft (15 m) long, overwrap 0.3937 in (10 mm), margin 1 in (25.4 mm), settles 1 d
        coatings
          hard  hard coating  dry 12 h, wash 7 d, at 68 °F (20 °C)
        setups
          gentle  dual action, soft foam, fine polish; speed 3, 1.45 psi (10 kPa), 40 s
        ");
        assert_eq!(
            all(&v1::ShopProducts::default(), &view(System::Us)),
            "no products\n"
        );
    }
}
