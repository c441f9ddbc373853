//! The rules at their limits. Each limit's source stands in the table of
//! [`classify`](super::classify); here every limit is met from both sides.

use proptest::prelude::*;

use super::*;

fn of(name: &str, percent: f64, categories: &[Category]) -> Component {
    Component {
        name: name.to_owned(),
        percent_by_weight: percent,
        categories: categories.to_vec(),
        ph: None,
        not_additive: false,
    }
}

fn classes(components: Vec<Component>) -> Vec<HazardClass> {
    let input = HazardInput {
        components,
        ..HazardInput::default()
    };
    let facts = MixFacts {
        stock_share: 1.0,
        flash_point_c: None,
    };
    classify(&input, &facts)
        .findings
        .iter()
        .map(|finding| finding.class)
        .collect()
}

/// Secondary: limits table citing GHS Rev. 10.
#[test]
fn skin_follows_the_additive_limits() {
    use Category::{SkinCorrosive1, SkinIrritant2};
    use HazardClass::{EyeDamage1, EyeIrritation2, SkinCorrosion1, SkinIrritation2};
    let two = |a: f64, b: f64| {
        classes(vec![
            of("base", a, &[SkinCorrosive1]),
            of("other base", b, &[SkinCorrosive1]),
        ])
    };
    assert_eq!(two(2.5, 2.5), [SkinCorrosion1, EyeDamage1]);
    assert_eq!(two(2.5, 2.4), [EyeDamage1, SkinIrritation2]);
    // Below 3 % in all: skin 2 and eye 2.
    assert_eq!(two(1.4, 1.4), [SkinIrritation2, EyeIrritation2]);
    // An ingredient below 1 % does not count.
    assert_eq!(two(0.9, 0.9), []);
    assert_eq!(
        classes(vec![of("salt", 10.0, &[SkinIrritant2])]),
        [SkinIrritation2]
    );
    assert_eq!(classes(vec![of("salt", 9.9, &[SkinIrritant2])]), []);
}

/// Secondary: the same table; 3 % also gesi.de, 20 Feb 2017.
#[test]
fn eyes_follow_the_additive_limits() {
    use Category::{EyeDamaging1, EyeIrritant2, SkinCorrosive1};
    use HazardClass::{EyeDamage1, EyeIrritation2};
    assert_eq!(classes(vec![of("a", 3.0, &[EyeDamaging1])]), [EyeDamage1]);
    assert_eq!(
        classes(vec![of("a", 2.9, &[EyeDamaging1])]),
        [EyeIrritation2]
    );
    assert_eq!(
        classes(vec![of("a", 10.0, &[EyeIrritant2])]),
        [EyeIrritation2]
    );
    assert_eq!(classes(vec![of("a", 9.9, &[EyeIrritant2])]), []);
    // In both classes, an ingredient counts once: 2 % is no 4 %.
    let both = of("a", 2.0, &[EyeDamaging1, SkinCorrosive1]);
    assert!(!classes(vec![both]).contains(&EyeDamage1));
}

/// Published: CLP Annex I 3.2.3.1.2.
#[test]
fn an_extreme_ph_is_corrosive_and_a_measured_one_decides() {
    use HazardClass::{EyeDamage1, SkinCorrosion1};
    let with = |stock_ph, mix_ph| {
        let input = HazardInput {
            stock_ph,
            mix_ph,
            ..HazardInput::default()
        };
        let facts = MixFacts {
            stock_share: 0.1,
            flash_point_c: None,
        };
        let result = classify(&input, &facts);
        result
            .findings
            .iter()
            .map(|finding| finding.class)
            .collect::<Vec<_>>()
    };
    for ph in [2.0, 11.5, -1.0, 14.0] {
        assert_eq!(with(Some(ph), None), [SkinCorrosion1, EyeDamage1]);
        assert_eq!(with(None, Some(ph)), [SkinCorrosion1, EyeDamage1]);
    }
    assert_eq!(with(Some(13.0), Some(10.8)), []);
    assert_eq!(with(Some(2.1), None), []);
    assert_eq!(with(Some(11.4), None), []);
}

