//! What a template is given. The names here are a contract with the templates of
//! shops: fields are only added. Texts are ready to print; numbers beside them are
//! in the unit that their name ends in.

use serde::Serialize;

/// All of the sheet.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Sheet {
    /// Version of this contract.
    pub(crate) version: u32,
    /// Paper, as CSS names it: "A4" or "letter".
    pub(crate) paper: &'static str,
    /// Name of the shop; empty when none was given.
    pub(crate) shop: String,
    /// When the sheet was made.
    pub(crate) made: String,
    /// Set while the car has not been handed over: where the job stands.
    pub(crate) draft: Option<String>,
    /// The job.
    pub(crate) job: Job,
    /// The car.
    pub(crate) vehicle: Vehicle,
    /// What was ordered.
    pub(crate) services: Vec<Service>,
    /// The customer's yes.
    pub(crate) approval: Option<Approval>,
    /// The accepted quote, where there is one.
    pub(crate) quote: Option<Quote>,
    /// Paint before and after, by panel.
    pub(crate) panels: Vec<Panel>,
    /// Which gauge the uncertainties are of.
    pub(crate) gauge: String,
    /// Polishing passes, alike ones counted together.
    pub(crate) passes: Vec<Pass>,
    /// Film laid.
    pub(crate) film: Vec<Film>,
    /// Coats applied.
    pub(crate) coats: Vec<Coat>,
    /// Liquids mixed.
    pub(crate) mixes: Vec<Mix>,
    /// Products with their lots.
    pub(crate) products: Vec<Product>,
    /// Parts taken off and refitted.
    pub(crate) parts: Vec<Part>,
    /// When what may be done; unset where nothing cures.
    pub(crate) timeline: Option<Timeline>,
    /// Photos by moment; moments without any are left out.
    pub(crate) photos: Vec<Photos>,
    /// What to do and to leave from now on, gravest first.
    pub(crate) aftercare: Vec<Caution>,
    /// What was cautioned while the work was done, gravest first.
    pub(crate) cautions: Vec<Caution>,
}

/// The job.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Job {
    pub(crate) name: String,
    pub(crate) display_name: String,
    pub(crate) stage: String,
    pub(crate) customer: String,
    pub(crate) received: String,
    pub(crate) handed_over: String,
    pub(crate) promised: String,
    pub(crate) arrival_condition: String,
    pub(crate) wishes: String,
}

/// The car.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Vehicle {
    pub(crate) name: String,
    pub(crate) display_name: String,
    pub(crate) registration: String,
    pub(crate) color: String,
}

/// One thing ordered.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Service {
    pub(crate) code: String,
    pub(crate) description: String,
    /// Names of the panels; empty: the whole car.
    pub(crate) panels: String,
}

/// The customer's yes.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Approval {
    pub(crate) by: String,
    pub(crate) when: String,
    pub(crate) amount: String,
    pub(crate) note: String,
}

/// The accepted quote.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Quote {
    pub(crate) name: String,
    pub(crate) lines: Vec<QuoteLine>,
    pub(crate) net: String,
    pub(crate) taxes: Vec<QuoteTax>,
    pub(crate) gross: String,
}

/// One line of it.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct QuoteLine {
    pub(crate) description: String,
    pub(crate) quantity: String,
    pub(crate) amount: String,
}

/// One tax of it.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct QuoteTax {
    /// Its class and rate.
    pub(crate) what: String,
    pub(crate) amount: String,
}

/// A thickness with its expanded uncertainty at 95 % coverage.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub(crate) struct Thickness {
    /// Micrometres.
    pub(crate) um: f64,
    /// Half width of the interval, micrometres.
    pub(crate) uncertainty_um: f64,
    pub(crate) text: String,
    pub(crate) uncertainty: String,
}

