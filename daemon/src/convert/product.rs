//! Setups, coatings and air: what the calculators and the records share.

use lamella_calc::air::AirInput;
use lamella_calc::cure::coating::MOST_RATE_POINTS;
use lamella_calc::cure::{
    CoatingData, HumidityResponse, MilestoneKind, RatePoint, RecoatWindow, TemperatureResponse,
    WipeWindow,
};
use lamella_calc::violation::Checks;
use lamella_jobs::check::{self, join};
use lamella_jobs::record::{DueMilestone, PassSetup, RankedItem};
use lamella_proto::v1;

use super::{required, time};

/// Panel temperature at which a coating's times hold unless its data say
/// otherwise, Celsius.
const DEFAULT_REFERENCE_C: f64 = 20.0;

pub(crate) fn pass_setup_from_pb(
    setup: Option<&v1::Setup>,
    path: &str,
    checks: &mut Checks,
) -> PassSetup {
    checks.require(setup.is_some(), path, || "is required".to_owned());
    let Some(setup) = setup else {
        return PassSetup::default();
    };
    PassSetup {
        machine: item_from_pb(setup.machine.as_ref()),
        pad: item_from_pb(setup.pad.as_ref()),
        liquid: item_from_pb(setup.liquid.as_ref()),
        speed: setup.speed,
        pressure_kpa: setup.pressure_kpa,
        seconds: setup.seconds,
    }
}

/// A missing item becomes a nameless one, which the checks name.
fn item_from_pb(item: Option<&v1::RankedItem>) -> RankedItem {
    item.map(|item| RankedItem {
        name: item.name.clone(),
        rank: item.rank,
    })
    .unwrap_or_default()
}

pub(crate) fn pass_setup_to_pb(setup: &PassSetup) -> v1::Setup {
    let item = |item: &RankedItem| v1::RankedItem {
        name: item.name.clone(),
        rank: item.rank,
    };
    v1::Setup {
        machine: Some(item(&setup.machine)),
        pad: Some(item(&setup.pad)),
        liquid: Some(item(&setup.liquid)),
        speed: setup.speed,
        pressure_kpa: setup.pressure_kpa,
        seconds: setup.seconds,
    }
}

pub(crate) fn air_from_pb(air: &v1::Air, path: &str, checks: &mut Checks) -> AirInput {
    let humidity = join(path, "relative_humidity_percent");
    AirInput {
        air_c: required(air.air_c, &join(path, "air_c"), checks),
        relative_humidity_percent: required(air.relative_humidity_percent, &humidity, checks),
        pressure_pa: air.pressure_pa,
        altitude_m: air.altitude_m,
    }
}

pub(crate) fn air_to_pb(air: &AirInput) -> v1::Air {
    v1::Air {
        air_c: Some(air.air_c),
        relative_humidity_percent: Some(air.relative_humidity_percent),
        pressure_pa: air.pressure_pa,
        altitude_m: air.altitude_m,
    }
}

pub(crate) fn coating_from_pb(
    coating: Option<&v1::Coating>,
    path: &str,
    checks: &mut Checks,
) -> CoatingData {
    checks.require(coating.is_some(), path, || "is required".to_owned());
    let missing = v1::Coating {
        product: "none".to_owned(),
        dry_hours: Some(1.0),
        ..v1::Coating::default()
    };
    let coating = coating.unwrap_or(&missing);
    check::text(checks, &join(path, "product"), &coating.product, 1, 200);
    let wipe = pair(
        (coating.wipe_earliest_minutes, "wipe_earliest_minutes"),
        (coating.wipe_latest_minutes, "wipe_latest_minutes"),
        path,
        checks,
    );
    let recoat = pair(
        (coating.recoat_open_hours, "recoat_open_hours"),
        (coating.recoat_close_hours, "recoat_close_hours"),
        path,
        checks,
    );
    CoatingData {
        name: coating.product.clone(),
        reference_c: coating.reference_c.unwrap_or(DEFAULT_REFERENCE_C),
        temperature_response: temperature_response_from_pb(coating, path, checks),
        humidity_response: coating.humidity_response.as_ref().map(|response| {
            let humidity = "humidity_response.reference_relative_humidity_percent";
            HumidityResponse {
                reference_relative_humidity_percent: required(
                    response.reference_relative_humidity_percent,
                    &join(path, humidity),
                    checks,
                ),
                exponent: response.exponent.unwrap_or(1.0),
            }
        }),
        wipe: wipe.map(|(earliest, latest)| WipeWindow {
            earliest_minutes: earliest,
            latest_minutes: latest,
        }),
        recoat: recoat.map(|(open, close)| RecoatWindow {
            open_hours: open,
            close_hours: close,
        }),
        dry_hours: required(coating.dry_hours, &join(path, "dry_hours"), checks),
        wash_hours: coating.wash_hours,
        full_cure_hours: coating.full_cure_hours,
        min_panel_c: coating.min_panel_c,
        max_panel_c: coating.max_panel_c,
        min_relative_humidity_percent: coating.min_relative_humidity_percent,
        max_relative_humidity_percent: coating.max_relative_humidity_percent,
    }
}

