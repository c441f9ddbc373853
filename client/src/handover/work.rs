//! What was done and with what, in words.

use std::collections::BTreeMap;

use lamella_proto::v1;
use lamella_proto::v1::record::Entry;

use super::sheet::{Coat, Film, Mix, Part, Pass, Product};
use crate::names::clean;
use crate::text::{self, View};
use crate::units::number;

/// A panel's name for people.
pub(crate) fn panel_name(vehicle: &v1::Vehicle, id: &str) -> String {
    let panel = vehicle.panels.iter().find(|panel| panel.panel_id == id);
    match panel.map(|panel| panel.display_name.as_str()) {
        Some(name) if !name.is_empty() => clean(name),
        Some(_) | None => clean(id),
    }
}

/// The names of panels in a row; none: `otherwise`.
pub(crate) fn panel_names(vehicle: &v1::Vehicle, ids: &[String], otherwise: &str) -> String {
    if ids.is_empty() {
        return otherwise.to_owned();
    }
    let names: Vec<String> = ids.iter().map(|id| panel_name(vehicle, id)).collect();
    names.join(", ")
}

/// The passes; those made alike on one panel are counted together.
pub(crate) fn passes(all: &[v1::Record], vehicle: &v1::Vehicle, view: &View) -> Vec<Pass> {
    let mut passes: Vec<(Pass, Option<f64>)> = Vec::new();
    for pass in entries(all, |entry| match entry {
        Entry::Pass(pass) => Some(pass),
        _ => None,
    }) {
        let panel = panel_name(vehicle, &pass.panel);
        let setup = pass.setup.as_ref().map(setup).unwrap_or_default();
        let outcome = text::words("PASS_OUTCOME_", pass.outcome().as_str_name());
        let alike = passes
            .iter_mut()
            .find(|(known, _)| known.panel == panel && known.setup == setup);
        match alike {
            Some((known, hottest_c)) => {
                known.count += 1;
                known.outcome = outcome;
                *hottest_c = [*hottest_c, pass.panel_c]
                    .into_iter()
                    .flatten()
                    .reduce(f64::max);
            }
            None => passes.push((
                Pass {
                    panel,
                    setup,
                    count: 1,
                    outcome,
                    hottest: String::new(),
                },
                pass.panel_c,
            )),
        }
    }
    let told = passes.into_iter().map(|(pass, hottest_c)| Pass {
        hottest: temperature(hottest_c, view),
        ..pass
    });
    told.collect()
}

/// Film laid.
pub(crate) fn film(all: &[v1::Record], vehicle: &v1::Vehicle, view: &View) -> Vec<Film> {
    let length = |mm: Option<f64>| mm.map(|mm| view.units.length(mm)).unwrap_or_default();
    entries(all, |entry| match entry {
        Entry::FilmPiece(film) => Some(film),
        _ => None,
    })
    .map(|film| Film {
        panel: panel_name(vehicle, &film.panel),
        film: clean(&film.film),
        size: format!("{} × {}", length(film.width_mm), length(film.length_mm)),
        lot: lot(&film.lot),
    })
    .collect()
}

/// Coats applied.
pub(crate) fn coats(all: &[v1::Record], vehicle: &v1::Vehicle, view: &View) -> Vec<Coat> {
    let mut coats = Vec::new();
    for record in all {
        let Some(Entry::CoatLayer(coat)) = &record.entry else {
            continue;
        };
        let air = coat.air.as_ref().map(|air| {
            let humidity = air
                .relative_humidity_percent
                .map(|rh| format!("{} % humidity", number(rh)));
            let parts = [Some(temperature(air.air_c, view)), humidity];
            let parts: Vec<String> = parts
                .into_iter()
                .flatten()
                .filter(|p| !p.is_empty())
                .collect();
            parts.join(", ")
        });
        coats.push(Coat {
            product: product(coat),
            layer: coat.layer,
            panels: panel_names(vehicle, &coat.panels, ""),
            applied: record
                .record_time
                .as_ref()
                .map(|t| view.time(t))
                .unwrap_or_default(),
            panel_temperature: temperature(coat.panel_c, view),
            air: air.unwrap_or_default(),
            lot: lot(&coat.lot),
        });
    }
    coats
}

