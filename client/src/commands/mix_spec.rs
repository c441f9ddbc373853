//! What a mix is made of, as typed: an ingredient with its classes, a liquid with
//! its strength.

use std::str::FromStr;

use clap::ValueEnum as _;
use lamella_proto::v1;

use crate::commands::choices::HazardCategory;
use crate::commands::setup::SpecError;
use crate::units::{MassG, Percent, VolumeMl};

/// A plain number, for what has no unit to write or one that the flag says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Number(pub(crate) f64);

/// An ingredient: `NAME@PERCENT[:WORD,...]`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ComponentArg(pub(crate) v1::MixComponent);

/// A liquid to blend: `STRENGTH` or `AMOUNT@STRENGTH`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LiquidArg(pub(crate) v1::BlendLiquid);

/// An amount by volume or by weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum AmountArg {
    /// Millilitres.
    Ml(f64),
    /// Grams.
    G(f64),
}

const COMPONENT: &str = "NAME@PERCENT[:CLASS,...,ph=NUMBER,not-additive], for example \
                         \"alkali@8%:skin-corrosive1,ph=13\"";
const NUMBER: &str = "NUMBER, with a decimal point";

impl FromStr for Number {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let number = text
            .trim()
            .parse::<f64>()
            .ok()
            .filter(|number| number.is_finite());
        number.map(Self).ok_or_else(|| SpecError::Form {
            given: text.to_owned(),
            form: NUMBER,
        })
    }
}

impl FromStr for ComponentArg {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: COMPONENT,
        };
        let (name, rest) = text.split_once('@').ok_or_else(form)?;
        let (percent, words) = rest.split_once(':').unwrap_or((rest, ""));
        let mut component = v1::MixComponent {
            name: name.trim().to_owned(),
            percent_by_weight: Some(percent.parse::<Percent>()?.0),
            ..v1::MixComponent::default()
        };
        for word in words
            .split(',')
            .map(str::trim)
            .filter(|word| !word.is_empty())
        {
            if let Some(ph) = word.strip_prefix("ph=") {
                component.ph = Some(ph.parse::<Number>()?.0);
            } else if word == "not-additive" {
                component.not_additive = true;
            } else {
                component.categories.push(category(word)?);
            }
        }
        Ok(Self(component))
    }
}

fn category(word: &str) -> Result<i32, SpecError> {
    HazardCategory::from_str(word, true)
        .map(i32::from)
        .map_err(|_| {
            let known: Vec<String> = HazardCategory::value_variants()
                .iter()
                .filter_map(clap::ValueEnum::to_possible_value)
                .map(|value| value.get_name().to_owned())
                .collect();
            SpecError::Word {
                given: word.to_owned(),
                known: known.join(", "),
            }
        })
}

impl FromStr for AmountArg {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        // A volume's complaint is the more useful one where neither fits.
        match (text.parse::<VolumeMl>(), text.parse::<MassG>()) {
            (Ok(volume), _) => Ok(Self::Ml(volume.0)),
            (Err(_), Ok(mass)) => Ok(Self::G(mass.0)),
            (Err(error), Err(_)) => Err(error.into()),
        }
    }
}

impl FromStr for LiquidArg {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (amount, percent) = match text.split_once('@') {
            Some((amount, percent)) => (Some(amount.parse::<AmountArg>()?), percent),
            None => (None, text),
        };
        let mut liquid = v1::BlendLiquid {
            percent: Some(percent.parse::<Percent>()?.0),
            ..v1::BlendLiquid::default()
        };
        match amount {
            Some(AmountArg::Ml(ml)) => liquid.volume_ml = Some(ml),
            Some(AmountArg::G(g)) => liquid.mass_g = Some(g),
            None => {}
        }
        Ok(Self(liquid))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ingredients_are_read() {
        let read = |text: &str| text.parse::<ComponentArg>().map(|arg| arg.0);
        let alkali = read("alkali@8%:skin-corrosive1, ph=13,not-additive").unwrap();
        assert_eq!(alkali.name, "alkali");
        assert_eq!(alkali.percent_by_weight, Some(8.0));
        assert_eq!(
            alkali.categories,
            [i32::from(v1::HazardCategory::SkinCorrosive1)]
        );
        assert_eq!((alkali.ph, alkali.not_additive), (Some(13.0), true));
        assert!(read("alkali").is_err() && read("alkali@8%:evil").is_err());
        assert!(read("alkali@8%:ph=NaN").is_err());
    }

    #[test]
    fn liquids_are_read() {
        let read = |text: &str| text.parse::<LiquidArg>().map(|arg| arg.0);
        assert_eq!(read("70%").unwrap().percent, Some(70.0));
        assert_eq!(read("500ml@70%").unwrap().volume_ml, Some(500.0));
        assert_eq!(read("1kg@3%").unwrap().mass_g, Some(1000.0));
        assert!(read("500@70%").is_err());
    }
}
