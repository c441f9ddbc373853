//! PhotoService.

use std::pin::Pin;
use std::sync::Arc;

use jiff::tz::TimeZone;
use lamella_calc::violation::Checks;
use lamella_jobs::photo::{self as rules, PhotoNote};
use lamella_proto::v1::{self, photo_service_server::PhotoService};
use lamella_proto::v1::{
    download_photo_response::Part as Sent, upload_photo_request::Part as Received,
};
use tokio_stream::Stream;
use tonic::{Request, Response, Status, Streaming};

use super::{finish, page_size, request_key, status};
use crate::convert;
use crate::ledger::{Ledger, LedgerError, PhotoFile, RequestKey};
use crate::photos::files::Upload;
use crate::photos::image::{self, Image};
use crate::photos::{PhotoError, PhotoFiles};

/// Most bytes in one piece that is received.
const LARGEST_PIECE: usize = 1024 * 1024;
/// Bytes in one piece that is sent.
const PIECE: usize = 256 * 1024;

/// Photos of jobs.
#[derive(Clone)]
pub(crate) struct Photos {
    ledger: Ledger,
    files: Arc<PhotoFiles>,
    zone: TimeZone,
}

/// What the header of an upload says.
struct Announced {
    job: String,
    sha256: String,
    moment: v1::PhotoMoment,
    note: PhotoNote,
    key: RequestKey,
}

impl Photos {
    /// `zone` is the shop's: what cameras mean that write no zone.
    pub(crate) fn new(ledger: Ledger, files: Arc<PhotoFiles>, zone: TimeZone) -> Self {
        Self {
            ledger,
            files,
            zone,
        }
    }

    /// Removes the files whose deletion a stop cut short. What cannot be removed
    /// is no reason not to serve.
    pub(crate) async fn finish_deletions(&self) {
        let _settling = self.files.settling().await;
        match self.ledger.dropped_photo_files().await {
            Ok(dropped) => {
                for sha256 in dropped {
                    self.drop_unused(sha256).await;
                }
            }
            Err(error) => tracing::warn!(%error, "cannot ask for deleted photos"),
        }
    }

    /// Stores a file and the photo in it.
    async fn add(&self, announced: Announced, image: Image) -> Result<v1::Photo, Status> {
        let _settling = self.files.settling().await;
        let (image, sha256) = {
            let files = Arc::clone(&self.files);
            blocking(move || files.put(&image.bytes).map(|sha256| (image, sha256))).await?
        };
        let mut note = announced.note;
        let now = self.ledger.clock().now();
        // A camera whose clock is wrong is no reason to refuse its picture.
        let by_camera = image.taken_time.filter(|taken| rules::is_past(*taken, now));
        note.taken_time = note.taken_time.or(by_camera);
        let number = |value: u32| i32::try_from(value).unwrap_or(i32::MAX);
        let file = PhotoFile {
            sha256: sha256.clone(),
            size_bytes: i64::try_from(image.bytes.len()).unwrap_or(i64::MAX),
            kind: image.kind,
            width_px: number(image.width_px),
            height_px: number(image.height_px),
            orientation: image.orientation.into(),
            cautions: image.cautions,
        };
        let added = self
            .ledger
            .add_photo(announced.job, announced.moment, note, file, announced.key)
            .await;
        // Refused after all, or a repeated request whose photo is deleted by now.
        self.drop_unused(sha256).await;
        added.map_err(|error| status::ledger(&error))
    }

    async fn delete(
        &self,
        (job, number): (String, u64),
        key: RequestKey,
    ) -> Result<v1::Photo, LedgerError> {
        let _settling = self.files.settling().await;
        let photo = self.ledger.delete_photo(job, number, key).await?;
        self.drop_unused(photo.sha256.clone()).await;
        Ok(photo)
    }

    /// Removes a file that no photo is in; to be called while settling. What
    /// fails is done at the next start.
    async fn drop_unused(&self, sha256: String) {
        match self.ledger.photo_file_in_use(sha256.clone()).await {
            Ok(true) => {}
            Ok(false) => {
                let files = Arc::clone(&self.files);
                if let Err(error) = blocking(move || files.remove(&sha256)).await {
                    tracing::warn!(%error, "cannot remove a photo's file; the next start tries again");
                }
            }
            Err(error) => tracing::warn!(%error, "cannot ask whether a photo's file is in use"),
        }
    }

    fn announced(&self, header: v1::UploadPhotoHeader) -> Result<Announced, Status> {
        let mut header = header;
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut header.request_id);
        let key = request_key(request_id, "UploadPhoto", &header, &mut checks);
        let job = convert::names::id(&header.parent, "jobs", "header.parent", &mut checks);
        let hash = header.sha256.len() == 64
            && header
                .sha256
                .bytes()
                .all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
        checks.require(hash, "header.sha256", || {
            "must be 64 lower-case hexadecimal digits, the SHA-256 of the file".to_owned()
        });
        let moment = v1::PhotoMoment::try_from(header.moment).unwrap_or_default();
        checks.require(
            moment != v1::PhotoMoment::Unspecified,
            "header.moment",
            || {
                format!(
                    "must be BEFORE, DURING or AFTER, got number {}",
                    header.moment
                )
            },
        );
        let taken = header.taken_time.as_ref();
        let note = PhotoNote {
            panel: (!header.panel.is_empty()).then_some(header.panel),
            caption: header.caption,
            taken_time: convert::time::from_pb(taken, "header.taken_time", &mut checks),
        };
        note.check(self.ledger.clock().now(), &mut checks, "header");
        finish(checks)?;
        Ok(Announced {
            job,
            sha256: header.sha256,
            moment,
            note,
            key,
        })
    }
}

