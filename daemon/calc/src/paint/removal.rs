//! What came off between readings before and after, with its uncertainty.
//!
//! Spots are paired by name and their differences averaged. With one gauge its
//! fixed error cancels; what is left of the limit is the part that grows with the
//! reading, on the difference alone. The readings' own spread, pooled over all
//! spots, and the resolution count on both sides. A difference inside the
//! expanded uncertainty (95 %) is not told from none (JCGM 100:2008).

use std::collections::HashMap;

use super::cautions;
use super::check::{self, ReadingChecks};
use super::readings::{SpotReadings, SpotStats, as_f64, mean_and_sd, pooled};
use super::uncertainty::{Component, GaugeSpec, Uncertainty, combine};
use crate::caution::Caution;
use crate::error::CalcError;
use crate::violation::Checks;

/// Readings of one panel before and after.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RemovalInput {
    /// Before, at most 100 spots.
    pub before: Vec<SpotReadings>,
    /// After, at most 100 spots; those with a name as before count.
    pub after: Vec<SpotReadings>,
    /// The gauge; absent: [`GaugeSpec::default`].
    pub gauge: Option<GaugeSpec>,
    /// Whether two different gauges were used, both as described.
    pub two_gauges: bool,
}

/// What came off.
#[derive(Debug, Clone, PartialEq)]
pub struct RemovalResult {
    /// Mean removal over the paired spots, um; negative where the panel got thicker.
    pub removal_um: f64,
    /// Its uncertainty.
    pub uncertainty: Uncertainty,
    /// Lower end of the 95 % interval, um; never below 0.
    pub low_um: f64,
    /// Upper end of the 95 % interval, um; never below 0.
    pub high_um: f64,
    /// What that says.
    pub verdict: RemovalVerdict,
    /// The paired spots, in the order of `before`.
    pub spots: Vec<SpotRemoval>,
    /// Spots read only before or only after.
    pub unpaired: Vec<String>,
    /// The gauge used.
    pub gauge: GaugeSpec,
    /// The model, in words.
    pub model: &'static str,
    /// What to look out for.
    pub cautions: Vec<Caution>,
}

/// Removal at one spot, um.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotRemoval {
    /// The spot.
    pub spot: String,
    /// Mean before.
    pub before_um: f64,
    /// Mean after.
    pub after_um: f64,
    /// Before less after.
    pub removal_um: f64,
}

/// What a difference says, at 95 % coverage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RemovalVerdict {
    /// Something came off.
    Removed,
    /// The difference is inside the noise: nothing, or up to `high_um`, came off.
    CannotTell,
    /// The panel is thicker than before: other spots, another gauge, or something on the paint.
    Thicker,
}

const MODEL: &str = "differences of spot means paired by name; pooled spread within spots (type A), \
                     rest of the gauge's limit, resolution twice; Student's t for 95 %";

/// Removal between readings before and after.
///
/// # Errors
/// [`CalcError::Invalid`] naming every value out of range, a spot given twice, readings in two
/// units; paths as in `MeasureRemovalRequest`. [`CalcError::Infeasible`] with the reason
/// `NO_SPOT_IN_COMMON` when no spot was read both before and after.
pub fn measure_removal(input: &RemovalInput) -> Result<RemovalResult, CalcError> {
    check(input)?;
    let gauge = input.gauge.clone().unwrap_or_default();
    let stats = |spots: &[SpotReadings]| -> Vec<SpotStats> {
        spots
            .iter()
            .map(|spot| SpotStats::of(spot, gauge.resolution_um))
            .collect()
    };
    let (before, after) = (stats(&input.before), stats(&input.after));
    let after_by_name: HashMap<&str, &SpotStats> = after
        .iter()
        .map(|spot| (spot.spot.as_str(), spot))
        .collect();
    let pairs: Vec<(&SpotStats, &SpotStats)> = before
        .iter()
        .filter_map(|spot| Some((spot, *after_by_name.get(spot.spot.as_str())?)))
        .collect();
    if pairs.is_empty() {
        return Err(nothing_in_common(&before, &after));
    }
    let (removal_um, uncertainty) = mean_difference(&pairs, &gauge, input.two_gauges);
    let expanded_um = uncertainty.expanded_um;
    let verdict = if removal_um > expanded_um {
        RemovalVerdict::Removed
    } else if removal_um < -expanded_um {
        RemovalVerdict::Thicker
    } else {
        RemovalVerdict::CannotTell
    };
    let paired = |name: &str| pairs.iter().any(|(spot, _)| spot.spot == name);
    let mut result = RemovalResult {
        removal_um,
        uncertainty,
        low_um: (removal_um - expanded_um).max(0.0),
        high_um: (removal_um + expanded_um).max(0.0),
        verdict,
        unpaired: before
            .iter()
            .chain(&after)
            .filter(|spot| !paired(&spot.spot))
            .map(|spot| spot.spot.clone())
            .collect(),
        spots: pairs
            .iter()
            .map(|(before, after)| SpotRemoval {
                spot: before.spot.clone(),
                before_um: before.mean_um,
                after_um: after.mean_um,
                removal_um: before.mean_um - after.mean_um,
            })
            .collect(),
        gauge,
        model: MODEL,
        cautions: Vec::new(),
    };
    result.cautions = cautions::removal(&result);
    Ok(result)
}

