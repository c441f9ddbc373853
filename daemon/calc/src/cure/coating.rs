//! What a product says of its own cure, and the limits on what it may say.

use super::timing::MilestoneKind;
use crate::violation::Checks;

/// How a coating cures, from its own data sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct CoatingData {
    /// Product as the shop names it.
    pub name: String,
    /// Panel temperature at which the times hold, Celsius, 0 to 100.
    pub reference_c: f64,
    /// How the rate follows temperature; absent: not at all.
    pub temperature_response: Option<TemperatureResponse>,
    /// When to wipe or level.
    pub wipe: Option<WipeWindow>,
    /// When the next layer may go on.
    pub recoat: Option<RecoatWindow>,
    /// Dry: may be driven and rained on, hours, above 0 to 1000.
    pub dry_hours: f64,
    /// May be washed, hours, up to 5000, not before dry.
    pub wash_hours: Option<f64>,
    /// Fully cured, hours, up to 10 000, not before washing.
    pub full_cure_hours: Option<f64>,
    /// Lowest panel temperature allowed, Celsius.
    pub min_panel_c: Option<f64>,
    /// Highest panel temperature allowed, Celsius.
    pub max_panel_c: Option<f64>,
    /// Highest relative humidity allowed, percent.
    pub max_relative_humidity_percent: Option<f64>,
}

/// How the rate of cure follows temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TemperatureResponse {
    /// Arrhenius.
    Arrhenius {
        /// Activation energy, kJ/mol, 10 to 200.
        activation_energy_kj_per_mol: f64,
    },
    /// Power of a factor for 10 K.
    Q10 {
        /// How many times faster 10 K warmer, 1 to 10.
        factor: f64,
    },
}

/// When to wipe or level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WipeWindow {
    /// Earliest, minutes, 0 to 1440.
    pub earliest_minutes: f64,
    /// Latest, minutes, after the earliest, to 1440.
    pub latest_minutes: f64,
}

/// When the next layer may go on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecoatWindow {
    /// From, hours, 0 to 1000.
    pub open_hours: f64,
    /// To, hours, after the beginning, to 1000.
    pub close_hours: f64,
}

impl CoatingData {
    /// The stated times, hours at the reference temperature.
    pub(crate) fn reference_hours(&self) -> impl Iterator<Item = (MilestoneKind, f64)> {
        [
            (
                MilestoneKind::WipeOpen,
                self.wipe.map(|wipe| wipe.earliest_minutes / 60.0),
            ),
            (
                MilestoneKind::WipeClose,
                self.wipe.map(|wipe| wipe.latest_minutes / 60.0),
            ),
            (
                MilestoneKind::RecoatOpen,
                self.recoat.map(|recoat| recoat.open_hours),
            ),
            (
                MilestoneKind::RecoatClose,
                self.recoat.map(|recoat| recoat.close_hours),
            ),
            (MilestoneKind::Dry, Some(self.dry_hours)),
            (MilestoneKind::Wash, self.wash_hours),
            (MilestoneKind::FullCure, self.full_cure_hours),
        ]
        .into_iter()
        .filter_map(|(kind, hours)| Some((kind, hours?)))
    }

    pub(crate) fn check(&self, checks: &mut Checks) {
        checks.in_range("coating.reference_c", self.reference_c, 0.0, 100.0, "C");
        match self.temperature_response {
            Some(TemperatureResponse::Arrhenius {
                activation_energy_kj_per_mol: energy,
            }) => {
                let field = "coating.activation_energy_kj_per_mol";
                checks.in_range(field, energy, 10.0, 200.0, "kJ/mol");
            }
            Some(TemperatureResponse::Q10 { factor }) => {
                checks.in_range("coating.q10", factor, 1.0, 10.0, "(factor for 10 K)");
            }
            None => {}
        }
        if let Some(wipe) = self.wipe {
            let (earliest, latest) = (wipe.earliest_minutes, wipe.latest_minutes);
            checks.in_range(
                "coating.wipe_earliest_minutes",
                earliest,
                0.0,
                1440.0,
                "minutes",
            );
            checks.in_range(
                "coating.wipe_latest_minutes",
                latest,
                0.0,
                1440.0,
                "minutes",
            );
            after(
                checks,
                ("wipe_earliest_minutes", earliest),
                ("wipe_latest_minutes", latest),
            );
        }
        if let Some(recoat) = self.recoat {
            let (open, close) = (recoat.open_hours, recoat.close_hours);
            checks.in_range("coating.recoat_open_hours", open, 0.0, 1000.0, "hours");
            checks.in_range("coating.recoat_close_hours", close, 0.0, 1000.0, "hours");
            after(
                checks,
                ("recoat_open_hours", open),
                ("recoat_close_hours", close),
            );
        }
        checks.above("coating.dry_hours", self.dry_hours, 0.0, 1000.0, "hours");
        checks.optional_in_range("coating.wash_hours", self.wash_hours, 0.0, 5000.0, "hours");
        checks.optional_in_range(
            "coating.full_cure_hours",
            self.full_cure_hours,
            0.0,
            1e4,
            "hours",
        );
        let dry = ("dry_hours", self.dry_hours);
        let wash = self.wash_hours.map(|hours| ("wash_hours", hours));
        let full = self.full_cure_hours.map(|hours| ("full_cure_hours", hours));
        if let Some(wash) = wash {
            not_before(checks, dry, wash);
        }
        if let Some(full) = full {
            not_before(checks, wash.unwrap_or(dry), full);
        }
        checks.optional_in_range("coating.min_panel_c", self.min_panel_c, -20.0, 100.0, "C");
        checks.optional_in_range("coating.max_panel_c", self.max_panel_c, -20.0, 150.0, "C");
        if let (Some(low), Some(high)) = (self.min_panel_c, self.max_panel_c) {
            after(checks, ("min_panel_c", low), ("max_panel_c", high));
        }
        let humidity = self.max_relative_humidity_percent;
        let field = "coating.max_relative_humidity_percent";
        checks.optional_in_range(field, humidity, 0.0, 100.0, "percent");
    }
}

fn after(checks: &mut Checks, first: (&str, f64), second: (&str, f64)) {
    checks.require(second.1 > first.1, format!("coating.{}", second.0), || {
        format!(
            "must be more than {}, {}, got {}",
            first.0, first.1, second.1
        )
    });
}

fn not_before(checks: &mut Checks, first: (&str, f64), second: (&str, f64)) {
    checks.require(second.1 >= first.1, format!("coating.{}", second.0), || {
        format!(
            "must be at least {}, {}, got {}",
            first.0, first.1, second.1
        )
    });
}
