//! Quantities with units: the one place of conversions.
//!
//! [`table`] holds the exact factors, [`parse`] reads what was typed, [`show`]
//! writes answers in metric or US customary units.

mod parse;
mod show;
mod table;

pub(crate) use parse::{
    AreaM2, DurationS, FlowLPerMin, LengthMm, MassG, Percent, PressurePa, QuantityError, SizeBytes,
    TemperatureC, ThicknessUm, VolumeMl, series,
};
pub(crate) use show::{System, number, size};
pub(crate) use table::Dimension;
