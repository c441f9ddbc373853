//! `lamella heat`: how warm polishing makes a panel, and what reaches a temperature.

use std::fmt::Write as _;
use std::path::PathBuf;

use lamella_proto::v1;

use crate::commands::choices::Substrate;
use crate::commands::heat_chart;
use crate::commands::heat_spec::{DifferenceK, Orbit, Reading, SectionCm2, Step, rotary};
use crate::errors::CliError;
use crate::names::clean;
use crate::session::Session;
use crate::text::{self, View};
use crate::units::{LengthMm, TemperatureC, ThicknessUm, number};

/// How warm polishing makes a panel, and how much longer or harder reaches a
/// temperature.
///
/// With readings of the panel the heat of this pad and liquid is fitted to
/// them; without, it is assumed and may be off by a factor of two.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella heat --substrate steel --start 20C --air 20C --pad 125mm --orbit 15mm@4000 \\
      --step 60s:3kPa --step 30s:pause --step 60s:3kPa --target 29C
  lamella heat --substrate plastic --start 68F --air 68F --pad 5in --rotary 1200 \\
      --step 45s:0.3psi --step 1min:pause --step 45s:0.3psi --read 45s:77F --read 105s:73F \\
      --svg heat.svg")]
pub(crate) struct Args {
    /// What the panel is made of.
    #[arg(long, value_enum)]
    substrate: Option<Substrate>,
    /// Thickness of the panel without paint: 0.7mm. [default: the server's, by
    /// substrate]
    #[arg(long, value_name = "LENGTH")]
    thickness: Option<LengthMm>,
    /// Paint on it: 120um, 4.7mil. [default: the server's]
    #[arg(long, value_name = "THICKNESS")]
    paint: Option<ThicknessUm>,
    /// Working within a hand's width of an edge, a crease or a swage line.
    #[arg(long)]
    edge: bool,
    /// Panel temperature at the beginning.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    start: TemperatureC,
    /// Air temperature.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    air: TemperatureC,
    /// Pad diameter: 125mm, 5in.
    #[arg(long, value_name = "LENGTH")]
    pad: LengthMm,
    /// A pad that only turns, in turns per minute.
    #[arg(long, value_name = "TURNS", conflicts_with_all = ["orbit", "turns"], required_unless_present = "orbit")]
    rotary: Option<f64>,
    /// A pad that orbits: diameter of the orbit and orbits per minute.
    #[arg(long, value_name = "LENGTH@ORBITS")]
    orbit: Option<Orbit>,
    /// How often an orbiting pad also turns, per minute. [default: 0]
    #[arg(long, value_name = "TURNS", requires = "orbit")]
    turns: Option<f64>,
    /// Work or a pause, in order; repeat.
    #[arg(long, value_name = "TIME:PRESSURE|TIME:pause", required = true)]
    step: Vec<Step>,
    /// Section that is worked: 40cmx40cm. [default: the server's]
    #[arg(long, value_name = "WIDTHxHEIGHT")]
    section: Option<SectionCm2>,
    /// How far the hand moves the pad in a second: 50mm. [default: the server's]
    #[arg(long, value_name = "LENGTH")]
    hand: Option<LengthMm>,
    /// A temperature that was read, with the time since the first step began; repeat.
    #[arg(long, value_name = "TIME:TEMPERATURE")]
    read: Vec<Reading>,
    /// Standard deviation of one reading. [default: the scatter of the readings]
    #[arg(long, value_name = "DIFFERENCE", requires = "read")]
    read_sd: Option<DifferenceK>,
    /// Friction coefficient of pad on paint. [default: the server's]
    #[arg(long, value_name = "NUMBER", conflicts_with = "read")]
    friction: Option<f64>,
    /// Share of the heat that the panel takes, up to 1. [default: the server's]
    #[arg(long, value_name = "NUMBER", conflicts_with = "read")]
    share: Option<f64>,
    /// Cooling of the worked face, W/(m² K). [default: the server's]
    #[arg(long, value_name = "NUMBER")]
    front_cooling: Option<f64>,
    /// Cooling of the hidden face, W/(m² K). [default: none]
    #[arg(long, value_name = "NUMBER")]
    back_cooling: Option<f64>,
    /// Temperature that the last step with pressure is to reach.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    target: Option<TemperatureC>,
    /// Panel temperature never to pass. [default: the server's, by substrate]
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    ceiling: Option<TemperatureC>,
    /// Also write a chart to this file.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// Runs the command.
///
/// # Errors
/// The server's, or a chart that cannot be written.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let svg = args.svg.clone();
    let mut calculators = session.calculators().await?;
    let request = session.request(request(args));
    let answer = session.answer(calculators.predict_heat(request)).await?;
    if let Some(path) = svg {
        heat_chart::svg(&answer).save(&path)?;
    }
    session.show(&answer, render)
}

