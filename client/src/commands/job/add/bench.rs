//! Records about the work around it: air, hours, parts and notes.

use lamella_proto::v1;

use crate::commands::shared::{AirArgs, instant};
use crate::errors::CliError;
use crate::session::Session;
use crate::times::TimeArg;
use crate::units::TemperatureC;

/// The bay's air, read off an instrument.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job add blue-estate air --air 20C --rh 50 --temp 18C")]
pub(crate) struct AirRecordArgs {
    #[command(flatten)]
    air: AirArgs,
    /// Panel temperature at the time: 18C, 65F.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    temp: Option<TemperatureC>,
}

/// Time worked by one person.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job add blue-estate labour --worker Sam --activity polishing --from 08:00 --to 10:30")]
pub(crate) struct LabourArgs {
    /// Who.
    #[arg(long, value_name = "NAME")]
    worker: String,
    /// Doing what.
    #[arg(long, value_name = "TEXT")]
    activity: String,
    /// From: 08:00 is today.
    #[arg(long, value_name = "TIME")]
    from: TimeArg,
    /// To.
    #[arg(long, value_name = "TIME")]
    to: TimeArg,
}

/// A part taken off the car. It must go back on before the car may leave.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job add blue-estate off 'front badge' --kept-at 'tray 3' --fasteners '2 clips'")]
pub(crate) struct OffArgs {
    /// The part; one part by one name.
    #[arg(value_name = "PART")]
    part: String,
    /// Where it is kept.
    #[arg(long, value_name = "PLACE")]
    kept_at: String,
    /// Its fasteners, how many and which.
    #[arg(long, value_name = "TEXT")]
    fasteners: Option<String>,
}

/// A part put back on the car.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job add blue-estate refit 'front badge' --note 'one clip replaced'")]
pub(crate) struct RefitArgs {
    /// The part, by the name it was taken off under.
    #[arg(value_name = "PART")]
    part: String,
    /// Missing or replaced fasteners, and anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Anything else worth keeping.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella job add blue-estate note 'chip at the edge, touched in' --panel hood")]
pub(crate) struct NoteArgs {
    /// The text.
    #[arg(value_name = "TEXT")]
    text: String,
    /// The panel it is about.
    #[arg(long, value_name = "PANEL")]
    panel: Option<String>,
}

impl AirRecordArgs {
    /// The record's entry.
    pub(super) fn into_entry(self) -> v1::BayAir {
        v1::BayAir {
            air: self.air.to_proto(),
            panel_c: self.temp.map(|temp| temp.0),
            dew_point_c: None,
        }
    }
}

impl LabourArgs {
    /// The record's entry.
    ///
    /// # Errors
    /// When a time lies outside the calendar.
    pub(super) fn into_entry(self, session: &Session) -> Result<v1::Labour, CliError> {
        Ok(v1::Labour {
            worker: self.worker,
            activity: self.activity,
            from_time: instant(Some(self.from), session)?,
            to_time: instant(Some(self.to), session)?,
        })
    }
}

impl OffArgs {
    /// The record's entry.
    pub(super) fn into_entry(self) -> v1::PartOff {
        v1::PartOff {
            part: self.part,
            fasteners: self.fasteners.unwrap_or_default(),
            kept_at: self.kept_at,
        }
    }
}

impl RefitArgs {
    /// The record's entry.
    pub(super) fn into_entry(self) -> v1::PartRefit {
        v1::PartRefit {
            part: self.part,
            note: self.note.unwrap_or_default(),
        }
    }
}

impl NoteArgs {
    /// The record's entry.
    pub(super) fn into_entry(self) -> v1::Note {
        v1::Note {
            text: self.text,
            panel: self.panel.unwrap_or_default(),
        }
    }
}
