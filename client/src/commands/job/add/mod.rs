//! `lamella job add`: writing down what is done while it is done.

mod bench;
mod care;
mod paint;

use lamella_proto::v1;
use lamella_proto::v1::record::Entry;

use crate::commands::shared::instant;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;
use crate::text::View;
use crate::times::TimeArg;

/// Write down what was done: readings, passes, mixes, film, coats, air, hours,
/// parts off and back on, notes.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    #[command(flatten)]
    common: CommonArgs,
    #[command(subcommand)]
    kind: Kind,
}

/// What every record has.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Options of every record")]
struct CommonArgs {
    /// When it happened: "today 09:30". [default: now]
    #[arg(long, global = true, value_name = "TIME")]
    at: Option<TimeArg>,
    /// Who writes it down.
    #[arg(long, global = true, value_name = "NAME")]
    author: Option<String>,
    /// Makes a retry safe: the same id with the same request is done once.
    #[arg(long, global = true, value_name = "ID")]
    request_id: Option<String>,
}

#[derive(Debug, clap::Subcommand)]
enum Kind {
    Readings(paint::ReadingsArgs),
    Pass(paint::PassArgs),
    Mix(care::MixArgs),
    Film(care::FilmArgs),
    Coat(Box<care::CoatArgs>),
    Air(bench::AirRecordArgs),
    Labour(bench::LabourArgs),
    Off(bench::OffArgs),
    Refit(bench::RefitArgs),
    Note(bench::NoteArgs),
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let record = v1::Record {
        record_time: instant(args.common.at, session)?,
        author: args.common.author.unwrap_or_default(),
        entry: Some(args.kind.into_entry(session)?),
        ..Default::default()
    };
    let mut jobs = session.jobs().await?;
    let request = session.request(v1::AppendRecordRequest {
        parent: args.job.0,
        record: Some(record),
        request_id: args.common.request_id.unwrap_or_default(),
    });
    let answer = session.answer(jobs.append_record(request)).await?;
    session.show(&answer, render_answer)
}

impl Kind {
    fn into_entry(self, session: &Session) -> Result<Entry, CliError> {
        Ok(match self {
            Self::Readings(args) => Entry::GaugeReadings(args.into_entry()?),
            Self::Pass(args) => Entry::Pass(args.into_entry()),
            Self::Mix(args) => Entry::Mix(args.into_entry()),
            Self::Film(args) => Entry::FilmPiece(args.into_entry()),
            Self::Coat(args) => Entry::CoatLayer(args.into_entry()),
            Self::Air(args) => Entry::BayAir(args.into_entry()),
            Self::Labour(args) => Entry::Labour(args.into_entry(session)?),
            Self::Off(args) => Entry::PartOff(args.into_entry()),
            Self::Refit(args) => Entry::PartRefit(args.into_entry()),
            Self::Note(args) => Entry::Note(args.into_entry()),
        })
    }
}

fn render_answer(answer: &v1::AppendRecordResponse, view: &View) -> String {
    answer
        .record
        .as_ref()
        .map(|record| render::record::stored(record, view))
        .unwrap_or_default()
}
