//! `lamella cure`: when a coating may be wiped, recoated, driven, washed.

use std::fmt::Write as _;

use lamella_proto::v1;

use crate::commands::dew;
use crate::commands::shared::{AirArgs, CoatingArgs, instant};
use crate::errors::CliError;
use crate::session::Session;
use crate::text::{self, Edge, View};
use crate::times::TimeArg;
use crate::units::{TemperatureC, number};

/// When a coating may be wiped, recoated, driven and washed.
///
/// Give the times of the product's own data sheet; they are scaled to the
/// panel's temperature.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella cure --product 'two-year coating' --dry 12h --wash 7d --panel 18C
  lamella cure --product 'two-year coating' --wipe 2min..5min --recoat 1h..24h --dry 12h \\
      --ea 60 --panel 18C --air 20C --rh 50 --at now")]
pub(crate) struct Args {
    #[command(flatten)]
    coating: CoatingArgs,
    /// Panel temperature, held throughout: 18C, 65F.
    #[arg(
        long,
        value_name = "TEMPERATURE",
        visible_alias = "temp",
        allow_hyphen_values = true
    )]
    panel: TemperatureC,
    #[command(flatten)]
    air: AirArgs,
    /// When it was applied: now, "today 17:00", RFC 3339. Without it, only
    /// hours are given.
    #[arg(long, value_name = "TIME")]
    at: Option<TimeArg>,
}

/// Runs the command.
///
/// # Errors
/// The server's, or a time outside the calendar.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let request = v1::TimeCureRequest {
        coating: Some(args.coating.to_proto()),
        panel_c: Some(args.panel.0),
        air: args.air.to_proto(),
        applied_time: instant(args.at, session)?,
    };
    let mut calculators = session.calculators().await?;
    let answer = session
        .answer(calculators.time_cure(session.request(request)))
        .await?;
    session.show(&answer, render)
}

fn render(answer: &v1::TimeCureResponse, view: &View) -> String {
    let mut out = milestones(&answer.milestones, view);
    let _ = writeln!(
        out,
        "rate of cure {} of that in the data sheet",
        number(answer.rate)
    );
    if let Some(dew_point_c) = answer.dew_point_c {
        let _ = writeln!(out, "dew point  {}", view.units.temperature(dew_point_c));
    }
    if let Some(margin_k) = answer.dew_margin_k {
        let _ = writeln!(out, "{}", dew::margin(margin_k, view));
    }
    out + &text::cautions(&answer.cautions) + &text::model(&answer.model)
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
        };
        insta::assert_snapshot!(plain(&render(&answer, &view(System::Metric))), @"
        wipe or level from  Mon 2026-03-02 10:03  (after 3 min)
        road and rain from  Tue 2026-03-03 00:08  (after 14 h 8 min)
        wash from           after 8 d 5 h 39 min
        rate of cure 0.85 of that in the data sheet
        dew point  9.3 °C (48.7 °F)
        panel      8.7 K (15.7 °F) above the dew point

        NOTE     The data sheet rules.
                 [DATA_SHEET] common practice, no source

        Arrhenius, 60 kJ/mol
        ");
    }
}
