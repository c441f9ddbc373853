//! `lamella advise`: which polishing step comes next, or why to stop.

use std::fmt::Write as _;
use std::str::FromStr;

use lamella_proto::v1;

use crate::commands::choices::{Goal, PassOutcome, Substrate};
use crate::commands::setup::{Rung, SpecError, whole, word};
use crate::errors::CliError;
use crate::names::clean;
use crate::render::record::setup_line;
use crate::session::Session;
use crate::text::{self, View};
use crate::units::{DurationS, Percent, TemperatureC, ThicknessUm, number};

/// Which polishing step comes next, least aggressive first, or why to stop.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella advise --substrate steel --clear 45um
  lamella advise --substrate composite --ceiling 95F --pass 1:80.6F:improved --pass 2:87.3F:improved
  lamella advise --substrate steel --clear 1.8mil --pass 1:-:unchanged:0.5um
  lamella advise --goal remove-defect --substrate steel --clear 55um --clear-sd 3um --defect 1.5um \\
    --now 22C --explain
  lamella advise --goal warm-and-level --substrate steel --clear 55um --ceiling 45C \\
    --pass 1:22C..27C:unchanged")]
pub(crate) struct Args {
    /// What the panel is made of.
    #[arg(long, value_enum)]
    substrate: Option<Substrate>,
    /// Working within a hand's width of an edge, a crease or a swage line.
    #[arg(long)]
    edge: bool,
    /// Clear coat before any pass: 40um, 1.6mil. Without it the thickness is
    /// unknown, which caps the advice.
    #[arg(long, value_name = "THICKNESS")]
    clear: Option<ThicknessUm>,
    /// Clear coat that must stay. [default: the server's]
    #[arg(long, value_name = "THICKNESS")]
    floor: Option<ThicknessUm>,
    /// Panel temperature never to pass. [default: the server's, by substrate]
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    ceiling: Option<TemperatureC>,
    /// What the passes are for. [default: none; the ladder's plain rules choose]
    #[arg(long, value_enum)]
    goal: Option<Goal>,
    /// How well the clear coat is known, as a standard uncertainty. [default:
    /// the server's, with a goal]
    #[arg(long, value_name = "THICKNESS", requires = "clear")]
    clear_sd: Option<ThicknessUm>,
    /// How deep the defect is, by estimate, before any pass.
    #[arg(long, value_name = "DEPTH")]
    defect: Option<ThicknessUm>,
    /// How well a removal is measured, as a standard uncertainty. [default: the
    /// server's]
    #[arg(long, value_name = "THICKNESS")]
    gauge_sd: Option<ThicknessUm>,
    /// Confidence that the floor is kept. [default: the server's]
    #[arg(long, value_name = "PERCENT")]
    confidence: Option<Percent>,
    /// Time left for this section: 4min, 90s.
    #[arg(long, value_name = "TIME")]
    time_left: Option<DurationS>,
    /// Panel temperature from which the clear coat levels. [default: the
    /// server's, below the ceiling]
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    target: Option<TemperatureC>,
    /// Show the sums behind the answer.
    #[arg(long)]
    explain: bool,
    /// A pass made so far, oldest first: rung, highest panel temperature (or -,
    /// or FROM..TO with that at its start), outcome (cleared, improved,
    /// unchanged, worse), removal if measured.
    #[arg(long, value_name = "RUNG:TEMPERATURE:OUTCOME[:REMOVAL]")]
    pass: Vec<Done>,
    /// Panel temperature now, after it has cooled. [default: that of the last
    /// pass]
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    now: Option<TemperatureC>,
    /// A rung of your own ladder, gentlest first; repeat. [default: the
    /// server's ladder]
    #[arg(
        long,
        value_name = "MACHINE@RANK/PAD@RANK/LIQUID@RANK/SPEED/PRESSURE/TIME"
    )]
    rung: Vec<Rung>,
    /// Climb the ladder in the shop's product lists.
    #[arg(long, conflicts_with = "rung")]
    shop_setups: bool,
    /// Why to go past a stop rule. It is recorded with the answer.
    #[arg(long, value_name = "REASON")]
    r#override: Option<String>,
}

