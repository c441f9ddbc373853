//! `lamella blend`: two strengths into one between them, or what several make.

use std::fmt::Write as _;

use lamella_proto::v1;

use crate::commands::choices::Substance;
use crate::commands::mix_spec::{AmountArg, LiquidArg};
use crate::errors::CliError;
use crate::session::Session;
use crate::text::{self, View};
use crate::units::{Percent, number};

/// Two strengths into one between them, or what several make together.
///
/// With --target: two liquids, and how much is wanted in all, or how much there
/// is of one of them. Without: what all the amounts make. By volume strengths
/// are by volume, by weight by weight.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella blend 70% 20% --target 30% --total 500ml
  lamella blend 200ml@91% 0% --target 35%
  lamella blend 3l@40% 1l@60% 1l@70%")]
pub(crate) struct Args {
    /// A liquid: 70%, or with its amount 200ml@70%, 300g@5%.
    #[arg(value_name = "LIQUID", required = true)]
    liquids: Vec<LiquidArg>,
    /// Strength wanted.
    #[arg(long, value_name = "PERCENT")]
    target: Option<Percent>,
    /// How much is wanted in all: 500ml, 300g.
    #[arg(long, value_name = "AMOUNT", requires = "target")]
    total: Option<AmountArg>,
    /// What it is; alcohols in water tell their true yield.
    #[arg(long, value_enum)]
    substance: Option<Substance>,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut calculators = session.calculators().await?;
    let request = session.request(args.into_request());
    let answer = session.answer(calculators.blend_strengths(request)).await?;
    session.show(&answer, render)
}

impl Args {
    fn into_request(self) -> v1::BlendStrengthsRequest {
        let (total_ml, total_g) = match self.total {
            Some(AmountArg::Ml(ml)) => (Some(ml), None),
            Some(AmountArg::G(g)) => (None, Some(g)),
            None => (None, None),
        };
        v1::BlendStrengthsRequest {
            liquids: self.liquids.into_iter().map(|liquid| liquid.0).collect(),
            target_percent: self.target.map(|target| target.0),
            total_ml,
            total_g,
            substance: self.substance.map(i32::from).unwrap_or_default(),
        }
    }
}

fn render(answer: &v1::BlendStrengthsResponse, view: &View) -> String {
    let amount = |ml: Option<f64>, g: Option<f64>| {
        ml.map(|ml| view.units.volume(ml))
            .or_else(|| g.map(|g| view.units.mass(g)))
    };
    let mut out = String::new();
    for part in &answer.parts {
        let what = amount(part.volume_ml, part.mass_g)
            .unwrap_or_else(|| format!("{} parts", number(part.parts)));
        let line = format!("{what} of {} %", number(part.percent));
        let share = number(part.share_percent);
        let _ = writeln!(out, "{}; {share} % of it", text::strong(&line));
    }
    let total = amount(answer.total_ml, answer.total_g).map_or(String::new(), |all| all + " at ");
    let _ = writeln!(out, "makes  {total}{} %", number(answer.percent));
    if let (Some(total_ml), Some(percent)) = (answer.true_total_ml, answer.true_strength_percent) {
        let total = view.units.volume(total_ml);
        let _ = writeln!(out, "truly  {total} at {} % (20 °C)", number(percent));
    }
    out + &text::cautions(&answer.cautions) + &text::model(&answer.model)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    // 70 % and 20 % to 30 % are 1 : 4 (R. Aylor, alligation tutorial II).
    #[test]
    fn each_liquid_has_a_line() {
        let part = |percent, parts, volume_ml| v1::BlendPart {
            percent,
            parts,
            share_percent: parts * 2.0,
            volume_ml: Some(volume_ml),
            mass_g: None,
        };
        let answer = v1::BlendStrengthsResponse {
            parts: vec![part(70.0, 10.0, 100.0), part(20.0, 40.0, 400.0)],
            percent: 30.0,
            total_ml: Some(500.0),
            model: "alligation".to_owned(),
            ..v1::BlendStrengthsResponse::default()
        };
        insta::assert_snapshot!(plain(&render(&answer, &view(System::Metric))), @"
        100 ml (3.381 fl oz) of 70 %; 20 % of it
        400 ml (13.53 fl oz) of 20 %; 80 % of it
        makes  500 ml (16.91 fl oz) at 30 %

        alligation
        ");
    }
}
