//! What is written down while the work is done. Records are only appended.

use jiff::Timestamp;
use lamella_calc::advice::PassOutcome;
use lamella_calc::air::AirInput;
use lamella_calc::caution::Caution;
use lamella_calc::cure::{CoatingData, MilestoneKind};

/// One entry in a job's log.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// Its id within the job: the journal's sequence number, as text.
    pub id: String,
    /// When it happened.
    pub record_time: Timestamp,
    /// Who wrote it, up to 200 characters.
    pub author: String,
    /// When it was stored.
    pub create_time: Timestamp,
    /// What happened.
    pub entry: Entry,
    /// What to look out for after this entry.
    pub cautions: Vec<Caution>,
}

/// What happened.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// Paint thickness measured.
    GaugeReadings(GaugeReadings),
    /// One polishing pass.
    Pass(Pass),
    /// A liquid mixed.
    Mix(Mix),
    /// Film laid.
    FilmPiece(FilmPiece),
    /// A coat applied.
    CoatLayer(CoatLayer),
    /// The bay's air.
    BayAir(BayAir),
    /// Time worked.
    Labour(Labour),
    /// A part taken off.
    PartOff(PartOff),
    /// A part put back on.
    PartRefit(PartRefit),
    /// Anything else.
    Note(Note),
}

/// Total paint thickness on one panel.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct GaugeReadings {
    /// The panel id.
    pub panel: String,
    /// Where on the panel, up to 200 characters.
    pub spot: String,
    /// 1 to 500 readings, micrometres, each above 0 and up to 5000.
    pub readings_um: Vec<f64>,
    /// Which gauge, up to 200 characters.
    pub gauge: String,
}

/// One polishing pass over part of a panel.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// The panel id.
    pub panel: String,
    /// What it was done with.
    pub setup: PassSetup,
    /// Highest panel temperature seen, Celsius, -20 to 150.
    pub panel_c: Option<f64>,
    /// Clear coat removed as measured, micrometres, 0 to 500.
    pub removal_um: Option<f64>,
    /// What came of it.
    pub outcome: PassOutcome,
    /// Why a stop rule was passed over, up to 1000 characters.
    pub override_reason: String,
}

/// What a pass was done with, as written down; nothing is said here about a
/// ladder.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PassSetup {
    /// Machine and its rank, 1 to 20.
    pub machine: RankedItem,
    /// Pad and its rank, 1 to 20.
    pub pad: RankedItem,
    /// Liquid and its rank, 1 to 20.
    pub liquid: RankedItem,
    /// Speed setting, 1 to 10.
    pub speed: i32,
    /// Contact pressure, kilopascals, above 0 to 100.
    pub pressure_kpa: f64,
    /// Time on one working area, seconds, above 0 to 600.
    pub seconds: f64,
}

/// A thing with its place in a series from gentle to aggressive.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct RankedItem {
    /// What it is, 1 to 200 characters.
    pub name: String,
    /// Place in its series, 1 the gentlest, to 20.
    pub rank: i32,
}

/// A liquid mixed for the work.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mix {
    /// Product as the shop names it, 1 to 200 characters.
    pub product: String,
    /// Concentrate, millilitres, above 0 to 1 000 000.
    pub concentrate_ml: f64,
    /// Diluent, millilitres, 0 to 1 000 000.
    pub diluent_ml: f64,
    /// Strength of the mix, percent by volume, above 0 to 100.
    pub strength_percent: Option<f64>,
    /// Batch or lot, up to 200 characters.
    pub lot: String,
    /// The panel ids it was used on.
    pub panels: Vec<String>,
}

/// One piece of film laid.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct FilmPiece {
    /// The panel id.
    pub panel: String,
    /// Film as the shop names it, 1 to 200 characters.
    pub film: String,
    /// Roll or offcut, up to 200 characters.
    pub roll: String,
    /// Batch or lot, up to 200 characters.
    pub lot: String,
    /// Cut width, millimetres, above 0 to 100 000.
    pub width_mm: f64,
    /// Cut length, millimetres, above 0 to 100 000.
    pub length_mm: f64,
    /// Hours it must settle before the car may leave, 0 to 1000.
    pub settle_hours: Option<f64>,
    /// When it has settled; computed.
    pub settled_time: Option<Timestamp>,
}

