//! Wipe-down, film, coating.

use lamella_proto::v1::{self, record::Entry};

use super::add;
use super::arrival::percent;
use crate::demo::teller::{Teller, length, temperature, volume};

pub(super) async fn tell(teller: &mut Teller) -> anyhow::Result<()> {
    wipe_down(teller).await?;
    film(teller).await?;
    coat(teller).await
}

async fn wipe_down(teller: &mut Teller) -> anyhow::Result<()> {
    teller.step(
        "Wipe-down: 91 % alcohol to 35 %, one litre.",
        "dilute --stock 91% --target 35% --total 1000ml --substance isopropyl-alcohol",
    );
    let request = v1::DiluteRequest {
        stock: percent(91.0),
        target: percent(35.0),
        total_ml: Some(1000.0),
        substance: v1::Substance::IsopropylAlcohol.into(),
        ..v1::DiluteRequest::default()
    };
    let mix = teller.calculator.dilute(request).await?.into_inner();
    teller.answer(&format!(
        "{} stock + {} water",
        volume(mix.concentrate_ml),
        volume(mix.diluent_ml)
    ));
    teller.cautions(&mix.cautions);
    teller.command(&format!(
        "job add blue-estate mix --product 'alcohol wipe-down' --concentrate {:.1}ml --water {:.1}ml \
         --strength 35% --panel hood,roof",
        mix.concentrate_ml, mix.diluent_ml
    ));
    let entry = v1::Mix {
        product: "alcohol wipe-down".to_owned(),
        concentrate_ml: Some(mix.concentrate_ml),
        diluent_ml: Some(mix.diluent_ml),
        strength_percent: Some(35.0),
        panels: vec!["hood".to_owned(), "roof".to_owned()],
        ..v1::Mix::default()
    };
    add(teller, Entry::Mix(entry)).await?;
    Ok(())
}

async fn film(teller: &mut Teller) -> anyhow::Result<()> {
    teller.step(
        "Film for the bumper: how much to pull, from which roll?",
        "film --piece 'bumper-face=1650mmx420mm+15mm' --piece 'bumper-corner*2=380mmx300mm+10mm' \
         --roll wide=1524mm --roll offcut=760mmx2m --margin 25mm --gap 5mm --may-rotate",
    );
    let piece = |name: &str, width_mm, height_mm, overwrap_mm, quantity| v1::FilmShape {
        piece: name.to_owned(),
        shape: Some(v1::film_shape::Shape::Rectangle(v1::Rectangle {
            width_mm,
            height_mm,
        })),
        overwrap_mm: vec![overwrap_mm],
        quantity,
        may_rotate: true,
    };
    let roll = |name: &str, width_mm, length_mm| v1::FilmRoll {
        roll: name.to_owned(),
        width_mm: Some(width_mm),
        length_mm,
        ..v1::FilmRoll::default()
    };
    let request = v1::MeasureFilmRequest {
        pieces: vec![
            piece("bumper-face", 1650.0, 420.0, 15.0, 1),
            piece("bumper-corner", 380.0, 300.0, 10.0, 2),
        ],
        rolls: vec![
            roll("wide", 1524.0, None),
            roll("offcut", 760.0, Some(2000.0)),
        ],
        handling_margin_mm: 25.0,
        gap_mm: 5.0,
    };
    let measured = teller.calculator.measure_film(request).await?.into_inner();
    for layout in &measured.layouts {
        teller.answer(&format!(
            "{}: pull {}, {:.2} m2 used of {:.2} m2, {:.0} % waste",
            layout.roll,
            length(layout.length_to_pull_mm),
            layout.used_m2,
            layout.pulled_m2,
            layout.waste_percent
        ));
    }
    for refusal in &measured.refusals {
        teller.answer(&format!("{}: no, {}", refusal.roll, refusal.message));
    }
    teller.cautions(&measured.cautions);
    anyhow::ensure!(!measured.layouts.is_empty(), "no roll takes the pieces");
    teller.command(
        "job add blue-estate film --panel front-bumper --film 'clear gloss film' --roll wide \
         --width 500mm --length 1730mm --settle 12h",
    );
    let entry = v1::FilmPiece {
        panel: "front-bumper".to_owned(),
        film: "clear gloss film".to_owned(),
        roll: "wide".to_owned(),
        width_mm: Some(500.0),
        length_mm: Some(1730.0),
        settle_hours: Some(12.0),
        ..v1::FilmPiece::default()
    };
    add(teller, Entry::FilmPiece(entry)).await?;
    teller.answer("recorded");
    Ok(())
}

async fn coat(teller: &mut Teller) -> anyhow::Result<()> {
    teller.step("Is the bay dry enough to coat?", "dew 20C 62% --panel 18C");
    let request = v1::DewPointRequest {
        air_c: Some(20.0),
        relative_humidity_percent: Some(62.0),
        panel_c: Some(18.0),
        ..v1::DewPointRequest::default()
    };
    let dew = teller.calculator.dew_point(request).await?.into_inner();
    teller.answer(&format!(
        "dew point {}, the panel is {:.1} K ({:.1} F) above it",
        temperature(dew.dew_point_c),
        dew.dew_margin_k(),
        dew.dew_margin_k() * 1.8
    ));
    teller.cautions(&dew.cautions);
    teller.step(
        "One layer of coating on hood and roof.",
        "job add blue-estate coat --panel hood,roof --product 'two-year coating' \
         --wipe 2min..6min --recoat 1h..6h --dry 10h --wash 7d --ea 50 --temp 18C --air 20C --rh 62",
    );
    let coat = v1::CoatLayer {
        panels: vec!["hood".to_owned(), "roof".to_owned()],
        coating: Some(v1::Coating {
            product: "two-year coating".to_owned(),
            temperature_response: Some(v1::coating::TemperatureResponse::ActivationEnergyKjPerMol(
                50.0,
            )),
            wipe_earliest_minutes: Some(2.0),
            wipe_latest_minutes: Some(6.0),
            recoat_open_hours: Some(1.0),
            recoat_close_hours: Some(6.0),
            dry_hours: Some(10.0),
            wash_hours: Some(168.0),
            ..v1::Coating::default()
        }),
        panel_c: Some(18.0),
        air: Some(v1::Air {
            air_c: Some(20.0),
            relative_humidity_percent: Some(62.0),
            ..v1::Air::default()
        }),
        ..v1::CoatLayer::default()
    };
    let record = add(teller, Entry::CoatLayer(coat)).await?;
    let Some(Entry::CoatLayer(coat)) = record.entry else {
        anyhow::bail!("the record came back as something else: {record:?}")
    };
    anyhow::ensure!(
        coat.milestones.len() == 6,
        "milestones are missing: {coat:?}"
    );
    for milestone in &coat.milestones {
        let kind = milestone
            .kind()
            .as_str_name()
            .trim_start_matches("CURE_MILESTONE_KIND_");
        let after = if milestone.after_hours < 1.0 {
            format!("{:.0} min", milestone.after_hours * 60.0)
        } else {
            format!("{:.1} h", milestone.after_hours)
        };
        teller.answer(&format!(
            "{:<13} after {after}",
            kind.replace('_', " ").to_lowercase()
        ));
    }
    Ok(())
}