/// Secondary: gesi.de, 24 Mar 2021; the rest from memory, CLP Tables 3.2.4, 3.3.4.
#[test]
fn what_does_not_add_up_is_judged_alone() {
    use HazardClass::{EyeDamage1, EyeIrritation2, SkinCorrosion1, SkinIrritation2};
    let acid = |percent| Component {
        ph: Some(1.0),
        ..of("acid", percent, &[])
    };
    assert_eq!(classes(vec![acid(1.0)]), [SkinCorrosion1, EyeDamage1]);
    assert_eq!(classes(vec![acid(0.9)]), []);
    let irritants = [Category::SkinIrritant2, Category::EyeIrritant2];
    let soap = |percent| Component {
        not_additive: true,
        ..of("soap", percent, &irritants)
    };
    assert_eq!(classes(vec![soap(3.0)]), [SkinIrritation2, EyeIrritation2]);
    assert_eq!(classes(vec![soap(2.9)]), []);
}

/// Published: CLP Annex I Table 2.6.1; category 4 from memory, UN GHS.
#[test]
fn flammable_follows_the_flash_point() {
    use HazardClass::{Flammable2, Flammable3, Flammable4};
    for (flash_c, expected) in [
        (22.9, Some(Flammable2)),
        (23.0, Some(Flammable3)),
        (60.0, Some(Flammable3)),
        (60.1, Some(Flammable4)),
        (93.1, None),
    ] {
        let facts = MixFacts {
            stock_share: 1.0,
            flash_point_c: Some(flash_c),
        };
        let result = classify(&HazardInput::default(), &facts);
        assert_eq!(
            result.findings.first().map(|finding| finding.class),
            expected
        );
    }
}

#[test]
fn dilution_takes_a_class_away_and_gaps_are_named() {
    let input = HazardInput {
        components: vec![
            of("solvent", 30.0, &[Category::Flammable]),
            of("base", 8.0, &[Category::SkinCorrosive1]),
        ],
        ..HazardInput::default()
    };
    let at = |stock_share| {
        classify(
            &input,
            &MixFacts {
                stock_share,
                flash_point_c: None,
            },
        )
    };
    assert!(at(1.0).has(HazardClass::SkinCorrosion1));
    assert_eq!(at(1.0).signal_word(), SignalWord::Danger);
    assert!(
        !at(1.0)
            .printed()
            .any(|class| class == HazardClass::EyeDamage1)
    );
    let weak = at(0.1);
    assert_eq!(weak.findings, []);
    let gaps = weak.not_judged.join("\n");
    for gap in ["flammability", "pH", "poisoning"] {
        assert!(gaps.contains(gap), "{gaps}");
    }
}

#[test]
fn every_bad_value_is_named() {
    let bad = Component {
        ph: Some(99.0),
        ..of("", f64::NAN, &[])
    };
    let input = HazardInput {
        components: vec![bad],
        stock_ph: Some(-9.0),
        mix_ph: None,
    };
    let mut checks = crate::violation::Checks::new();
    input.check(&mut checks);
    let text = checks.finish().unwrap_err().to_string();
    for field in [
        "components[0].name",
        "components[0].percent_by_weight",
        "components[0].ph",
        "stock_ph",
    ] {
        assert!(text.contains(field), "{text}");
    }
}

const CATEGORIES: [Category; 7] = [
    Category::SkinCorrosive1,
    Category::SkinIrritant2,
    Category::EyeDamaging1,
    Category::EyeIrritant2,
    Category::AirwayIrritant3,
    Category::Narcotic3,
    Category::Flammable,
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// More stock never makes a milder word.
    #[test]
    fn stronger_is_never_milder(
        parts in proptest::collection::vec((0.0..60.0f64, 0..7usize, any::<bool>()), 0..6),
        share in 0.0..1.0f64,
    ) {
        let components = parts
            .iter()
            .map(|&(percent, kind, not_additive)| Component {
                not_additive,
                ..of("x", percent, &[CATEGORIES[kind]])
            })
            .collect();
        let input = HazardInput { components, ..HazardInput::default() };
        let word = |stock_share| {
            classify(&input, &MixFacts { stock_share, flash_point_c: None }).signal_word()
        };
        prop_assert!(word(share) <= word(1.0));
    }

    #[test]
    fn garbage_never_panics(
        percent in any::<f64>(), ph in any::<f64>(), share in any::<f64>(), flash in any::<f64>(),
    ) {
        let odd = Component { ph: Some(ph), ..of("x", percent, &CATEGORIES) };
        let input = HazardInput { components: vec![odd], stock_ph: Some(ph), mix_ph: None };
        let _ = classify(&input, &MixFacts { stock_share: share, flash_point_c: Some(flash) });
    }
}
