//! Heat in polishing: how warm a panel gets, and what reaches a temperature.
//!
//! - [`closed`]: closed forms for simple cases
//! - [`panel`]: paint and sheet, with properties and their standing
//! - [`friction`]: pad speed and the heat it makes
//! - [`quick`]: one pass's rise, cheaply

pub mod closed;
pub mod friction;
pub mod panel;
pub mod quick;

pub use friction::{PadMotion, friction_flux_w_per_m2, mean_speed_m_per_s, pad_area_cm2};
pub use panel::{Material, Panel, PanelInput};
pub use quick::{PassHeat, peak_rise_k};
