//! `lamella cure`: when a coating may be wiped, recoated, driven, washed.

use std::fmt::Write as _;
use std::path::PathBuf;

use lamella_proto::v1;

use crate::chart::{self, Span};
use crate::commands::cure_args::{Apart, LampArg, ReleaseMilestone};
use crate::commands::shared::{AirArgs, CoatingArgs, instant};
use crate::commands::{cure_log, dew};
use crate::errors::CliError;
use crate::plot::{Chart, Curve, Mark};
use crate::session::Session;
use crate::text::{self, Edge, View};
use crate::times::{self, TimeArg};
use crate::units::{Percent, TemperatureC, number};

/// When a coating may be wiped, recoated, driven and washed.
///
/// Give the times of the product's own data sheet; they are scaled to the
/// panel's temperature, held, or logged and forecast in CSV files with the
/// columns time, temperature and perhaps rh.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella cure --product 'two-year coating' --dry 12h --wash 7d --panel 18C
  lamella cure --product 'two-year coating' --wipe 2min..5min --recoat 1h..24h --dry 12h \\
      --ea 60 --panel 18C --air 20C --rh 50 --at now
  lamella cure --product 'two-year coating' --dry 12h --wash 7d --ea 60 --log bay.csv \\
      --forecast night.csv --at 'today 16:00' --lamp 30min..1h@60C --panel-within 1.5K
  lamella cure --coating hard-coating --panel 17C
  lamella cure --product 'two-year coating' --dry 12h --ea 60 --panel 17C \\
      --release-by 'tomorrow 16:00'")]
pub(crate) struct Args {
    #[command(flatten)]
    coating: CoatingArgs,
    /// Panel temperature, held throughout: 18C, 65F.
    #[arg(
        long,
        value_name = "TEMPERATURE",
        visible_alias = "temp",
        allow_hyphen_values = true,
        required_unless_present_any = ["log", "forecast"],
        conflicts_with_all = ["log", "forecast"]
    )]
    panel: Option<TemperatureC>,
    #[command(flatten)]
    air: AirArgs,
    /// When it was applied: now, "today 17:00", RFC 3339. Without it, only
    /// hours are given, or it went on with the first line of the log.
    #[arg(long, value_name = "TIME")]
    at: Option<TimeArg>,
    /// CSV of what was logged: time, temperature, rh.
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,
    /// CSV of what is forecast; lines for times that were logged are left out.
    #[arg(long, value_name = "FILE")]
    forecast: Option<PathBuf>,
    /// A lamp, from and to after application: 30min..1h@60C. May be repeated.
    #[arg(long = "lamp", value_name = "FROM..TO@TEMPERATURE")]
    lamps: Vec<LampArg>,
    /// How far the panel's temperature may be off: 1.5K, 3F.
    #[arg(long, value_name = "DIFFERENCE")]
    panel_within: Option<Apart>,
    /// How far the rate of cure may be off, in percent.
    #[arg(long, value_name = "PERCENT")]
    rate_within: Option<Percent>,
    /// When the car was promised; gives the latest start.
    #[arg(long, value_name = "TIME")]
    release_by: Option<TimeArg>,
    /// What releases the car.
    #[arg(long, value_name = "MILESTONE", requires = "release_by")]
    release: Option<ReleaseMilestone>,
    /// Also draws temperatures and milestones into this file.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// Runs the command.
///
/// # Errors
/// The server's, a time outside the calendar, or a file that cannot be read or
/// written.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let (samples, forecast_from_time) =
        cure_log::samples(args.log.as_deref(), args.forecast.as_deref(), session)?;
    let release = args
        .release
        .map(|milestone| v1::CureMilestoneKind::from(milestone).into());
    let request = v1::TimeCureRequest {
        coating: Some(args.coating.to_proto()),
        panel_c: args.panel.map(|panel| panel.0),
        air: args.air.to_proto(),
        applied_time: instant(args.at, session)?,
        samples: samples.clone(),
        forecast_from_time,
        lamps: args.lamps.iter().copied().map(LampArg::to_proto).collect(),
        temperature_uncertainty_k: args.panel_within.map(|apart| apart.0),
        rate_uncertainty_percent: args.rate_within.map(|percent| percent.0),
        release_by_time: instant(args.release_by, session)?,
        release_milestone: release.unwrap_or_default(),
    };
    let mut calculators = session.calculators().await?;
    let answer = session
        .answer(calculators.time_cure(session.request(request)))
        .await?;
    if let Some(path) = &args.svg {
        drawing(&answer, &samples, args.panel.map(|panel| panel.0)).save(path)?;
    }
    session.show(&answer, |answer, view| render(answer, &samples, view))
}

