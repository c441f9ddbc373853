//! Arguments that several commands share.

use std::str::FromStr;

use lamella_proto::v1;

use crate::commands::setup::SpecError;
use crate::errors::CliError;
use crate::session::Session;
use crate::times::{self, TimeArg};
use crate::units::{DurationS, LengthMm, Percent, PressurePa, QuantityError, TemperatureC};

/// The bay's air.
#[derive(Debug, clap::Args)]
pub(crate) struct AirArgs {
    /// Air temperature, for example 20C or 68F.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) air: Option<TemperatureC>,
    /// Relative humidity in percent.
    #[arg(long, value_name = "PERCENT")]
    pub(crate) rh: Option<Percent>,
    /// Station pressure, for example 950hPa. [default: 1013.25hPa]
    #[arg(long, value_name = "PRESSURE")]
    pub(crate) station_pressure: Option<PressurePa>,
    /// Height above sea level in place of the pressure, for example 500m or 1600ft.
    #[arg(
        long,
        value_name = "HEIGHT",
        conflicts_with = "station_pressure",
        allow_hyphen_values = true
    )]
    pub(crate) altitude: Option<LengthMm>,
}

/// How a coating cures, from its own data sheet.
#[derive(Debug, clap::Args)]
pub(crate) struct CoatingArgs {
    /// Product as the shop names it.
    #[arg(long, value_name = "NAME", required_unless_present = "coating")]
    pub(crate) product: Option<String>,
    /// A coating in the shop's product lists, by its id, in place of its data.
    #[arg(
        long,
        value_name = "ID",
        conflicts_with_all = ["product", "dry", "wash", "full", "wipe", "recoat", "reference", "ea",
            "q10", "min_panel", "max_panel", "min_rh", "max_rh", "rates", "moisture_cure"]
    )]
    pub(crate) coating: Option<String>,
    /// Dry, may be driven and rained on, after this time: 12h.
    #[arg(long, value_name = "TIME")]
    pub(crate) dry: Option<DurationS>,
    /// May be washed after this time: 7d.
    #[arg(long, value_name = "TIME")]
    pub(crate) wash: Option<DurationS>,
    /// Fully cured after this time: 14d.
    #[arg(long, value_name = "TIME")]
    pub(crate) full: Option<DurationS>,
    /// Wipe or level in this window: 2min..5min; either end may be left out.
    #[arg(long, value_name = "FROM..TO")]
    pub(crate) wipe: Option<Window>,
    /// Next layer in this window: 1h..24h; either end may be left out.
    #[arg(long, value_name = "FROM..TO")]
    pub(crate) recoat: Option<Window>,
    /// Panel temperature at which these times hold. [default: 20C]
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) reference: Option<TemperatureC>,
    /// Activation energy of the cure, in kJ/mol.
    #[arg(long, value_name = "KJ_PER_MOL", conflicts_with = "q10")]
    pub(crate) ea: Option<f64>,
    /// Factor by which 10 K more speeds the cure.
    #[arg(long, value_name = "FACTOR")]
    pub(crate) q10: Option<f64>,
    /// Lowest panel temperature that the product allows.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) min_panel: Option<TemperatureC>,
    /// Highest panel temperature that the product allows.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) max_panel: Option<TemperatureC>,
    /// Lowest relative humidity that the product allows, in percent.
    #[arg(long, value_name = "PERCENT")]
    pub(crate) min_rh: Option<Percent>,
    /// Highest relative humidity that the product allows, in percent.
    #[arg(long, value_name = "PERCENT")]
    pub(crate) max_rh: Option<Percent>,
    /// Rates of cure by panel temperature, in place of --ea or --q10:
    /// 10C=0.5,20C=1,30C=1.8.
    #[arg(long, value_name = "TABLE", conflicts_with_all = ["ea", "q10"])]
    pub(crate) rates: Option<RateTable>,
    /// It cures by moisture, and its times hold at this relative humidity, in
    /// percent, at the reference temperature.
    #[arg(long, value_name = "PERCENT")]
    pub(crate) moisture_cure: Option<Percent>,
}

/// Guards for a change.
#[derive(Debug, clap::Args)]
pub(crate) struct ChangeArgs {
    /// Refuse when the etag has changed in between.
    #[arg(long)]
    pub(crate) etag: Option<String>,
    /// Makes a retry safe: the same id with the same request is done once.
    #[arg(long, value_name = "ID")]
    pub(crate) request_id: Option<String>,
}

/// Which part of a list.
#[derive(Debug, clap::Args)]
pub(crate) struct PageArgs {
    /// Everything, however many pages it takes.
    #[arg(long)]
    pub(crate) all: bool,
    /// How many at a time, 1 to 1000. [default: 100]
    #[arg(long, value_name = "COUNT")]
    page_size: Option<i32>,
    /// Where the page before ended.
    #[arg(long, value_name = "TOKEN")]
    page_token: Option<String>,
}

/// A window of time, seconds; open where an end is left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Window {
    from_s: Option<f64>,
    to_s: Option<f64>,
}

