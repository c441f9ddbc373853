//! Alligation against teaching pages; each is named beside its figures.

use proptest::prelude::*;

use super::blend::*;
use crate::error::CalcError;
use crate::mix::Alcohol;

fn two(first: f64, second: f64, target: f64) -> BlendInput {
    let liquid = |percent| BlendLiquid {
        percent,
        amount: None,
    };
    BlendInput {
        liquids: vec![liquid(first), liquid(second)],
        target_percent: Some(target),
        total: None,
        alcohol: None,
    }
}

fn ml(value: f64) -> Option<Amount> {
    Some(Amount::Millilitres(value))
}

fn amounts(blend: &Blend) -> Vec<f64> {
    blend
        .liquids
        .iter()
        .filter_map(|part| part.amount)
        .map(Amount::value)
        .collect()
}

/// Published: pharmacy handout (scribd.com 151502467): 95 and 50 to 70 % are 20 : 25;
/// R. Aylor, alligation tutorial II: 70 and 20 to 30 % are 10 : 40;
/// calculatorhunt.com: 90 and 10 to 50 % are 40 : 40.
#[test]
fn parts_agree_with_the_teaching_pages() {
    for (high, low, target, expected) in [
        (95.0, 50.0, 70.0, [20.0, 25.0]),
        (70.0, 20.0, 30.0, [10.0, 40.0]),
        (90.0, 10.0, 50.0, [40.0, 40.0]),
    ] {
        let found = blend(&two(high, low, target)).unwrap();
        let parts: Vec<f64> = found.liquids.iter().map(|part| part.parts).collect();
        assert_eq!(parts, expected);
        assert_eq!(found.total, None);
        // The order does not matter.
        let turned = blend(&two(low, high, target)).unwrap();
        assert!((turned.liquids[1].parts - expected[0]).abs() < 1e-12);
    }
}

/// Published problems: pharmacy-tech-study.com (70 % and water to 25 %, 1000 ml);
/// pdf4pro.com 5af494 (pure and 3 % to 5 %, 300 g). Exact amounts computed.
#[test]
fn totals_are_shared_out() {
    let with = |input: BlendInput, total| {
        blend(&BlendInput {
            total: Some(total),
            ..input
        })
    };
    let found = with(two(70.0, 0.0, 25.0), Amount::Millilitres(1000.0)).unwrap();
    assert!((amounts(&found)[0] - 357.143).abs() < 5e-4);
    assert!((amounts(&found)[1] - 642.857).abs() < 5e-4);
    let found = with(two(100.0, 3.0, 5.0), Amount::Grams(300.0)).unwrap();
    assert!((amounts(&found)[0] - 6.1856).abs() < 5e-5);
    assert!((amounts(&found)[1] - 293.8144).abs() < 5e-5);
    assert_eq!(found.model, "alligation by weight");
}

/// Published: the same handout, example 1.
#[test]
fn many_liquids_make_their_mean() {
    let liquids = [(3000.0, 40.0), (1000.0, 60.0), (1000.0, 70.0)];
    let liquids = liquids
        .map(|(volume, percent)| BlendLiquid {
            percent,
            amount: ml(volume),
        })
        .to_vec();
    let input = BlendInput {
        liquids,
        target_percent: None,
        total: None,
        alcohol: Some(Alcohol::Ethanol),
    };
    let found = blend(&input).unwrap();
    assert!((found.percent - 50.0).abs() < 1e-12);
    assert_eq!(found.total, ml(5000.0));
    let real = found.real.unwrap();
    assert!(
        real.true_total_ml < 5000.0 && real.true_strength_percent > 50.0,
        "{real:?}"
    );
}

#[test]
fn one_amount_gives_the_other() {
    let mut input = two(70.0, 20.0, 30.0);
    input.liquids[0].amount = ml(100.0);
    let found = blend(&input).unwrap();
    assert!((amounts(&found)[1] - 400.0).abs() < 1e-9);
    assert_eq!(found.total, ml(500.0));
}

#[test]
fn what_has_no_answer_says_why() {
    let reason = |input: &BlendInput| match blend(input) {
        Err(CalcError::Infeasible { reason, field, .. }) => (reason, field),
        other => panic!("{other:?}"),
    };
    let outside = two(70.0, 20.0, 80.0);
    assert_eq!(
        reason(&outside),
        ("TARGET_OUTSIDE_STRENGTHS", "target_percent".to_owned())
    );
    assert_eq!(reason(&two(50.0, 50.0, 50.0)).0, "STRENGTHS_EQUAL");
    let mut none_of_it = two(70.0, 20.0, 20.0);
    none_of_it.liquids[0].amount = ml(100.0);
    let expected = ("AMOUNT_CANNOT_REACH", "liquids[0].volume_ml".to_owned());
    assert_eq!(reason(&none_of_it), expected);
}

#[test]
fn mixed_units_and_everything_else_is_named() {
    let mut input = two(170.0, f64::NAN, 30.0);
    input.liquids[0].amount = ml(-1.0);
    input.liquids[1].amount = Some(Amount::Grams(5.0));
    input.total = ml(100.0);
    let text = blend(&input).unwrap_err().to_string();
    for part in [
        "liquids[0].percent: must be 0 to 100 percent, got 170",
        "liquids[1].percent",
        "liquids[0].volume_ml",
        "liquids[1].mass_g: must be in ml like the other amounts",
        "liquids: must give one amount at most",
    ] {
        assert!(text.contains(part), "{text}");
    }
    let bare = BlendInput {
        target_percent: None,
        ..two(1.0, 2.0, 1.5)
    };
    assert!(
        blend(&bare)
            .unwrap_err()
            .to_string()
            .contains("must all have an amount")
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn what_was_blended_has_the_target(
        first in 0.0..100.0f64, second in 0.0..100.0f64, at in 0.0..1.0f64, total in 1.0..1e6f64,
    ) {
        let target = (first + (second - first) * at).clamp(first.min(second), first.max(second));
        let input = BlendInput { total: ml(total), ..two(first, second, target) };
        if let Ok(found) = blend(&input) {
            let poured = amounts(&found);
            let percent = (poured[0] * first + poured[1] * second) / (poured[0] + poured[1]);
            prop_assert!((percent - target).abs() < 1e-6);
            prop_assert!((poured[0] + poured[1] - total).abs() < 1e-6 * total);
        } else {
            prop_assert!((first - second).abs() < 1e-9);
        }
    }

    #[test]
    fn garbage_never_panics(
        (a, b, c, d) in any::<(f64, f64, f64, f64)>(), has_target in any::<bool>(),
    ) {
        let mut input = two(a, b, c);
        input.liquids[0].amount = ml(d);
        if !has_target {
            input.target_percent = None;
            input.liquids[1].amount = ml(c);
        }
        for alcohol in [None, Some(Alcohol::TwoPropanol)] {
            if let Ok(found) = blend(&BlendInput { alcohol, ..input.clone() }) {
                prop_assert!(found.percent.is_finite());
                prop_assert!(amounts(&found).iter().all(|amount| amount.is_finite()));
            }
        }
    }
}