/// A pass made so far, as typed.
#[derive(Debug, Clone, PartialEq)]
struct Done(v1::PassDone);

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut calculators = session.calculators().await?;
    let request = session.request(v1::AdvisePassRequest {
        substrate: args.substrate.map(i32::from).unwrap_or_default(),
        edge: args.edge,
        clear_um: args.clear.map(|clear| clear.0),
        floor_um: args.floor.map(|floor| floor.0),
        ceiling_c: args.ceiling.map(|ceiling| ceiling.0),
        panel_now_c: args.now.map(|now| now.0),
        passes: args.pass.into_iter().map(|pass| pass.0).collect(),
        ladder: args.rung.into_iter().map(|rung| rung.0).collect(),
        override_reason: args.r#override.unwrap_or_default(),
        goal: args.goal.map(i32::from).unwrap_or_default(),
        clear_sd_um: args.clear_sd.map(|sd| sd.0),
        defect_um: args.defect.map(|defect| defect.0),
        gauge_sd_um: args.gauge_sd.map(|sd| sd.0),
        time_left_s: args.time_left.map(|left| left.0),
        target_c: args.target.map(|target| target.0),
        floor_confidence_percent: args.confidence.map(|confidence| confidence.0),
        shop_setups: args.shop_setups,
    });
    let answer = session.answer(calculators.advise_pass(request)).await?;
    session.show(&answer, |answer, view| render(answer, args.explain, view))
}

impl FromStr for Done {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let parts: Vec<&str> = text.split(':').collect();
        let (rung, temperature, outcome, removal) = match parts[..] {
            [rung, temperature, outcome] => (rung, temperature, outcome, None),
            [rung, temperature, outcome, removal] => (rung, temperature, outcome, Some(removal)),
            _ => {
                return Err(SpecError::Form {
                    given: text.to_owned(),
                    form: "RUNG:TEMPERATURE:OUTCOME[:REMOVAL], for example 1:80.6F:improved",
                });
            }
        };
        let measured = |text: &str| match text.trim() {
            "-" => Ok(None),
            measured => measured.parse::<TemperatureC>().map(|found| Some(found.0)),
        };
        let (start_c, panel_c) = match temperature.split_once("..") {
            Some((start, end)) => (measured(start)?, measured(end)?),
            None => (None, measured(temperature)?),
        };
        Ok(Self(v1::PassDone {
            rung: whole(rung, "rung")?,
            start_c,
            panel_c,
            removal_um: removal
                .map(str::parse::<ThicknessUm>)
                .transpose()?
                .map(|um| um.0),
            outcome: word::<PassOutcome>(outcome)?.into(),
        }))
    }
}

fn render(answer: &v1::AdvisePassResponse, explain: bool, view: &View) -> String {
    let mut out = String::new();
    let action = text::words("ADVICE_ACTION_", answer.action().as_str_name()).to_uppercase();
    let rung = match answer.rung {
        0 => String::new(),
        rung => format!(": rung {rung} of {}", answer.rungs),
    };
    let _ = writeln!(out, "{}", text::strong(&format!("{action}{rung}")));
    if let Some(setup) = &answer.setup {
        let _ = writeln!(out, "{}", text::strong(&setup_line(setup, view)));
    }
    let _ = writeln!(out, "{}", clean(&answer.sentence));
    match answer.step() {
        v1::StepSize::Unspecified => {}
        size @ (v1::StepSize::Half | v1::StepSize::Full) => {
            let size = text::words("STEP_SIZE_", size.as_str_name());
            let factor = text::words("FACTOR_", answer.changed().as_str_name());
            let _ = writeln!(out, "a {size} step: only the {factor} changes");
        }
    }
    if answer.cap_rung > 0 {
        let _ = writeln!(out, "no higher than rung {} here", answer.cap_rung);
    }
    out.push_str(&heat(answer, view));
    out.push_str(&clear_coat(answer, view));
    let reasons = match answer.stops.as_slice() {
        [] => answer.reason.clone(),
        stops => format!(
            "{}; stop rules that hold: {}",
            answer.reason,
            stops.join(", ")
        ),
    };
    let _ = writeln!(out, "reason   {}", clean(&reasons));
    if !answer.overridden.is_empty() {
        let _ = writeln!(
            out,
            "{}",
            text::strong(&format!("OVERRIDDEN: {}", clean(&answer.overridden)))
        );
    }
    // Without a goal there is nothing to weigh the passes by.
    if answer.goal() != v1::Goal::Unspecified || explain {
        out.push_str(&alternatives(&answer.alternatives, view));
    }
    if explain && !answer.explain.is_empty() {
        let lines: Vec<String> = answer.explain.iter().map(|line| clean(line)).collect();
        let _ = writeln!(out, "\nsums\n  {}", lines.join("\n  "));
    }
    out + &text::cautions(&answer.cautions) + &text::model(&answer.model)
}

