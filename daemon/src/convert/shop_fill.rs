//! Requests that name products of the shop's lists by id, completed with what the
//! lists say, before anything else looks at them.

use lamella_calc::violation::Checks;
use lamella_jobs::check::{join, quote};
use lamella_proto::v1::{self, record::Entry, strength::Form};

/// Known ids that a refusal names.
const NAMED: usize = 8;

/// Stands for the width of a film that is unknown, which is noted: any in range will do.
const ANY_WIDTH_MM: f64 = 1_000.0;

/// A request that may name products.
pub(crate) trait FromShop {
    /// Whether it does.
    fn names_products(&self) -> bool;

    /// Fills in what the products say. What is unknown, or given twice, is noted.
    fn fill(&mut self, shop: &v1::ListShopProductsResponse, checks: &mut Checks);
}

impl FromShop for v1::DiluteRequest {
    fn names_products(&self) -> bool {
        !self.product_id.is_empty() || !self.use_for.is_empty()
    }

    fn fill(&mut self, shop: &v1::ListShopProductsResponse, checks: &mut Checks) {
        if self.product_id.is_empty() {
            checks.require(false, "use_for", || "needs product_id".to_owned());
            return;
        }
        let chemicals = shop.products.iter().flat_map(|all| &all.chemicals);
        let ids = chemicals.map(|one| (one.product_id.as_str(), one));
        let Some(product) = find(ids, &self.product_id, "product_id", shop, checks) else {
            // What it would have filled in is not missing besides.
            let any = v1::Strength {
                form: Some(Form::Percent(100.0)),
            };
            self.stock.get_or_insert_with(|| any.clone());
            self.target.get_or_insert(any);
            return;
        };
        if self.target.is_none() {
            self.target = recommended(product, &self.use_for, checks);
        } else {
            checks.require(self.use_for.is_empty(), "use_for", || {
                "is not to be given with a target".to_owned()
            });
        }
        self.stock.get_or_insert(v1::Strength {
            form: Some(Form::Percent(product.strength_percent)),
        });
        if self.substance == 0 {
            self.substance = product.substance;
        }
        self.stock_density_g_per_ml = self.stock_density_g_per_ml.or(product.density_g_per_ml);
    }
}

impl FromShop for v1::TimeCureRequest {
    fn names_products(&self) -> bool {
        self.coating.as_ref().is_some_and(is_by_id)
    }

    fn fill(&mut self, shop: &v1::ListShopProductsResponse, checks: &mut Checks) {
        fill_coating(self.coating.as_mut(), "coating", shop, checks);
    }
}

impl FromShop for v1::MeasureFilmRequest {
    fn names_products(&self) -> bool {
        self.rolls.iter().any(|roll| !roll.film_id.is_empty())
    }

    fn fill(&mut self, shop: &v1::ListShopProductsResponse, checks: &mut Checks) {
        for (index, roll) in self.rolls.iter_mut().enumerate() {
            if roll.film_id.is_empty() {
                continue;
            }
            let at = |field: &str| format!("rolls[{index}].{field}");
            checks.require(roll.width_mm.is_none(), at("width_mm"), || {
                "is not to be given with film_id".to_owned()
            });
            let film = find_film(&roll.film_id, &at("film_id"), shop, checks);
            // Of an unknown film, not that its width is missing besides.
            roll.width_mm = Some(film.map_or(ANY_WIDTH_MM, |film| film.width_mm));
            roll.length_mm = roll.length_mm.or(film.and_then(|film| film.length_mm));
            if roll.roll.is_empty() {
                let name = film.map_or(&roll.film_id, |film| &film.display_name);
                roll.roll.clone_from(name);
            }
        }
    }
}

impl FromShop for v1::AdvisePassRequest {
    fn names_products(&self) -> bool {
        self.shop_setups
    }

    fn fill(&mut self, shop: &v1::ListShopProductsResponse, checks: &mut Checks) {
        checks.require(self.ladder.is_empty(), "shop_setups", || {
            "is not to be given with a ladder".to_owned()
        });
        let setups: Vec<v1::Setup> = shop
            .products
            .iter()
            .flat_map(|all| &all.setups)
            .filter_map(|one| one.setup.clone())
            .collect();
        checks.require(!setups.is_empty(), "shop_setups", || {
            format!("needs setups in a product list{}", silent(shop))
        });
        if self.ladder.is_empty() {
            self.ladder = setups;
        }
    }
}

impl FromShop for v1::AppendRecordRequest {
    fn names_products(&self) -> bool {
        match self
            .record
            .as_ref()
            .and_then(|record| record.entry.as_ref())
        {
            Some(Entry::FilmPiece(piece)) => !piece.film_id.is_empty(),
            Some(Entry::CoatLayer(layer)) => layer.coating.as_ref().is_some_and(is_by_id),
            Some(
                Entry::GaugeReadings(_)
                | Entry::Pass(_)
                | Entry::Mix(_)
                | Entry::BayAir(_)
                | Entry::Labour(_)
                | Entry::PartOff(_)
                | Entry::PartRefit(_)
                | Entry::Note(_),
            )
            | None => false,
        }
    }