fn render(answer: &v1::TimeCureResponse, samples: &[v1::CureSample], view: &View) -> String {
    let mut out = String::new();
    if let Some(latest) = &answer.latest_start_time {
        let line = format!("start by {}", view.minute(latest, Edge::Closes));
        let _ = writeln!(out, "{}", text::strong(&line));
    }
    out += &milestones(&answer.milestones, view);
    out += &timeline(answer, samples, view);
    let _ = writeln!(
        out,
        "rate of cure {} of that in the data sheet",
        number(answer.rate)
    );
    if let Some(kinetic_c) = answer.mean_kinetic_c {
        let shown = view.units.temperature(kinetic_c);
        let _ = writeln!(out, "these samples cure like a steady {shown}");
    }
    if let Some(dew_point_c) = answer.dew_point_c {
        let _ = writeln!(out, "dew point  {}", view.units.temperature(dew_point_c));
    }
    if let Some(margin_k) = answer.dew_margin_k {
        let _ = writeln!(out, "{}", dew::margin(margin_k, view));
    }
    out + &text::cautions(&answer.cautions) + &text::model(&answer.model)
}

/// The milestones on one axis, and the samples' temperatures above it.
fn timeline(answer: &v1::TimeCureResponse, samples: &[v1::CureSample], view: &View) -> String {
    let span = |milestone: &v1::CureMilestone| Span {
        name: words(milestone.kind()).to_owned(),
        from: milestone.earliest_hours.unwrap_or(milestone.after_hours),
        at: milestone.after_hours,
        to: milestone.latest_hours.unwrap_or(milestone.after_hours),
        dotted: milestone.rests_on_forecast,
    };
    let spans: Vec<Span> = answer.milestones.iter().map(span).collect();
    if spans.len() < 2 && samples.is_empty() {
        return String::new();
    }
    let drawn = chart::timeline(&spans, |hours| text::hours(hours, Edge::Closes));
    let temperatures: Vec<f64> = samples.iter().filter_map(|sample| sample.panel_c).collect();
    let low = temperatures.iter().copied().reduce(f64::min);
    let high = temperatures.iter().copied().reduce(f64::max);
    let curve = match (low, high) {
        (Some(low), Some(high)) => format!(
            "\n{}  {} to {}\n",
            chart::blocks(&temperatures),
            view.units.temperature(low),
            view.units.temperature(high)
        ),
        _ => String::new(),
    };
    format!("{curve}\n{drawn}\n")
}

/// Temperatures over hours after application, with the milestones.
fn drawing(
    answer: &v1::TimeCureResponse,
    samples: &[v1::CureSample],
    panel_c: Option<f64>,
) -> Chart {
    let last = answer
        .milestones
        .iter()
        .map(|m| m.latest_hours.unwrap_or(m.after_hours));
    let end = last.fold(0.0, f64::max);
    let instant = |time: &Option<prost_types::Timestamp>| times::from_proto(time.as_ref()?);
    let start = instant(&answer.start_time);
    let mut points: Vec<(f64, f64)> = samples
        .iter()
        .filter_map(|sample| {
            let since = instant(&sample.time)?.duration_since(start?);
            Some((since.as_secs_f64() / 3600.0, sample.panel_c?))
        })
        .collect();
    // What is held is drawn as held.
    if let Some(panel_c) = panel_c {
        points.push((0.0, panel_c));
    }
    if let Some((hours, held_c)) = points.last().copied().filter(|(hours, _)| *hours < end) {
        points.extend([(hours, held_c), (end, held_c)]);
    }
    let mark = |milestone: &v1::CureMilestone| Mark {
        name: words(milestone.kind()).to_owned(),
        at: [
            milestone.earliest_hours.unwrap_or(milestone.after_hours),
            milestone.after_hours,
            milestone.latest_hours.unwrap_or(milestone.after_hours),
        ],
    };
    let product = answer
        .coating
        .as_ref()
        .map_or("", |coating| coating.product.as_str());
    Chart {
        title: format!("Cure of {product}"),
        x: "hours after application".to_owned(),
        y: "panel, \u{b0}C".to_owned(),
        curves: vec![Curve {
            name: "panel without lamps".to_owned(),
            points,
        }],
        marks: answer.milestones.iter().map(mark).collect(),
    }
}

