//! `lamella photo remove`.

use lamella_proto::v1;

use crate::errors::CliError;
use crate::names::{PhotoName, clean};
use crate::session::Session;

/// Delete a photo for good. The job's history keeps that there was one.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella photo remove jobs/blue-estate/photos/27")]
pub(crate) struct Args {
    /// The photo: jobs/ID/photos/NUMBER.
    photo: PhotoName,
    /// Makes a retry safe: the same id with the same request is done once.
    #[arg(long, value_name = "ID")]
    request_id: Option<String>,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut photos = session.photos().await?;
    let request = session.request(v1::DeletePhotoRequest {
        name: args.photo.0,
        request_id: args.request_id.unwrap_or_default(),
    });
    let photo = session.answer(photos.delete_photo(request)).await?;
    session.show(&photo, |photo, _| {
        format!("deleted {}\n", clean(&photo.name))
    })
}
