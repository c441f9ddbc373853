//! What the enabled product lists hold together.

use std::collections::BTreeSet;
use std::sync::Arc;

use lamella_plugin_host::{CallLimits, World};
use lamella_proto::v1;

use super::serving::{Failed, Serving};
use super::{Plugins, PluginsError, blocking, log, sample};
use crate::convert;

impl Plugins {
    /// The products of all enabled lists, and the lists that gave no answer.
    ///
    /// # Errors
    /// Only where a task of the daemon's was lost: a list's failure is part of the answer.
    pub(crate) async fn shop_products(&self) -> Result<v1::ListShopProductsResponse, PluginsError> {
        let lists = self.serves(|serves| serves.product_lists());
        blocking(move || {
            let mut all = v1::ListShopProductsResponse::default();
            let mut merged = v1::ShopProducts::default();
            for list in lists {
                let answer = list.as_ref().map(|serving| (serving, serving.products()));
                let (plugin, failure) = match answer {
                    Ok((_, Ok(products))) => {
                        merge(&mut merged, &products);
                        continue;
                    }
                    Ok((serving, Err(error))) => (&serving.message.name, error.failure()),
                    Err(failed) => (&failed.message.name, failed.failure.clone()),
                };
                all.failures.push(v1::ShopProductsFailure {
                    plugin: plugin.clone(),
                    failure: Some(failure),
                });
            }
            all.products = Some(merged);
            Ok(all)
        })
        .await
    }
}

impl super::serving::Serves {
    /// Enabled product lists in order of their ids.
    fn product_lists(&self) -> Vec<Result<Serving, Failed>> {
        self.of_world(v1::PluginWorld::ProductList)
            .into_iter()
            .cloned()
            .collect()
    }
}

impl Serving {
    /// Its products. A list gives the same answer to the same settings, so it is asked
    /// once. Blocks.
    pub(super) fn products(&self) -> Result<Arc<v1::ShopProducts>, PluginsError> {
        debug_assert_eq!(self.plugin.world(), World::ProductList);
        if let Some(products) = self.listed.get() {
            return Ok(Arc::clone(products));
        }
        let name = &self.message.name;
        tracing::debug!(plugin = name, "asking a plugin for its products");
        let settings = sample::settings(&self.message.settings);
        let (set, report) = self
            .plugin
            .list_products(&settings, CallLimits::default())
            .inspect_err(|failure| log::lines(name, &failure.report))?;
        log::lines(name, &report);
        let products = Arc::new(convert::shop_product::to_pb(&set, name));
        Ok(Arc::clone(self.listed.get_or_init(|| products)))
    }
}

/// Adds a list's products; an id that is there already counts.
fn merge(into: &mut v1::ShopProducts, from: &v1::ShopProducts) {
    add(&mut into.chemicals, &from.chemicals, |one| &one.product_id);
    add(&mut into.films, &from.films, |one| &one.product_id);
    add(&mut into.coatings, &from.coatings, |one| &one.product_id);
    add(&mut into.setups, &from.setups, |one| &one.product_id);
}

fn add<T: Clone>(into: &mut Vec<T>, from: &[T], id: impl Fn(&T) -> &String) {
    let known: BTreeSet<String> = into.iter().map(|one| id(one).clone()).collect();
    into.extend(from.iter().filter(|one| !known.contains(id(one))).cloned());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_two_lists_the_first_one_counts() {
        let film = |id: &str, width_mm| v1::ShopFilm {
            product_id: id.to_owned(),
            width_mm,
            ..Default::default()
        };
        let list = |films: &[v1::ShopFilm]| v1::ShopProducts {
            films: films.to_vec(),
            ..Default::default()
        };
        let mut merged = v1::ShopProducts::default();
        merge(&mut merged, &list(&[film("b", 1.0), film("a", 2.0)]));
        merge(&mut merged, &list(&[film("a", 3.0), film("c", 4.0)]));
        let widths: Vec<f64> = merged.films.iter().map(|film| film.width_mm).collect();
        assert_eq!(widths, [1.0, 2.0, 4.0]);
    }
}
