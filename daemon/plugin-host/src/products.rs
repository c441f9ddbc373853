//! World `product-list`: asking for the products, and checking them against the
//! ranges that the contract states.

use crate::bindings::product_list::exports::lamella::shop::products as wit;
use crate::config::CallLimits;
use crate::error::{CallFailure, PluginError, RefusalKind};
use crate::load::{Linked, World};
use crate::plugin::Plugin;
use crate::report::CallReport;
use crate::{ProductSet, Setting};
use std::collections::BTreeSet;

/// The longest id of a product, bytes.
const ID_BYTES: usize = 64;

/// One value of a product list that is outside the contract.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ProductFault {
    /// An id is not lower-case letters, digits and hyphens, 1 to 64 of them.
    #[error("{place} `{id}` is not 1 to 64 lower-case letters, digits and hyphens")]
    BadId {
        /// The field.
        place: String,
        /// What it says, shortened.
        id: String,
    },
    /// Two products of one kind have one id.
    #[error("{place} `{id}` is there already")]
    RepeatedId {
        /// The field of the second.
        place: String,
        /// The id.
        id: String,
    },
    /// A name is empty.
    #[error("{place} is empty")]
    EmptyText {
        /// The field.
        place: String,
    },
    /// A number is out of its range.
    #[error("{place} {found} is not {rule}")]
    OutOfRange {
        /// The field.
        place: String,
        /// What it says.
        found: f64,
        /// The range in words.
        rule: &'static str,
    },
    /// Something ends before it begins.
    #[error("{place} begins at {from} and ends before that, at {to}")]
    Reversed {
        /// The field.
        place: String,
        /// Where it begins.
        from: f64,
        /// Where it ends.
        to: f64,
    },
}

impl Plugin {
    /// Asks the plugin for the shop's products. Blocks; call it from a thread that may.
    ///
    /// # Errors
    /// [`CallFailure`] where the plugin is of another world, refuses, breaks a limit, or
    /// lists products outside the ranges of the contract.
    pub fn list_products(
        &self,
        settings: &[Setting],
        limits: CallLimits,
    ) -> Result<(ProductSet, CallReport), Box<CallFailure>> {
        let pre = match self.linked() {
            Linked::ProductList(pre) => pre,
            Linked::Pricing(_) => return Err(self.wrong_world(World::ProductList)),
        };
        self.call(
            limits,
            |store| {
                let instance = pre.instantiate(&mut *store)?;
                instance
                    .lamella_shop_products()
                    .call_list_products(store, settings)
            },
            |answer| {
                let products =
                    answer.map_err(|text| PluginError::refused(RefusalKind::NotListed, &text))?;
                check_products(&products)
                    .map_err(|faults| PluginError::ProductsNotValid { faults })?;
                Ok(products)
            },
        )
    }
}

/// Says whether every product is within the ranges of the contract: ids well formed
/// and unique within their kind, names present, numbers finite and in range.
///
/// # Errors
/// Every fault that it has.
pub fn check_products(products: &ProductSet) -> Result<(), Vec<ProductFault>> {
    let mut check = Check::default();
    check.ids("chemicals", products.chemicals.iter().map(|item| &item.id));
    check.ids("films", products.films.iter().map(|item| &item.id));
    check.ids("coatings", products.coatings.iter().map(|item| &item.id));
    check.ids("setups", products.setups.iter().map(|item| &item.id));
    for (index, chemical) in products.chemicals.iter().enumerate() {
        check.chemical(&format!("chemicals[{index}]"), chemical);
    }
    for (index, film) in products.films.iter().enumerate() {
        check.film(&format!("films[{index}]"), film);
    }
    for (index, coating) in products.coatings.iter().enumerate() {
        check.coating(&format!("coatings[{index}]"), coating);
    }
    for (index, setup) in products.setups.iter().enumerate() {
        check.setup(&format!("setups[{index}]"), setup);
    }
    if check.faults.is_empty() {
        Ok(())
    } else {
        Err(check.faults)
    }
}

#[derive(Default)]
struct Check {
    faults: Vec<ProductFault>,
}

