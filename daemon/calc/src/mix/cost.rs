//! What a litre costs ready to use, in whole minor units of a currency.
//!
//! Integers throughout: volumes in microlitres, money in minor units, 128 bits
//! between them. The one rounding is the last: half to even.

use crate::violation::Checks;

/// What the stock cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StockPrice {
    /// Price in the currency's minor unit, 0 to 1 000 000 000 000.
    pub minor_units: i64,
    /// What was bought for it, millilitres, 0.001 to 10 000 000.
    pub volume_ml: f64,
}

/// What the mix costs; the diluent counts as free.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cost {
    /// The stock that is poured now, minor units.
    pub pour_minor_units: i64,
    /// A litre of what is in the bottle, minor units.
    pub per_litre_minor_units: i64,
    /// With an injector: a litre of what arrives at the panel, minor units.
    pub at_panel_per_litre_minor_units: Option<i64>,
}

/// Highest price, minor units.
pub const MAX_MINOR_UNITS: i64 = 1_000_000_000_000;
/// Largest and smallest purchase, millilitres.
pub const MAX_ML: f64 = 1e7;
const LEAST_ML: f64 = 1e-3;

/// Microlitres in a litre.
const LITRE_UL: i128 = 1_000_000;

impl StockPrice {
    /// Notes what is out of range, under `stock_price` and `stock_price_volume_ml`.
    pub(crate) fn check(&self, checks: &mut Checks) {
        let (price, field) = (self.minor_units, "stock_price.minor_units");
        checks.require((0..=MAX_MINOR_UNITS).contains(&price), field, || {
            format!("must be 0 to {MAX_MINOR_UNITS}, got {price}")
        });
        checks.in_range(
            "stock_price_volume_ml",
            self.volume_ml,
            LEAST_ML,
            MAX_ML,
            "ml",
        );
    }

    /// Minor units for `numerator / denominator` of `stock_ul`; both are volumes or
    /// flows of one unit. Rounded half to even; what 64 bits cannot hold, the most
    /// that they can.
    fn of(&self, stock_ul: i128, numerator: i128, denominator: i128) -> i64 {
        let bought_ul = microlitres(self.volume_ml).max(1);
        let cost = i128::from(self.minor_units)
            .checked_mul(stock_ul)
            .and_then(|cost| cost.checked_mul(numerator))
            .zip(bought_ul.checked_mul(denominator.max(1)))
            .map(|(top, bottom)| half_even(top, bottom));
        cost.and_then(|cost| i64::try_from(cost).ok())
            .unwrap_or(i64::MAX)
    }
}

/// What a mix costs. `poured_ml` of stock go in now; a bottle of `total_ml` then
/// holds `stock_ml` of stock in all, and `panel_share` (0 to 1) of what arrives at
/// the panel comes from the bottle. All checked: 0 to 10 000 000 ml.
pub(crate) fn cost(
    price: &StockPrice,
    poured_ml: f64,
    stock_ml: f64,
    total_ml: f64,
    panel_share: Option<f64>,
) -> Cost {
    let (stock_ul, total_ul) = (microlitres(stock_ml), microlitres(total_ml));
    // A share of an outlet stream, in parts per million, as flows are measured.
    let at_panel = |share: f64| {
        let share_ppm = microlitres(share * 1000.0);
        price.of(stock_ul, share_ppm, total_ul)
    };
    Cost {
        pour_minor_units: price.of(microlitres(poured_ml), 1, 1),
        per_litre_minor_units: price.of(stock_ul, LITRE_UL, total_ul),
        at_panel_per_litre_minor_units: panel_share.map(at_panel),
    }
}

/// To the nearest microlitre: finer than any measure in a shop.
#[expect(
    clippy::cast_possible_truncation,
    reason = "checked to be at most 1e10 microlitres"
)]
fn microlitres(ml: f64) -> i128 {
    (ml * 1000.0).round() as i128
}

/// The quotient of two numbers that are not negative, rounded half to even.
fn half_even(top: i128, bottom: i128) -> i128 {
    let (whole, rest) = (top / bottom, top % bottom);
    match (2 * rest).cmp(&bottom) {
        std::cmp::Ordering::Less => whole,
        std::cmp::Ordering::Greater => whole + 1,
        std::cmp::Ordering::Equal => whole + whole % 2,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const FIVE_LITRES: StockPrice = StockPrice {
        minor_units: 2499,
        volume_ml: 5000.0,
    };

    /// By hand: 24.99 for 5 l, mixed 1 + 10: 4.998 a litre / 11 = 0.4544.
    #[test]
    fn a_litre_costs_what_a_pencil_says() {
        let found = cost(
            &FIVE_LITRES,
            1000.0 / 11.0,
            1000.0 / 11.0,
            1000.0,
            Some(0.0625),
        );
        assert_eq!(found.per_litre_minor_units, 45);
        assert_eq!(found.pour_minor_units, 45);
        // 0.4544 x 0.0625 = 0.0284.
        assert_eq!(found.at_panel_per_litre_minor_units, Some(3));
    }

    #[test]
    fn halves_go_to_even() {
        for (top, expected) in [(1, 0), (3, 2), (5, 2), (7, 4), (4, 2)] {
            assert_eq!(half_even(top, 2), expected);
        }
    }

    #[test]
    fn what_is_out_of_range_is_named() {
        let mut checks = Checks::new();
        StockPrice {
            minor_units: -1,
            volume_ml: f64::NAN,
        }
        .check(&mut checks);
        let text = checks.finish().unwrap_err().to_string();
        assert!(
            text.contains("stock_price.minor_units: must be 0 to"),
            "{text}"
        );
        assert!(
            text.contains("stock_price_volume_ml: must be 0.001 to"),
            "{text}"
        );
    }

    proptest! {
        #[test]
        fn integers_agree_with_the_float_to_half_a_unit(
            price in 0..MAX_MINOR_UNITS,
            bought in 1.0..1e7f64,
            total in 1.0..1e7f64,
            part in 0.0..1.0f64,
        ) {
            let price = StockPrice { minor_units: price, volume_ml: bought };
            let found = cost(&price, 0.0, total * part, total, None).per_litre_minor_units as f64;
            let expected = price.minor_units as f64 * part * 1000.0 / bought;
            // Microlitres of a millilitre are a thousandth at most.
            prop_assert!((found - expected).abs() <= 0.51 + 2e-3 * expected);
        }
    }
}