/// Milestones, one to a line; the one that lets the car out stands out.
pub(crate) fn milestones(milestones: &[v1::CureMilestone], view: &View) -> String {
    let rows: Vec<[String; 2]> = milestones
        .iter()
        .map(|milestone| {
            let edge = edge(milestone.kind());
            let after = text::hours(milestone.after_hours, edge);
            let when = match &milestone.due_time {
                Some(due) => format!("{}  (after {after})", view.minute(due, edge)),
                None => format!("after {after}"),
            };
            let when = when + &doubt(milestone, view);
            [words(milestone.kind()).to_owned(), when]
        })
        .collect();
    let table = text::table(&rows);
    let mut out = String::new();
    for (line, milestone) in table.lines().zip(milestones) {
        let dry = milestone.kind() == v1::CureMilestoneKind::Dry;
        let _ = writeln!(
            out,
            "{}",
            if dry {
                text::strong(line)
            } else {
                line.to_owned()
            }
        );
    }
    out
}

/// How sure a milestone is: the stretch it may lie in, and whether it rests on a
/// forecast.
fn doubt(milestone: &v1::CureMilestone, view: &View) -> String {
    let shown = |time: &Option<prost_types::Timestamp>, hours: f64, edge| match time {
        Some(time) => view.minute(time, edge),
        None => text::hours(hours, edge),
    };
    let mut out = String::new();
    if let (Some(from), Some(to)) = (milestone.earliest_hours, milestone.latest_hours)
        && to > from
    {
        let from = shown(&milestone.earliest_time, from, Edge::Closes);
        let to = shown(&milestone.latest_time, to, Edge::Opens);
        let _ = write!(out, ", {from} to {to}");
    }
    if milestone.rests_on_forecast {
        out.push_str(" (forecast)");
    }
    out
}

/// Whether something may begin or must be done at a milestone.
pub(crate) fn edge(kind: v1::CureMilestoneKind) -> Edge {
    match kind {
        v1::CureMilestoneKind::WipeClose | v1::CureMilestoneKind::RecoatClose => Edge::Closes,
        v1::CureMilestoneKind::Unspecified
        | v1::CureMilestoneKind::WipeOpen
        | v1::CureMilestoneKind::RecoatOpen
        | v1::CureMilestoneKind::Dry
        | v1::CureMilestoneKind::Wash
        | v1::CureMilestoneKind::FullCure => Edge::Opens,
    }
}

/// A kind of milestone in words.
pub(crate) fn words(kind: v1::CureMilestoneKind) -> &'static str {
    match kind {
        v1::CureMilestoneKind::Unspecified => "another milestone",
        v1::CureMilestoneKind::WipeOpen => "wipe or level from",
        v1::CureMilestoneKind::WipeClose => "wipe or level by",
        v1::CureMilestoneKind::RecoatOpen => "next layer from",
        v1::CureMilestoneKind::RecoatClose => "next layer by",
        v1::CureMilestoneKind::Dry => "road and rain from",
        v1::CureMilestoneKind::Wash => "wash from",
        v1::CureMilestoneKind::FullCure => "fully cured",
    }
}

