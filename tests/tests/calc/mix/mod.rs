//! Mixes.
//!
//! - `pouring`: alligation, labels, lances, cost
//! - `alcohol`: densities and what is truly yielded
//! - `vapour`: flash points and occupational limits
//! - `hazard`: hazard classes at their limits

mod alcohol;
mod hazard;
mod pouring;
mod vapour;

use lamella_calc::dilution::{Dilution, DilutionInput, Strength, Substance, TargetAt, dilute};

use crate::reference::Reference;
use crate::row::Row;

pub(crate) fn rows(reference: &Reference) -> Vec<Row> {
    let mut rows = Table::default();
    pouring::alligation(&mut rows);
    pouring::notation(&mut rows);
    pouring::injector(&mut rows);
    pouring::cost(&mut rows, reference);
    alcohol::ethanol(&mut rows);
    alcohol::propanol(&mut rows, reference);
    vapour::flash(&mut rows, reference);
    vapour::exposure(&mut rows);
    hazard::rows(&mut rows);
    rows.0
}

/// The rows so far.
#[derive(Debug, Default)]
struct Table(Vec<Row>);

impl Table {
    /// One row; `held` is expected, got, tolerance.
    fn add(
        &mut self,
        check: impl Into<String>,
        source: &'static str,
        unit: &'static str,
        held: [f64; 3],
    ) {
        let [expected, got, tolerance] = held;
        self.0.push(Row {
            check: check.into(),
            source,
            expected,
            got,
            tolerance,
            unit,
        });
    }
}

fn diluted(stock: f64, target: Strength, total_ml: f64, substance: Substance) -> DilutionInput {
    DilutionInput {
        stock: Strength::Percent(stock),
        target,
        total_ml,
        existing: None,
        injector: None,
        target_at: TargetAt::Panel,
        substance,
        stock_density_g_per_ml: None,
        hazards: None,
        stock_price: None,
        label: None,
    }
}

fn answer(input: &DilutionInput) -> Dilution {
    dilute(input).expect("a mix that can be made")
}
