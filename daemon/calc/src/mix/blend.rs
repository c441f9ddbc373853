//! Alligation: two strengths into one between them, or many into what they make.
//!
//! Alternate: parts of the strong = target - weak, parts of the weak = strong -
//! target. Medial: strength = sum (amount x strength) / sum amount. By weight
//! with percent by weight this is exact; by volume volumes are taken to add, and
//! for alcohol in water the true yield is told beside it.

use super::alcohol::Alcohol;
use super::contraction::{MAX_LIQUIDS, Poured, RealMix, pooled};
use crate::caution::{COMMON_PRACTICE, Caution, CautionCode, Severity};
use crate::error::CalcError;
use crate::violation::Checks;

/// What to blend.
#[derive(Debug, Clone, PartialEq)]
pub struct BlendInput {
    /// The liquids: exactly two with a target, 1 to 32 without.
    pub liquids: Vec<BlendLiquid>,
    /// Strength wanted, percent, 0 to 100. Without it: what the amounts make.
    pub target_percent: Option<f64>,
    /// With a target: how much is wanted in all. Either this or the amount of one
    /// of the liquids; neither gives the parts only.
    pub total: Option<Amount>,
    /// Alcohol in water, by volume only: what the blend truly yields.
    pub alcohol: Option<Alcohol>,
}

/// One of the liquids.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlendLiquid {
    /// Its strength, percent, 0 (water) to 100: by volume with millilitres, by
    /// weight with grams.
    pub percent: f64,
    /// How much there is of it.
    pub amount: Option<Amount>,
}

/// How much; all amounts of one blend are in one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// Millilitres, above 0 to 10 000 000.
    Millilitres(f64),
    /// Grams, above 0 to 10 000 000.
    Grams(f64),
}

/// What to pour together, and what results.
#[derive(Debug, Clone, PartialEq)]
pub struct Blend {
    /// In the order given.
    pub liquids: Vec<BlendPart>,
    /// Strength of the blend, percent.
    pub percent: f64,
    /// How much in all, where an amount was given: the sum.
    pub total: Option<Amount>,
    /// With an alcohol and amounts by volume: what it truly yields at 20 C.
    pub real: Option<RealMix>,
    /// What to look out for.
    pub cautions: Vec<Caution>,
    /// The model, in words.
    pub model: &'static str,
}

/// How much of a liquid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlendPart {
    /// Its strength, percent: as given.
    pub percent: f64,
    /// Parts: differences of strength with a target, amounts without.
    pub parts: f64,
    /// Share of the blend, percent.
    pub share_percent: f64,
    /// How much of it, where an amount was given.
    pub amount: Option<Amount>,
}

/// Most of anything, millilitres or grams.
pub const MAX_AMOUNT: f64 = 1e7;

impl Amount {
    /// The bare number.
    pub const fn value(self) -> f64 {
        match self {
            Self::Millilitres(value) | Self::Grams(value) => value,
        }
    }

    /// `value` in this one's unit.
    const fn same(self, value: f64) -> Self {
        match self {
            Self::Millilitres(_) => Self::Millilitres(value),
            Self::Grams(_) => Self::Grams(value),
        }
    }

    const fn suffix(self) -> &'static str {
        match self {
            Self::Millilitres(_) => "ml",
            Self::Grams(_) => "g",
        }
    }

    const fn stem(self) -> &'static str {
        match self {
            Self::Millilitres(_) => "volume_ml",
            Self::Grams(_) => "mass_g",
        }
    }
}