#[tonic::async_trait]
impl PhotoService for Photos {
    async fn upload_photo(
        &self,
        request: Request<Streaming<v1::UploadPhotoRequest>>,
    ) -> Result<Response<v1::Photo>, Status> {
        let mut parts = request.into_inner();
        let Some(v1::UploadPhotoRequest {
            part: Some(Received::Header(header)),
        }) = parts.message().await?
        else {
            return Err(wrong_part("header", "must be the first message"));
        };
        let announced = self.announced(header)?;
        // Asked now, so that nobody sends megabytes for nothing; decided below.
        self.ledger
            .may_photograph(announced.job.clone(), announced.note.clone())
            .await
            .map_err(|error| status::ledger(&error))?;
        let files = Arc::clone(&self.files);
        let mut upload: Upload = blocking(move || files.upload()).await?;
        while let Some(message) = parts.message().await? {
            let piece = match message.part {
                Some(Received::Chunk(piece)) if (1..=LARGEST_PIECE).contains(&piece.len()) => piece,
                Some(Received::Chunk(_)) => {
                    return Err(wrong_part("chunk", "must have 1 byte to 1 MiB"));
                }
                Some(Received::Header(_)) => {
                    return Err(wrong_part("header", "must be the first message only"));
                }
                None => return Err(wrong_part("part", "is required")),
            };
            upload = blocking(move || upload.take(&piece).map(|()| upload)).await?;
        }
        let (sha256, zone) = (announced.sha256.clone(), self.zone.clone());
        let image = blocking(move || {
            upload
                .finish(&sha256)
                .and_then(|b| image::examine(b, &zone))
        })
        .await?;
        // Run to its end also when the caller goes away: a file must not stay
        // behind without its photo.
        let photos = self.clone();
        let adding = tokio::spawn(async move { photos.add(announced, image).await });
        adding
            .await
            .map_err(|error| stopped(&error))?
            .map(Response::new)
    }

    type DownloadPhotoStream =
        Pin<Box<dyn Stream<Item = Result<v1::DownloadPhotoResponse, Status>> + Send>>;

    async fn download_photo(
        &self,
        request: Request<v1::DownloadPhotoRequest>,
    ) -> Result<Response<Self::DownloadPhotoStream>, Status> {
        let mut checks = Checks::new();
        let (job, number) =
            convert::names::photo_id(&request.into_inner().name, "name", &mut checks);
        finish(checks)?;
        let photo = self.ledger.photo(job, number).await;
        let photo = photo.map_err(|error| status::ledger(&error))?;
        let (files, sha256) = (Arc::clone(&self.files), photo.sha256.clone());
        let bytes = blocking(move || files.read(&sha256)).await?;
        let pieces = (0..bytes.len()).step_by(PIECE).map(move |at| {
            let end = bytes.len().min(at + PIECE);
            Sent::Chunk(bytes.get(at..end).unwrap_or_default().to_vec())
        });
        let parts = std::iter::once(Sent::Photo(photo))
            .chain(pieces)
            .map(|part| Ok(v1::DownloadPhotoResponse { part: Some(part) }));
        Ok(Response::new(Box::pin(tokio_stream::iter(parts))))
    }

    async fn get_photo(
        &self,
        request: Request<v1::GetPhotoRequest>,
    ) -> Result<Response<v1::Photo>, Status> {
        let mut checks = Checks::new();
        let (job, number) =
            convert::names::photo_id(&request.into_inner().name, "name", &mut checks);
        finish(checks)?;
        let photo = self.ledger.photo(job, number).await;
        photo
            .map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn list_photos(
        &self,
        request: Request<v1::ListPhotosRequest>,
    ) -> Result<Response<v1::ListPhotosResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let size = page_size(request.page_size, &mut checks);
        let job = convert::names::id(&request.parent, "jobs", "parent", &mut checks);
        finish(checks)?;
        let page = self.ledger.photos(job, size, request.page_token).await;
        let page = page.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::ListPhotosResponse {
            photos: page.items,
            next_page_token: page.next_page_token,
        }))
    }

    async fn delete_photo(
        &self,
        request: Request<v1::DeletePhotoRequest>,
    ) -> Result<Response<v1::Photo>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "DeletePhoto", &request, &mut checks);
        let name = convert::names::photo_id(&request.name, "name", &mut checks);
        finish(checks)?;
        let photos = self.clone();
        let deleting = tokio::spawn(async move { photos.delete(name, key).await });
        let deleted = deleting.await.map_err(|error| stopped(&error))?;
        deleted
            .map(Response::new)
            .map_err(|error| status::ledger(&error))
    }
}

/// Works with files off the async threads.
async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, PhotoError> + Send + 'static,
) -> Result<T, Status> {
    let done = tokio::task::spawn_blocking(work)
        .await
        .map_err(|error| stopped(&error))?;
    done.map_err(|error| status::photo(&error))
}

/// A part of the upload out of place.
fn wrong_part(field: &str, rule: &str) -> Status {
    let mut checks = Checks::new();
    checks.require(false, field, || rule.to_owned());
    match finish(checks) {
        Err(status) => status,
        Ok(()) => Status::internal("a violation was found and lost"),
    }
}

fn stopped(error: &tokio::task::JoinError) -> Status {
    tracing::error!(%error, "a photo's task ended without an answer");
    Status::internal("the daemon failed; its log says why")
}
