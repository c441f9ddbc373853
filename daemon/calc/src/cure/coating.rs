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
    /// How the rate follows the air's moisture; absent: not at all.
    pub humidity_response: Option<HumidityResponse>,
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
    /// Lowest relative humidity allowed, percent.
    pub min_relative_humidity_percent: Option<f64>,
    /// Highest relative humidity allowed, percent, above the lowest.
    pub max_relative_humidity_percent: Option<f64>,
}

/// How the rate of cure follows temperature.
#[derive(Debug, Clone, PartialEq)]
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
    /// The product's own rates, read as [`rate`](super::rate()) says.
    Table {
        /// 2 to [`MOST_RATE_POINTS`] points, rising in temperature and not falling
        /// in rate, from at or below the reference temperature to at or above it.
        points: Vec<RatePoint>,
    },
}

/// One line of a table of rates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatePoint {
    /// Panel temperature, Celsius, -20 to 150.
    pub panel_c: f64,
    /// Rate of cure, 0.001 to 1000. Only ratios count: the table is scaled to 1 at
    /// the reference temperature.
    pub rate: f64,
}

/// Most lines of a table of rates.
pub const MOST_RATE_POINTS: usize = 20;

/// How a coating that cures by moisture follows the vapour in the air:
/// rate = (vapour / vapour at reference)^exponent, vapour in grams per cubic
/// metre, the reference taken at the reference temperature. An exponent of 1,
/// proportional, is common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HumidityResponse {
    /// Relative humidity at which the times hold, percent, 5 to 100.
    pub reference_relative_humidity_percent: f64,
    /// Exponent, above 0 to 2.
    pub exponent: f64,
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
        match &self.temperature_response {
            Some(TemperatureResponse::Arrhenius {
                activation_energy_kj_per_mol: energy,
            }) => {
                let field = "coating.activation_energy_kj_per_mol";
                checks.in_range(field, *energy, 10.0, 200.0, "kJ/mol");
            }
            Some(TemperatureResponse::Q10 { factor }) => {
                checks.in_range("coating.q10", *factor, 1.0, 10.0, "(factor for 10 K)");
            }
            Some(TemperatureResponse::Table { points }) => {
                check_table(points, self.reference_c, checks);
            }
            None => {}
        }
        if let Some(response) = self.humidity_response {
            let field = "coating.humidity_response.reference_relative_humidity_percent";
            let humidity = response.reference_relative_humidity_percent;
            checks.in_range(field, humidity, 5.0, 100.0, "percent");
            let field = "coating.humidity_response.exponent";
            checks.above(field, response.exponent, 0.0, 2.0, "(exponent)");
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
        let (driest, dampest) = (
            self.min_relative_humidity_percent,
            self.max_relative_humidity_percent,
        );
        let field = "coating.min_relative_humidity_percent";
        checks.optional_in_range(field, driest, 0.0, 100.0, "percent");
        let field = "coating.max_relative_humidity_percent";
        checks.optional_in_range(field, dampest, 0.0, 100.0, "percent");
        if let (Some(low), Some(high)) = (driest, dampest) {
            let low = ("min_relative_humidity_percent", low);
            after(checks, low, ("max_relative_humidity_percent", high));
        }
    }
}

fn check_table(points: &[RatePoint], reference_c: f64, checks: &mut Checks) {
    const FIELD: &str = "coating.rate_table.points";
    let count = points.len();
    checks.require((2..=MOST_RATE_POINTS).contains(&count), FIELD, || {
        format!("must have 2 to {MOST_RATE_POINTS} entries, got {count}")
    });
    let points = &points[..count.min(MOST_RATE_POINTS)];
    for (index, point) in points.iter().enumerate() {
        checks.in_range(
            format!("{FIELD}[{index}].panel_c"),
            point.panel_c,
            -20.0,
            150.0,
            "C",
        );
        checks.in_range(
            format!("{FIELD}[{index}].rate"),
            point.rate,
            1e-3,
            1e3,
            "(rate)",
        );
    }
    for (index, pair) in points.windows(2).enumerate() {
        let [low, high] = pair else { continue };
        let index = index + 1;
        checks.require(
            high.panel_c > low.panel_c,
            format!("{FIELD}[{index}].panel_c"),
            || {
                format!(
                    "must be more than that of the point before, {}, got {}",
                    low.panel_c, high.panel_c
                )
            },
        );
        checks.require(
            high.rate >= low.rate,
            format!("{FIELD}[{index}].rate"),
            || {
                format!(
                    "must be at least that of the point before, {}, got {}",
                    low.rate, high.rate
                )
            },
        );
    }
    if let (Some(first), Some(last)) = (points.first(), points.last()) {
        let inside = !(reference_c < first.panel_c || reference_c > last.panel_c);
        checks.require(inside, "coating.reference_c", || {
            format!(
                "must lie within the table of rates, {} to {} C, got {reference_c}",
                first.panel_c, last.panel_c
            )
        });
    }
}

fn after(checks: &mut Checks, first: (&str, f64), second: (&str, f64)) {
    let holds = second.1 > first.1 || checks.has(&format!("coating.{}", first.0));
    checks.require(holds, format!("coating.{}", second.0), || {
        format!(
            "must be more than {}, {}, got {}",
            first.0, first.1, second.1
        )
    });
}

fn not_before(checks: &mut Checks, first: (&str, f64), second: (&str, f64)) {
    let holds = second.1 >= first.1 || checks.has(&format!("coating.{}", first.0));
    checks.require(holds, format!("coating.{}", second.0), || {
        format!(
            "must be at least {}, {}, got {}",
            first.0, first.1, second.1
        )
    });
}
