//! A job's photos as the journal knows them. Their files lie beside the store; a
//! photo is added once its file is safe, and its file goes once it is deleted.

use lamella_jobs::gate::Situation;
use lamella_jobs::photo::{self, PhotoNote};
use lamella_proto::store::v1::entry::Change;
use lamella_proto::v1;
use lamella_store::KvRead;
use prost::Message as _;

use super::change::{self, RequestKey};
use super::error::LedgerError;
use super::{Ledger, Page, keys, load, queries};
use crate::convert;

/// What is known of a stored file.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoFile {
    /// SHA-256, 64 lower-case hexadecimal digits.
    pub sha256: String,
    /// Its size, bytes.
    pub size_bytes: i64,
    /// What kind of file it is.
    pub kind: v1::PhotoType,
    /// Width of the image as stored, pixels.
    pub width_px: i32,
    /// Height of the image as stored, pixels.
    pub height_px: i32,
    /// How to turn it for display, 1 to 8.
    pub orientation: i32,
    /// What to know of it.
    pub cautions: Vec<v1::Caution>,
}

impl Ledger {
    /// Whether a photo may be added, asked before its file is taken in.
    ///
    /// # Errors
    /// Unknown or deleted job, a panel that the vehicle does not have.
    pub async fn may_photograph(&self, job_id: String, note: PhotoNote) -> Result<(), LedgerError> {
        let now = self.clock().now();
        self.read(move |view| allowed(view, &job_id, &note, now))
            .await
    }

    /// Adds a photo whose file is safe.
    ///
    /// # Errors
    /// As [`may_photograph`](Self::may_photograph).
    pub async fn add_photo(
        &self,
        job_id: String,
        moment: v1::PhotoMoment,
        note: PhotoNote,
        file: PhotoFile,
        request: RequestKey,
    ) -> Result<v1::Photo, LedgerError> {
        let change = self
            .change(request, move |context| {
                allowed(context.tx, &job_id, &note, context.now)?;
                let photo = v1::Photo {
                    name: convert::names::photo(&job_id, context.seq),
                    moment: moment.into(),
                    panel: note.panel.unwrap_or_default(),
                    caption: note.caption,
                    taken_time: note.taken_time.map(convert::time::to_pb),
                    create_time: Some(convert::time::to_pb(context.now)),
                    r#type: file.kind.into(),
                    size_bytes: file.size_bytes,
                    sha256: file.sha256,
                    width_px: file.width_px,
                    height_px: file.height_px,
                    orientation: file.orientation,
                    cautions: file.cautions,
                };
                Ok(job_change(
                    &job_id,
                    v1::job_event::Change::Photographed(photo),
                ))
            })
            .await?;
        photo_after(change)
    }

    /// Forgets a photo; what it was.
    ///
    /// # Errors
    /// When there is none of that name.
    pub async fn delete_photo(
        &self,
        job_id: String,
        number: u64,
        request: RequestKey,
    ) -> Result<v1::Photo, LedgerError> {
        let change = self
            .change(request, move |context| {
                let photo = stored(context.tx, &job_id, number)?;
                Ok(job_change(
                    &job_id,
                    v1::job_event::Change::PhotoDeleted(photo),
                ))
            })
            .await?;
        photo_after(change)
    }

    /// One photo.
    ///
    /// # Errors
    /// When there is none of that name.
    pub async fn photo(&self, job_id: String, number: u64) -> Result<v1::Photo, LedgerError> {
        self.read(move |view| stored(view, &job_id, number)).await
    }

    /// A job's photos, oldest first.
    ///
    /// # Errors
    /// Unknown job, a page token that no list gave out.
    pub async fn photos(
        &self,
        job_id: String,
        page_size: usize,
        page_token: String,
    ) -> Result<Page<v1::Photo>, LedgerError> {
        self.read(move |view| {
            load::job_message(view, &job_id)?;
            queries::messages(view, &keys::photos(&job_id), page_size, &page_token)
        })
        .await
    }

    /// Whether some photo is in the file of this hash.
    ///
    /// # Errors
    /// The store's.
    pub async fn photo_file_in_use(&self, sha256: String) -> Result<bool, LedgerError> {
        self.read(move |view| {
            Ok(!view
                .scan_prefix(&keys::in_file(&sha256), None, 1)
                .is_empty())
        })
        .await
    }

    /// Hashes of the files whose photos are all deleted.
    ///
    /// # Errors
    /// The store's.
    pub async fn dropped_photo_files(&self) -> Result<Vec<String>, LedgerError> {
        self.read(move |view| {
            let hash = |key: &[u8]| {
                let hash = key.strip_prefix(keys::DROPPED_FILES).unwrap_or_default();
                String::from_utf8_lossy(hash).into_owned()
            };
            let dropped = view.scan_all(keys::DROPPED_FILES);
            Ok(dropped.iter().map(|(key, _)| hash(key)).collect())
        })
        .await
    }
}

fn allowed(
    tx: &impl KvRead,
    job_id: &str,
    note: &PhotoNote,
    now: jiff::Timestamp,
) -> Result<(), LedgerError> {
    let job = load::job(tx, job_id)?.domain;
    let vehicle = load::vehicle_of(tx, &job)?;
    let situation = Situation {
        job: &job,
        vehicle: vehicle.as_ref(),
        records: &[],
        now,
    };
    photo::photograph(&situation, note, "header")?;
    Ok(())
}

fn stored(tx: &impl KvRead, job_id: &str, number: u64) -> Result<v1::Photo, LedgerError> {
    let name = || convert::names::photo(job_id, number);
    let stored = tx
        .get(&keys::number(&keys::photos(job_id), number))
        .ok_or_else(|| LedgerError::NotFound { name: name() })?;
    v1::Photo::decode(stored.as_slice()).map_err(|error| load::unreadable(name(), &error))
}

fn job_change(job_id: &str, change: v1::job_event::Change) -> Change {
    Change::Job(v1::JobEvent {
        sequence: 0,
        event_time: None,
        job: convert::names::job(job_id),
        change: Some(change),
    })
}

fn photo_after(change: Change) -> Result<v1::Photo, LedgerError> {
    use v1::job_event::Change as JobChange;
    match change {
        Change::Job(v1::JobEvent {
            change: Some(JobChange::Photographed(photo) | JobChange::PhotoDeleted(photo)),
            ..
        }) => Ok(photo),
        Change::Job(_) | Change::Vehicle(_) | Change::Plugin(_) | Change::PluginRemoved(_) => {
            Err(change::unexpected("a photo"))
        }
    }
}
