//! `lamella dilute`: how much product and how much water.

use std::fmt::Write as _;
use std::str::FromStr;

use lamella_proto::v1;
use lamella_proto::v1::strength::Form;

use crate::commands::choices::{Substance, TargetPlace};
use crate::commands::mix_spec::{ComponentArg, Number};
use crate::commands::mix_text;
use crate::commands::setup::SpecError;
use crate::errors::CliError;
use crate::money::Amount;
use crate::names::clean;
use crate::session::Session;
use crate::text::{self, View};
use crate::units::{FlowLPerMin, Percent, QuantityError, VolumeMl, number};

/// How much product and how much water.
///
/// A strength is a percentage by volume such as 35%, or a label: 1:10 is read
/// as 1 part product + 10 parts water, "1 in 10" as a tenth of the total, 40+60
/// as product + water. The answer says how labels were read.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella dilute --stock 91% --target 35% --total 1000ml
  lamella dilute --stock 91% --target 35% --total 34floz --have 200ml@20%
  lamella dilute --stock 100% --target 1:100 --total 1l --injector-water 7.6l/min --injector-draw 0.3l/min
  lamella dilute --stock 91% --target 35% --total 1l --substance isopropyl-alcohol --price 24.99EUR --price-for 5l --label Wipe-down
  lamella dilute --product pre-wash --use 'hand sprayer' --total 1l
  lamella dilute --stock 100% --target 1+9 --total 1l --density 1.2 --component 'alkali@8%:skin-corrosive1' --stock-ph 13")]
pub(crate) struct Args {
    /// What the stock bottle holds: 91%, or a label. [default: --product as bought]
    #[arg(long, value_name = "STRENGTH", required_unless_present = "product")]
    stock: Option<StrengthArg>,
    /// What is wanted; with an injector, at the panel. [default: as recommended
    /// for --product]
    #[arg(long, value_name = "STRENGTH", required_unless_present = "product")]
    target: Option<StrengthArg>,
    /// A chemical in the shop's product lists, by its id.
    #[arg(long, value_name = "ID")]
    product: Option<String>,
    /// Which of the product's recommended dilutions: 'hand sprayer'.
    #[arg(
        long = "use",
        value_name = "WHAT FOR",
        requires = "product",
        conflicts_with = "target"
    )]
    use_for: Option<String>,
    /// Volume to end up with; with an injector, the size of its bottle.
    #[arg(long, value_name = "VOLUME")]
    total: VolumeMl,
    /// What is in the bottle already: 200ml@20%.
    #[arg(long, value_name = "VOLUME@STRENGTH")]
    have: Option<Have>,
    /// Water flowing through the lance or injector: 7.6l/min.
    #[arg(long, value_name = "FLOW", requires = "injector_draw")]
    injector_water: Option<FlowLPerMin>,
    /// What the lance or injector draws from the bottle: 0.3l/min.
    #[arg(long, value_name = "FLOW", requires = "injector_water")]
    injector_draw: Option<FlowLPerMin>,
    /// Where the target holds with an injector. [default: panel]
    #[arg(long, value_enum, requires = "injector_draw")]
    target_at: Option<TargetPlace>,
    /// What kind of product it is.
    #[arg(long, value_enum)]
    substance: Option<Substance>,
    /// Density of the stock in g/ml, for weights: 1.2.
    #[arg(long, value_name = "NUMBER")]
    density: Option<Number>,
    /// An ingredient of the stock, percent by weight:
    /// `NAME@PERCENT[:CLASS,...][,ph=NUMBER][,not-additive]`. May be repeated.
    #[arg(long = "component", value_name = "INGREDIENT")]
    components: Vec<ComponentArg>,
    /// pH of the stock.
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    stock_ph: Option<Number>,
    /// pH of the finished mix, measured.
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    mix_ph: Option<Number>,
    /// What the stock cost: 24.99EUR.
    #[arg(long, value_name = "MONEY", requires = "price_for")]
    price: Option<Amount>,
    /// What was bought for that: 5l.
    #[arg(long, value_name = "VOLUME", requires = "price")]
    price_for: Option<VolumeMl>,
    /// Print a label for the bottle with this name, dated today.
    #[arg(long, value_name = "WHAT")]
    label: Option<String>,
    /// Another date for the label: 2025-03-01.
    #[arg(long, value_name = "DATE", requires = "label")]
    mixed_on: Option<String>,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut calculators = session.calculators().await?;
    let request = session.request(args.into_request(&session.view));
    let answer = session.answer(calculators.dilute(request)).await?;
    session.show(&answer, render)
}

/// A strength as typed.
#[derive(Debug, Clone, PartialEq)]
struct StrengthArg(v1::Strength);

/// What is in the bottle already.
#[derive(Debug, Clone, PartialEq)]
struct Have(v1::ExistingMix);

impl FromStr for StrengthArg {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let form = if text.trim().ends_with('%') {
            Form::Percent(text.parse::<Percent>()?.0)
        } else {
            Form::Label(text.trim().to_owned())
        };
        Ok(Self(v1::Strength { form: Some(form) }))
    }
}

impl FromStr for Have {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (volume, strength) = text.split_once('@').ok_or_else(|| SpecError::Form {
            given: text.to_owned(),
            form: "VOLUME@STRENGTH, for example 200ml@20%",
        })?;
        Ok(Self(v1::ExistingMix {
            volume_ml: Some(volume.parse::<VolumeMl>()?.0),
            strength: Some(strength.parse::<StrengthArg>()?.0),
        }))
    }
}

