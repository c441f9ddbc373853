//! `lamella paint` and `lamella removal`: what paint gauge readings say.

use lamella_proto::v1;

use crate::commands::choices::GaugePrinciple;
use crate::commands::paint_spec::{LayerSpec, PanelSpec, RemovedSpec, SpotSpec, ThicknessRange};
use crate::errors::CliError;
use crate::render;
use crate::session::Session;
use crate::units::{Percent, ThicknessUm};

/// What a gauge's data sheet says of it: its limit of error is --gauge-error
/// plus --gauge-percent of the reading.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Gauge")]
pub(crate) struct GaugeArgs {
    /// Fixed part of the gauge's limit of error. [default: 2um]
    #[arg(long, value_name = "THICKNESS")]
    gauge_error: Option<ThicknessUm>,
    /// Part of the limit that grows with the reading, in percent. [default: 3%]
    #[arg(long, value_name = "PERCENT")]
    gauge_percent: Option<Percent>,
    /// Smallest step of the display. [default: 1um]
    #[arg(long, value_name = "THICKNESS")]
    gauge_step: Option<ThicknessUm>,
    /// How it senses; a combined gauge has more than one.
    #[arg(long, value_enum, value_delimiter = ',', value_name = "PRINCIPLE")]
    principle: Vec<GaugePrinciple>,
}

/// What gauge readings say of a car's panels: earlier work, the clear coat, and
/// how much of it may be removed.
///
/// Readings are `[PANEL/][SPOT=]READING ...`; the panel may be left out where there
/// is only one. In a row of readings the last one's unit holds for those before
/// it. Give all panels that were read: they are compared with each other.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella paint --panel hood:steel --readings '108 111 107um'
  lamella paint --panel hood:steel --panel door:aluminium --readings 'hood/front=4.2 4.4 4.3mil' \\
      --readings 'hood/rear=4.1 4.2 4.1mil' --readings 'door/4.5 4.4 4.6mil' --target 3.5..6mil")]
pub(crate) struct Args {
    /// A panel with its material and finish; repeat for more.
    #[arg(long, value_name = "PANEL[:SUBSTRATE[:FINISH]]", required = true)]
    panel: Vec<PanelSpec>,
    /// Readings of one spot; repeat for more.
    #[arg(long, value_name = "[PANEL/][SPOT=]READING...")]
    readings: Vec<SpotSpec>,
    /// Clear coat taken off before these readings, with its standard uncertainty
    /// after a ~; repeat for more panels.
    #[arg(long, value_name = "[PANEL=]THICKNESS[~THICKNESS]")]
    removed: Vec<RemovedSpec>,
    /// The total thickness asked for.
    #[arg(long, value_name = "FROM..TO")]
    target: Option<ThicknessRange>,
    /// A layer as made, in place of the built-in ones; one must be clear.
    #[arg(long, value_name = "KIND:MEAN:SD")]
    layer: Vec<LayerSpec>,
    /// Clear coat that must stay. [default: 30um]
    #[arg(long, value_name = "THICKNESS")]
    floor: Option<ThicknessUm>,
    #[command(flatten)]
    gauge: GaugeArgs,
}

/// What came off between readings before and after, or that it cannot be told.
///
/// Spots are paired by name. In a row of readings the last one's unit holds for
/// those before it.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella removal --before 'a=112 113 111um' --after 'a=106 107 106um'")]
pub(crate) struct RemovalArgs {
    /// Readings of one spot before; repeat for more.
    #[arg(long, value_name = "[SPOT=]READING...", required = true)]
    before: Vec<SpotSpec>,
    /// Readings of one spot after; repeat for more.
    #[arg(long, value_name = "[SPOT=]READING...", required = true)]
    after: Vec<SpotSpec>,
    /// Two different gauges were used.
    #[arg(long)]
    two_gauges: bool,
    #[command(flatten)]
    gauge: GaugeArgs,
}

/// Runs `lamella paint`.
///
/// # Errors
/// Readings of a panel that is not given; the server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let request = args.into_request()?;
    let mut calculators = session.calculators().await?;
    let call = calculators.assess_paint(session.request(request));
    let answer = session.answer(call).await?;
    session.show(&answer, render::paint::assessed)
}

/// Runs `lamella removal`.
///
/// # Errors
/// The server's.
pub(crate) async fn removal(args: RemovalArgs, session: &Session) -> Result<(), CliError> {
    let spots = |specs: Vec<SpotSpec>| specs.into_iter().map(|spec| spec.spot).collect();
    let request = v1::MeasureRemovalRequest {
        before: spots(args.before),
        after: spots(args.after),
        gauge: args.gauge.to_proto(),
        two_gauges: args.two_gauges,
    };
    let mut calculators = session.calculators().await?;
    let call = calculators.measure_removal(session.request(request));
    let answer = session.answer(call).await?;
    session.show(&answer, render::paint::removed)
}

impl GaugeArgs {
    /// The gauge, if anything was said about it.
    pub(crate) fn to_proto(&self) -> Option<v1::GaugeSpec> {
        let gauge = v1::GaugeSpec {
            limit_um: self.gauge_error.map(|um| um.0),
            limit_percent: self.gauge_percent.map(|percent| percent.0),
            resolution_um: self.gauge_step.map(|um| um.0),
            principles: self
                .principle
                .iter()
                .map(|principle| (*principle).into())
                .collect(),
        };
        (gauge != v1::GaugeSpec::default()).then_some(gauge)
    }
}

impl Args {
    fn into_request(self) -> Result<v1::AssessPaintRequest, CliError> {
        let gauge = self.gauge.to_proto();
        let mut panels: Vec<v1::PanelReadings> =
            self.panel.into_iter().map(|panel| panel.0).collect();
        for spec in self.readings {
            let panel = place(&mut panels, spec.panel.as_deref(), "--readings")?;
            panel.spots.push(spec.spot);
        }
        for spec in self.removed {
            let panel = place(&mut panels, spec.panel.as_deref(), "--removed")?;
            panel.removed_um = Some(spec.removed_um);
            panel.removed_standard_um = spec.standard_um;
        }
        Ok(v1::AssessPaintRequest {
            panels,
            gauge,
            target_min_um: self.target.map(|target| target.min_um),
            target_max_um: self.target.map(|target| target.max_um),
            layers: self.layer.into_iter().map(|layer| layer.0).collect(),
            floor_um: self.floor.map(|floor| floor.0),
        })
    }
}

/// The panel that is named, or the only one.
fn place<'a>(
    panels: &'a mut [v1::PanelReadings],
    name: Option<&str>,
    argument: &'static str,
) -> Result<&'a mut v1::PanelReadings, CliError> {
    let known = panels
        .iter()
        .map(|panel| panel.panel.as_str())
        .collect::<Vec<_>>()
        .join(", ");
    let several = panels.len() > 1;
    let found = match name {
        None if several => None,
        None => panels.first_mut(),
        Some(name) => panels.iter_mut().find(|panel| panel.panel == name),
    };
    found.ok_or_else(|| CliError::Argument {
        argument,
        rule: match name {
            Some(name) => format!("`{name}` is not among the panels given: {known}"),
            None => format!("must name its panel, one of: {known}"),
        },
    })
}
