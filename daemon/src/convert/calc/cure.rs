//! Cure timing and the dew point.
//!
//! The calculator counts hours on an axis of its own; here that axis gets its
//! zero. Hours are elapsed time between instants, so a change of the clocks
//! neither shortens nor stretches a cure.

use jiff::{SignedDuration, Timestamp};
use lamella_calc::air::{AirInput, AirResult};
use lamella_calc::cure::series::{MOST_LAMPS, MOST_SAMPLES};
use lamella_calc::cure::{CureInput, CureResult, Lamp, Milestone, MilestoneKind, Release, Sample};
use lamella_calc::violation::Checks;
use lamella_proto::v1;

use super::super::{caution, product, required, time};

/// Where the calculator's hours lie in time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Axis {
    zero: Timestamp,
    /// Whether anybody said when the coating goes on; else hours are all there is.
    begins: bool,
}

impl Axis {
    fn hours(self, instant: Timestamp) -> f64 {
        instant.duration_since(self.zero).as_secs_f64() / 3600.0
    }

    /// The instant, to the millisecond; none outside the calendar.
    fn instant(self, hours: f64) -> Option<Timestamp> {
        let span = SignedDuration::try_from_secs_f64((hours * 3.6e6).round() / 1e3).ok()?;
        self.zero.checked_add(span).ok()
    }
}

/// The cure's input, and where its hours lie in time.
pub(crate) fn from_pb(request: &v1::TimeCureRequest, checks: &mut Checks) -> (CureInput, Axis) {
    let instant = |message: &Option<prost_types::Timestamp>, field, checks: &mut Checks| {
        time::from_pb(message.as_ref(), field, checks)
    };
    let applied = instant(&request.applied_time, "applied_time", checks);
    let forecast_from = instant(&request.forecast_from_time, "forecast_from_time", checks);
    let release_by = instant(&request.release_by_time, "release_by_time", checks);
    let times = sample_times(request, checks);
    let first = times.first().copied();
    let axis = Axis {
        zero: first.or(applied).or(release_by).unwrap_or_default(),
        begins: first.or(applied).is_some(),
    };
    let milestone = release_milestone(request, checks);
    let input = CureInput {
        coating: product::coating_from_pb(request.coating.as_ref(), "coating", checks),
        panel_c: request.panel_c,
        air: request
            .air
            .as_ref()
            .map(|air| product::air_from_pb(air, "air", checks)),
        samples: samples(request, &times, axis),
        lamps: lamps(request, checks),
        start_hours: applied.map(|applied| axis.hours(applied)),
        forecast_from_hours: forecast_from.map(|from| axis.hours(from)),
        temperature_uncertainty_k: request.temperature_uncertainty_k,
        rate_uncertainty_percent: request.rate_uncertainty_percent,
        release: release_by.map(|by| Release {
            milestone,
            by_hours: axis.hours(by),
        }),
    };
    (input, axis)
}

/// Samples that are converted: one more than there may be, for the check to refuse.
const CONVERTED: usize = MOST_SAMPLES + 1;
/// Missing parts of samples that are named one by one.
const NAMED: usize = 20;

/// When the samples were taken; what is missing or no instant is noted.
fn sample_times(request: &v1::TimeCureRequest, checks: &mut Checks) -> Vec<Timestamp> {
    let mut bad = 0;
    let mut times = Vec::with_capacity(request.samples.len().min(CONVERTED));
    for (index, sample) in request.samples.iter().take(CONVERTED).enumerate() {
        let mut of_sample = Checks::new();
        let field = format!("samples[{index}].time");
        times.push(time::required(sample.time.as_ref(), &field, &mut of_sample));
        required(
            sample.panel_c,
            &format!("samples[{index}].panel_c"),
            &mut of_sample,
        );
        if let Err(lamella_calc::error::CalcError::Invalid(found)) = of_sample.finish() {
            bad += 1;
            if bad <= NAMED {
                checks.take(found);
            }
        }
    }
    checks.require(bad <= NAMED, "samples", || {
        format!("has {bad} entries without time or temperature; the first {NAMED} are named")
    });
    times
}

/// What is missing stands as NaN or 1970, and is named by now: under the same
/// field nothing is named twice.
fn samples(request: &v1::TimeCureRequest, times: &[Timestamp], axis: Axis) -> Vec<Sample> {
    let sample = |(sample, instant): (&v1::CureSample, &Timestamp)| Sample {
        at_hours: axis.hours(*instant),
        panel_c: sample.panel_c.unwrap_or(f64::NAN),
        relative_humidity_percent: sample.relative_humidity_percent,
    };
    request.samples.iter().zip(times).map(sample).collect()
}

