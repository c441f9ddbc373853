//! From a promise back to the latest start that keeps it.

use super::dose::Course;
use super::series::Lamp;
use super::speed::SLOWEST;

/// Starts tried where lamps make the end jump about, times lamps: some 30 ms.
const STARTS: usize = 1500;

/// The latest start from which `dose` hours at reference are reached by
/// `by_hours` even at the slowest; not before `earliest_hours`, where conditions
/// begin to be known.
///
/// Without lamps the dose is run backwards from the promise. A lamp goes with the
/// start, so a later start can end earlier; then starts are tried from the promise
/// backwards, and the first that keeps it is made sharper by halving. What keeps
/// the promise only for less than a step, 1/1500 of the way per lamp, may be missed.
pub(crate) fn latest_start_hours(
    course: &Course<'_>,
    dose: f64,
    by_hours: f64,
    earliest_hours: Option<f64>,
    lamps: &[Lamp],
) -> Option<f64> {
    let start_hours = if lamps.is_empty() {
        course.start_hours(by_hours, dose, SLOWEST)
    } else if let Some(earliest_hours) = earliest_hours {
        try_starts(course, dose, by_hours, earliest_hours, lamps.len())?
    } else {
        // Held conditions: the cure takes as long whenever it begins.
        by_hours - course.reached_hours(0.0, dose, SLOWEST)
    };
    let known = earliest_hours.is_none_or(|earliest_hours| start_hours >= earliest_hours);
    (known && start_hours.is_finite()).then_some(start_hours)
}

fn try_starts(
    course: &Course<'_>,
    dose: f64,
    by_hours: f64,
    earliest_hours: f64,
    lamps: usize,
) -> Option<f64> {
    // Lamps are few, see MOST_LAMPS.
    let starts = u32::try_from(STARTS / lamps.max(1)).unwrap_or(1).max(2);
    let keeps = |start_hours: f64| course.dose_hours(start_hours, by_hours, SLOWEST) >= dose;
    let step = (by_hours - earliest_hours) / f64::from(starts);
    if step <= 0.0 {
        return None;
    }
    let start = |tried: u32| by_hours - f64::from(tried) * step;
    let tried = (1..starts).find(|tried| keeps(start(*tried)));
    let (mut kept, mut broken) = match tried {
        Some(tried) => (start(tried), start(tried - 1)),
        None if keeps(earliest_hours) => (earliest_hours, start(starts - 1)),
        None => return None,
    };
    for _ in 0..50 {
        let middle = f64::midpoint(kept, broken);
        if keeps(middle) {
            kept = middle;
        } else {
            broken = middle;
        }
    }
    Some(kept)
}