    fn fill(&mut self, shop: &v1::ListShopProductsResponse, checks: &mut Checks) {
        match self
            .record
            .as_mut()
            .and_then(|record| record.entry.as_mut())
        {
            Some(Entry::FilmPiece(piece)) => {
                let field = "record.film_piece.film_id";
                let film = find_film(&piece.film_id, field, shop, checks);
                if piece.film.is_empty() {
                    let name = film.map_or(&piece.film_id, |film| &film.display_name);
                    piece.film.clone_from(name);
                }
                piece.settle_hours = piece
                    .settle_hours
                    .or(film.and_then(|film| film.settle_hours));
            }
            Some(Entry::CoatLayer(layer)) => fill_coating(
                layer.coating.as_mut(),
                "record.coat_layer.coating",
                shop,
                checks,
            ),
            Some(
                Entry::GaugeReadings(_)
                | Entry::Pass(_)
                | Entry::Mix(_)
                | Entry::BayAir(_)
                | Entry::Labour(_)
                | Entry::PartOff(_)
                | Entry::PartRefit(_)
                | Entry::Note(_),
            )
            | None => {}
        }
    }
}

fn is_by_id(coating: &v1::Coating) -> bool {
    !coating.product_id.is_empty()
}

/// The recommended dilution of that use, or the only one.
fn recommended(
    product: &v1::ShopChemical,
    use_for: &str,
    checks: &mut Checks,
) -> Option<v1::Strength> {
    let all = &product.dilutions;
    let found = match (use_for, all.as_slice()) {
        ("", [only]) => Some(only),
        ("", _) => None,
        (use_for, _) => all.iter().find(|one| one.use_for == use_for),
    };
    let field = if use_for.is_empty() {
        "target"
    } else {
        "use_for"
    };
    checks.require(found.is_some(), field, || {
        let uses: Vec<String> = all.iter().map(|one| quote(&one.use_for)).collect();
        match (use_for, uses.is_empty()) {
            (_, true) => format!(
                "is required: {} has no recommended dilution",
                product.product_id
            ),
            ("", false) => format!("is required, or use_for as one of {}", uses.join(", ")),
            (other, false) => format!("must be one of {}, got {}", uses.join(", "), quote(other)),
        }
    });
    found.map(|dilution| v1::Strength {
        form: Some(Form::Parts(v1::Parts {
            product: dilution.product_parts,
            water: dilution.water_parts,
        })),
    })
}

fn fill_coating(
    coating: Option<&mut v1::Coating>,
    path: &str,
    shop: &v1::ListShopProductsResponse,
    checks: &mut Checks,
) {
    let Some(coating) = coating.filter(|coating| !coating.product_id.is_empty()) else {
        return;
    };
    let id = std::mem::take(&mut coating.product_id);
    checks.require(*coating == v1::Coating::default(), path, || {
        "must have no other field with product_id".to_owned()
    });
    let coatings = shop.products.iter().flat_map(|all| &all.coatings);
    let ids = coatings.map(|one| (one.product_id.as_str(), one));
    match find(ids, &id, &join(path, "product_id"), shop, checks) {
        Some(found) => *coating = found.coating.clone().unwrap_or_default(),
        // Noted; what is missing otherwise would only be noise beside it.
        None => {
            *coating = v1::Coating {
                product: id,
                dry_hours: Some(1.0),
                ..v1::Coating::default()
            };
        }
    }
}

fn find_film<'a>(
    id: &str,
    field: &str,
    shop: &'a v1::ListShopProductsResponse,
    checks: &mut Checks,
) -> Option<&'a v1::ShopFilm> {
    let films = shop.products.iter().flat_map(|all| &all.films);
    find(
        films.map(|one| (one.product_id.as_str(), one)),
        id,
        field,
        shop,
        checks,
    )
}

/// The product of that id. Unknown: noted beside some that are known.
fn find<'a, T>(
    products: impl Iterator<Item = (&'a str, &'a T)>,
    id: &str,
    field: &str,
    shop: &v1::ListShopProductsResponse,
    checks: &mut Checks,
) -> Option<&'a T> {
    let products: Vec<(&str, &T)> = products.collect();
    let found = products.iter().find(|(known, _)| *known == id);
    checks.require(found.is_some(), field, || {
        let known: Vec<&str> = products
            .iter()
            .map(|(known, _)| *known)
            .take(NAMED)
            .collect();
        let more = if products.len() > NAMED { ", ..." } else { "" };
        let known = if known.is_empty() {
            "none of this kind is listed".to_owned()
        } else {
            format!("listed are {}{more}", known.join(", "))
        };
        format!(
            "{} is in no product list: {known}{}",
            quote(id),
            silent(shop)
        )
    });
    found.map(|(_, product)| *product)
}

