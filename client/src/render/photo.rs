//! Photos as text.

use lamella_proto::v1;

use crate::names::clean;
use crate::text::{self, View};

/// Photos that were stored, with what to know of them.
pub(crate) fn stored(photos: &v1::ListPhotosResponse, view: &View) -> String {
    let cautions: Vec<v1::Caution> = photos
        .photos
        .iter()
        .flat_map(|photo| photo.cautions.iter().cloned())
        .collect();
    list(photos, view) + &text::cautions(&cautions)
}

/// A page of photos, one to a line.
pub(crate) fn list(page: &v1::ListPhotosResponse, view: &View) -> String {
    if page.photos.is_empty() && page.next_page_token.is_empty() {
        return "no photos\n".to_owned();
    }
    let rows: Vec<[String; 6]> = page.photos.iter().map(|photo| row(photo, view)).collect();
    text::table(&rows) + &super::job::more(&page.next_page_token)
}

/// A photo on a line of history.
pub(crate) fn line(photo: &v1::Photo) -> String {
    let what = [moment(photo.moment()), subject(photo)].join(", ");
    let caption = if photo.caption.is_empty() {
        String::new()
    } else {
        format!(": {}", photo.caption)
    };
    format!("{}  {what}{caption}", photo.name)
}

/// When in the job, in a word.
pub(crate) fn moment(moment: v1::PhotoMoment) -> String {
    text::words("PHOTO_MOMENT_", moment.as_str_name())
}

/// What it shows: the panel, or the car.
pub(crate) fn subject(photo: &v1::Photo) -> String {
    if photo.panel.is_empty() {
        "the car".to_owned()
    } else {
        photo.panel.clone()
    }
}

fn row(photo: &v1::Photo, view: &View) -> [String; 6] {
    let kind = match photo.r#type() {
        v1::PhotoType::Jpeg => "JPEG",
        v1::PhotoType::Png => "PNG",
        v1::PhotoType::Webp => "WebP",
        v1::PhotoType::Heic => "HEIC",
        v1::PhotoType::Unspecified => "unknown",
    };
    let taken = photo.taken_time.as_ref().map(|time| view.time(time));
    // As it is looked at: 5 to 8 lie on their side (EXIF 2.32, tag 274).
    let (width, height) = if photo.orientation >= 5 {
        (photo.height_px, photo.width_px)
    } else {
        (photo.width_px, photo.height_px)
    };
    [
        clean(&photo.name),
        moment(photo.moment()),
        clean(&subject(photo)),
        taken.unwrap_or_default(),
        format!("{kind} {width} x {height} px, {}", size(photo.size_bytes)),
        clean(&photo.caption),
    ]
}

fn size(bytes: i64) -> String {
    let tenths = |unit: i64| {
        let tenths = (bytes + unit / 20) * 10 / unit;
        format!("{}.{}", tenths / 10, tenths % 10)
    };
    if bytes < 999_950 {
        format!("{} kB", tenths(1_000))
    } else {
        format!("{} MB", tenths(1_000_000))
    }
}
