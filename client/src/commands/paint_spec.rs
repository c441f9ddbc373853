//! Panels, spots, layers and ranges of paint thickness, as typed.

use std::str::FromStr;

use clap::ValueEnum;
use lamella_proto::v1;

use crate::commands::choices::{Finish, PaintLayerKind, Substrate};
use crate::commands::setup::SpecError;
use crate::units::{Dimension, ThicknessUm, series};

/// `PANEL[:SUBSTRATE[:FINISH]]`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PanelSpec(pub(crate) v1::PanelReadings);

/// `[PANEL/][SPOT=]READING ...`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SpotSpec {
    /// The panel, where one is named.
    pub(crate) panel: Option<String>,
    /// Spot and readings.
    pub(crate) spot: v1::SpotReadings,
}

/// `KIND:MEAN:SD`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LayerSpec(pub(crate) v1::PaintLayer);

/// `[PANEL=]THICKNESS[~THICKNESS]`: what came off before, and its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RemovedSpec {
    /// The panel, where one is named.
    pub(crate) panel: Option<String>,
    /// How much, micrometres.
    pub(crate) removed_um: f64,
    /// Its standard uncertainty, micrometres.
    pub(crate) standard_um: Option<f64>,
}

/// `FROM..TO`, micrometres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ThicknessRange {
    /// Least.
    pub(crate) min_um: f64,
    /// Greatest.
    pub(crate) max_um: f64,
}

impl FromStr for PanelSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let mut parts = text.split(':');
        let panel = named(parts.next().unwrap_or_default()).ok_or_else(|| panel_form(text))?;
        let substrate = parts.next().map(word::<Substrate>).transpose()?;
        let finish = parts.next().map(word::<Finish>).transpose()?;
        if parts.next().is_some() {
            return Err(panel_form(text));
        }
        Ok(Self(v1::PanelReadings {
            panel,
            substrate: substrate.map(i32::from).unwrap_or_default(),
            finish: finish.map(i32::from).unwrap_or_default(),
            ..v1::PanelReadings::default()
        }))
    }
}

impl FromStr for SpotSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: "[PANEL/][SPOT=]READING ..., for example 'hood/front=108 111 107um'",
        };
        let (place, readings) = text.split_once('=').map_or(("", text), |(p, r)| (p, r));
        // Without a spot the panel may still be named: `hood/108 111um`.
        let (panel, spot, readings) = match (place.split_once('/'), readings.split_once('/')) {
            (Some((panel, spot)), _) => (named(panel), spot, readings),
            (None, Some((panel, readings))) if place.is_empty() => (named(panel), "", readings),
            (None, _) => (None, place, readings),
        };
        let texts: Vec<&str> = readings.split_whitespace().collect();
        if texts.is_empty() {
            return Err(form());
        }
        Ok(Self {
            panel,
            spot: v1::SpotReadings {
                spot: spot.trim().to_owned(),
                readings_um: series(Dimension::Thickness, &texts)?,
                readings_mil: Vec::new(),
            },
        })
    }
}

impl FromStr for LayerSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let [kind, mean, sd] = text.split(':').collect::<Vec<_>>()[..] else {
            return Err(SpecError::Form {
                given: text.to_owned(),
                form: "KIND:MEAN:SD, for example clear:45um:4um",
            });
        };
        let texts = [mean, sd];
        let values = series(Dimension::Thickness, &texts)?;
        Ok(Self(v1::PaintLayer {
            kind: word::<PaintLayerKind>(kind)?.into(),
            mean_um: values.first().copied(),
            sd_um: values.get(1).copied(),
        }))
    }
}

impl FromStr for RemovedSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (panel, rest) = text
            .split_once('=')
            .map_or((None, text), |(p, r)| (named(p), r));
        let (removed, standard) = rest
            .split_once('~')
            .map_or((rest, None), |(r, s)| (r, Some(s)));
        Ok(Self {
            panel,
            removed_um: removed.parse::<ThicknessUm>()?.0,
            standard_um: standard
                .map(|s| s.parse::<ThicknessUm>())
                .transpose()?
                .map(|s| s.0),
        })
    }
}

