//! Cure timing and the dew point.

use jiff::{SignedDuration, Timestamp};
use lamella_calc::air::{AirInput, AirResult};
use lamella_calc::cure::{CureInput, CureResult};
use lamella_calc::violation::Checks;
use lamella_proto::v1;

use super::super::{caution, product, required, time};

/// The cure's input, and when the coating was applied.
pub(crate) fn from_pb(
    request: &v1::TimeCureRequest,
    checks: &mut Checks,
) -> (CureInput, Option<Timestamp>) {
    let input = CureInput {
        coating: product::coating_from_pb(request.coating.as_ref(), "coating", checks),
        panel_c: required(request.panel_c, "panel_c", checks),
        air: request.air.as_ref().map(|air| product::air_from_pb(air, "air", checks)),
    };
    (input, time::from_pb(request.applied_time.as_ref(), "applied_time", checks))
}

pub(crate) fn to_pb(result: &CureResult, applied: Option<Timestamp>) -> v1::TimeCureResponse {
    let due = |after_hours: f64| {
        let span = SignedDuration::try_from_secs_f64(after_hours * 3600.0).ok()?;
        applied?.checked_add(span).ok().map(time::to_pb)
    };
    v1::TimeCureResponse {
        rate: result.rate,
        milestones: result
            .milestones
            .iter()
            .map(|milestone| v1::CureMilestone {
                kind: product::milestone_kind_to_pb(milestone.kind).into(),
                after_hours: milestone.after_hours,
                due_time: due(milestone.after_hours),
            })
            .collect(),
        dew_point_c: result.dew_point_c,
        dew_margin_k: result.dew_margin_k,
        cautions: caution::all_to_pb(&result.cautions),
        model: result.model.to_owned(),
    }
}

pub(crate) fn air_from_pb(request: &v1::DewPointRequest, checks: &mut Checks) -> AirInput {
    let humidity = "relative_humidity_percent";
    AirInput {
        air_c: required(request.air_c, "air_c", checks),
        relative_humidity_percent: required(request.relative_humidity_percent, humidity, checks),
        pressure_pa: request.pressure_pa,
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
    }
}