fn lamps(request: &v1::TimeCureRequest, checks: &mut Checks) -> Vec<Lamp> {
    let mut lamp = |(index, lamp): (usize, &v1::CureLamp)| {
        let field = |name: &str| format!("lamps[{index}].{name}");
        Lamp {
            from_hours: required(lamp.from_hours, &field("from_hours"), checks),
            to_hours: required(lamp.to_hours, &field("to_hours"), checks),
            panel_c: required(lamp.panel_c, &field("panel_c"), checks),
        }
    };
    request
        .lamps
        .iter()
        .take(MOST_LAMPS + 1)
        .enumerate()
        .map(&mut lamp)
        .collect()
}

/// Dry, unless another is named.
fn release_milestone(request: &v1::TimeCureRequest, checks: &mut Checks) -> MilestoneKind {
    const FIELD: &str = "release_milestone";
    let known = v1::CureMilestoneKind::try_from(request.release_milestone);
    checks.require(known.is_ok(), FIELD, || {
        format!(
            "must be a known milestone, got {}",
            request.release_milestone
        )
    });
    let named = known.ok().and_then(product::milestone_kind_from_pb);
    checks.require(
        named.is_none() || request.release_by_time.is_some(),
        FIELD,
        || "must not be given without release_by_time".to_owned(),
    );
    named.unwrap_or(MilestoneKind::Dry)
}

pub(crate) fn to_pb(result: &CureResult, input: &CureInput, axis: Axis) -> v1::TimeCureResponse {
    let start = result.start_hours;
    let due = |after_hours: f64| {
        let hours = axis.begins.then_some(start + after_hours)?;
        axis.instant(hours).map(time::to_pb)
    };
    let milestone = |milestone: &Milestone| v1::CureMilestone {
        kind: product::milestone_kind_to_pb(milestone.kind).into(),
        after_hours: milestone.after_hours,
        due_time: due(milestone.after_hours),
        earliest_hours: Some(milestone.earliest_hours),
        latest_hours: Some(milestone.latest_hours),
        earliest_time: due(milestone.earliest_hours),
        latest_time: due(milestone.latest_hours),
        rests_on_forecast: milestone.rests_on_forecast,
    };
    v1::TimeCureResponse {
        rate: result.rate,
        milestones: result.milestones.iter().map(milestone).collect(),
        dew_point_c: result.dew_point_c,
        dew_margin_k: result.dew_margin_k,
        cautions: caution::all_to_pb(&result.cautions),
        model: result.model.clone(),
        latest_start_time: result
            .latest_start_hours
            .and_then(|hours| axis.instant(hours))
            .map(time::to_pb),
        mean_kinetic_c: result.mean_kinetic_c,
        start_time: due(0.0),
        temperature_uncertainty_k: result.temperature_uncertainty_k,
        rate_uncertainty_percent: result.rate_uncertainty_percent,
        coating: Some(product::coating_to_pb(&input.coating)),
    }
}

pub(crate) fn air_from_pb(request: &v1::DewPointRequest, checks: &mut Checks) -> AirInput {
    let humidity = "relative_humidity_percent";
    AirInput {
        air_c: required(request.air_c, "air_c", checks),
        relative_humidity_percent: required(request.relative_humidity_percent, humidity, checks),
        pressure_pa: request.pressure_pa,
        altitude_m: request.altitude_m,
    }
}