impl Check {
    fn ids<'a>(&mut self, kind: &str, items: impl Iterator<Item = &'a String>) {
        let mut seen = BTreeSet::new();
        for (index, id) in items.enumerate() {
            let place = || format!("{kind}[{index}].id");
            if !is_id(id) {
                let id = crate::log::cut(id, ID_BYTES).to_owned();
                self.faults.push(ProductFault::BadId { place: place(), id });
            } else if !seen.insert(id) {
                self.faults.push(ProductFault::RepeatedId {
                    place: place(),
                    id: id.clone(),
                });
            }
        }
    }

    fn chemical(&mut self, at: &str, chemical: &wit::Chemical) {
        self.text(format!("{at}.name"), &chemical.name);
        self.number(at, "strength_percent", chemical.strength_percent, PERCENT);
        if let Some(density) = chemical.density_g_per_ml {
            self.number(at, "density_g_per_ml", density, ABOVE_ZERO);
        }
        for (index, dilution) in chemical.dilutions.iter().enumerate() {
            let at = format!("{at}.dilutions[{index}]");
            self.text(format!("{at}.use_for"), &dilution.use_for);
            self.number(&at, "product_parts", dilution.product_parts, ABOVE_ZERO);
            self.number(&at, "water_parts", dilution.water_parts, FROM_ZERO);
        }
    }

    fn film(&mut self, at: &str, film: &wit::Film) {
        self.text(format!("{at}.name"), &film.name);
        self.number(at, "width_mm", film.width_mm, ABOVE_ZERO);
        self.number(at, "overwrap_mm", film.overwrap_mm, FROM_ZERO);
        self.number(at, "handling_margin_mm", film.handling_margin_mm, FROM_ZERO);
        self.some(at, "length_mm", film.length_mm, ABOVE_ZERO);
        self.some(at, "settle_hours", film.settle_hours, FROM_ZERO);
    }

    fn coating(&mut self, at: &str, coating: &wit::Coating) {
        self.text(format!("{at}.name"), &coating.name);
        self.number(at, "reference_c", coating.reference_c, CELSIUS);
        match coating.response {
            Some(wit::TemperatureResponse::ActivationEnergyKjPerMol(energy)) => {
                self.number(
                    at,
                    "response.activation_energy_kj_per_mol",
                    energy,
                    FROM_ZERO,
                );
            }
            Some(wit::TemperatureResponse::Q10(factor)) => {
                self.number(at, "response.q10", factor, ABOVE_ZERO);
            }
            None => {}
        }
        self.number(at, "dry_hours", coating.dry_hours, FROM_ZERO);
        self.some(at, "wash_hours", coating.wash_hours, FROM_ZERO);
        self.some(at, "full_cure_hours", coating.full_cure_hours, FROM_ZERO);
        self.some(at, "min_panel_c", coating.min_panel_c, CELSIUS);
        self.some(at, "max_panel_c", coating.max_panel_c, CELSIUS);
        self.some(
            at,
            "max_relative_humidity_percent",
            coating.max_relative_humidity_percent,
            PERCENT,
        );
        if let (Some(from), Some(to)) = (coating.min_panel_c, coating.max_panel_c) {
            self.order(format!("{at}.min_panel_c"), from, to);
        }
        for (field, window) in [
            ("wipe_minutes", coating.wipe_minutes),
            ("recoat_hours", coating.recoat_hours),
        ] {
            let Some(window) = window else { continue };
            let at = format!("{at}.{field}");
            self.number(&at, "earliest", window.earliest, FROM_ZERO);
            self.number(&at, "latest", window.latest, FROM_ZERO);
            self.order(at, window.earliest, window.latest);
        }
    }

    fn setup(&mut self, at: &str, setup: &wit::Setup) {
        for (field, ranked) in [
            ("machine", &setup.machine),
            ("pad", &setup.pad),
            ("liquid", &setup.liquid),
        ] {
            self.text(format!("{at}.{field}.name"), &ranked.name);
            self.number(&format!("{at}.{field}"), "rank", ranked.rank.into(), RANK);
        }
        self.number(at, "speed", setup.speed.into(), SPEED);
        self.number(at, "pressure_kpa", setup.pressure_kpa, ABOVE_ZERO);
        self.number(at, "seconds", setup.seconds, ABOVE_ZERO);
    }

    fn text(&mut self, place: String, text: &str) {
        if text.trim().is_empty() {
            self.faults.push(ProductFault::EmptyText { place });
        }
    }

    fn number(&mut self, at: &str, field: &str, found: f64, range: Range) {
        if !found.is_finite() || !(range.holds)(found) {
            let place = format!("{at}.{field}");
            self.faults.push(ProductFault::OutOfRange {
                place,
                found,
                rule: range.rule,
            });
        }
    }

    fn some(&mut self, at: &str, field: &str, found: Option<f64>, range: Range) {
        if let Some(found) = found {
            self.number(at, field, found, range);
        }
    }

    fn order(&mut self, place: String, from: f64, to: f64) {
        if to < from {
            self.faults.push(ProductFault::Reversed { place, from, to });
        }
    }
}

/// A range with its words.
#[derive(Clone, Copy)]
struct Range {
    rule: &'static str,
    holds: fn(f64) -> bool,
}

const ABOVE_ZERO: Range = Range {
    rule: "above 0",
    holds: |value| value > 0.0,
};
const FROM_ZERO: Range = Range {
    rule: "0 or more",
    holds: |value| value >= 0.0,
};
const PERCENT: Range = Range {
    rule: "above 0 to 100",
    holds: |value| value > 0.0 && value <= 100.0,
};
/// Nothing that a workshop touches is colder or hotter; common practice, no source.
const CELSIUS: Range = Range {
    rule: "-50 to 200",
    holds: |value| (-50.0..=200.0).contains(&value),
};
const RANK: Range = Range {
    rule: "1 to 20",
    holds: |value| (1.0..=20.0).contains(&value),
};
const SPEED: Range = Range {
    rule: "1 to 10",
    holds: |value| (1.0..=10.0).contains(&value),
};

/// Whether a text may be an id: 1 to 64 lower-case letters, digits and hyphens.
pub(crate) fn is_id(text: &str) -> bool {
    (1..=ID_BYTES).contains(&text.len())
        && text
            .bytes()
            .all(|byte| matches!(byte, b'a'..=b'z' | b'0'..=b'9' | b'-'))
}
