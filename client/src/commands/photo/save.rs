//! `lamella photo save`.

use std::path::PathBuf;

use lamella_proto::v1;

use crate::errors::CliError;
use crate::names::{PhotoName, clean};
use crate::session::Session;
use crate::text::View;

/// Save a photo to a file.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella photo save jobs/blue-estate/photos/27
  lamella photo save jobs/blue-estate/photos/27 --out hood.jpg")]
pub(crate) struct Args {
    /// The photo: jobs/ID/photos/NUMBER.
    photo: PhotoName,
    /// Where to. [default: JOB-NUMBER with the ending of its kind, here]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Runs the command.
///
/// # Errors
/// The server's, or that the file cannot be written.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let (photo, bytes) = crate::photos::download(session, &args.photo.0).await?;
    let path = args.out.unwrap_or_else(|| own_name(&photo));
    crate::output::replace_file(&path, &bytes)?;
    session.show(&photo, |photo: &v1::Photo, _: &View| {
        format!("{}  {}\n", clean(&photo.name), path.display())
    })
}

fn own_name(photo: &v1::Photo) -> PathBuf {
    let ending = match photo.r#type() {
        v1::PhotoType::Jpeg => "jpg",
        v1::PhotoType::Png => "png",
        v1::PhotoType::Webp => "webp",
        v1::PhotoType::Heic => "heic",
        v1::PhotoType::Unspecified => "bin",
    };
    // The server's names hold no slash but these; anything else must not leave
    // this folder.
    let name: String = photo
        .name
        .trim_start_matches("jobs/")
        .replace("/photos/", "-")
        .chars()
        .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
        .collect();
    PathBuf::from(format!("{name}.{ending}"))
}
