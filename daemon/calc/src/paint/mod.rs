//! Paint thickness: what readings say of the layers, and what may still be taken off.
//!
//! - [`assess`](mod@assess): the calculator for a car's panels, its input and result
//! - [`removal`]: what came off between readings before and after
//! - [`trace`](mod@trace): one panel over all its visits, the arithmetic of the paint ledger
//! - [`layers`]: the layer model, and the clear coat conditioned on a reading
//! - [`readings`]: spots, odd readings, robust spread
//! - [`uncertainty`]: the gauge's uncertainty after the GUM
//! - [`acceptance`]: the 80/120 % rule
//! - [`suspicion`]: signs of refinish, filler and thin paint
//! - `follow`, `belief`, `rounds`: one spot through its history, its state, rounds of readings
//! - `check`: the stated ranges; `cautions`: what to look out for, as data

pub mod acceptance;
pub mod assess;
mod belief;
mod cautions;
mod check;
mod follow;
pub mod layers;
#[cfg(test)]
mod properties;
pub mod readings;
pub mod removal;
mod rounds;
pub mod suspicion;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod tests_over_time;
pub mod trace;
pub mod uncertainty;

pub use acceptance::{Acceptance, Target, Verdict};
pub use assess::{AssessInput, AssessResult, PanelAssessment, PanelReadings, SpotResult, assess};
pub use layers::{ClearEstimate, Layer, LayerKind, Removed};
pub use readings::{OddReading, Readings, SpotReadings, SpotStats};
pub use removal::{RemovalInput, RemovalResult, RemovalVerdict, measure_removal};
pub use suspicion::{Sign, SignCode, Suspicion};
pub use trace::{Compared, PanelEvent, PanelHistory, PanelTrace, ReadStanding, TraceStep, trace};
pub use uncertainty::{GaugeSpec, Uncertainty};

/// The outermost layer of a panel, as far as polishing minds it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Topcoat {
    /// Clear coat over base coat; also what is assumed when nothing is stated.
    #[default]
    Clear,
    /// Single-stage paint: no clear coat to reckon with.
    SingleStage,
    /// Matt or satin: never polished.
    Matt,
    /// Bare trim: nothing to measure.
    Unpainted,
}