/// One layer of a coating.
#[derive(Debug, Clone, PartialEq)]
pub struct CoatLayer {
    /// The panel ids it was applied to, 1 to 200.
    pub panels: Vec<String>,
    /// Product data.
    pub coating: CoatingData,
    /// Batch or lot, up to 200 characters.
    pub lot: String,
    /// Which layer, 1 to 20.
    pub layer: i32,
    /// Panel temperature, Celsius, -20 to 100.
    pub panel_c: f64,
    /// Bay air at the time.
    pub air: Option<AirInput>,
    /// When each thing may be done; computed.
    pub milestones: Vec<DueMilestone>,
}

/// A milestone of a cure at its instant.
#[derive(Debug, Clone, PartialEq)]
pub struct DueMilestone {
    /// Which.
    pub kind: MilestoneKind,
    /// Hours after application.
    pub after_hours: f64,
    /// The instant.
    pub due_time: Option<Timestamp>,
}

/// The bay's air.
#[derive(Debug, Clone, PartialEq)]
pub struct BayAir {
    /// The reading.
    pub air: AirInput,
    /// Panel temperature at the time, Celsius, -20 to 150.
    pub panel_c: Option<f64>,
    /// Dew point, Celsius; computed.
    pub dew_point_c: Option<f64>,
}

/// Time worked by one person.
#[derive(Debug, Clone, PartialEq)]
pub struct Labour {
    /// Who, 1 to 200 characters.
    pub worker: String,
    /// Doing what, 1 to 200 characters.
    pub activity: String,
    /// From.
    pub from_time: Timestamp,
    /// To; after `from_time`, at most 24 hours later.
    pub to_time: Timestamp,
}

/// A part taken off the car.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PartOff {
    /// The part, 1 to 200 characters.
    pub part: String,
    /// Its fasteners, up to 1000 characters.
    pub fasteners: String,
    /// Where it is kept, 1 to 200 characters.
    pub kept_at: String,
}

/// A part put back on the car.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PartRefit {
    /// The part, by the name it was taken off under.
    pub part: String,
    /// Anything to say, up to 1000 characters.
    pub note: String,
}

/// Anything else worth keeping.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Note {
    /// The text, 1 to 4000 characters.
    pub text: String,
    /// The panel id it is about.
    pub panel: Option<String>,
}

impl Entry {
    /// The entry's field name in the API, for example `gauge_readings`.
    pub const fn field(&self) -> &'static str {
        match self {
            Self::GaugeReadings(_) => "gauge_readings",
            Self::Pass(_) => "pass",
            Self::Mix(_) => "mix",
            Self::FilmPiece(_) => "film_piece",
            Self::CoatLayer(_) => "coat_layer",
            Self::BayAir(_) => "bay_air",
            Self::Labour(_) => "labour",
            Self::PartOff(_) => "part_off",
            Self::PartRefit(_) => "part_refit",
            Self::Note(_) => "note",
        }
    }

    /// The panels it names, each with the path of the field that names it,
    /// below the record.
    pub fn panels(&self) -> Vec<(String, &str)> {
        let one = |panel| vec![(format!("{}.panel", self.field()), panel)];
        match self {
            Self::GaugeReadings(readings) => one(readings.panel.as_str()),
            Self::Pass(pass) => one(&pass.panel),
            Self::FilmPiece(film) => one(&film.panel),
            Self::Note(note) => note.panel.as_deref().map(one).unwrap_or_default(),
            Self::Mix(Mix { panels, .. }) | Self::CoatLayer(CoatLayer { panels, .. }) => panels
                .iter()
                .enumerate()
                .map(|(index, panel)| (format!("{}.panels[{index}]", self.field()), panel.as_str()))
                .collect(),
            Self::BayAir(_) | Self::Labour(_) | Self::PartOff(_) | Self::PartRefit(_) => Vec::new(),
        }
    }
}