/// Blends two liquids to a target, or tells what many make.
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range, amounts in mixed
/// units, and amounts that are missing or too many; paths as in
/// `BlendStrengthsRequest`.
/// [`CalcError::Infeasible`]: `TARGET_OUTSIDE_STRENGTHS` where the target does
/// not lie between the two, `AMOUNT_CANNOT_REACH` where it is the other liquid's
/// own strength, `STRENGTHS_EQUAL` where any parts would do.
pub fn blend(input: &BlendInput) -> Result<Blend, CalcError> {
    check(input)?;
    let parts = match input.target_percent {
        Some(target) => alternate(input, target)?,
        None => medial(input),
    };
    let sum: f64 = parts.iter().map(|part| part.parts).sum();
    let product: f64 = parts.iter().map(|part| part.parts * part.percent).sum();
    let total = total(&parts);
    let real = real(input, &parts);
    Ok(Blend {
        percent: input.target_percent.unwrap_or(product / sum),
        total,
        cautions: cautions(real.as_ref()),
        model: match (input.target_percent, total) {
            (_, Some(Amount::Grams(_))) => "alligation by weight",
            (_, Some(Amount::Millilitres(_))) => "alligation, volumes taken to add",
            (_, None) => "alligation; by volume, volumes are taken to add",
        },
        liquids: parts,
        real,
    })
}

fn check(input: &BlendInput) -> Result<(), CalcError> {
    let mut checks = Checks::new();
    let count = input.liquids.len();
    let mut unit: Option<Amount> = None;
    let mut amount = |field: &str, stem: &str, given: Option<Amount>, checks: &mut Checks| {
        let Some(given) = given else { return };
        let path = if stem.is_empty() {
            format!("{field}{}", given.suffix())
        } else {
            format!("{field}.{}", given.stem())
        };
        checks.above(path.clone(), given.value(), 0.0, MAX_AMOUNT, given.suffix());
        let first = *unit.get_or_insert(given);
        checks.require(first.suffix() == given.suffix(), path, || {
            format!("must be in {} like the other amounts", first.suffix())
        });
    };
    for (index, liquid) in input.liquids.iter().enumerate().take(MAX_LIQUIDS) {
        let field = format!("liquids[{index}]");
        checks.in_range(
            format!("{field}.percent"),
            liquid.percent,
            0.0,
            100.0,
            "percent",
        );
        amount(&field, "amount", liquid.amount, &mut checks);
    }
    amount("total_", "", input.total, &mut checks);
    checks.optional_in_range(
        "target_percent",
        input.target_percent,
        0.0,
        100.0,
        "percent",
    );
    let given = input
        .liquids
        .iter()
        .filter(|liquid| liquid.amount.is_some())
        .count();
    if input.target_percent.is_some() {
        checks.require(count == 2, "liquids", || {
            format!("must be exactly two with a target, got {count}")
        });
        let amounts = given + usize::from(input.total.is_some());
        checks.require(amounts <= 1, "liquids", || {
            format!("must give one amount at most with a target, or the total, got {amounts}")
        });
    } else {
        checks.require((1..=MAX_LIQUIDS).contains(&count), "liquids", || {
            format!("must be 1 to {MAX_LIQUIDS}, got {count}")
        });
        checks.require(given == count, "liquids", || {
            format!("must all have an amount without a target, {given} of {count} do")
        });
        let total = input.total.map_or("total_ml", |total| match total {
            Amount::Millilitres(_) => "total_ml",
            Amount::Grams(_) => "total_g",
        });
        checks.require(input.total.is_none(), total, || {
            "needs a target_percent".to_owned()
        });
    }
    let by_weight = unit.is_some_and(|unit| matches!(unit, Amount::Grams(_)));
    checks.require(!(by_weight && input.alcohol.is_some()), "substance", || {
        "must be left out by weight: weights do not shrink".to_owned()
    });
    checks.finish()
}