/// The passes that were weighed, one row each.
fn alternatives(passes: &[v1::Alternative], view: &View) -> String {
    if passes.is_empty() {
        return String::new();
    }
    let head = [
        "rung",
        "change",
        "removes (90 %)",
        "ends at (90 %)",
        "time",
        "passes",
        "chance",
        "",
    ];
    let mut rows = vec![head.map(str::to_owned)];
    rows.extend(passes.iter().map(|pass| row(pass, view)));
    format!("\n{}\n", text::table(&rows).trim_end())
}

fn row(pass: &v1::Alternative, view: &View) -> [String; 8] {
    let units = view.units;
    let none = || "-".to_owned();
    let change = match pass.changed() {
        v1::Factor::Unspecified => none(),
        factor @ (v1::Factor::Machine
        | v1::Factor::Pad
        | v1::Factor::Liquid
        | v1::Factor::Speed
        | v1::Factor::Pressure
        | v1::Factor::Time) => text::words("FACTOR_", factor.as_str_name()),
    };
    let removes = format!(
        "{} ({} to {} µm)",
        units.thickness(pass.removal_um),
        number(pass.removal_low_um),
        number(pass.removal_high_um)
    );
    let ends = pass.panel_c.map_or_else(none, |panel_c| {
        let ends = units.temperature(panel_c);
        match pass.panel_low_c.zip(pass.panel_high_c) {
            Some((low_c, high_c)) => format!("{ends} ({low_c:.0} to {high_c:.0} °C)"),
            None => ends,
        }
    });
    let chance = pass.chance_percent.map_or_else(none, |percent| {
        format!("{percent:.0} % in {}", pass.passes_left)
    });
    [
        pass.rung.to_string(),
        change,
        removes,
        ends,
        format!("{} s", number(pass.seconds)),
        pass.expected_passes
            .map_or_else(none, |passes| passes.to_string()),
        chance,
        clean(&pass.reasons.join(", ")),
    ]
}

fn heat(answer: &v1::AdvisePassResponse, view: &View) -> String {
    let mut out = format!("ceiling  {}", view.units.temperature(answer.ceiling_c));
    if let Some(headroom_k) = answer.headroom_k {
        let side = if headroom_k < 0.0 { "above" } else { "below" };
        let _ = write!(
            out,
            "; the panel is {} {side} it",
            view.units.difference(headroom_k.abs())
        );
    }
    if let Some(predicted_c) = answer.predicted_panel_c {
        let _ = write!(
            out,
            "; {} expected next",
            view.units.temperature(predicted_c)
        );
    }
    out + "\n"
}