/// The mean of the pairs' differences, um, and its uncertainty.
fn mean_difference(
    pairs: &[(&SpotStats, &SpotStats)],
    gauge: &GaugeSpec,
    two_gauges: bool,
) -> (f64, Uncertainty) {
    let differences: Vec<f64> = pairs
        .iter()
        .map(|(before, after)| before.mean_um - after.mean_um)
        .collect();
    let (removal_um, spread_um) = mean_and_sd(&differences);
    let m = as_f64(pairs.len());
    let within = pooled(pairs.iter().flat_map(|(before, after)| [*before, *after]));
    let type_a = match (within, spread_um) {
        (Some(within), _) => {
            let shares: f64 = pairs
                .iter()
                .map(|(before, after)| 1.0 / as_f64(before.used) + 1.0 / as_f64(after.used))
                .sum();
            Some(Component {
                standard: within.standard * shares.sqrt() / m,
                ..within
            })
        }
        // Single readings everywhere: only the differences among themselves show a spread.
        (None, Some(spread_um)) => Some(Component {
            standard: spread_um / m.sqrt(),
            degrees_of_freedom: Some(m - 1.0),
        }),
        (None, None) => None,
    };
    let limit_um = if two_gauges {
        let mean = |of: fn(&(&SpotStats, &SpotStats)) -> f64| pairs.iter().map(of).sum::<f64>() / m;
        let before_um = gauge.limit_standard_um(mean(|pair| pair.0.mean_um));
        before_um.hypot(gauge.limit_standard_um(mean(|pair| pair.1.mean_um)))
    } else {
        gauge.limit_percent / 100.0 * removal_um.abs() / 3.0_f64.sqrt()
    };
    let resolution_um = gauge.resolution_standard_um() * 2.0_f64.sqrt();
    let endless = |standard| Component {
        standard,
        degrees_of_freedom: None,
    };
    let mut parts = vec![endless(limit_um), endless(resolution_um)];
    parts.extend(type_a);
    let type_a_um = type_a.map(|part| part.standard);
    (
        removal_um,
        Uncertainty::of(type_a_um, limit_um, resolution_um, combine(&parts)),
    )
}

fn check(input: &RemovalInput) -> Result<(), CalcError> {
    let mut checks = Checks::new();
    let mut readings = ReadingChecks::default();
    for (spots, path) in [(&input.before, "before"), (&input.after, "after")] {
        checks.require(!spots.is_empty(), path, || {
            "must have at least one spot".to_owned()
        });
        readings.spots(spots, path, &mut checks);
    }
    readings.total("before", &mut checks);
    if let Some(gauge) = &input.gauge {
        check::gauge(gauge, "gauge", &mut checks);
    }
    checks.finish()
}

fn nothing_in_common(before: &[SpotStats], after: &[SpotStats]) -> CalcError {
    let names = |spots: &[SpotStats]| {
        let names: Vec<String> = spots
            .iter()
            .take(5)
            .map(|spot| format!("`{}`", spot.spot.escape_debug()))
            .collect();
        names.join(", ")
    };
    CalcError::Infeasible {
        reason: "NO_SPOT_IN_COMMON",
        field: "after".to_owned(),
        message: format!(
            "no spot was read both before ({}) and after ({}); read the same spots again",
            names(before),
            names(after)
        ),
    }
}