/// Liquids mixed.
pub(crate) fn mixes(all: &[v1::Record], vehicle: &v1::Vehicle, view: &View) -> Vec<Mix> {
    let volume = |ml: Option<f64>| ml.map(|ml| view.units.volume(ml)).unwrap_or_default();
    entries(all, |entry| match entry {
        Entry::Mix(mix) => Some(mix),
        _ => None,
    })
    .map(|mix| Mix {
        product: clean(&mix.product),
        amounts: format!(
            "{} + {}",
            volume(mix.concentrate_ml),
            volume(mix.diluent_ml)
        ),
        strength: mix
            .strength_percent
            .map(|percent| format!("{} %", number(percent)))
            .unwrap_or_default(),
        panels: panel_names(vehicle, &mix.panels, ""),
        lot: lot(&mix.lot),
    })
    .collect()
}

/// The products that stay on the car or touched it, each once with its lots.
pub(crate) fn products(all: &[v1::Record]) -> Vec<Product> {
    let mut lots: BTreeMap<(&'static str, String), Vec<String>> = BTreeMap::new();
    for record in all {
        let (kind, name, of) = match &record.entry {
            Some(Entry::CoatLayer(coat)) => ("coating", product(coat), coat.lot.as_str()),
            Some(Entry::FilmPiece(film)) => ("film", clean(&film.film), film.lot.as_str()),
            Some(Entry::Mix(mix)) => ("liquid", clean(&mix.product), mix.lot.as_str()),
            Some(Entry::Pass(pass)) => {
                let liquid = pass.setup.as_ref().and_then(|setup| setup.liquid.as_ref());
                let Some(liquid) = liquid else { continue };
                ("polish", clean(&liquid.name), "")
            }
            Some(
                Entry::GaugeReadings(_)
                | Entry::BayAir(_)
                | Entry::Labour(_)
                | Entry::PartOff(_)
                | Entry::PartRefit(_)
                | Entry::Note(_),
            )
            | None => continue,
        };
        let known = lots.entry((kind, name)).or_default();
        let of = lot(of);
        if !of.is_empty() && !known.contains(&of) {
            known.push(of);
        }
    }
    lots.into_iter()
        .map(|((kind, product), lots)| Product {
            product,
            kind,
            lots: lots.join(", "),
        })
        .collect()
}

/// The parts that were off, in the order they came off.
pub(crate) fn parts(all: &[v1::Record], view: &View) -> Vec<Part> {
    let mut parts: Vec<Part> = Vec::new();
    for record in all {
        let when = record
            .record_time
            .as_ref()
            .map(|t| view.time(t))
            .unwrap_or_default();
        match &record.entry {
            Some(Entry::PartOff(off)) => parts.push(Part {
                part: clean(&off.part),
                fasteners: clean(&off.fasteners),
                off: when,
                kept_at: clean(&off.kept_at),
                ..Part::default()
            }),
            Some(Entry::PartRefit(refit)) => {
                let name = clean(&refit.part);
                let open = parts
                    .iter_mut()
                    .rev()
                    .find(|part| part.part == name && part.refitted.is_empty());
                if let Some(part) = open {
                    part.refitted = when;
                    part.note = clean(&refit.note);
                }
            }
            Some(
                Entry::GaugeReadings(_)
                | Entry::Pass(_)
                | Entry::Mix(_)
                | Entry::FilmPiece(_)
                | Entry::CoatLayer(_)
                | Entry::BayAir(_)
                | Entry::Labour(_)
                | Entry::Note(_),
            )
            | None => {}
        }
    }
    parts
}

/// A coat's product.
pub(crate) fn product(coat: &v1::CoatLayer) -> String {
    coat.coating
        .as_ref()
        .map(|coating| clean(&coating.product))
        .unwrap_or_default()
}

fn entries<'a, T: 'a>(
    all: &'a [v1::Record],
    wanted: impl Fn(&'a Entry) -> Option<&'a T> + 'a,
) -> impl Iterator<Item = &'a T> {
    all.iter()
        .filter_map(move |record| wanted(record.entry.as_ref()?))
}

fn setup(setup: &v1::Setup) -> String {
    let items = [&setup.machine, &setup.pad, &setup.liquid];
    let names: Vec<String> = items
        .into_iter()
        .flatten()
        .map(|item| clean(&item.name))
        .collect();
    names.join(", ")
}

fn temperature(c: Option<f64>, view: &View) -> String {
    c.map(|c| view.units.temperature(c)).unwrap_or_default()
}

fn lot(lot: &str) -> String {
    clean(lot.trim())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::view;
    use crate::units::System;

    fn record(entry: Entry) -> v1::Record {
        v1::Record {
            record_time: Some(prost_types::Timestamp {
                seconds: 1_772_442_000,
                nanos: 0,
            }),
            entry: Some(entry),
            ..Default::default()
        }
    }

    fn pass(panel: &str, pad: &str, panel_c: f64, outcome: v1::PassOutcome) -> v1::Record {
        let item = |name: &str| {
            Some(v1::RankedItem {
                name: name.to_owned(),
                rank: 1,
            })
        };
        record(Entry::Pass(v1::Pass {
            panel: panel.to_owned(),
            setup: Some(v1::Setup {
                machine: item("dual action"),
                pad: item(pad),
                liquid: item("fine polish"),
                ..Default::default()
            }),
            panel_c: Some(panel_c),
            outcome: outcome.into(),
            ..Default::default()
        }))
    }

    #[test]
    fn passes_made_alike_are_counted_with_the_last_outcome_and_the_highest_temperature() {
        let records = [
            pass("hood", "soft", 31.0, v1::PassOutcome::Unchanged),
            pass("hood", "firm", 33.0, v1::PassOutcome::Improved),
            pass("hood", "soft", 29.0, v1::PassOutcome::Cleared),
        ];
        let passes = passes(&records, &v1::Vehicle::default(), &view(System::Metric));
        let told: Vec<_> = passes
            .iter()
            .map(|p| {
                (
                    p.setup.as_str(),
                    p.count,
                    p.outcome.as_str(),
                    p.hottest.as_str(),
                )
            })
            .collect();
        assert_eq!(
            told,
            [
                (
                    "dual action, soft, fine polish",
                    2,
                    "cleared",
                    "31 °C (87.8 °F)"
                ),
                (
                    "dual action, firm, fine polish",
                    1,
                    "improved",
                    "33 °C (91.4 °F)"
                ),
            ]
        );
    }

    #[test]
    fn a_part_off_twice_is_there_twice_and_one_still_off_says_where_it_is() {
        let off = |part: &str| {
            record(Entry::PartOff(v1::PartOff {
                part: part.to_owned(),
                kept_at: "tray 3".to_owned(),
                ..Default::default()
            }))
        };
        let refit = |part: &str| {
            record(Entry::PartRefit(v1::PartRefit {
                part: part.to_owned(),
                ..Default::default()
            }))
        };
        let records = [off("badge"), refit("badge"), off("mirror"), off("badge")];
        let parts = parts(&records, &view(System::Metric));
        let open: Vec<(&str, bool)> = parts
            .iter()
            .map(|part| (part.part.as_str(), part.refitted.is_empty()))
            .collect();
        assert_eq!(open, [("badge", false), ("mirror", true), ("badge", true)]);
        assert_eq!(parts[2].kept_at, "tray 3");
    }

    #[test]
    fn a_product_is_named_once_with_every_lot() {
        let film = |lot: &str| {
            record(Entry::FilmPiece(v1::FilmPiece {
                film: "clear film".to_owned(),
                lot: lot.to_owned(),
                ..Default::default()
            }))
        };
        let records = [film("B2"), film(""), film("B1"), film("B2")];
        let products = products(&records);
        assert_eq!(products.len(), 1);
        assert_eq!(products[0].lots, "B2, B1");
    }
}