/// The lists that gave no answer, which may hold what is missing.
fn silent(shop: &v1::ListShopProductsResponse) -> String {
    if shop.failures.is_empty() {
        return String::new();
    }
    let names: Vec<&str> = shop
        .failures
        .iter()
        .map(|one| one.plugin.as_str())
        .collect();
    format!("; {} gave no answer", names.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shop() -> v1::ListShopProductsResponse {
        let dilution = |use_for: &str, water_parts| v1::ShopDilution {
            use_for: use_for.to_owned(),
            product_parts: 1.0,
            water_parts,
        };
        let chemical = |id: &str, dilutions| v1::ShopChemical {
            product_id: id.to_owned(),
            strength_percent: 80.0,
            density_g_per_ml: Some(1.05),
            substance: v1::Substance::Shampoo.into(),
            dilutions,
            ..Default::default()
        };
        v1::ListShopProductsResponse {
            products: Some(v1::ShopProducts {
                chemicals: vec![
                    chemical("one", vec![dilution("bucket", 9.0)]),
                    chemical("two", vec![dilution("lance", 9.0), dilution("spray", 19.0)]),
                    chemical("bare", Vec::new()),
                ],
                coatings: vec![v1::ShopCoating {
                    product_id: "coat".to_owned(),
                    coating: Some(v1::Coating {
                        product: "Coat".to_owned(),
                        dry_hours: Some(12.0),
                        ..Default::default()
                    }),
                    ..Default::default()
                }],
                ..Default::default()
            }),
            failures: Vec::new(),
        }
    }

    fn dilute(product: &str, use_for: &str) -> Result<v1::DiluteRequest, String> {
        let mut request = v1::DiluteRequest {
            product_id: product.to_owned(),
            use_for: use_for.to_owned(),
            ..Default::default()
        };
        assert!(request.names_products());
        let mut checks = Checks::new();
        request.fill(&shop(), &mut checks);
        match checks.finish() {
            Ok(()) => Ok(request),
            Err(error) => Err(error.to_string()),
        }
    }

    #[test]
    fn a_product_fills_in_what_is_unset() {
        let request = dilute("one", "").unwrap();
        assert_eq!(request.stock.unwrap().form, Some(Form::Percent(80.0)));
        let parts = |water| {
            Some(Form::Parts(v1::Parts {
                product: 1.0,
                water,
            }))
        };
        assert_eq!(request.target.unwrap().form, parts(9.0));
        assert_eq!(request.stock_density_g_per_ml, Some(1.05));
        let request = dilute("two", "spray").unwrap();
        assert_eq!(request.target.unwrap().form, parts(19.0));
        let mut given = v1::DiluteRequest {
            product_id: "one".to_owned(),
            stock_density_g_per_ml: Some(1.2),
            target: Some(v1::Strength {
                form: Some(Form::Percent(5.0)),
            }),
            ..Default::default()
        };
        let mut checks = Checks::new();
        given.fill(&shop(), &mut checks);
        assert!(checks.finish().is_ok());
        assert_eq!(given.stock_density_g_per_ml, Some(1.2));
        assert_eq!(given.target.unwrap().form, Some(Form::Percent(5.0)));
    }

    #[test]
    fn what_cannot_be_filled_in_is_said() {
        for (product, use_for, says) in [
            ("three", "", "listed are one, two, bare"),
            ("two", "", "use_for as one of"),
            ("two", "bucket", "must be one of"),
            ("bare", "", "has no recommended dilution"),
            ("", "bucket", "needs product_id"),
        ] {
            let said = dilute(product, use_for).unwrap_err();
            assert!(said.contains(says), "{product} {use_for}: {said}");
        }
    }

    #[test]
    fn a_coating_comes_whole_from_the_list_or_from_the_request() {
        let mut request = v1::TimeCureRequest {
            coating: Some(v1::Coating {
                product_id: "coat".to_owned(),
                ..Default::default()
            }),
            ..Default::default()
        };
        let mut checks = Checks::new();
        request.fill(&shop(), &mut checks);
        assert!(checks.finish().is_ok());
        let coating = request.coating.as_mut().unwrap();
        assert_eq!(coating.dry_hours, Some(12.0));
        assert_eq!(coating.product, "Coat");
        coating.product_id = "coat".to_owned();
        let mut checks = Checks::new();
        request.fill(&shop(), &mut checks);
        let said = checks.finish().unwrap_err().to_string();
        assert!(said.contains("no other field"), "{said}");
    }
}
