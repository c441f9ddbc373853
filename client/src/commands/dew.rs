//! `lamella dew`: dew point, and how far a panel is above it.

use std::fmt::Write as _;

use lamella_proto::v1;

use crate::errors::CliError;
use crate::session::Session;
use crate::text::{self, View};
use crate::units::{LengthMm, Percent, PressurePa, TemperatureC, number};

/// Dew point of the bay's air, and how far a panel is above it.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella dew 25C 60%
  lamella dew 77F 60% --panel 65F")]
pub(crate) struct Args {
    /// Air temperature: 25C, 77F.
    #[arg(value_name = "AIR", allow_hyphen_values = true)]
    air: TemperatureC,
    /// Relative humidity in percent.
    #[arg(value_name = "PERCENT")]
    humidity: Percent,
    /// Panel temperature, for the margin.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    panel: Option<TemperatureC>,
    /// Station pressure, for example 950hPa. [default: 1013.25hPa]
    #[arg(long, value_name = "PRESSURE")]
    station_pressure: Option<PressurePa>,
    /// Height above sea level in place of the pressure, for example 500m or 1600ft.
    #[arg(
        long,
        value_name = "HEIGHT",
        conflicts_with = "station_pressure",
        allow_hyphen_values = true
    )]
    altitude: Option<LengthMm>,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut calculators = session.calculators().await?;
    let request = session.request(v1::DewPointRequest {
        air_c: Some(args.air.0),
        relative_humidity_percent: Some(args.humidity.0),
        pressure_pa: args.station_pressure.map(|pressure| pressure.0),
        panel_c: args.panel.map(|panel| panel.0),
        altitude_m: args.altitude.map(|altitude| altitude.0 / 1_000.0),
    });
    let answer = session.answer(calculators.dew_point(request)).await?;
    session.show(&answer, render)
}

fn render(answer: &v1::DewPointResponse, view: &View) -> String {
    let mut out = String::new();
    let name = if answer.frost {
        "frost point"
    } else {
        "dew point "
    };
    let dew = format!("{name} {}", view.units.temperature(answer.dew_point_c));
    let _ = writeln!(out, "{}", text::strong(&dew));
    if let Some(margin_k) = answer.dew_margin_k {
        let _ = writeln!(out, "{}", text::strong(&margin(margin_k, view)));
    }
    let _ = writeln!(
        out,
        "wet bulb   {}",
        view.units.temperature(answer.wet_bulb_c)
    );
    let _ = writeln!(
        out,
        "moisture   {} g/m³, {} g per kg of dry air ({} grains/lb)",
        number(answer.absolute_humidity_g_per_m3),
        number(answer.humidity_ratio * 1_000.0),
        number(answer.grains_per_lb)
    );
    out + &text::cautions(&answer.cautions) + &text::model(&answer.model)
}

/// How far a panel is above the dew point, in words.
pub(crate) fn margin(margin_k: f64, view: &View) -> String {
    let side = if margin_k < 0.0 { "below" } else { "above" };
    format!(
        "panel      {} {side} the dew point",
        view.units.difference(margin_k.abs())
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    // Dew point, wet bulb and humidity ratio at 25 C and 60 %: psychrolib 2.5.0.
    // 11.895 g/kg is about 13.8 g/m3 (from memory, not checked here).
    #[test]
    fn dew_point_and_margin() {
        let answer = v1::DewPointResponse {
            dew_point_c: 16.701,
            wet_bulb_c: 19.471,
            humidity_ratio: 0.011_895,
            absolute_humidity_g_per_m3: 13.8,
            dew_margin_k: Some(-1.25),
            grains_per_lb: 0.011_895 * 7_000.0,
            ..Default::default()
        };
        insta::assert_snapshot!(plain(&render(&answer, &view(System::Us))), @"
        dew point  62.1 °F (16.7 °C)
        panel      2.2 °F (1.2 K) below the dew point
        wet bulb   67 °F (19.5 °C)
        moisture   13.8 g/m³, 11.89 g per kg of dry air (83.27 grains/lb)
        ");
    }
}
