//! The rules. Concentrations are percent by weight of the finished mix; an
//! ingredient counts from 1 %. What reaches a limit has passed it.
//!
//! | rule | standing |
//! |---|---|
//! | pH <= 2 or >= 11.5: skin 1 and eye 1 | skin: CLP Annex I 3.2.3.1.2; eye: 3.3, secondary |
//! | skin 1 >= 5 %: 1; 1 to 5 %: 2; skin 2 >= 10 %: 2 | secondary: limits table citing GHS Rev. 10 |
//! | 10 x skin 1 + skin 2 >= 10 %: 2 | from memory: CLP Table 3.2.3 |
//! | skin 1 or eye 1 >= 3 %: eye 1; 1 to 3 %: eye 2; eye 2 >= 10 %: 2 | secondary: the same table; 3 % also gesi.de, 20 Feb 2017 |
//! | 10 x (skin 1 or eye 1) + eye 2 >= 10 %: eye 2 | secondary: the same table |
//! | extreme pH of an ingredient >= 1 %: skin 1 and eye 1 | secondary: gesi.de, 24 Mar 2021 |
//! | other ingredient that does not add up: corrosive >= 1 %: 1; irritant >= 3 %: 2 | from memory: CLP Tables 3.2.4, 3.3.4 |
//! | airways, drowsiness: sum >= 20 %: 3 | from memory: CLP 3.8.3.4.5 |
//! | flash point < 23 C: 2; to 60 C: 3 | CLP Annex I Table 2.6.1 |
//! | flash point above 60 to 93 C: 4 (GHS only) | from memory: UN GHS Table 2.6.1 |
//!
//! An ingredient that is both skin 1 and eye 1 counts once: gesi.de (20 Feb 2017)
//! adds up what is in at least one of them. A worked example in print counts 0.1 %
//! of such an acid twice, and so lifts 8 % of an irritant to 10 %; here that acid
//! does not count at all, being below 1 %. It is not followed.

use super::class::{HazardClass, SignalWord};
use super::ingredient::{Category, Component, HazardInput, is_extreme};

/// What the calculator knows of the finished mix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MixFacts {
    /// Share of the stock in the mix by weight, 0 to 1 (more is held to 1).
    pub stock_share: f64,
    /// Lower bound of the flash point, Celsius, where one is known.
    pub flash_point_c: Option<f64>,
}

/// What the ingredients make of the mix.
#[derive(Debug, Clone, PartialEq)]
pub struct HazardResult {
    /// The classes, the gravest first, each with the rule that fired first.
    pub findings: Vec<Finding>,
    /// What was not judged, and why.
    pub not_judged: Vec<String>,
}

/// A class that a rule found.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The class.
    pub class: HazardClass,
    /// The rule with its figures: "skin 1: 6.2 % >= 5 %".
    pub rule: String,
    /// How well the rule is sourced.
    pub standing: Standing,
}

/// How well a rule is sourced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Standing {
    /// Seen in the regulation.
    Published,
    /// Seen in a page that reports the regulation.
    Secondary,
    /// From memory; to be confirmed.
    FromMemory,
}

impl HazardResult {
    /// The gravest signal word.
    pub fn signal_word(&self) -> SignalWord {
        let words = self
            .findings
            .iter()
            .map(|finding| finding.class.signal_word());
        words.max().unwrap_or(SignalWord::None)
    }

    /// The classes that a label names: eye damage goes without saying beside
    /// burns of skin and eyes.
    pub fn printed(&self) -> impl Iterator<Item = HazardClass> + '_ {
        let burns = self.has(HazardClass::SkinCorrosion1);
        let classes = self.findings.iter().map(|finding| finding.class);
        classes.filter(move |class| !(burns && *class == HazardClass::EyeDamage1))
    }

    /// Whether the mix is in `class`.
    pub fn has(&self, class: HazardClass) -> bool {
        self.findings.iter().any(|finding| finding.class == class)
    }
}

/// Least share at which an ingredient counts, percent by weight.
const COUNTS_FROM: f64 = 1.0;
const SKIN_1_OR_EYE_1: &[Category] = &[Category::SkinCorrosive1, Category::EyeDamaging1];

