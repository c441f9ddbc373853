//! `lamella photo add`.

use std::path::{Path, PathBuf};

use lamella_proto::v1;
use lamella_proto::v1::upload_photo_request::Part;
use sha2::{Digest as _, Sha256};

use crate::commands::choices::PhotoMoment;
use crate::commands::shared::instant;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;
use crate::times::TimeArg;

/// Store photos of a job.
///
/// JPEG, PNG, WebP and HEIC are taken. What the camera wrote into the file besides
/// the picture, its location first of all, is taken out of all but HEIC.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella photo add blue-estate hood-1.jpg hood-2.jpg --panel hood --moment before
  lamella photo add blue-estate done.jpg --caption 'gloss in daylight'")]
pub(crate) struct Args {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    /// The files.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The panel that they show. [default: the car]
    #[arg(long, value_name = "PANEL")]
    panel: Option<String>,
    /// When in the job they were taken. [default: by the job's stage: before up
    /// to approval, during in work, after from then on]
    #[arg(long, value_enum)]
    moment: Option<PhotoMoment>,
    /// What they show.
    #[arg(long, value_name = "TEXT")]
    caption: Option<String>,
    /// When they were taken. [default: what the camera wrote]
    #[arg(long, value_name = "TIME")]
    taken: Option<TimeArg>,
    /// Makes a retry safe: the same id with the same request is done once. For one
    /// file only.
    #[arg(long, value_name = "ID")]
    request_id: Option<String>,
}

/// Bytes in one piece; the server takes up to 1 MiB.
const PIECE: usize = 512 * 1024;

/// Runs the command.
///
/// # Errors
/// The server's, or that a file cannot be read. Photos before that are stored.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    if args.request_id.is_some() && args.files.len() > 1 {
        return Err(CliError::Argument {
            argument: "--request-id",
            rule: "goes with one file only".to_owned(),
        });
    }
    let moment = match args.moment {
        Some(moment) => moment.into(),
        None => by_stage(&args.job.0, session).await?,
    };
    let header = v1::UploadPhotoHeader {
        parent: args.job.0,
        panel: args.panel.unwrap_or_default(),
        moment: moment.into(),
        taken_time: instant(args.taken, session)?,
        caption: args.caption.unwrap_or_default(),
        request_id: args.request_id.unwrap_or_default(),
        ..Default::default()
    };
    let mut stored = v1::ListPhotosResponse::default();
    for file in &args.files {
        stored.photos.push(upload(file, &header, session).await?);
    }
    session.show(&stored, render::photo::stored)
}

async fn upload(
    file: &Path,
    header: &v1::UploadPhotoHeader,
    session: &Session,
) -> Result<v1::Photo, CliError> {
    let bytes = std::fs::read(file).map_err(|source| CliError::Read {
        what: file.display().to_string(),
        source,
    })?;
    let header = v1::UploadPhotoHeader {
        sha256: hex::encode(Sha256::digest(&bytes)),
        ..header.clone()
    };
    let pieces: Vec<Part> = bytes
        .chunks(PIECE)
        .map(|piece| Part::Chunk(piece.to_vec()))
        .collect();
    let parts = std::iter::once(Part::Header(header))
        .chain(pieces)
        .map(|part| v1::UploadPhotoRequest { part: Some(part) });
    let mut photos = session.photos().await?;
    let request = session.request(tokio_stream::iter(parts));
    session.answer(photos.upload_photo(request)).await
}

/// What a photo most likely shows, going by where the job stands.
async fn by_stage(job: &str, session: &Session) -> Result<v1::PhotoMoment, CliError> {
    let mut jobs = session.jobs().await?;
    let request = session.request(v1::GetJobRequest {
        name: job.to_owned(),
    });
    let job = session.answer(jobs.get_job(request)).await?;
    Ok(match job.stage() {
        v1::Stage::Unspecified
        | v1::Stage::Booked
        | v1::Stage::Received
        | v1::Stage::Assessed
        | v1::Stage::Approved => v1::PhotoMoment::Before,
        v1::Stage::InWork => v1::PhotoMoment::During,
        v1::Stage::Curing | v1::Stage::Ready | v1::Stage::HandedOver | v1::Stage::Cancelled => {
            v1::PhotoMoment::After
        }
    })
}
