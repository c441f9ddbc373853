//! `lamella booking import` and `lamella booking export`.

use std::io::Read as _;
use std::path::{Path, PathBuf};

use lamella_proto::v1;

use crate::commands::choices::Stage;
use crate::commands::shared::instant;
use crate::errors::CliError;
use crate::output::{self, Format};
use crate::render;
use crate::session::Session;
use crate::times::TimeArg;

/// Take in a calendar (iCalendar, RFC 5545). Taking it in again changes nothing.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella booking import bookings.ics --source web-form
  lamella booking import - --source web-form --from 'today 00:00' <bookings.ics")]
pub(crate) struct ImportArgs {
    /// The calendar; - reads it from standard input. Up to 4 MiB.
    file: PathBuf,
    /// Which calendar it is.
    #[arg(long, value_name = "ID")]
    source: String,
    /// Only what begins at or after this. [default: a day ago]
    #[arg(long, value_name = "TIME")]
    from: Option<TimeArg>,
    /// Only what begins before this. [default: 366 days after --from]
    #[arg(long, value_name = "TIME")]
    before: Option<TimeArg>,
}

/// Write the shop's schedule as a calendar (iCalendar, RFC 5545).
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella booking export --out schedule.ics")]
pub(crate) struct ExportArgs {
    /// Write it here; its beginning is never seen without its end. [default:
    /// standard output]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Only jobs at this stage; repeat for more. [default: any but cancelled]
    #[arg(long, value_enum, value_delimiter = ',')]
    stage: Vec<Stage>,
    /// Only jobs that end at or after this. [default: 30 days ago]
    #[arg(long, value_name = "TIME")]
    from: Option<TimeArg>,
    /// Only jobs that begin before this.
    #[arg(long, value_name = "TIME")]
    before: Option<TimeArg>,
    /// Write customers and wishes too.
    #[arg(long)]
    include_customer: bool,
}

/// Runs `import`.
///
/// # Errors
/// When the file cannot be read; the server's.
pub(crate) async fn import(args: ImportArgs, session: &Session) -> Result<(), CliError> {
    let calendar = bytes(&args.file).map_err(|source| CliError::Read {
        what: args.file.display().to_string(),
        source,
    })?;
    let mut bookings = session.bookings().await?;
    let request = session.request(v1::ImportCalendarRequest {
        source: args.source,
        calendar,
        from_time: instant(args.from, session)?,
        before_time: instant(args.before, session)?,
    });
    let answer = session.answer(bookings.import_calendar(request)).await?;
    session.show(&answer, render::booking::imported)
}

/// Runs `export`.
///
/// # Errors
/// The server's; when the file cannot be written.
pub(crate) async fn export(args: ExportArgs, session: &Session) -> Result<(), CliError> {
    let mut bookings = session.bookings().await?;
    let request = session.request(v1::ExportCalendarRequest {
        stages: args.stage.into_iter().map(i32::from).collect(),
        from_time: instant(args.from, session)?,
        before_time: instant(args.before, session)?,
        include_customer: args.include_customer,
    });
    let answer = session.answer(bookings.export_calendar(request)).await?;
    let Some(path) = args.out else {
        return match session.format {
            Format::Json => session.show(&answer, |_, _| String::new()),
            Format::Text => output::print_bytes(answer.calendar.as_bytes()),
        };
    };
    replace(&path, answer.calendar.as_bytes()).map_err(|source| CliError::Write {
        path: path.clone(),
        source,
    })?;
    session.show(&answer, |answer, _| {
        format!(
            "{} events written to {}\n",
            answer.event_count,
            path.display()
        )
    })
}

fn bytes(path: &Path) -> std::io::Result<Vec<u8>> {
    if path == Path::new("-") {
        let mut bytes = Vec::new();
        std::io::stdin().lock().read_to_end(&mut bytes)?;
        return Ok(bytes);
    }
    std::fs::read(path)
}

/// Whoever reads the file sees the old one or the new one.
fn replace(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut fresh = path.as_os_str().to_owned();
    fresh.push(".new");
    std::fs::write(&fresh, bytes)?;
    std::fs::rename(&fresh, path)
}
