//! Booking, arrival, wash, measuring.

use jiff::SignedDuration;
use lamella_proto::v1::{self, record::Entry};

use super::{ID, add, advance, move_on, stage_name, timestamp};
use crate::demo::teller::{Teller, volume};

pub(super) async fn tell(teller: &mut Teller) -> anyhow::Result<()> {
    book(teller).await?;
    wash(teller).await?;
    measure(teller).await
}

async fn book(teller: &mut Teller) -> anyhow::Result<()> {
    teller.step(
        "A new car is booked in. Its roof is carbon laminate, its bumper plastic.",
        "vehicle new 'Blue estate' --id blue-estate --panel hood:steel:clear-coat:light:1.6m2 \
         --panel left-door:aluminium:clear-coat:good:0.9m2 \
         --panel roof:composite:clear-coat:moderate:1.7m2 \
         --panel front-bumper:plastic:clear-coat:good:1.2m2",
    );
    let panel =
        |id: &str, substrate: v1::Substrate, condition: v1::PanelCondition, area_m2| v1::Panel {
            panel_id: id.to_owned(),
            substrate: substrate.into(),
            finish: v1::Finish::ClearCoat.into(),
            condition: condition.into(),
            area_m2: Some(area_m2),
            ..v1::Panel::default()
        };
    let (good, light) = (v1::PanelCondition::Good, v1::PanelCondition::Light);
    let moderate = v1::PanelCondition::Moderate;
    let vehicle = v1::Vehicle {
        display_name: "Blue estate".to_owned(),
        panels: vec![
            panel("hood", v1::Substrate::Steel, light, 1.6),
            panel("left-door", v1::Substrate::Aluminium, good, 0.9),
            panel("roof", v1::Substrate::Composite, moderate, 1.7),
            panel("front-bumper", v1::Substrate::Plastic, good, 1.2),
        ],
        ..v1::Vehicle::default()
    };
    let request = v1::CreateVehicleRequest {
        vehicle: Some(vehicle),
        vehicle_id: ID.to_owned(),
        ..v1::CreateVehicleRequest::default()
    };
    let vehicle = teller.vehicles.create_vehicle(request).await?.into_inner();
    teller.answer(&format!(
        "{} with {} panels",
        vehicle.name,
        vehicle.panels.len()
    ));
    teller.command(
        "job new 'Blue estate' --id blue-estate --vehicle blue-estate \
         --service correct:hood,roof --service coat:hood,roof --service film:front-bumper \
         --wishes 'hazy roof, otherwise as new'",
    );
    let service = |code: &str, panels: &[&str]| v1::Service {
        code: code.to_owned(),
        panels: panels.iter().map(|&panel| panel.to_owned()).collect(),
        ..v1::Service::default()
    };
    let promise = teller.now() + SignedDuration::from_hours(60);
    let job = v1::Job {
        display_name: "Blue estate".to_owned(),
        vehicle: format!("vehicles/{ID}"),
        services: vec![
            service("correct", &["hood", "roof"]),
            service("coat", &["hood", "roof"]),
            service("film", &["front-bumper"]),
        ],
        wishes: "hazy roof, otherwise as new".to_owned(),
        promise_time: Some(timestamp(promise)),
        ..v1::Job::default()
    };
    let request = v1::CreateJobRequest {
        job: Some(job),
        job_id: ID.to_owned(),
        request_id: "demo-booking".to_owned(),
    };
    let job = teller.jobs.create_job(request.clone()).await?.into_inner();
    teller.answer(&format!(
        "{} is {}, promised for {promise:.0}",
        job.name,
        stage_name(job.stage())
    ));
    let again = teller.jobs.create_job(request).await?.into_inner();
    anyhow::ensure!(again == job, "a repeated request must return the same job");
    teller.answer("sent twice with the same request_id: the same job, once");
    move_on(teller).await
}

async fn wash(teller: &mut Teller) -> anyhow::Result<()> {
    teller.step(
        "Pre-wash through a foam lance: 1 % is wanted at the panel, the lance adds water.",
        "dilute --stock 100% --target 1% --total 1l --injector-water 7.6l/min \
         --injector-draw 0.3l/min --substance shampoo",
    );
    let request = v1::DiluteRequest {
        stock: percent(100.0),
        target: percent(1.0),
        total_ml: Some(1000.0),
        injector: Some(v1::Injector {
            water_l_per_min: Some(7.6),
            draw_l_per_min: Some(0.3),
        }),
        substance: v1::Substance::Shampoo.into(),
        ..v1::DiluteRequest::default()
    };
    let mix = teller.calculator.dilute(request).await?.into_inner();
    let injector = mix.injector.unwrap_or_default();
    teller.answer(&format!(
        "bottle: {} product + {} water = {:.1} %; the lance makes 1 in {:.1} of it, {:.2} % at the panel",
        volume(mix.concentrate_ml),
        volume(mix.diluent_ml),
        injector.bottle_percent,
        injector.water_parts + 1.0,
        injector.outlet_percent,
    ));
    teller.cautions(&mix.cautions);
    teller.command(&format!(
        "job add blue-estate mix --product 'water-based pre-wash concentrate' \
         --concentrate {0:.1}ml --water {1:.1}ml --strength {2:.1}%",
        mix.concentrate_ml, mix.diluent_ml, mix.strength_percent
    ));
    let entry = v1::Mix {
        product: "water-based pre-wash concentrate".to_owned(),
        concentrate_ml: Some(mix.concentrate_ml),
        diluent_ml: Some(mix.diluent_ml),
        strength_percent: Some(mix.strength_percent),
        ..v1::Mix::default()
    };
    add(teller, Entry::Mix(entry)).await?;
    Ok(())
}

async fn measure(teller: &mut Teller) -> anyhow::Result<()> {
    teller.step(
        "Is the paint judged? The gate says what is missing.",
        "job move blue-estate",
    );
    let early = advance(teller).await;
    teller.refused(early, &["PANEL_NOT_MEASURED"])?;
    teller.command("job add blue-estate readings --panel hood 108 111 107 112 110um");
    let readings = v1::GaugeReadings {
        panel: "hood".to_owned(),
        readings_um: vec![108.0, 111.0, 107.0, 112.0, 110.0],
        ..v1::GaugeReadings::default()
    };
    add(teller, Entry::GaugeReadings(readings)).await?;
    teller.answer("recorded");
    move_on(teller).await
}

pub(super) fn percent(percent: f64) -> Option<v1::Strength> {
    Some(v1::Strength {
        form: Some(v1::strength::Form::Percent(percent)),
    })
}
