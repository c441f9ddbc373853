//! `lamella export`: a stream of files into a folder. No file is touched before
//! all of them are there and their hashes are right; the manifest comes last.

use std::path::{Path, PathBuf};

use lamella_proto::v1::{self, export_day_response::Part};
use tonic::{Request, Streaming};

use crate::commands::choices::{ExportDataset, ExportFormat};
use crate::errors::CliError;
use crate::export_files::{Folder, Manifest, Waiting};
use crate::output::{self, Format};
use crate::session::Session;

/// Write what happened on a day, or on several, as files.
///
/// Days are the shop's own. Files are replaced only when all of them have come;
/// manifest.json is written last, with days, row counts and SHA-256. Run again,
/// the same days give the same bytes. Customers' names and contacts are left out.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella export --day today --format csv --out exports/today
  lamella export --day yesterday --format jsonl --out 'exports/{day}'
  lamella export --from 2026-03-01 --to 2026-03-31 --format parquet --out exports/2026-03 --dataset labour,film")]
pub(crate) struct Args {
    /// One day: today, yesterday or YYYY-MM-DD.
    #[arg(long, value_name = "DAY", required_unless_present = "from", conflicts_with_all = ["from", "to"])]
    day: Option<String>,
    /// First day of several.
    #[arg(long, value_name = "DAY", requires = "to")]
    from: Option<String>,
    /// Last day of several, at most 366 in all.
    #[arg(long, value_name = "DAY", requires = "from")]
    to: Option<String>,
    /// How to write the files.
    #[arg(long, value_enum)]
    format: ExportFormat,
    /// Where to; the folder is made if it is not there. `{day}` in it becomes the
    /// day, or the first and the last: 2026-03-01..2026-03-31.
    #[arg(long, value_name = "DIR")]
    out: String,
    /// Only this; repeat for more. [default: everything]
    #[arg(long, value_enum, value_delimiter = ',')]
    dataset: Vec<ExportDataset>,
    /// IANA name of the zone whose days are meant. [default: the shop's]
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
}

/// Runs the command.
///
/// # Errors
/// The server's; or when a file cannot be written, or did not come whole.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let (from, to) = match args.day {
        Some(day) => (day, None),
        None => (args.from.unwrap_or_default(), args.to),
    };
    let request = v1::ExportDayRequest {
        from_date: from,
        to_date: to.unwrap_or_default(),
        time_zone: args.zone.unwrap_or_default(),
        datasets: args.dataset.into_iter().map(i32::from).collect(),
        format: args.format.into(),
    };
    let exporting = Box::pin(export(request, &args.out, session));
    let (out, manifest) = session.within(session.timeout, exporting).await?;
    match session.format {
        Format::Json => output::print(&manifest.json()),
        Format::Text => output::print(&text(&manifest, &out)),
    }
}

async fn export(
    request: v1::ExportDayRequest,
    out: &str,
    session: &Session,
) -> Result<(PathBuf, Manifest), CliError> {
    let mut exports = session.exports().await?;
    let answer = exports.export_day(Request::new(request)).await?;
    let mut stream = answer.into_inner();
    let Some(Part::Started(started)) = next(&mut stream).await? else {
        return Err(CliError::Incomplete {
            what: "the first message".to_owned(),
        });
    };
    let out = PathBuf::from(out.replace("{day}", &day(&started)));
    let folder = Folder::open(&out)?;
    let mut waiting = Vec::with_capacity(started.files.len());
    for file in &started.files {
        waiting.push(receive(&folder, file, &mut stream).await?);
    }
    let manifest = Manifest::new(&started, &waiting);
    folder.keep(waiting, &manifest)?;
    Ok((out, manifest))
}

/// The day, or the first and the last, as a part of a path. What the server says
/// is not trusted to stay one.
fn day(started: &v1::ExportStarted) -> String {
    let (from, to) = (&started.from_date, &started.to_date);
    let day = if from == to {
        from.clone()
    } else {
        format!("{from}..{to}")
    };
    day.replace(|c: char| !c.is_ascii_digit() && !"-.".contains(c), "_")
}

/// One file, whole and with the hash that the server says it has.
async fn receive(
    folder: &Folder,
    file: &v1::ExportFile,
    stream: &mut Streaming<v1::ExportDayResponse>,
) -> Result<Waiting, CliError> {
    let mut coming = folder.begin(file)?;
    loop {
        match next(stream).await? {
            Some(Part::Chunk(bytes)) => coming.write(&bytes)?,
            Some(Part::FileEnded(ended)) => return coming.end(&ended),
            Some(Part::Started(_)) | None => {
                return Err(CliError::Incomplete {
                    what: file.file_name.clone(),
                });
            }
        }
    }
}

async fn next(stream: &mut Streaming<v1::ExportDayResponse>) -> Result<Option<Part>, CliError> {
    Ok(stream.message().await?.and_then(|message| message.part))
}

fn text(manifest: &Manifest, out: &Path) -> String {
    let mut text = format!(
        "{} to {} in {}\n",
        manifest.from_date, manifest.to_date, manifest.time_zone
    );
    let width = manifest.files.iter().map(|file| file.file.len()).max();
    for file in &manifest.files {
        let rows = if file.rows == 1 { "row" } else { "rows" };
        text.push_str(&format!(
            "  {:width$}  {} {rows}\n",
            file.file,
            file.rows,
            width = width.unwrap_or_default()
        ));
    }
    text.push_str(&format!("{}\n", out.join(Manifest::FILE).display()));
    text
}
