//! A product list kept as text: `products.toml` beside this folder. A shop with a list
//! of its own edits the file and builds again, or gives the text as setting `products`.
//!
//! `file` is the form of that text.

mod file;

use lamella_plugin_sdk::{
    About, ProductList, ProductSet, Refusal, Setting, Settings, about, export_products,
};

/// The list that is built in.
const BUILT_IN: &str = include_str!("../products.toml");

struct WorkshopProducts;

impl ProductList for WorkshopProducts {
    fn describe() -> About {
        about!("Lists liquids, films, coatings and the ladder of setups from a text")
    }

    fn list(settings: &[Setting]) -> Result<ProductSet, String> {
        let settings = Settings::new(settings);
        let text = settings.text("products").unwrap_or(BUILT_IN);
        settings.finish().map_err(in_words)?;
        let products: file::Products =
            toml::from_str(text).map_err(|error| error.to_string().trim_end().to_owned())?;
        Ok(products.into())
    }
}

export_products!(WorkshopProducts);

fn in_words(refusal: Refusal) -> String {
    match refusal {
        Refusal::BadSetting(text) | Refusal::Missing(text) | Refusal::NotCovered(text) => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn built_in_list_is_read_whole() {
        let products = WorkshopProducts::list(&[]).unwrap();
        let sections = |name: &str| BUILT_IN.matches(&format!("[[{name}]]")).count();
        assert_eq!(products.chemicals.len(), sections("chemical"));
        assert_eq!(products.films.len(), sections("film"));
        assert_eq!(products.coatings.len(), sections("coating"));
        assert_eq!(products.setups.len(), sections("setup"));
    }

    #[test]
    fn a_list_of_ones_own_takes_its_place() {
        let own = Setting {
            key: "products".into(),
            value: "[[film]]\nid = 'roll'\nname = 'Roll'\nwidth_mm = 500.0\n\
                    overwrap_mm = 10.0\nhandling_margin_mm = 20.0\n"
                .into(),
        };
        let products = WorkshopProducts::list(&[own]).unwrap();
        assert!(products.chemicals.is_empty());
        assert_eq!(products.films[0].id, "roll");
        assert_eq!(products.films[0].settle_hours, None);
    }

    #[test]
    fn a_slip_is_told_with_its_place() {
        let slip = Setting {
            key: "products".into(),
            value: "[[film]]\nid = 'roll'\nwith_mm = 500.0\n".into(),
        };
        let told = WorkshopProducts::list(&[slip]).unwrap_err();
        assert!(
            told.contains("line 3") && told.contains("with_mm"),
            "{told}"
        );
    }
}