impl FromStr for Window {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (from, to) = text.split_once("..").ok_or_else(|| SpecError::Form {
            given: text.to_owned(),
            form: "FROM..TO, for example 1h..24h, ..5min or 2h..",
        })?;
        let end = |part: &str| -> Result<Option<f64>, QuantityError> {
            if part.trim().is_empty() {
                Ok(None)
            } else {
                Ok(Some(part.parse::<DurationS>()?.0))
            }
        };
        Ok(Self {
            from_s: end(from)?,
            to_s: end(to)?,
        })
    }
}

/// Rates of cure by panel temperature.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RateTable(v1::RateTable);

impl FromStr for RateTable {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: "TEMPERATURE=RATE,..., for example 10C=0.5,20C=1,30C=1.8",
        };
        let point = |part: &str| {
            let (panel, rate) = part.split_once('=').ok_or_else(form)?;
            Ok(v1::RatePoint {
                panel_c: Some(panel.parse::<TemperatureC>()?.0),
                rate: Some(rate.trim().parse().map_err(|_| form())?),
            })
        };
        let points: Result<Vec<_>, SpecError> = text.split(',').map(point).collect();
        Ok(Self(v1::RateTable { points: points? }))
    }
}

impl PageArgs {
    /// Every page.
    pub(crate) fn everything() -> Self {
        Self {
            all: true,
            page_size: None,
            page_token: None,
        }
    }

    /// The size to ask for: fewer round trips when everything is wanted.
    pub(crate) fn size(&self) -> i32 {
        self.page_size.unwrap_or(if self.all { 1_000 } else { 0 })
    }

    /// Where to begin.
    pub(crate) fn token(&self) -> String {
        self.page_token.clone().unwrap_or_default()
    }
}

impl AirArgs {
    /// The air, if anything was said about it.
    pub(crate) fn to_proto(&self) -> Option<v1::Air> {
        let air = v1::Air {
            air_c: self.air.map(|air| air.0),
            relative_humidity_percent: self.rh.map(|rh| rh.0),
            pressure_pa: self.station_pressure.map(|pressure| pressure.0),
            altitude_m: self.altitude.map(|altitude| altitude.0 / 1_000.0),
        };
        (air != v1::Air::default()).then_some(air)
    }
}

impl CoatingArgs {
    /// The product data.
    pub(crate) fn to_proto(&self) -> v1::Coating {
        use v1::coating::TemperatureResponse;
        let hours = |time: Option<DurationS>| time.map(|time| time.0 / 3_600.0);
        let wipe = self.wipe.unwrap_or(Window {
            from_s: None,
            to_s: None,
        });
        let recoat = self.recoat.unwrap_or(Window {
            from_s: None,
            to_s: None,
        });
        v1::Coating {
            product: self.product.clone().unwrap_or_default(),
            product_id: self.coating.clone().unwrap_or_default(),
            reference_c: self.reference.map(|c| c.0),
            wipe_earliest_minutes: wipe.from_s.map(|s| s / 60.0),
            wipe_latest_minutes: wipe.to_s.map(|s| s / 60.0),
            recoat_open_hours: recoat.from_s.map(|s| s / 3_600.0),
            recoat_close_hours: recoat.to_s.map(|s| s / 3_600.0),
            dry_hours: hours(self.dry),
            wash_hours: hours(self.wash),
            full_cure_hours: hours(self.full),
            min_panel_c: self.min_panel.map(|c| c.0),
            max_panel_c: self.max_panel.map(|c| c.0),
            max_relative_humidity_percent: self.max_rh.map(|rh| rh.0),
            min_relative_humidity_percent: self.min_rh.map(|rh| rh.0),
            temperature_response: self
                .ea
                .map(TemperatureResponse::ActivationEnergyKjPerMol)
                .or(self.q10.map(TemperatureResponse::Q10))
                .or(self
                    .rates
                    .clone()
                    .map(|table| TemperatureResponse::RateTable(table.0))),
            humidity_response: self.moisture_cure.map(|rh| v1::HumidityResponse {
                reference_relative_humidity_percent: Some(rh.0),
                exponent: None,
            }),
        }
    }
}

/// The instant meant, as it travels.
///
/// # Errors
/// When it lies outside the calendar.
pub(crate) fn instant(
    time: Option<TimeArg>,
    session: &Session,
) -> Result<Option<prost_types::Timestamp>, CliError> {
    let resolved = time.map(|time| time.resolve(session.view.now, &session.view.zone));
    Ok(resolved.transpose()?.map(times::to_proto))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_may_be_open() {
        let window = |text: &str| text.parse::<Window>().unwrap();
        assert_eq!(
            window("1h..24h"),
            Window {
                from_s: Some(3_600.0),
                to_s: Some(86_400.0)
            }
        );
        assert_eq!(
            window("..5min"),
            Window {
                from_s: None,
                to_s: Some(300.0)
            }
        );
        assert_eq!(
            window("2h.."),
            Window {
                from_s: Some(7_200.0),
                to_s: None
            }
        );
        insta::assert_snapshot!("1h-24h".parse::<Window>().unwrap_err(), @"`1h-24h` is not of the form FROM..TO, for example 1h..24h, ..5min or 2h..");
        insta::assert_snapshot!("1..24h".parse::<Window>().unwrap_err(), @"`1` has no unit; write 1min or 1h");
    }
}