fn request(args: Args) -> v1::PredictHeatRequest {
    let motion = match (args.rotary, args.orbit) {
        (Some(turns), _) => Some(rotary(turns)),
        (None, Some(orbit)) => Some(orbit.motion(args.turns)),
        (None, None) => None,
    };
    v1::PredictHeatRequest {
        panel: Some(v1::HeatPanel {
            substrate: args.substrate.map(i32::from).unwrap_or_default(),
            thickness_mm: args.thickness.map(|length| length.0),
            paint_um: args.paint.map(|paint| paint.0),
            front_h_w_per_m2_k: args.front_cooling,
            back_h_w_per_m2_k: args.back_cooling,
        }),
        start_c: Some(args.start.0),
        air_c: Some(args.air.0),
        motion,
        pad_mm: Some(args.pad.0),
        area_cm2: args.section.map(|section| section.0),
        arm_mm_per_s: args.hand.map(|hand| hand.0),
        friction: args.friction,
        share_to_panel: args.share,
        segments: args.step.into_iter().map(|step| step.0).collect(),
        observations: args.read.into_iter().map(|reading| reading.0).collect(),
        reading_sd_k: args.read_sd.map(|sd| sd.0),
        target_c: args.target.map(|target| target.0),
        ceiling_c: args.ceiling.map(|ceiling| ceiling.0),
        edge: args.edge,
    }
}

fn render(answer: &v1::PredictHeatResponse, view: &View) -> String {
    let mut out = hottest(answer, view);
    if let Some(target) = &answer.target {
        out.push_str(&target_lines(target, view));
    }
    out.push('\n');
    out.push_str(&segments(&answer.segments, view));
    out.push_str(&heat_chart::line(&answer.curve, view));
    out.push_str(&basis(answer, view));
    out + &text::cautions(&answer.cautions) + &text::model(&answer.model)
}

/// The answer in one line: how hot, and how far below the ceiling.
fn hottest(answer: &v1::PredictHeatResponse, view: &View) -> String {
    let peaks = answer
        .segments
        .iter()
        .filter_map(|segment| Some((segment, segment.peak?)));
    let Some((segment, peak)) = peaks.max_by(|a, b| a.1.panel_c.total_cmp(&b.1.panel_c)) else {
        return String::new();
    };
    let side = if segment.headroom_k < 0.0 {
        "above"
    } else {
        "below"
    };
    let ceiling_c = answer.used.as_ref().map_or(f64::NAN, |used| used.ceiling_c);
    let line = format!(
        "panel peaks at {}, {} {side} its ceiling of {}",
        view.units.temperature(peak.panel_c),
        view.units.difference(segment.headroom_k.abs()),
        view.units.temperature(ceiling_c)
    );
    format!(
        "{}\n95 %           {}\n",
        text::strong(&line),
        interval(&peak, view)
    )
}

fn interval(temperature: &v1::HeatTemperature, view: &View) -> String {
    format!(
        "{} to {}",
        view.units.temperature(temperature.low_c),
        view.units.temperature(temperature.high_c)
    )
}

/// How to reach the target, both ways.
fn target_lines(target: &v1::HeatTarget, view: &View) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "target         {} in step {}, {} below the ceiling",
        view.units.temperature(target.target_c),
        target.segment,
        view.units.difference(target.below_ceiling_k)
    );
    let upper = |high_below_ceiling_k: f64| {
        let side = if high_below_ceiling_k < 0.0 {
            "above"
        } else {
            "below"
        };
        let apart = view.units.difference(high_below_ceiling_k.abs());
        format!("95 % upper end {apart} {side} the ceiling")
    };
    let longer = match &target.longer {
        Some(longer) => {
            let seconds = longer.seconds.ceil();
            let extra = seconds - (longer.seconds - longer.extra_s);
            format!(
                "{} s at the same pressure ({}{} s); {}",
                number(seconds),
                if extra < 0.0 { "" } else { "+" },
                number(extra),
                upper(longer.high_below_ceiling_k)
            )
        }
        None => "not reached at this pressure within 600 s".to_owned(),
    };
    let harder = match &target.harder {
        Some(harder) => format!(
            "{} in the same time ({} times); {}",
            view.units.pressure(harder.pressure_kpa * 1_000.0),
            number((harder.times * 100.0).round() / 100.0),
            upper(harder.high_below_ceiling_k)
        ),
        None => "no sensible pressure reaches it in the same time".to_owned(),
    };
    let _ = writeln!(out, "  by time      {longer}\n  by pressure  {harder}");
    out
}