fn clear_coat(answer: &v1::AdvisePassResponse, view: &View) -> String {
    let units = view.units;
    let left = match answer.removal_budget_um {
        Some(budget_um) => format!("{} may still go", units.thickness(budget_um)),
        None => "thickness unknown".to_owned(),
    };
    let mut out = format!(
        "clear    {left}; {} gone so far",
        units.thickness(answer.removed_um)
    );
    if answer.removed_assumed_um > 0.0 {
        let _ = write!(
            out,
            ", {} of it assumed",
            units.thickness(answer.removed_assumed_um)
        );
    }
    if let Some(expected_um) = answer.expected_removal_um {
        let _ = write!(out, "; {} expected next", units.thickness(expected_um));
    }
    let _ = writeln!(out, "; {} must stay", units.thickness(answer.floor_um));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    #[test]
    fn passes_as_typed() {
        let done = |text: &str| text.parse::<Done>().map(|done| done.0);
        let pass = done("2:95F:improved:1um").unwrap();
        assert_eq!(
            (pass.rung, pass.panel_c, pass.removal_um),
            (2, Some(35.0), Some(1.0))
        );
        assert_eq!(pass.outcome(), v1::PassOutcome::Improved);
        assert_eq!(done("1:-:cleared").unwrap().panel_c, None);
        let pass = done("1:20C..26C:improved").unwrap();
        assert_eq!((pass.start_c, pass.panel_c), (Some(20.0), Some(26.0)));
        let wrong = ["1:80F", "one:80F:improved", "1:80:improved", "1:80F:better"]
            .map(|text| done(text).unwrap_err().to_string());
        insta::assert_snapshot!(wrong.join("\n"), @"
        `1:80F` is not of the form RUNG:TEMPERATURE:OUTCOME[:REMOVAL], for example 1:80.6F:improved
        `one` is not a whole number; it stands for the rung
        `80` has no unit; write 80C or 80F
        `better` is none of: cleared, improved, unchanged, worse
        ");
    }

    #[test]
    fn the_sentence_comes_first() {
        let item = |name: &str, rank| {
            Some(v1::RankedItem {
                name: name.to_owned(),
                rank,
            })
        };
        let answer = v1::AdvisePassResponse {
            action: v1::AdviceAction::StepUp.into(),
            rung: 3,
            setup: Some(v1::Setup {
                machine: item("dual action", 1),
                pad: item("soft foam", 1),
                liquid: item("fine polish", 1),
                speed: 5,
                pressure_kpa: 10.0,
                seconds: 20.0,
            }),
            changed: v1::Factor::Speed.into(),
            step: v1::StepSize::Half.into(),
            reason: "IMPROVED_NOT_CLEARED".to_owned(),
            sentence: "better, not gone: raise the speed".to_owned(),
            removal_budget_um: None,
            removed_um: 1.5,
            headroom_k: Some(4.28),
            predicted_panel_c: Some(34.4),
            ceiling_c: 35.0,
            floor_um: 25.0,
            rungs: 12,
            overridden: String::new(),
            cautions: Vec::new(),
            stops: vec!["CEILING".to_owned()],
            cap_rung: 4,
            removed_assumed_um: 0.5,
            expected_removal_um: Some(0.4),
            model: "straight line through the last two passes".to_owned(),
            ..v1::AdvisePassResponse::default()
        };
        insta::assert_snapshot!(plain(&render(&answer, false, &view(System::Us))), @"
        STEP UP: rung 3 of 12
        dual action, soft foam, fine polish; speed 5, 1.45 psi (10 kPa), 20 s
        better, not gone: raise the speed
        a half step: only the speed changes
        no higher than rung 4 here
        ceiling  95 °F (35 °C); the panel is 7.7 °F (4.3 K) below it; 93.9 °F (34.4 °C) expected next
        clear    thickness unknown; 0.059 mil (1.5 µm) gone so far, 0.02 mil (0.5 µm) of it assumed; 0.016 mil (0.4 µm) expected next; 0.98 mil (25 µm) must stay
        reason   IMPROVED_NOT_CLEARED; stop rules that hold: CEILING

        straight line through the last two passes
        ");
    }

    #[test]
    fn alternatives_and_sums_on_request() {
        let answer = v1::AdvisePassResponse {
            goal: v1::Goal::RemoveDefect.into(),
            alternatives: vec![v1::Alternative {
                rung: 4,
                changed: v1::Factor::Pressure.into(),
                removal_um: 0.42,
                removal_low_um: 0.2,
                removal_high_um: 0.75,
                panel_c: Some(30.0),
                panel_low_c: Some(25.0),
                panel_high_c: Some(35.0),
                seconds: 45.0,
                expected_passes: Some(3),
                passes_left: 3,
                chance_percent: Some(61.2),
                reasons: vec!["ADVISED".to_owned(), "REACHES_GOAL".to_owned()],
                ..v1::Alternative::default()
            }],
            explain: vec!["time: 90 s left".to_owned()],
            ..v1::AdvisePassResponse::default()
        };
        let shown = |explain| plain(&render(&answer, explain, &view(System::Us)));
        assert!(!shown(false).contains("time: 90 s left"));
        let table = shown(true);
        let table = table.lines().skip(6).collect::<Vec<_>>().join("\n");
        insta::assert_snapshot!(table, @"
        rung  change    removes (90 %)                       ends at (90 %)               time  passes  chance
        4     pressure  0.017 mil (0.4 µm) (0.2 to 0.75 µm)  86 °F (30 °C) (25 to 35 °C)  45 s  3       61 % in 3  ADVISED, REACHES_GOAL

        sums
          time: 90 s left
        ");
    }
}
