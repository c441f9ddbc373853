//! Photos from the server: lists of them, and their files.

use lamella_proto::v1;
use lamella_proto::v1::download_photo_response::Part;

use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::session::Session;

/// A job's photos, as many pages as are asked for.
///
/// # Errors
/// The server's.
pub(crate) async fn list(
    session: &Session,
    job: &str,
    paging: &PageArgs,
) -> Result<v1::ListPhotosResponse, CliError> {
    let mut photos = session.photos().await?;
    let mut list = v1::ListPhotosResponse::default();
    let mut page_token = paging.token();
    loop {
        let request = session.request(v1::ListPhotosRequest {
            parent: job.to_owned(),
            page_size: paging.size(),
            page_token,
        });
        let page = session.answer(photos.list_photos(request)).await?;
        list.photos.extend(page.photos);
        list.next_page_token = page.next_page_token;
        if !paging.all || list.next_page_token.is_empty() {
            return Ok(list);
        }
        page_token = list.next_page_token.clone();
    }
}

/// A photo's entry and its file.
///
/// # Errors
/// The server's.
pub(crate) async fn download(
    session: &Session,
    name: &str,
) -> Result<(v1::Photo, Vec<u8>), CliError> {
    let mut photos = session.photos().await?;
    let request = session.request(v1::DownloadPhotoRequest {
        name: name.to_owned(),
    });
    let mut parts = session.answer(photos.download_photo(request)).await?;
    let (mut photo, mut bytes) = (v1::Photo::default(), Vec::new());
    let receive = async {
        while let Some(message) = parts.message().await? {
            match message.part {
                Some(Part::Photo(entry)) => photo = entry,
                Some(Part::Chunk(piece)) => bytes.extend_from_slice(&piece),
                None => {}
            }
        }
        Ok(())
    };
    session.within(Some(session.limit()), receive).await?;
    Ok((photo, bytes))
}
