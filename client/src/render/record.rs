//! A record as one line.

use std::fmt::Write as _;

use lamella_proto::v1;
use lamella_proto::v1::record::Entry;

use crate::names::clean;
use crate::text::{self, Edge, View};
use crate::units::number;

/// What was recorded, on one line, without its time.
pub(crate) fn line(record: &v1::Record, view: &View) -> String {
    let text = match &record.entry {
        Some(Entry::GaugeReadings(readings)) => gauge(readings, view),
        Some(Entry::Pass(pass)) => pass_line(pass, view),
        Some(Entry::Mix(mix)) => mix_line(mix, view),
        Some(Entry::FilmPiece(film)) => film_line(film, view),
        Some(Entry::CoatLayer(coat)) => coat_line(coat, view),
        Some(Entry::BayAir(air)) => air_line(air, view),
        Some(Entry::Labour(labour)) => labour_line(labour, view),
        Some(Entry::PartOff(part)) => {
            let fasteners = tail(", fasteners: ", &part.fasteners);
            format!(
                "off      {}, kept at {}{fasteners}",
                part.part, part.kept_at
            )
        }
        Some(Entry::PartRefit(part)) => format!("refit    {}{}", part.part, tail(": ", &part.note)),
        Some(Entry::Note(note)) => format!("note     {}{}", note.text, tail(" on ", &note.panel)),
        None => "an entry that this client does not know".to_owned(),
    };
    clean(&(text + &tail(", by ", &record.author)))
}

/// A record with its time and cautions, as shown after it was stored.
pub(crate) fn stored(record: &v1::Record, view: &View) -> String {
    let mut out = format!("{}\n", text::strong(&line(record, view)));
    let _ = writeln!(out, "{} {}", record.name, when(record, view));
    if let Some(Entry::CoatLayer(coat)) = &record.entry {
        out.push_str(&crate::commands::cure::milestones(&coat.milestones, view));
    }
    out + &text::cautions(&record.cautions)
}

/// A page of records, one to a line.
pub(crate) fn list(page: &v1::ListRecordsResponse, view: &View) -> String {
    if page.records.is_empty() && page.next_page_token.is_empty() {
        return "no records\n".to_owned();
    }
    let mut out = String::new();
    for record in &page.records {
        let _ = writeln!(out, "{}  {}", when(record, view), line(record, view));
    }
    out + &super::job::more(&page.next_page_token)
}

/// What a pass is made with, on one line.
pub(crate) fn setup_line(setup: &v1::Setup, view: &View) -> String {
    let items = [&setup.machine, &setup.pad, &setup.liquid];
    let names: Vec<String> = items
        .into_iter()
        .flatten()
        .map(|item| clean(&item.name))
        .collect();
    format!(
        "{}; speed {}, {}, {} s",
        names.join(", "),
        setup.speed,
        view.units.pressure(setup.pressure_kpa * 1_000.0),
        number(setup.seconds)
    )
}

fn when(record: &v1::Record, view: &View) -> String {
    record
        .record_time
        .as_ref()
        .map(|time| view.time(time))
        .unwrap_or_default()
}

fn gauge(readings: &v1::GaugeReadings, view: &View) -> String {
    let values = &readings.readings_um;
    let spot = tail(" at ", &readings.spot);
    let count = values.len();
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let range = match count {
        0 => "no reading".to_owned(),
        1 => view.units.thickness(low),
        _ => format!(
            "{count}, {} to {}",
            view.units.thickness(low),
            view.units.thickness(high)
        ),
    };
    format!(
        "readings {}{spot}: {range}{}",
        readings.panel,
        tail(", gauge ", &readings.gauge)
    )
}

fn pass_line(pass: &v1::Pass, view: &View) -> String {
    let outcome = text::words("PASS_OUTCOME_", pass.outcome().as_str_name());
    let setup = pass
        .setup
        .as_ref()
        .map(|setup| setup_line(setup, view))
        .unwrap_or_default();
    let mut text = format!("pass     {}: {outcome}; {setup}", pass.panel);
    if let Some(panel_c) = pass.panel_c {
        let _ = write!(text, "; panel {}", view.units.temperature(panel_c));
    }
    if let Some(removal_um) = pass.removal_um {
        let _ = write!(text, "; removed {}", view.units.thickness(removal_um));
    }
    text + &tail("; STOP RULE OVERRIDDEN: ", &pass.override_reason)
}

fn mix_line(mix: &v1::Mix, view: &View) -> String {
    let volume = |ml: Option<f64>| ml.map(|ml| view.units.volume(ml)).unwrap_or_default();
    let mut text = format!(
        "mix      {}: {} + {} water",
        mix.product,
        volume(mix.concentrate_ml),
        volume(mix.diluent_ml)
    );
    if let Some(percent) = mix.strength_percent {
        let _ = write!(text, ", {} %", number(percent));
    }
    text + &tail(", lot ", &mix.lot) + &tail(" on ", &mix.panels.join(", "))
}

fn film_line(film: &v1::FilmPiece, view: &View) -> String {
    let length = |mm: Option<f64>| mm.map(|mm| view.units.length(mm)).unwrap_or_default();
    let settled = match &film.settled_time {
        Some(time) => format!(", settled {}", view.minute(time, Edge::Opens)),
        None => String::new(),
    };
    format!(
        "film     {}: {} x {} of {}{}{}{settled}",
        film.panel,
        length(film.width_mm),
        length(film.length_mm),
        film.film,
        tail(", roll ", &film.roll),
        tail(", lot ", &film.lot)
    )
}

fn coat_line(coat: &v1::CoatLayer, view: &View) -> String {
    let product = coat
        .coating
        .as_ref()
        .map(|coating| coating.product.as_str())
        .unwrap_or_default();
    let panel = coat
        .panel_c
        .map(|c| format!(" at {}", view.units.temperature(c)));
    format!(
        "coat     {}: layer {} of {product}{}{}",
        coat.panels.join(", "),
        coat.layer.max(1),
        panel.unwrap_or_default(),
        tail(", lot ", &coat.lot)
    )
}

fn air_line(bay: &v1::BayAir, view: &View) -> String {
    let mut parts = Vec::new();
    let air = bay.air.unwrap_or_default();
    parts.extend(air.air_c.map(|c| view.units.temperature(c)));
    parts.extend(
        air.relative_humidity_percent
            .map(|rh| format!("{} % humidity", number(rh))),
    );
    parts.extend(
        bay.panel_c
            .map(|c| format!("panel {}", view.units.temperature(c))),
    );
    parts.extend(
        bay.dew_point_c
            .map(|c| format!("dew point {}", view.units.temperature(c))),
    );
    format!("air      {}", parts.join(", "))
}

fn labour_line(labour: &v1::Labour, view: &View) -> String {
    let time = |time: &Option<prost_types::Timestamp>| {
        time.as_ref()
            .map(|time| view.time(time))
            .unwrap_or_default()
    };
    format!(
        "labour   {}: {}, {} to {}",
        labour.worker,
        labour.activity,
        time(&labour.from_time),
        time(&labour.to_time)
    )
}

fn tail(before: &str, text: &str) -> String {
    if text.is_empty() {
        String::new()
    } else {
        format!("{before}{text}")
    }
}
