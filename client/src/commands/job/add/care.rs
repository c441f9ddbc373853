//! Records about what goes onto the paint: mixes, film and coats.

use lamella_proto::v1;

use crate::commands::shared::{AirArgs, CoatingArgs};
use crate::units::{DurationS, LengthMm, Percent, TemperatureC, VolumeMl};

/// A liquid mixed for the work.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job add blue-estate mix --product wipe-down --concentrate 385ml --water 615ml --strength 35%")]
pub(crate) struct MixArgs {
    /// Product as the shop names it.
    #[arg(long, value_name = "NAME")]
    product: String,
    /// Concentrate used: 385ml, 13floz.
    #[arg(long, value_name = "VOLUME")]
    concentrate: VolumeMl,
    /// Water or other diluent used.
    #[arg(long, value_name = "VOLUME")]
    water: VolumeMl,
    /// Strength of the mix, percent by volume.
    #[arg(long, value_name = "PERCENT")]
    strength: Option<Percent>,
    /// Batch or lot.
    #[arg(long, value_name = "LOT")]
    lot: Option<String>,
    /// The panels it was used on, if it matters; repeat, or part by commas.
    #[arg(long, value_name = "PANEL", value_delimiter = ',')]
    panel: Vec<String>,
}

/// One piece of film laid.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job add blue-estate film --panel hood --film 'clear gloss film' --width 1240mm --length 1540mm \\
      --roll main --lot B2 --settle 24h")]
pub(crate) struct FilmArgs {
    /// The panel.
    #[arg(long, value_name = "PANEL")]
    panel: String,
    /// Film as the shop names it.
    #[arg(long, value_name = "NAME", required_unless_present = "film_id")]
    film: Option<String>,
    /// A film in the shop's product lists, by its id: it has a name, and says how
    /// long it must settle.
    #[arg(long, value_name = "ID")]
    film_id: Option<String>,
    /// Cut width: 1240mm, 49in.
    #[arg(long, value_name = "LENGTH")]
    width: LengthMm,
    /// Cut length.
    #[arg(long, value_name = "LENGTH")]
    length: LengthMm,
    /// Roll or offcut it was cut from.
    #[arg(long, value_name = "NAME")]
    roll: Option<String>,
    /// Batch or lot.
    #[arg(long, value_name = "LOT")]
    lot: Option<String>,
    /// How long it must settle before the car may leave: 24h.
    #[arg(long, value_name = "TIME")]
    settle: Option<DurationS>,
}

/// One layer of a coating.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job add blue-estate coat --panel hood,roof --product 'two-year coating' --dry 12h --wash 7d \\
      --ea 60 --temp 18C --air 20C --rh 50 --lot C3")]
pub(crate) struct CoatArgs {
    /// The panels it was applied to; repeat, or part by commas.
    #[arg(long, value_name = "PANEL", value_delimiter = ',', required = true)]
    panel: Vec<String>,
    /// Panel temperature: 18C, 65F.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    temp: TemperatureC,
    #[command(flatten)]
    coating: CoatingArgs,
    #[command(flatten)]
    air: AirArgs,
    /// Which layer on these panels. [default: 1]
    #[arg(long, value_name = "NUMBER")]
    layer: Option<i32>,
    /// Batch or lot.
    #[arg(long, value_name = "LOT")]
    lot: Option<String>,
}

impl MixArgs {
    /// The record's entry.
    pub(super) fn into_entry(self) -> v1::Mix {
        v1::Mix {
            product: self.product,
            concentrate_ml: Some(self.concentrate.0),
            diluent_ml: Some(self.water.0),
            strength_percent: self.strength.map(|strength| strength.0),
            lot: self.lot.unwrap_or_default(),
            panels: self.panel,
        }
    }
}

impl FilmArgs {
    /// The record's entry.
    pub(super) fn into_entry(self) -> v1::FilmPiece {
        v1::FilmPiece {
            panel: self.panel,
            film: self.film.unwrap_or_default(),
            roll: self.roll.unwrap_or_default(),
            lot: self.lot.unwrap_or_default(),
            width_mm: Some(self.width.0),
            length_mm: Some(self.length.0),
            settle_hours: self.settle.map(|settle| settle.0 / 3_600.0),
            settled_time: None,
            film_id: self.film_id.unwrap_or_default(),
        }
    }
}

impl CoatArgs {
    /// The record's entry.
    pub(super) fn into_entry(self) -> v1::CoatLayer {
        v1::CoatLayer {
            panels: self.panel,
            coating: Some(self.coating.to_proto()),
            lot: self.lot.unwrap_or_default(),
            layer: self.layer.unwrap_or_default(),
            panel_c: Some(self.temp.0),
            air: self.air.to_proto(),
            milestones: Vec::new(),
        }
    }
}