/// One row for each step.
fn segments(segments: &[v1::HeatSegmentResult], view: &View) -> String {
    let head = [
        "step",
        "time",
        "speed",
        "heat",
        "ends at",
        "peak",
        "just under the pad",
    ];
    let mut rows = vec![head.map(str::to_owned)];
    for (segment, step) in segments.iter().zip(1..) {
        let at = |temperature: Option<v1::HeatTemperature>| {
            temperature.map_or_else(|| "-".to_owned(), |t| view.units.temperature(t.panel_c))
        };
        let work = segment.flux_w_per_m2 > 0.0;
        let worked = |text: String| if work { text } else { "-".to_owned() };
        rows.push([
            format!("{step}"),
            format!("{} s", number(segment.seconds)),
            worked(format!("{:.2} m/s", segment.speed_m_per_s)),
            worked(format!("{:.0} W/m²", segment.flux_w_per_m2)),
            at(segment.end),
            at(segment.peak),
            worked(format!(
                "+{} for a moment",
                view.units.difference(segment.under_pad_k)
            )),
        ]);
    }
    text::table(&rows)
}

/// What the prediction rests on.
fn basis(answer: &v1::PredictHeatResponse, view: &View) -> String {
    let mut out = String::from("\n");
    if let Some(factor) = &answer.factor {
        let how = match factor.basis() {
            v1::HeatFactorBasis::Unspecified => "of unknown origin",
            v1::HeatFactorBasis::Assumed => "assumed",
            v1::HeatFactorBasis::Fitted => "fitted to the readings",
        };
        let _ = writeln!(
            out,
            "heat factor    {} ({} to {}), {how}",
            number(factor.factor),
            number(factor.low),
            number(factor.high)
        );
        if let Some(scatter_k) = factor.residual_sd_k {
            let _ = writeln!(out, "scatter        {}", view.units.difference(scatter_k));
        }
    }
    if let Some(used) = &answer.used {
        let _ = writeln!(
            out,
            "panel          {} thick under {} of paint; {}",
            view.units.length(used.thickness_mm),
            view.units.thickness(used.paint_um),
            clean(&used.material)
        );
        let _ = writeln!(
            out,
            "section        {} cm², of which the pad covers {} %",
            number(used.area_cm2),
            number((used.swept_ratio * 1_000.0).round() / 10.0)
        );
    }
    if let Some(tau_s) = answer.tau_s {
        let _ = writeln!(
            out,
            "cools with     a time constant of {} s",
            number(tau_s.round())
        );
    }
    out
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    fn temperature(panel_c: f64) -> Option<v1::HeatTemperature> {
        Some(v1::HeatTemperature {
            panel_c,
            low_c: panel_c - 2.0,
            high_c: panel_c + 2.0,
        })
    }

    pub(crate) fn answer() -> v1::PredictHeatResponse {
        let point = |after_s, panel_c| v1::HeatPoint {
            after_s,
            temperature: temperature(panel_c),
        };
        v1::PredictHeatResponse {
            used: Some(v1::HeatInputsUsed {
                thickness_mm: 0.7,
                paint_um: 120.0,
                material: "steel".to_owned(),
                area_cm2: 1600.0,
                swept_ratio: 0.0767,
                ceiling_c: 50.0,
                ..v1::HeatInputsUsed::default()
            }),
            factor: Some(v1::HeatFactor {
                factor: 0.4,
                low: 0.3,
                high: 0.5,
                basis: v1::HeatFactorBasis::Fitted.into(),
                residual_sd_k: Some(0.5),
                ..v1::HeatFactor::default()
            }),
            segments: vec![
                v1::HeatSegmentResult {
                    seconds: 60.0,
                    speed_m_per_s: 2.5,
                    flux_w_per_m2: 195.2,
                    peak: temperature(25.0),
                    end: temperature(25.0),
                    under_pad_k: 3.2,
                    headroom_k: 25.0,
                    ..v1::HeatSegmentResult::default()
                },
                v1::HeatSegmentResult {
                    start_s: 60.0,
                    seconds: 30.0,
                    peak: temperature(25.0),
                    end: temperature(24.0),
                    headroom_k: 25.0,
                    ..v1::HeatSegmentResult::default()
                },
            ],
            curve: vec![point(0.0, 20.0), point(60.0, 25.0), point(90.0, 24.0)],
            target: Some(v1::HeatTarget {
                segment: 1,
                target_c: 27.0,
                below_ceiling_k: 23.0,
                longer: Some(v1::HeatLonger {
                    seconds: 84.2,
                    extra_s: 24.2,
                    then: temperature(27.0),
                    high_below_ceiling_k: 21.0,
                }),
                harder: None,
            }),
            tau_s: Some(172.4),
            ..v1::PredictHeatResponse::default()
        }
    }

    #[test]
    fn an_answer_in_both_units() {
        insta::assert_snapshot!(plain(&render(&answer(), &view(System::Metric))));
    }
}
