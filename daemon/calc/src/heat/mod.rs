//! Heat in polishing: how warm a panel gets, and what reaches a temperature.
//!
//! - [`predict`](mod@predict): the calculator, its input and its result
//! - [`schedule`]: work and pauses in time
//! - [`fit`]: the heat factor, assumed or fitted to readings
//! - [`target`]: how much longer or harder reaches a temperature
//! - [`friction`]: pad speed and the heat it makes
//! - [`panel`]: paint and sheet, with properties and their standing
//! - `modes`: conduction across the panel, exact in time
//! - [`closed`]: closed forms for simple cases
//! - [`quick`]: one pass's rise, cheaply, for callers that ask often
//! - `cautions`: what to look out for, as data

mod cautions;
pub mod closed;
pub mod fit;
pub mod friction;
mod modes;
pub mod panel;
pub mod predict;
#[cfg(test)]
mod properties;
pub mod quick;
pub mod schedule;
pub mod target;
#[cfg(test)]
mod tests;

pub use fit::{FactorBasis, Fit, HeatFactor, Observation, Predicted};
pub use friction::{PadMotion, friction_flux_w_per_m2, mean_speed_m_per_s, pad_area_cm2};
pub use panel::{Material, Panel, PanelInput};
pub use predict::{CurvePoint, HeatInput, HeatResult, SegmentHeat, Used, predict};
pub use quick::{PassHeat, peak_rise_k};
pub use schedule::Segment;
pub use target::{Harder, Longer, TargetAnswer};
