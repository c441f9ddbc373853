//! Records about the paint itself: gauge readings and polishing passes.

use lamella_proto::v1;

use crate::commands::choices::PassOutcome;
use crate::commands::setup::{Ranked, Seconds};
use crate::errors::CliError;
use crate::units::{Dimension, PressurePa, TemperatureC, ThicknessUm, series};

/// Paint thickness measured on a panel.
///
/// A value without a unit has that of the next one that has: 108 111 107um.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella job add blue-estate readings --panel hood 108 111 107um
  lamella job add blue-estate readings --panel roof --spot 'left front' 4.2 4.4mil")]
pub(crate) struct ReadingsArgs {
    /// The panel.
    #[arg(long, value_name = "PANEL")]
    panel: String,
    /// Where on the panel.
    #[arg(long, value_name = "TEXT")]
    spot: Option<String>,
    /// Which gauge.
    #[arg(long, value_name = "TEXT")]
    gauge: Option<String>,
    /// The readings; the last one needs a unit, um or mil.
    #[arg(value_name = "READING", required = true)]
    readings: Vec<String>,
}

/// A polishing pass over part of a panel.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job add blue-estate pass --panel hood --machine 'dual action@1' --pad 'soft foam@1' \\
      --liquid 'fine polish@1' --speed 4 --pressure 10kPa --seconds 20 --temp 87.3F --removal 1um \\
      --outcome improved")]
pub(crate) struct PassArgs {
    /// The panel.
    #[arg(long, value_name = "PANEL")]
    panel: String,
    /// Machine and its rank, 1 the gentlest.
    #[arg(long, value_name = "NAME@RANK")]
    machine: Ranked,
    /// Pad and its rank.
    #[arg(long, value_name = "NAME@RANK")]
    pad: Ranked,
    /// Polish or compound and its rank.
    #[arg(long, value_name = "NAME@RANK")]
    liquid: Ranked,
    /// Speed setting of the machine.
    #[arg(long, value_name = "SETTING")]
    speed: i32,
    /// Contact pressure under the pad: 10kPa, 1.5psi.
    #[arg(long, value_name = "PRESSURE")]
    pressure: PressurePa,
    /// Time on one working area, in seconds: 20, or 20s.
    #[arg(long, value_name = "SECONDS")]
    seconds: Seconds,
    /// Highest panel temperature seen: 30.7C, 87.3F.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    temp: Option<TemperatureC>,
    /// Clear coat removed, as measured.
    #[arg(long, value_name = "THICKNESS")]
    removal: Option<ThicknessUm>,
    /// What came of it.
    #[arg(long, value_enum)]
    outcome: PassOutcome,
    /// Why a stop rule was passed over.
    #[arg(long, value_name = "REASON")]
    r#override: Option<String>,
}

impl ReadingsArgs {
    /// The record's entry.
    ///
    /// # Errors
    /// A usage error for a reading that cannot be read.
    pub(super) fn into_entry(self) -> Result<v1::GaugeReadings, CliError> {
        let texts: Vec<&str> = self.readings.iter().map(String::as_str).collect();
        let readings_um =
            series(Dimension::Thickness, &texts).map_err(|error| CliError::Argument {
                argument: "READING",
                rule: error.to_string(),
            })?;
        Ok(v1::GaugeReadings {
            panel: self.panel,
            spot: self.spot.unwrap_or_default(),
            readings_um,
            gauge: self.gauge.unwrap_or_default(),
        })
    }
}

impl PassArgs {
    /// The record's entry.
    pub(super) fn into_entry(self) -> v1::Pass {
        v1::Pass {
            panel: self.panel,
            setup: Some(v1::Setup {
                machine: Some(self.machine.0),
                pad: Some(self.pad.0),
                liquid: Some(self.liquid.0),
                speed: self.speed,
                pressure_kpa: self.pressure.0 / 1_000.0,
                seconds: self.seconds.0,
            }),
            panel_c: self.temp.map(|temp| temp.0),
            removal_um: self.removal.map(|removal| removal.0),
            outcome: self.outcome.into(),
            override_reason: self.r#override.unwrap_or_default(),
        }
    }
}