impl FromStr for ThicknessRange {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (from, to) = text.split_once("..").ok_or_else(|| SpecError::Form {
            given: text.to_owned(),
            form: "FROM..TO, for example 90um..130um or 3.5..5mil",
        })?;
        let ends = series(Dimension::Thickness, &[from, to])?;
        match ends[..] {
            [min_um, max_um] => Ok(Self { min_um, max_um }),
            _ => Err(SpecError::Form {
                given: text.to_owned(),
                form: "FROM..TO",
            }),
        }
    }
}

fn panel_form(text: &str) -> SpecError {
    SpecError::Form {
        given: text.to_owned(),
        form: "PANEL[:SUBSTRATE[:FINISH]], for example hood:steel or roof:composite:clear-coat",
    }
}

fn named(text: &str) -> Option<String> {
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

/// One of an enum's words.
fn word<C: ValueEnum>(text: &str) -> Result<C, SpecError> {
    C::from_str(text.trim(), true).map_err(|_| {
        let known: Vec<String> = C::value_variants()
            .iter()
            .filter_map(|value| Some(value.to_possible_value()?.get_name().to_owned()))
            .collect();
        SpecError::Word {
            given: text.to_owned(),
            known: known.join(", "),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn panels_and_spots() {
        let PanelSpec(panel) = "roof:composite:matt".parse().unwrap();
        assert_eq!(panel.panel, "roof");
        assert_eq!(panel.substrate(), v1::Substrate::Composite);
        assert_eq!(panel.finish(), v1::Finish::Matt);
        let spot = |text: &str| {
            let SpotSpec { panel, spot } = text.parse().unwrap();
            (panel.unwrap_or_default(), spot.spot, spot.readings_um)
        };
        assert_eq!(
            spot("108 111um"),
            (String::new(), String::new(), vec![108.0, 111.0])
        );
        assert_eq!(
            spot("front=108um"),
            (String::new(), "front".to_owned(), vec![108.0])
        );
        assert_eq!(spot("hood/front=4mil").0, "hood");
        assert_eq!(
            spot("hood/4mil"),
            ("hood".to_owned(), String::new(), vec![4.0 * 25.4])
        );
        let wrong = |text: &str| text.parse::<PanelSpec>().unwrap_err().to_string();
        insta::assert_snapshot!(wrong("hood:stone"), @"`stone` is none of: steel, aluminium, composite, plastic");
        insta::assert_snapshot!(wrong(":steel"), @"`:steel` is not of the form PANEL[:SUBSTRATE[:FINISH]], for example hood:steel or roof:composite:clear-coat");
        insta::assert_snapshot!("front=".parse::<SpotSpec>().unwrap_err(), @"`front=` is not of the form [PANEL/][SPOT=]READING ..., for example 'hood/front=108 111 107um'");
        insta::assert_snapshot!("108 111".parse::<SpotSpec>().unwrap_err(), @"`111` has no unit; write 111um or 111mil");
    }

    #[test]
    fn layers_ranges_and_what_is_gone() {
        let LayerSpec(layer) = "e-coat:20:3.5um".parse().unwrap();
        assert_eq!(
            (layer.kind(), layer.mean_um),
            (v1::PaintLayerKind::ECoat, Some(20.0))
        );
        let range: ThicknessRange = "4..5mil".parse().unwrap();
        assert!((range.min_um - 101.6).abs() < 1e-9 && (range.max_um - 127.0).abs() < 1e-9);
        let removed: RemovedSpec = "hood=3um~1um".parse().unwrap();
        assert_eq!(removed.panel.as_deref(), Some("hood"));
        assert_eq!(removed.standard_um, Some(1.0));
    }
}
