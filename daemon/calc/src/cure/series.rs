//! What the panel and the bay's air go through: samples in order of time,
//! straight lines between them, and lamps over them.

use crate::violation::Checks;

/// One reading, logged or forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// When, hours on the caller's axis; any instant may be its zero. Rising
    /// from sample to sample, within 1 000 000 hours of zero.
    pub at_hours: f64,
    /// Temperature of the panel, and of the air around it where no lamp is on,
    /// Celsius, -20 to 100.
    pub panel_c: f64,
    /// Relative humidity, percent, above 0 to 100; on every sample or on none.
    pub relative_humidity_percent: Option<f64>,
}

/// A lamp on the panel. It holds the panel at a temperature; the way there and
/// back is not modelled, and the vapour in the air stays as it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lamp {
    /// From, hours after application, 0 to 1000.
    pub from_hours: f64,
    /// To, hours after application, after the beginning, to 1000.
    pub to_hours: f64,
    /// Panel temperature under the lamp, Celsius, 0 to 150.
    pub panel_c: f64,
}

/// Most samples of one series: two years of hours.
pub const MOST_SAMPLES: usize = 20_000;
/// Most lamps on one cure.
pub const MOST_LAMPS: usize = 10;
/// Furthest sample from the zero of the axis, hours, about 114 years.
pub(crate) const FURTHEST_HOURS: f64 = 1e6;
/// Violations named one by one in a series. A series with its columns swapped
/// breaks every line, and 20 lines tell as much as 20 000.
const MOST_NAMED: usize = 20;

/// Notes unsorted, doubled, missing or impossible samples, each by its place.
pub(crate) fn check_samples(samples: &[Sample], checks: &mut Checks) {
    let count = samples.len();
    checks.require(count <= MOST_SAMPLES, "samples", || {
        format!("must have up to {MOST_SAMPLES} entries, got {count}")
    });
    let humid = samples
        .first()
        .is_some_and(|sample| sample.relative_humidity_percent.is_some());
    let mut before = None;
    let mut bad = 0;
    for (index, sample) in samples.iter().enumerate() {
        let mut of_sample = Checks::new();
        check_sample(sample, before, humid, &mut of_sample);
        before = Some(sample.at_hours);
        if let Err(crate::error::CalcError::Invalid(violations)) = of_sample.finish() {
            bad += 1;
            if bad <= MOST_NAMED {
                checks.take(violations.below(&format!("samples[{index}]")));
            }
        }
    }
    checks.require(bad <= MOST_NAMED, "samples", || {
        format!("has {bad} bad entries; the first {MOST_NAMED} are named")
    });
}

fn check_sample(sample: &Sample, before: Option<f64>, humid: bool, checks: &mut Checks) {
    let at = sample.at_hours;
    checks.in_range(
        "time",
        at,
        -FURTHEST_HOURS,
        FURTHEST_HOURS,
        "hours from the first",
    );
    if let Some(before) = before {
        let step = at - before;
        checks.require(step > 0.0 || step.is_nan(), "time", || {
            if step < 0.0 {
                format!(
                    "must be after the sample before it, got {:.4} hours earlier",
                    -step
                )
            } else {
                "must be after the sample before it, got the same time twice".to_owned()
            }
        });
    }
    checks.in_range("panel_c", sample.panel_c, -20.0, 100.0, "C");
    let field = "relative_humidity_percent";
    if let Some(humidity) = sample.relative_humidity_percent {
        checks.above(field, humidity, 0.0, 100.0, "percent");
    }
    checks.require(
        sample.relative_humidity_percent.is_some() == humid,
        field,
        || "must be given on every sample or on none".to_owned(),
    );
}

/// Notes lamps out of range, out of order or on at the same time.
pub(crate) fn check_lamps(lamps: &[Lamp], checks: &mut Checks) {
    let count = lamps.len();
    checks.require(count <= MOST_LAMPS, "lamps", || {
        format!("must have up to {MOST_LAMPS} entries, got {count}")
    });
    let mut before = None;
    for (index, lamp) in lamps.iter().take(MOST_LAMPS).enumerate() {
        let field = |name: &str| format!("lamps[{index}].{name}");
        checks.in_range(field("from_hours"), lamp.from_hours, 0.0, 1000.0, "hours");
        checks.in_range(field("to_hours"), lamp.to_hours, 0.0, 1000.0, "hours");
        checks.in_range(field("panel_c"), lamp.panel_c, 0.0, 150.0, "C");
        let backwards = lamp.to_hours <= lamp.from_hours;
        checks.require(!backwards, field("to_hours"), || {
            format!(
                "must be more than from_hours, {}, got {}",
                lamp.from_hours, lamp.to_hours
            )
        });
        if let Some(before) = before {
            let overlapping = lamp.from_hours < before;
            checks.require(!overlapping, field("from_hours"), || {
                format!(
                    "must not be before the end of the lamp before, {before}, got {}",
                    lamp.from_hours
                )
            });
        }
        before = Some(lamp.to_hours);
    }
}