fn alternate(input: &BlendInput, target: f64) -> Result<Vec<BlendPart>, CalcError> {
    let [first, second] = input.liquids.as_slice() else {
        return Ok(Vec::new());
    };
    let refuse = |reason, field: &str, message| {
        Err(CalcError::Infeasible {
            reason,
            field: field.to_owned(),
            message,
        })
    };
    let (low, high) = (
        first.percent.min(second.percent),
        first.percent.max(second.percent),
    );
    if !(low..=high).contains(&target) {
        let message = format!("{target} % does not lie between {low} % and {high} %");
        return refuse("TARGET_OUTSIDE_STRENGTHS", "target_percent", message);
    }
    // The strengths are compared as given: any difference at all has an answer.
    if high - low <= 0.0 {
        let message = format!("both are {low} %, so any parts would do");
        return refuse("STRENGTHS_EQUAL", "liquids", message);
    }
    let parts = [
        (second.percent - target).abs(),
        (first.percent - target).abs(),
    ];
    let sum = parts[0] + parts[1];
    let mut scale = input.total.map(|total| (total, total.value() / sum));
    for (index, liquid) in input.liquids.iter().enumerate() {
        let Some(amount) = liquid.amount else {
            continue;
        };
        let own = parts.get(index).copied().unwrap_or(f64::NAN);
        let per_part = amount.value() / own;
        // Beyond any amount that could be poured: as good as none of it.
        if own <= 0.0 || per_part * sum > 1e3 * MAX_AMOUNT {
            let field = format!("liquids[{index}].{}", amount.stem());
            let message = format!(
                "{} {} of {} % never reach {target} %, which the other liquid has by itself",
                amount.value(),
                amount.suffix(),
                liquid.percent
            );
            return refuse("AMOUNT_CANNOT_REACH", &field, message);
        }
        scale = Some((amount, per_part));
    }
    let part = |(liquid, parts): (&BlendLiquid, f64)| BlendPart {
        percent: liquid.percent,
        parts,
        share_percent: 100.0 * parts / sum,
        amount: scale.map(|(unit, per_part)| unit.same(parts * per_part)),
    };
    Ok(input.liquids.iter().zip(parts).map(part).collect())
}

fn medial(input: &BlendInput) -> Vec<BlendPart> {
    let value = |liquid: &BlendLiquid| liquid.amount.map_or(0.0, Amount::value);
    let sum: f64 = input.liquids.iter().map(value).sum();
    let part = |liquid: &BlendLiquid| BlendPart {
        percent: liquid.percent,
        parts: value(liquid),
        share_percent: 100.0 * value(liquid) / sum,
        amount: liquid.amount,
    };
    input.liquids.iter().map(part).collect()
}

fn total(parts: &[BlendPart]) -> Option<Amount> {
    let unit = parts.first()?.amount?;
    Some(
        unit.same(
            parts
                .iter()
                .filter_map(|part| part.amount)
                .map(Amount::value)
                .sum(),
        ),
    )
}

fn real(input: &BlendInput, parts: &[BlendPart]) -> Option<RealMix> {
    let alcohol = input.alcohol?;
    let poured: Option<Vec<Poured>> = parts
        .iter()
        .map(|part| match part.amount? {
            Amount::Millilitres(volume_ml) => Some(Poured {
                volume_ml,
                strength_percent: part.percent,
            }),
            Amount::Grams(_) => None,
        })
        .collect();
    poured.map(|poured| pooled(alcohol, &poured))
}

fn cautions(real: Option<&RealMix>) -> Vec<Caution> {
    let mut cautions = vec![Caution {
        code: CautionCode::TopUpSameProduct,
        severity: Severity::Warning,
        text: "Blend only strengths of the very same product. Two products may react, heat up or \
               give off gas: the safety data sheets of both come first."
            .to_owned(),
        basis: COMMON_PRACTICE,
    }];
    if let Some(real) = real {
        cautions.push(Caution {
            code: CautionCode::VolumesAssumedToAdd,
            severity: Severity::Info,
            text: format!(
                "Volumes of alcohol and water do not add up: expect {:.0} ml at {:.1} %.",
                real.true_total_ml, real.true_strength_percent
            ),
            basis: real.model,
        });
    }
    cautions
}