#[cfg(test)]
mod tests {
    use lamella_proto::v1::{CureMilestone, CureMilestoneKind, Severity};

    use super::*;
    use crate::text::tests::{caution, plain, view};
    use crate::units::System;

    fn milestone(kind: CureMilestoneKind, after_hours: f64, due: Option<i64>) -> CureMilestone {
        let due_time = due.map(|seconds| prost_types::Timestamp { seconds, nanos: 0 });
        CureMilestone {
            kind: kind.into(),
            after_hours,
            due_time,
            ..Default::default()
        }
    }

    // 1772442000 is 2 March 2026, 10:00 in Berlin.
    #[test]
    fn milestones_dew_and_cautions() {
        let answer = v1::TimeCureResponse {
            rate: 0.85,
            milestones: vec![
                milestone(CureMilestoneKind::WipeOpen, 0.05, Some(1_772_442_000 + 180)),
                milestone(
                    CureMilestoneKind::Dry,
                    14.1176,
                    Some(1_772_442_000 + 50_823),
                ),
                milestone(CureMilestoneKind::Wash, 197.65, None),
            ],
            dew_point_c: Some(9.27),
            dew_margin_k: Some(8.73),
            cautions: vec![caution(
                Severity::Info,
                "DATA_SHEET",
                "The data sheet rules.",
            )],
            model: "Arrhenius, 60 kJ/mol".to_owned(),
            ..Default::default()
        };
        insta::assert_snapshot!(plain(&render(&answer, &[], &view(System::Metric))), @"
        wipe or level from  Mon 2026-03-02 10:03  (after 3 min)
        road and rain from  Tue 2026-03-03 00:08  (after 14 h 8 min)
        wash from           after 8 d 5 h 39 min

        wipe or level from  ●················································
        road and rain from  ·································●···············
        wash from           ················································●
                            3 min                              8 d 5 h 39 min

        rate of cure 0.85 of that in the data sheet
        dew point  9.3 °C (48.7 °F)
        panel      8.7 K (15.7 °F) above the dew point

        NOTE     The data sheet rules.
                 [DATA_SHEET] common practice, no source

        Arrhenius, 60 kJ/mol
        ");
    }

    #[test]
    fn doubt_forecast_and_latest_start_are_shown() {
        let at = |seconds| Some(prost_types::Timestamp { seconds, nanos: 0 });
        let answer = v1::TimeCureResponse {
            rate: 0.85,
            milestones: vec![
                milestone(CureMilestoneKind::WipeOpen, 0.05, Some(1_772_442_000 + 180)),
                CureMilestone {
                    earliest_hours: Some(12.0),
                    latest_hours: Some(16.5),
                    earliest_time: at(1_772_442_000 + 43_200),
                    latest_time: at(1_772_442_000 + 59_400),
                    rests_on_forecast: true,
                    ..milestone(CureMilestoneKind::Dry, 14.0, Some(1_772_442_000 + 50_400))
                },
            ],
            latest_start_time: at(1_772_442_000),
            mean_kinetic_c: Some(18.69),
            ..Default::default()
        };
        let samples: Vec<v1::CureSample> = [15.0, 17.0, 25.0, 20.0]
            .map(|panel_c| v1::CureSample {
                panel_c: Some(panel_c),
                ..Default::default()
            })
            .to_vec();
        insta::assert_snapshot!(plain(&render(&answer, &samples, &view(System::Us))), @"
        start by Mon 2026-03-02 10:00
        wipe or level from  Mon 2026-03-02 10:03  (after 3 min)
        road and rain from  Tue 2026-03-03 00:00  (after 14 h), Mon 2026-03-02 22:00 to Tue 2026-03-03 02:30 (forecast)

        ▁▂█▄  59 °F (15 °C) to 77 °F (25 °C)

        wipe or level from  ●················································
        road and rain from  ·············································╌╌●╌
                            3 min                                 16 h 30 min

        rate of cure 0.85 of that in the data sheet
        these samples cure like a steady 65.6 °F (18.7 °C)
        ");
    }
}