pub(crate) fn air_to_pb(result: &AirResult) -> v1::DewPointResponse {
    v1::DewPointResponse {
        dew_point_c: result.dew_point_c,
        wet_bulb_c: result.wet_bulb_c,
        humidity_ratio: result.humidity_ratio,
        absolute_humidity_g_per_m3: result.absolute_humidity_g_per_m3,
        dew_margin_k: result.dew_margin_k,
        cautions: caution::all_to_pb(&result.cautions),
        model: result.model.to_owned(),
        frost: result.frost,
        grains_per_lb: result.grains_per_lb,
        saturation_pa: result.saturation_pa,
        pressure_pa: result.pressure_pa,
    }
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;
    use jiff::{Timestamp, ToSpan as _};
    use lamella_calc::cure::time_cure;

    use super::*;

    fn asked(request: &v1::TimeCureRequest) -> v1::TimeCureResponse {
        let mut checks = Checks::new();
        let (input, axis) = from_pb(request, &mut checks);
        checks.finish().unwrap();
        to_pb(&time_cure(&input).unwrap(), &input, axis)
    }

    fn refused(request: &v1::TimeCureRequest) -> String {
        let mut checks = Checks::new();
        let (input, _) = from_pb(request, &mut checks);
        if let Err(lamella_calc::error::CalcError::Invalid(found)) = time_cure(&input) {
            checks.take(found);
        }
        checks.finish().unwrap_err().to_string()
    }

    /// A coating that dries in 24 h at 20 C, whatever the panel's temperature.
    fn a_day(applied: Option<&str>) -> v1::TimeCureRequest {
        v1::TimeCureRequest {
            coating: Some(v1::Coating {
                product: "two-year coating".to_owned(),
                dry_hours: Some(24.0),
                ..v1::Coating::default()
            }),
            panel_c: Some(20.0),
            applied_time: applied.map(|text| time::to_pb(text.parse().unwrap())),
            ..v1::TimeCureRequest::default()
        }
    }

    fn local(zone: &str, message: Option<&prost_types::Timestamp>) -> String {
        let instant = time::from_pb(message, "t", &mut Checks::new()).unwrap();
        instant
            .to_zoned_datetime(TimeZone::get(zone).unwrap())
            .datetime()
            .to_string()
    }

    /// Clocks change, by the IANA time zone database: Berlin on 29 March and 25 October 2026,
    /// New York on 8 March and 1 November 2026.
    #[test]
    fn a_day_of_cure_is_24_elapsed_hours_also_when_the_clocks_change() {
        for (zone, applied, due) in [
            (
                "Europe/Berlin",
                "2026-03-28T12:00:00+01:00",
                "2026-03-29T13:00:00",
            ),
            (
                "Europe/Berlin",
                "2026-10-24T12:00:00+02:00",
                "2026-10-25T11:00:00",
            ),
            (
                "America/New_York",
                "2026-03-07T12:00:00-05:00",
                "2026-03-08T13:00:00",
            ),
            (
                "America/New_York",
                "2026-10-31T12:00:00-04:00",
                "2026-11-01T11:00:00",
            ),
            (
                "Europe/Berlin",
                "2026-06-01T12:00:00+02:00",
                "2026-06-02T12:00:00",
            ),
        ] {
            let found = asked(&a_day(Some(applied)));
            assert_eq!(
                local(zone, found.milestones[0].due_time.as_ref()),
                due,
                "{applied}"
            );
        }
    }

    /// Backwards over the night of 25 October 2026 in Berlin, which has 25 hours.
    #[test]
    fn a_promise_runs_backwards_over_a_change_of_the_clocks() {
        let promised: Timestamp = "2026-10-25T12:00:00+01:00".parse().unwrap();
        let mut request = a_day(None);
        request.release_by_time = Some(time::to_pb(promised));
        let found = asked(&request);
        let start = found.latest_start_time.as_ref();
        assert_eq!(local("Europe/Berlin", start), "2026-10-24T13:00:00");
        // Nobody said when it was applied, so milestones have hours and no instants.
        assert_eq!(found.start_time, None);
        assert_eq!(found.milestones[0].due_time, None);
        assert!((found.milestones[0].after_hours - 24.0).abs() < 1e-12);
    }

    /// Hourly samples over the short night of 29 March 2026 in Berlin: 23 local hours a day, and
    /// 24 h at a steady 20 C are still 24 h.
    #[test]
    fn samples_over_a_change_of_the_clocks_count_elapsed_hours() {
        let first: Timestamp = "2026-03-28T12:00:00+01:00".parse().unwrap();
        let mut request = a_day(None);
        request.panel_c = None;
        request.samples = (0..40)
            .map(|hour| v1::CureSample {
                time: Some(time::to_pb(first + hour.hours())),
                panel_c: Some(20.0),
                relative_humidity_percent: None,
            })
            .collect();
        request.forecast_from_time = Some(time::to_pb(first + 10.hours()));
        let found = asked(&request);
        let dry = &found.milestones[0];
        assert_eq!(
            local("Europe/Berlin", dry.due_time.as_ref()),
            "2026-03-29T13:00:00"
        );
        assert!(dry.rests_on_forecast);
        assert_eq!(found.start_time, Some(time::to_pb(first)));
    }

    #[test]
    fn what_is_missing_is_named_once() {
        let mut request = a_day(None);
        request.panel_c = None;
        request.samples = vec![v1::CureSample::default()];
        request.lamps = vec![v1::CureLamp::default()];
        request.coating.as_mut().unwrap().humidity_response = Some(v1::HumidityResponse::default());
        let error = refused(&request);
        for field in [
            "samples[0].time: is required",
            "samples[0].panel_c: is required",
            "lamps[0].from_hours: is required",
            "lamps[0].panel_c: is required",
            "coating.humidity_response.reference_relative_humidity_percent: is required",
        ] {
            assert_eq!(error.matches(field).count(), 1, "{field} in {error}");
        }
        let mut request = a_day(None);
        request.panel_c = None;
        request.release_milestone = v1::CureMilestoneKind::Wash.into();
        let error = refused(&request);
        assert!(
            error.contains("panel_c: is required where no samples are given"),
            "{error}"
        );
        assert!(
            error.contains("release_milestone: must not be given without"),
            "{error}"
        );
    }
}
