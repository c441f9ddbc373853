//! A panel as typed: `hood:steel:clear-coat`.

use std::str::FromStr;

use lamella_proto::v1;

use crate::commands::choices::{Finish, Substrate};
use crate::commands::setup::{SpecError, word};

/// A panel with what it is made of and its outermost layer.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PanelSpec(pub(crate) v1::Panel);

impl FromStr for PanelSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let mut parts = text.split(':').map(str::trim);
        let panel_id = parts.next().unwrap_or_default().to_owned();
        let substrate = parts.next().filter(|part| !part.is_empty());
        let finish = parts.next().filter(|part| !part.is_empty());
        if panel_id.is_empty() || parts.next().is_some() {
            return Err(SpecError::Form {
                given: text.to_owned(),
                form: "ID[:SUBSTRATE[:FINISH]], for example hood:steel:clear-coat",
            });
        }
        Ok(Self(v1::Panel {
            panel_id,
            substrate: substrate
                .map(word::<Substrate>)
                .transpose()?
                .map_or(0, i32::from),
            finish: finish.map(word::<Finish>).transpose()?.map_or(0, i32::from),
            ..Default::default()
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn panels_as_typed() {
        let panel = |text: &str| text.parse::<PanelSpec>().map(|panel| panel.0);
        let hood = panel("hood:steel:clear-coat").unwrap();
        assert_eq!(hood.substrate(), v1::Substrate::Steel);
        assert_eq!(hood.finish(), v1::Finish::ClearCoat);
        assert_eq!(
            panel("trim::unpainted").unwrap().substrate(),
            v1::Substrate::Unspecified
        );
        assert_eq!(panel("roof").unwrap().panel_id, "roof");
        let wrong = [
            ":steel",
            "hood:iron",
            "hood:steel:shiny",
            "a:steel:matt:more",
        ]
        .map(|text| panel(text).unwrap_err().to_string());
        insta::assert_snapshot!(wrong.join("\n"), @"
        `:steel` is not of the form ID[:SUBSTRATE[:FINISH]], for example hood:steel:clear-coat
        `iron` is none of: steel, aluminium, composite, plastic
        `shiny` is none of: clear-coat, single-stage, matt, unpainted
        `a:steel:matt:more` is not of the form ID[:SUBSTRATE[:FINISH]], for example hood:steel:clear-coat
        ");
    }
}
