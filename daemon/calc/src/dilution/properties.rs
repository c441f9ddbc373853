//! What holds for every input: balance of product and volume, no panic.

use super::tests::{input, label, parts, percent, topped_up};
use super::*;
use crate::error::CalcError;
use proptest::prelude::*;

proptest! {
    #[test]
    fn product_and_volume_balance(
        stock in 0.1..100.0f64,
        target in 0.1..100.0f64,
        total_ml in 1.0..1e6f64,
        filled in 0.0..1.0f64,
        existing in 0.1..100.0f64,
    ) {
        let volume_ml = (filled * total_ml).max(1e-3);
        let wanted = topped_up(stock, target, total_ml, volume_ml, percent(existing));
        match dilute(&wanted) {
            Ok(mix) => {
                let volume = mix.concentrate_ml + mix.diluent_ml + mix.existing_ml;
                prop_assert!((volume - total_ml).abs() < 1e-9 * total_ml);
                prop_assert!((mix.strength_percent - target).abs() < 1e-9 * target);
                prop_assert!(mix.concentrate_ml >= 0.0 && mix.diluent_ml >= 0.0);
                prop_assert!(mix.water_parts >= 0.0 && mix.water_parts.is_finite());
            }
            Err(CalcError::Invalid(found)) => prop_assert!(false, "{found}"),
            // Refused rightly: between water alone and stock alone lies no such strength.
            Err(CalcError::Infeasible { .. }) => {
                let held = volume_ml * existing;
                let most = held + (total_ml - volume_ml) * stock;
                let wanted = total_ml * target;
                prop_assert!(wanted < held * (1.0 + 1e-9) || wanted > most * (1.0 - 1e-9));
            }
        }
    }

    #[test]
    fn what_leaves_the_injector_is_the_target(
        stock in 1.0..100.0f64,
        share in 0.01..0.99f64,
        part in 0.001..1.0f64,
    ) {
        let target = stock * share * part;
        let injector = Some(Injector { water_l_per_min: 1.0 - share, draw_l_per_min: share });
        let mix = input(percent(stock), percent(target), 1000.0);
        let mix = dilute(&DilutionInput { injector, ..mix }).unwrap();
        let injector = mix.injector.unwrap();
        prop_assert!((injector.outlet_percent - target).abs() < 1e-9 * target);
        prop_assert!((injector.bottle_percent - mix.strength_percent).abs() < 1e-12);
    }

    #[test]
    fn no_number_makes_it_panic(
        (a, b, c, d, e, f) in any::<(f64, f64, f64, f64, f64, f64)>(),
        text in ".{0,12}",
    ) {
        for strength in [percent(a), parts(a, b), label(&text)] {
            let existing = Some(ExistingMix { volume_ml: c, strength: strength.clone() });
            let injector = Some(Injector { water_l_per_min: d, draw_l_per_min: e });
            let base = input(strength.clone(), strength, f);
            let _ = dilute(&base);
            let _ = dilute(&DilutionInput { injector, existing, ..base });
        }
    }
}
