//! The job that a pricing plugin is called with once before it serves.

use lamella_plugin_host::{MoneyRules, Rounding, TaxBasis, TaxClass};

/// How money is reckoned where the shop has not said: euros, half up, and one
/// class of tax at 0 %.
#[must_use]
pub fn default_money() -> MoneyRules {
    MoneyRules {
        currency: "EUR".to_owned(),
        minor_digits: 2,
        rounding: Rounding::HalfUp,
        tax_basis: TaxBasis::Class,
        tax_classes: vec![TaxClass {
            name: "standard".to_owned(),
            rate_ppm: 0,
        }],
    }
}