/// The hazard classes of a mix of `input`'s stock with water.
///
/// Nothing it does not find is a clearance. The input is held to be checked; odd
/// figures give odd findings but never a panic.
pub fn classify(input: &HazardInput, facts: &MixFacts) -> HazardResult {
    let mut found = Found::default();
    let share = facts.stock_share.clamp(0.0, 1.0);
    let mix: Vec<InMix<'_>> = input
        .components
        .iter()
        .map(|component| InMix {
            component,
            percent: component.percent_by_weight * share,
        })
        .filter(|ingredient| reaches(ingredient.percent, COUNTS_FROM))
        .collect();
    by_ph(input, &mut found);
    standing_alone(&mix, &mut found);
    skin(&mix, &mut found);
    eyes(&mix, &mut found);
    single_exposure(&mix, &mut found);
    flammable(facts.flash_point_c, &mut found);
    HazardResult {
        not_judged: not_judged(input, facts),
        findings: found.in_order(),
    }
}

/// An ingredient that counts.
#[derive(Debug, Clone, Copy)]
struct InMix<'a> {
    component: &'a Component,
    /// Percent by weight of the mix.
    percent: f64,
}

/// Findings; a class is kept with the first rule that gave it.
#[derive(Debug, Default)]
struct Found(Vec<Finding>);

impl Found {
    fn add(&mut self, class: HazardClass, standing: Standing, rule: String) {
        if !self.has(class) {
            self.0.push(Finding {
                class,
                rule,
                standing,
            });
        }
    }

    fn has(&self, class: HazardClass) -> bool {
        self.0.iter().any(|finding| finding.class == class)
    }

    /// Gravest first, and none beside a graver one of its kind.
    fn in_order(mut self) -> Vec<Finding> {
        let (skin_1, eye_1) = (
            self.has(HazardClass::SkinCorrosion1),
            self.has(HazardClass::EyeDamage1),
        );
        self.0.retain(|finding| match finding.class {
            HazardClass::SkinIrritation2 => !skin_1,
            HazardClass::EyeIrritation2 => !eye_1,
            HazardClass::Flammable2
            | HazardClass::Flammable3
            | HazardClass::Flammable4
            | HazardClass::SkinCorrosion1
            | HazardClass::EyeDamage1
            | HazardClass::AirwayIrritation3
            | HazardClass::Drowsiness3 => true,
        });
        let rank = |class| HazardClass::ALL.iter().position(|other| *other == class);
        self.0.sort_by_key(|finding| rank(finding.class));
        self.0
    }
}

/// Whether a sum reaches a limit; the last digits of a product do not decide.
fn reaches(percent: f64, limit: f64) -> bool {
    percent >= limit - 1e-9
}

