//! Blending strengths.

use lamella_calc::mix::blend::{Amount, Blend, BlendInput, BlendLiquid};
use lamella_calc::violation::Checks;
use lamella_proto::v1;

use super::super::{caution, required};
use super::dilution::substance_from_pb;

pub(crate) fn from_pb(request: &v1::BlendStrengthsRequest, checks: &mut Checks) -> BlendInput {
    let liquid = |(index, liquid): (usize, &v1::BlendLiquid)| {
        let path = format!("liquids[{index}]");
        let mass_path = format!("{path}.mass_g");
        BlendLiquid {
            percent: required(liquid.percent, &format!("{path}.percent"), checks),
            amount: amount(liquid.volume_ml, liquid.mass_g, &mass_path, checks),
        }
    };
    BlendInput {
        liquids: request.liquids.iter().enumerate().map(liquid).collect(),
        target_percent: request.target_percent,
        total: amount(request.total_ml, request.total_g, "total_g", checks),
        alcohol: substance_from_pb(request.substance, checks).alcohol(),
    }
}

/// One amount in one of its two units.
fn amount(
    volume_ml: Option<f64>,
    mass_g: Option<f64>,
    mass_path: &str,
    checks: &mut Checks,
) -> Option<Amount> {
    checks.require(volume_ml.is_none() || mass_g.is_none(), mass_path, || {
        "must not be given beside millilitres".to_owned()
    });
    volume_ml
        .map(Amount::Millilitres)
        .or(mass_g.map(Amount::Grams))
}

pub(crate) fn to_pb(blend: &Blend) -> v1::BlendStrengthsResponse {
    v1::BlendStrengthsResponse {
        parts: blend
            .liquids
            .iter()
            .map(|part| v1::BlendPart {
                percent: part.percent,
                parts: part.parts,
                share_percent: part.share_percent,
                volume_ml: part.amount.and_then(millilitres),
                mass_g: part.amount.and_then(grams),
            })
            .collect(),
        percent: blend.percent,
        total_ml: blend.total.and_then(millilitres),
        total_g: blend.total.and_then(grams),
        true_total_ml: blend.real.as_ref().map(|real| real.true_total_ml),
        true_strength_percent: blend.real.as_ref().map(|real| real.true_strength_percent),
        cautions: caution::all_to_pb(&blend.cautions),
        model: blend.model.to_owned(),
    }
}

const fn millilitres(amount: Amount) -> Option<f64> {
    match amount {
        Amount::Millilitres(value) => Some(value),
        Amount::Grams(_) => None,
    }
}

const fn grams(amount: Amount) -> Option<f64> {
    match amount {
        Amount::Millilitres(_) => None,
        Amount::Grams(value) => Some(value),
    }
}
