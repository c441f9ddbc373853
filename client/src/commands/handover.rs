//! `lamella handover`.

use std::path::PathBuf;
use std::time::Duration;

use crate::commands::paint::GaugeArgs;
use crate::errors::CliError;
use crate::handover::{Paper, fill, gather, page, pdf};
use crate::names::JobName;
use crate::output::{self, Format};
use crate::session::Session;

/// How long a browser may take to print, unless `--timeout` says otherwise.
const PRINT_LIMIT: Duration = Duration::from_secs(60);

/// Make the sheet that goes home with the car: what was done, paint before and
/// after, products and lots, when it may get wet, photos, aftercare.
///
/// FILE.html is one file without scripts that prints well. FILE.pdf is the same,
/// printed by Chromium, which must be on the machine. Notes, hours worked and who
/// wrote what are left out.
///
/// --output json prints what the template is given instead.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella handover blue-estate --out sheet.html
  lamella handover blue-estate --out sheet.pdf --paper letter --units us
  lamella handover --print-template >our-sheet.html.jinja
  lamella handover blue-estate --template our-sheet.html.jinja --out sheet.html")]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    #[arg(required_unless_present = "print_template")]
    job: Option<JobName>,
    /// Where to: FILE.html or FILE.pdf.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Paper to lay it out for.
    #[arg(long, value_enum, default_value_t = Paper::A4)]
    paper: Paper,
    /// Name of the shop at its head.
    #[arg(long, value_name = "NAME")]
    shop: Option<String>,
    /// A template of the shop's own, in place of the built-in one.
    #[arg(long, value_name = "FILE")]
    template: Option<PathBuf>,
    /// Print the built-in template, to start one's own from.
    #[arg(long)]
    print_template: bool,
    /// Most photos on it; 0: none.
    #[arg(long, value_name = "COUNT", default_value_t = 24)]
    photos: usize,
    /// The Chromium that prints FILE.pdf. [default: the one on the PATH]
    #[arg(
        long,
        value_name = "PROGRAM",
        env = "LAMELLA_BROWSER",
        hide_env_values = true
    )]
    browser: Option<PathBuf>,
    #[command(flatten)]
    gauge: GaugeArgs,
}

/// What is written.
enum Kind {
    Html,
    Pdf,
}

/// Runs the command.
///
/// # Errors
/// The server's, a template that cannot be used, no browser for PDF, or that the
/// file cannot be written.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let (Some(job), false) = (&args.job, args.print_template) else {
        return output::print(page::BUILT_IN);
    };
    let out = args.out.clone().map(kind).transpose()?;
    if out.is_none() && session.format == Format::Text {
        return Err(wrong_out("is required"));
    }
    let template = match &args.template {
        None => page::BUILT_IN.to_owned(),
        Some(file) => std::fs::read_to_string(file).map_err(|source| CliError::Read {
            what: file.display().to_string(),
            source,
        })?,
    };
    let gathered = gather::gather(session, &job.0, args.gauge.to_proto(), args.photos > 0).await?;
    let shop = args.shop.as_deref().unwrap_or_default();
    let sheet = fill::sheet(&gathered, shop, args.paper, args.photos, &session.view);
    let Some((path, kind)) = out else {
        let json = serde_json::to_string_pretty(&sheet).map_err(std::io::Error::from);
        return output::print(&json.map_err(CliError::Output)?);
    };
    let html = page::page(&sheet, &template)?;
    let bytes = match kind {
        Kind::Html => html.into_bytes(),
        Kind::Pdf => {
            let limit = session.timeout.unwrap_or(PRINT_LIMIT);
            pdf::print(&html, args.browser.as_deref(), limit).await?
        }
    };
    output::replace_file(&path, &bytes)?;
    let draft = match &sheet.draft {
        Some(stage) => format!("; a draft: the job is {stage}"),
        None => String::new(),
    };
    let kilobytes = bytes.len().div_ceil(1_000);
    output::print(&format!("{}, {kilobytes} kB{draft}", path.display()))
}

fn kind(path: PathBuf) -> Result<(PathBuf, Kind), CliError> {
    let ending = path
        .extension()
        .map(|ending| ending.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("html" | "htm") => Ok((path, Kind::Html)),
        Some("pdf") => Ok((path, Kind::Pdf)),
        Some(_) | None => Err(wrong_out("ends in neither .html nor .pdf")),
    }
}

fn wrong_out(what: &str) -> CliError {
    CliError::Argument {
        argument: "--out",
        rule: format!("{what}; write FILE.html or FILE.pdf"),
    }
}