fn temperature_response_from_pb(
    coating: &v1::Coating,
    path: &str,
    checks: &mut Checks,
) -> Option<TemperatureResponse> {
    use v1::coating::TemperatureResponse as Message;
    let response = match coating.temperature_response.as_ref()? {
        Message::ActivationEnergyKjPerMol(energy) => TemperatureResponse::Arrhenius {
            activation_energy_kj_per_mol: *energy,
        },
        Message::Q10(factor) => TemperatureResponse::Q10 { factor: *factor },
        Message::RateTable(table) => {
            // One more than a table may have is enough for its check to refuse it.
            let points = table.points.iter().take(MOST_RATE_POINTS + 1).enumerate();
            let mut point = |(index, point): (usize, &v1::RatePoint)| {
                let field = |name: &str| join(path, &format!("rate_table.points[{index}].{name}"));
                RatePoint {
                    panel_c: required(point.panel_c, &field("panel_c"), checks),
                    rate: required(point.rate, &field("rate"), checks),
                }
            };
            TemperatureResponse::Table {
                points: points.map(&mut point).collect(),
            }
        }
    };
    Some(response)
}

/// Both ends of a window, or none; one end alone is noted.
fn pair(
    (first, first_name): (Option<f64>, &str),
    (second, second_name): (Option<f64>, &str),
    path: &str,
    checks: &mut Checks,
) -> Option<(f64, f64)> {
    checks.require(
        first.is_some() || second.is_none(),
        join(path, first_name),
        || format!("is required when {second_name} is set"),
    );
    checks.require(
        second.is_some() || first.is_none(),
        join(path, second_name),
        || format!("is required when {first_name} is set"),
    );
    first.zip(second)
}

pub(crate) fn coating_to_pb(coating: &CoatingData) -> v1::Coating {
    v1::Coating {
        product_id: String::new(),
        product: coating.name.clone(),
        reference_c: Some(coating.reference_c),
        temperature_response: coating
            .temperature_response
            .as_ref()
            .map(temperature_response_to_pb),
        wipe_earliest_minutes: coating.wipe.map(|wipe| wipe.earliest_minutes),
        wipe_latest_minutes: coating.wipe.map(|wipe| wipe.latest_minutes),
        recoat_open_hours: coating.recoat.map(|recoat| recoat.open_hours),
        recoat_close_hours: coating.recoat.map(|recoat| recoat.close_hours),
        dry_hours: Some(coating.dry_hours),
        wash_hours: coating.wash_hours,
        full_cure_hours: coating.full_cure_hours,
        min_panel_c: coating.min_panel_c,
        max_panel_c: coating.max_panel_c,
        min_relative_humidity_percent: coating.min_relative_humidity_percent,
        max_relative_humidity_percent: coating.max_relative_humidity_percent,
        humidity_response: coating
            .humidity_response
            .map(|response| v1::HumidityResponse {
                reference_relative_humidity_percent: Some(
                    response.reference_relative_humidity_percent,
                ),
                exponent: Some(response.exponent),
            }),
    }
}

fn temperature_response_to_pb(response: &TemperatureResponse) -> v1::coating::TemperatureResponse {
    use v1::coating::TemperatureResponse as Message;
    match response {
        TemperatureResponse::Arrhenius {
            activation_energy_kj_per_mol,
        } => Message::ActivationEnergyKjPerMol(*activation_energy_kj_per_mol),
        TemperatureResponse::Q10 { factor } => Message::Q10(*factor),
        TemperatureResponse::Table { points } => Message::RateTable(v1::RateTable {
            points: points
                .iter()
                .map(|point| v1::RatePoint {
                    panel_c: Some(point.panel_c),
                    rate: Some(point.rate),
                })
                .collect(),
        }),
    }
}

pub(crate) fn milestone_kind_to_pb(kind: MilestoneKind) -> v1::CureMilestoneKind {
    match kind {
        MilestoneKind::WipeOpen => v1::CureMilestoneKind::WipeOpen,
        MilestoneKind::WipeClose => v1::CureMilestoneKind::WipeClose,
        MilestoneKind::RecoatOpen => v1::CureMilestoneKind::RecoatOpen,
        MilestoneKind::RecoatClose => v1::CureMilestoneKind::RecoatClose,
        MilestoneKind::Dry => v1::CureMilestoneKind::Dry,
        MilestoneKind::Wash => v1::CureMilestoneKind::Wash,
        MilestoneKind::FullCure => v1::CureMilestoneKind::FullCure,
    }
}

pub(crate) fn milestone_kind_from_pb(kind: v1::CureMilestoneKind) -> Option<MilestoneKind> {
    match kind {
        v1::CureMilestoneKind::Unspecified => None,
        v1::CureMilestoneKind::WipeOpen => Some(MilestoneKind::WipeOpen),
        v1::CureMilestoneKind::WipeClose => Some(MilestoneKind::WipeClose),
        v1::CureMilestoneKind::RecoatOpen => Some(MilestoneKind::RecoatOpen),
        v1::CureMilestoneKind::RecoatClose => Some(MilestoneKind::RecoatClose),
        v1::CureMilestoneKind::Dry => Some(MilestoneKind::Dry),
        v1::CureMilestoneKind::Wash => Some(MilestoneKind::Wash),
        v1::CureMilestoneKind::FullCure => Some(MilestoneKind::FullCure),
    }
}

pub(crate) fn milestone_to_pb(milestone: &DueMilestone) -> v1::CureMilestone {
    v1::CureMilestone {
        kind: milestone_kind_to_pb(milestone.kind).into(),
        after_hours: milestone.after_hours,
        due_time: milestone.due_time.map(time::to_pb),
        ..v1::CureMilestone::default()
    }
}

pub(crate) fn milestone_from_pb(
    milestone: &v1::CureMilestone,
    checks: &mut Checks,
) -> Option<DueMilestone> {
    Some(DueMilestone {
        kind: milestone_kind_from_pb(milestone.kind())?,
        after_hours: milestone.after_hours,
        due_time: time::from_pb(milestone.due_time.as_ref(), "milestones.due_time", checks),
    })
}