impl Args {
    fn into_request(self, view: &View) -> v1::DiluteRequest {
        let injector =
            (self.injector_water.is_some() || self.injector_draw.is_some()).then(|| v1::Injector {
                water_l_per_min: self.injector_water.map(|flow| flow.0),
                draw_l_per_min: self.injector_draw.map(|flow| flow.0),
            });
        v1::DiluteRequest {
            stock: self.stock.map(|stock| stock.0),
            target: self.target.map(|target| target.0),
            total_ml: Some(self.total.0),
            existing: self.have.map(|have| have.0),
            injector,
            substance: self.substance.map(i32::from).unwrap_or_default(),
            target_place: self.target_at.map(i32::from).unwrap_or_default(),
            stock_density_g_per_ml: self.density.map(|density| density.0),
            components: self.components.into_iter().map(|arg| arg.0).collect(),
            stock_ph: self.stock_ph.map(|ph| ph.0),
            mix_ph: self.mix_ph.map(|ph| ph.0),
            stock_price: self.price.map(|price| price.0),
            stock_price_volume_ml: self.price_for.map(|volume| volume.0),
            label: self.label.map(|what| v1::BottleLabel {
                what,
                mixed_date: self.mixed_on.unwrap_or_else(|| {
                    view.now
                        .to_zoned_datetime(view.zone.clone())
                        .date()
                        .to_string()
                }),
            }),
            product_id: self.product.unwrap_or_default(),
            use_for: self.use_for.unwrap_or_default(),
        }
    }
}

fn render(answer: &v1::DiluteResponse, view: &View) -> String {
    let mut out = String::new();
    let volume = |ml| view.units.volume(ml);
    let _ = writeln!(
        out,
        "{}",
        text::strong(&format!("stock  {}", volume(answer.concentrate_ml)))
    );
    let _ = writeln!(
        out,
        "{}",
        text::strong(&format!("water  {}", volume(answer.diluent_ml)))
    );
    let _ = writeln!(
        out,
        "makes  {} at {} %; 1 part stock + {} parts water",
        volume(answer.total_ml),
        number(answer.strength_percent),
        number(answer.water_parts)
    );
    if let Some(injector) = &answer.injector {
        out.push_str(&injector_lines(injector));
    }
    for reading in &answer.readings {
        let verb = if reading.used {
            "read as"
        } else {
            "not read as"
        };
        let _ = writeln!(
            out,
            "{} {verb} {} = {} %",
            clean(&reading.field),
            clean(&reading.text),
            number(reading.percent)
        );
    }
    out.push_str(&mix_text::nature(answer, view));
    out + &text::cautions(&answer.cautions) + &text::model(&answer.model)
}

fn injector_lines(injector: &v1::InjectorResult) -> String {
    format!(
        "bottle at {} %, {} % at the panel; lasts {} min\n\
         injector draws {} % of the stream, 1 part to {} parts water\n",
        number(injector.bottle_percent),
        number(injector.outlet_percent),
        number(injector.bottle_minutes),
        number(injector.share_percent),
        number(injector.water_parts)
    )
}

#[cfg(test)]
mod tests {
    use lamella_proto::v1::Severity;

    use super::*;
    use crate::text::tests::{caution, plain, view};
    use crate::units::System;

    #[test]
    fn strengths_are_percentages_or_labels() {
        let form = |text: &str| text.parse::<StrengthArg>().unwrap().0.form.unwrap();
        assert_eq!(form("91%"), Form::Percent(91.0));
        assert_eq!(form(" 91 % "), Form::Percent(91.0));
        assert_eq!(form("1:10"), Form::Label("1:10".to_owned()));
        assert_eq!(form("1 in 10"), Form::Label("1 in 10".to_owned()));
        assert!("9,1%".parse::<StrengthArg>().is_err());
        assert!("200ml".parse::<Have>().is_err());
        let have = "200ml@1:10".parse::<Have>().unwrap().0;
        assert_eq!(have.volume_ml, Some(200.0));
    }

    // 91 % to 35 %, 1000 ml: 1000 x 35 / 91 = 384.615 (C1 V1 = C2 V2).
    #[test]
    fn the_answer_comes_first() {
        let answer = v1::DiluteResponse {
            concentrate_ml: 384.615_384_6,
            diluent_ml: 615.384_615_4,
            total_ml: 1_000.0,
            strength_percent: 35.0,
            water_parts: 1.6,
            readings: vec![v1::LabelReading {
                field: "target".to_owned(),
                text: "35 percent by volume".to_owned(),
                percent: 35.0,
                used: true,
            }],
            cautions: vec![caution(
                Severity::Warning,
                "FLAMMABLE",
                "Keep ignition sources away.",
            )],
            model: "volumes add".to_owned(),
            injector: Some(v1::InjectorResult {
                share_percent: 3.947_368,
                water_parts: 24.333_333,
                bottle_percent: 25.333,
                outlet_percent: 1.0,
                bottle_minutes: 3.333_333,
            }),
            ..v1::DiluteResponse::default()
        };
        insta::assert_snapshot!(plain(&render(&answer, &view(System::Metric))), @"
        stock  384.6 ml (13.01 fl oz)
        water  615.4 ml (20.81 fl oz)
        makes  1 l (33.81 fl oz) at 35 %; 1 part stock + 1.6 parts water
        bottle at 25.33 %, 1 % at the panel; lasts 3.333 min
        injector draws 3.947 % of the stream, 1 part to 24.33 parts water
        target read as 35 percent by volume = 35 %

        WARNING  Keep ignition sources away.
                 [FLAMMABLE] common practice, no source

        volumes add
        ");
    }
}
