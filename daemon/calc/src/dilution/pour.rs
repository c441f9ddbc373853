//! The balance: product before is product after, volume before is volume after.
//!
//! With c of stock S and w of water onto e of an existing mix E, to end with V of
//! strength T: c S + e E = V T and c + w + e = V (alligation; volumes add).

use super::number::shown;
use crate::error::CalcError;

/// What to solve, percent by volume and millilitres.
#[derive(Debug, Clone, Copy)]
pub(super) struct Balance {
    pub(super) stock_percent: f64,
    pub(super) target_percent: f64,
    pub(super) total_ml: f64,
    /// Volume and strength of what is there already; no volume: a fresh bottle.
    pub(super) existing_ml: f64,
    pub(super) existing_percent: f64,
}

/// What to pour.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pour {
    pub(super) concentrate_ml: f64,
    pub(super) diluent_ml: f64,
}

/// Rounding, as a share of the total, that counts as nothing.
const ROUNDING: f64 = 1e-12;

impl Balance {
    /// Solves it. `target` is the path of the target as given.
    ///
    /// # Errors
    /// [`CalcError::Infeasible`] with what would work instead.
    pub(super) fn solve(&self, target: &str) -> Result<Pour, CalcError> {
        let Self {
            stock_percent,
            target_percent,
            total_ml,
            existing_ml,
            existing_percent,
        } = *self;
        if existing_ml > total_ml {
            return Err(infeasible(
                "EXISTING_ABOVE_TOTAL",
                "existing.volume_ml",
                format!(
                    "{} ml is in the bottle already, more than the total of {} ml",
                    shown(existing_ml),
                    shown(total_ml)
                ),
            ));
        }
        let product_ml = total_ml * target_percent - existing_ml * existing_percent;
        let concentrate_ml = snapped(product_ml / stock_percent, total_ml);
        let diluent_ml = snapped(total_ml - existing_ml - concentrate_ml, total_ml);
        if concentrate_ml < 0.0 {
            return Err(self.too_strong());
        }
        if diluent_ml < 0.0 {
            return Err(self.too_weak(target));
        }
        Ok(Pour {
            concentrate_ml,
            diluent_ml,
        })
    }

    /// Water alone does not bring the existing mix down within the total.
    fn too_strong(&self) -> CalcError {
        let least_ml = self.existing_ml * self.existing_percent / self.target_percent;
        infeasible(
            "EXISTING_TOO_STRONG",
            "total_ml",
            format!(
                "{} ml at {} % in the bottle hold more product than {} ml at {} %; the smallest \
                 total that works is {} ml",
                shown(self.existing_ml),
                shown(self.existing_percent),
                shown(self.total_ml),
                shown(self.target_percent),
                shown(least_ml)
            ),
        )
    }

    /// Stock alone, without water, does not reach the target.
    fn too_weak(&self, target: &str) -> CalcError {
        let Self {
            stock_percent,
            target_percent,
            total_ml,
            existing_ml,
            existing_percent,
        } = *self;
        let richer_stock = stock_percent - target_percent;
        if richer_stock < 0.0 && existing_percent <= target_percent {
            return infeasible(
                "TARGET_ABOVE_STOCK",
                target,
                format!(
                    "{} % is wanted, stronger than the stock at {} %",
                    shown(target_percent),
                    shown(stock_percent)
                ),
            );
        }
        let add_ml = total_ml - existing_ml;
        let best = (existing_ml * existing_percent + add_ml * stock_percent) / total_ml;
        // The total at which stock alone, without water, just reaches the target.
        let even_ml = existing_ml * (stock_percent - existing_percent) / richer_stock;
        let instead = if richer_stock > 0.0 {
            let keep_ml = total_ml * richer_stock / (stock_percent - existing_percent);
            format!(
                "the smallest total that works is {} ml, or keep only {} ml of what is there",
                shown(even_ml),
                shown(keep_ml)
            )
        } else if richer_stock < 0.0 {
            format!("the largest total that works is {} ml", shown(even_ml))
        } else {
            "empty the bottle and fill it with stock".to_owned()
        };
        infeasible(
            "EXISTING_TOO_WEAK",
            "existing.volume_ml",
            format!(
                "{} ml at {} % topped up with {} ml of stock reach {} %, not {} %; {instead}",
                shown(existing_ml),
                shown(existing_percent),
                shown(add_ml),
                shown(best),
                shown(target_percent)
            ),
        )
    }
}

pub(super) fn infeasible(reason: &'static str, field: &str, message: String) -> CalcError {
    CalcError::Infeasible {
        reason,
        field: field.to_owned(),
        message,
    }
}

/// Nothing, where only rounding is left.
fn snapped(ml: f64, total_ml: f64) -> f64 {
    if ml.abs() <= total_ml * ROUNDING {
        0.0
    } else {
        ml
    }
}