/// Paint of one panel.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Panel {
    pub(crate) panel_id: String,
    pub(crate) name: String,
    pub(crate) substrate: String,
    /// Mean before the first pass.
    pub(crate) before: Option<Thickness>,
    /// Mean after the last pass.
    pub(crate) after: Option<Thickness>,
    /// What came off, where both were read.
    pub(crate) removal: Option<Thickness>,
    /// What the difference says, in words; why there is none.
    pub(crate) removal_says: String,
    /// Clear coat left, at least, at 95 % confidence, micrometres.
    pub(crate) clear_at_least_um: Option<f64>,
    pub(crate) clear_at_least: String,
    /// Why it was not read; empty where it was.
    pub(crate) unread: String,
}

/// Passes made alike on one panel.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub(crate) struct Pass {
    pub(crate) panel: String,
    /// Machine, pad and liquid.
    pub(crate) setup: String,
    pub(crate) count: usize,
    /// What came of the last of them.
    pub(crate) outcome: String,
    /// Highest panel temperature seen; empty when none was read.
    pub(crate) hottest: String,
}

/// One piece of film.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Film {
    pub(crate) panel: String,
    pub(crate) film: String,
    pub(crate) size: String,
    pub(crate) lot: String,
}

/// One coat.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Coat {
    pub(crate) product: String,
    pub(crate) layer: i32,
    pub(crate) panels: String,
    pub(crate) applied: String,
    pub(crate) panel_temperature: String,
    pub(crate) air: String,
    pub(crate) lot: String,
}

/// One mix.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Mix {
    pub(crate) product: String,
    pub(crate) amounts: String,
    pub(crate) strength: String,
    pub(crate) panels: String,
    pub(crate) lot: String,
}

/// A product with its lots.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub(crate) struct Product {
    pub(crate) product: String,
    /// What it is: "coating", "film", "liquid" or "polish".
    pub(crate) kind: &'static str,
    /// Lots as recorded; empty: none was.
    pub(crate) lots: String,
}

/// A part that was off the car.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub(crate) struct Part {
    pub(crate) part: String,
    pub(crate) fasteners: String,
    pub(crate) off: String,
    /// When it went back on; empty: it is still off.
    pub(crate) refitted: String,
    pub(crate) note: String,
    /// Where it is kept while it is off.
    pub(crate) kept_at: String,
}

/// When what may be done.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Timeline {
    /// The latest of all: rain and road, washing, full cure; empty where none.
    pub(crate) road: String,
    pub(crate) wash: String,
    pub(crate) full: String,
    /// What cures, in order of application.
    pub(crate) rows: Vec<Cure>,
    /// Marks on the axis.
    pub(crate) ticks: Vec<Tick>,
    /// Where the moment of making lies, thousandths of the axis.
    pub(crate) now: Option<f64>,
}

/// One thing that cures.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Cure {
    pub(crate) what: String,
    pub(crate) panels: String,
    pub(crate) applied: String,
    pub(crate) road: String,
    pub(crate) wash: String,
    pub(crate) full: String,
    /// Stretches one after another.
    pub(crate) bars: Vec<Bar>,
}

/// One stretch of a bar.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub(crate) struct Bar {
    /// What it is: "dry", "wash" or "full".
    pub(crate) kind: &'static str,
    /// Where it begins, thousandths of the axis.
    pub(crate) from: f64,
    /// How long it is, thousandths of the axis.
    pub(crate) length: f64,
}

/// A mark on the axis.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub(crate) struct Tick {
    /// Where, thousandths of the axis.
    pub(crate) at: f64,
    pub(crate) text: String,
}

/// Photos of one moment.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Photos {
    /// "before", "during" or "after".
    pub(crate) moment: String,
    pub(crate) shown: Vec<Photo>,
    /// What is not shown, and why.
    pub(crate) left_out: Vec<String>,
}

/// One photo.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Photo {
    /// Its resource name.
    pub(crate) name: String,
    /// A `data:` URI.
    pub(crate) src: String,
    pub(crate) width_px: u32,
    pub(crate) height_px: u32,
    /// What it shows, for who cannot see it.
    pub(crate) alt: String,
    /// What stands below it.
    pub(crate) caption: String,
}

/// Something to look out for.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub(crate) struct Caution {
    pub(crate) code: String,
    /// "info", "caution", "warning" or "stop".
    pub(crate) severity: &'static str,
    pub(crate) text: String,
    pub(crate) basis: String,
}