/// Sum of what adds up and is in one of these classes.
fn sum(mix: &[InMix<'_>], of: &[Category]) -> f64 {
    mix.iter()
        .filter(|ingredient| {
            !ingredient.component.stands_alone() && ingredient.component.is_any(of)
        })
        .map(|ingredient| ingredient.percent)
        .sum()
}

fn by_ph(input: &HazardInput, found: &mut Found) {
    let (ph, whose) = match (input.mix_ph, input.stock_ph) {
        (Some(ph), _) => (ph, "the mix"),
        (None, Some(ph)) => (ph, "the stock, for want of the mix's"),
        (None, None) => return,
    };
    if is_extreme(ph) {
        let rule = format!("pH {ph:.1} of {whose}: at most 2 or at least 11.5");
        found.add(
            HazardClass::SkinCorrosion1,
            Standing::Published,
            rule.clone(),
        );
        found.add(HazardClass::EyeDamage1, Standing::Secondary, rule);
    }
}

/// Ingredients that do not add up.
fn standing_alone(mix: &[InMix<'_>], found: &mut Found) {
    use HazardClass::{EyeDamage1, EyeIrritation2, SkinCorrosion1, SkinIrritation2};
    for &InMix { component, percent } in mix {
        if !component.stands_alone() {
            continue;
        }
        if component.ph.is_some_and(is_extreme) {
            let rule = format!("{}: extreme pH, {percent:.2} % >= 1 %", component.name);
            found.add(SkinCorrosion1, Standing::Secondary, rule.clone());
            found.add(EyeDamage1, Standing::Secondary, rule);
            continue;
        }
        let mut alone = |of: &[Category], limit: f64, class| {
            if component.is_any(of) && reaches(percent, limit) {
                let rule = format!(
                    "{} does not add up: {percent:.2} % >= {limit} %",
                    component.name
                );
                found.add(class, Standing::FromMemory, rule);
            }
        };
        alone(&[Category::SkinCorrosive1], 1.0, SkinCorrosion1);
        alone(SKIN_1_OR_EYE_1, 1.0, EyeDamage1);
        alone(&[Category::SkinIrritant2], 3.0, SkinIrritation2);
        alone(&[Category::EyeIrritant2], 3.0, EyeIrritation2);
    }
}

fn skin(mix: &[InMix<'_>], found: &mut Found) {
    let corrosive = sum(mix, &[Category::SkinCorrosive1]);
    let irritant = sum(mix, &[Category::SkinIrritant2]);
    let weighted = 10.0 * corrosive + irritant;
    if reaches(corrosive, 5.0) {
        let rule = format!("skin 1: {corrosive:.2} % >= 5 %");
        found.add(HazardClass::SkinCorrosion1, Standing::Secondary, rule);
    } else if reaches(corrosive, 1.0) {
        let rule = format!("skin 1: {corrosive:.2} %, from 1 to below 5 %");
        found.add(HazardClass::SkinIrritation2, Standing::Secondary, rule);
    }
    if reaches(irritant, 10.0) {
        let rule = format!("skin 2: {irritant:.2} % >= 10 %");
        found.add(HazardClass::SkinIrritation2, Standing::Secondary, rule);
    } else if reaches(weighted, 10.0) {
        let rule = format!("10 x skin 1 + skin 2: {weighted:.2} % >= 10 %");
        found.add(HazardClass::SkinIrritation2, Standing::FromMemory, rule);
    }
}

fn eyes(mix: &[InMix<'_>], found: &mut Found) {
    let damaging = sum(mix, SKIN_1_OR_EYE_1);
    let irritant = sum(mix, &[Category::EyeIrritant2]);
    let weighted = 10.0 * damaging + irritant;
    if reaches(damaging, 3.0) {
        let rule = format!("skin 1 or eye 1: {damaging:.2} % >= 3 %");
        found.add(HazardClass::EyeDamage1, Standing::Secondary, rule);
    } else if reaches(damaging, 1.0) {
        let rule = format!("skin 1 or eye 1: {damaging:.2} %, from 1 to below 3 %");
        found.add(HazardClass::EyeIrritation2, Standing::Secondary, rule);
    }
    if reaches(irritant, 10.0) {
        let rule = format!("eye 2: {irritant:.2} % >= 10 %");
        found.add(HazardClass::EyeIrritation2, Standing::Secondary, rule);
    } else if reaches(weighted, 10.0) {
        let rule = format!("10 x (skin 1 or eye 1) + eye 2: {weighted:.2} % >= 10 %");
        found.add(HazardClass::EyeIrritation2, Standing::Secondary, rule);
    }
}

fn single_exposure(mix: &[InMix<'_>], found: &mut Found) {
    for (category, class, what) in [
        (
            Category::AirwayIrritant3,
            HazardClass::AirwayIrritation3,
            "irritate the airways",
        ),
        (Category::Narcotic3, HazardClass::Drowsiness3, "make drowsy"),
    ] {
        let of_class = mix
            .iter()
            .filter(|ingredient| ingredient.component.is_any(&[category]));
        let percent: f64 = of_class.map(|ingredient| ingredient.percent).sum();
        if reaches(percent, 20.0) {
            let rule = format!("ingredients that {what}: {percent:.2} % >= 20 %");
            found.add(class, Standing::FromMemory, rule);
        }
    }
}

fn flammable(flash_point_c: Option<f64>, found: &mut Found) {
    let Some(flash_c) = flash_point_c else { return };
    let rule = format!("flash point from {flash_c:.1} C, lower bound");
    if flash_c < 23.0 {
        found.add(HazardClass::Flammable2, Standing::Published, rule);
    } else if flash_c <= 60.0 {
        found.add(HazardClass::Flammable3, Standing::Published, rule);
    } else if flash_c <= 93.0 {
        found.add(HazardClass::Flammable4, Standing::FromMemory, rule);
    }
}

fn not_judged(input: &HazardInput, facts: &MixFacts) -> Vec<String> {
    let mut gaps = Vec::new();
    let burns = |component: &Component| component.is_any(&[Category::Flammable]);
    if facts.flash_point_c.is_none() && input.components.iter().any(burns) {
        gaps.push(
            "flammability: an ingredient is flammable and no flash point of the mix is known"
                .to_owned(),
        );
    }
    let caustic = |component: &Component| component.is_any(SKIN_1_OR_EYE_1);
    let no_ph = input.mix_ph.is_none() && input.stock_ph.is_none();
    if no_ph && input.components.iter().any(caustic) {
        gaps.push("pH: neither the mix's nor the stock's was given".to_owned());
    }
    if input.components.is_empty() {
        gaps.push("ingredients: none were given".to_owned());
    }
    gaps.push(
        "poisoning, allergies, long-term harm, harm to water: see the safety data sheet".to_owned(),
    );
    gaps
}
