//! What kind of image a file is, going by its bytes, and the file without what
//! the camera wrote into it.
//!
//! What stays is listed, not what goes: the picture, its colour profile and its
//! orientation. So a location goes wherever it was put: EXIF, XMP, IPTC, maker's
//! notes, comments, previews, appended pictures and films. HEIC keeps its parts by
//! their place in the file, so it is kept as it came, and a caution says so.

use std::io::Cursor;

use img_parts::jpeg::{Jpeg, JpegSegment, markers};
use img_parts::png::Png;
use img_parts::riff::{RiffChunk, RiffContent};
use img_parts::webp::{self, WebP};
use img_parts::{Bytes, ImageEXIF};
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{Offset, TimeZone};
use lamella_proto::v1::{self, PhotoType};

use super::error::PhotoError;
use super::jpeg;

/// A file that may be stored.
#[derive(Debug, Clone, PartialEq)]
pub struct Image {
    /// The bytes to store.
    pub bytes: Vec<u8>,
    /// What kind of file it is.
    pub kind: PhotoType,
    /// Width as stored, pixels.
    pub width_px: u32,
    /// Height as stored, pixels.
    pub height_px: u32,
    /// How to turn it for display: 1 to 8 as in EXIF 2.32, tag 274.
    pub orientation: u8,
    /// When the camera says that it was taken.
    pub taken_time: Option<Timestamp>,
    /// What to know of it.
    pub cautions: Vec<v1::Caution>,
}

/// Looks into a file and takes out what is not the picture. A camera's time
/// without a zone is one in `zone`.
///
/// # Errors
/// [`PhotoError::UnknownType`], [`PhotoError::Broken`].
pub fn examine(bytes: Vec<u8>, zone: &TimeZone) -> Result<Image, PhotoError> {
    let kind = sniff(&bytes).ok_or(PhotoError::UnknownType)?;
    let told = Told::read(&bytes, zone);
    let bytes = Bytes::from(bytes);
    let orientation = match kind {
        // Turned by a property of its own, which the size below allows for.
        PhotoType::Heic => 1,
        PhotoType::Unspecified | PhotoType::Jpeg | PhotoType::Png | PhotoType::Webp => {
            told.orientation
        }
    };
    let exif = (orientation != 1).then(|| only_orientation(orientation));
    let bytes = match kind {
        PhotoType::Jpeg => clean_jpeg(bytes, exif)?,
        PhotoType::Png => clean_png(bytes, exif)?,
        PhotoType::Webp => clean_webp(bytes, exif)?,
        PhotoType::Heic | PhotoType::Unspecified => bytes.to_vec(),
    };
    let size = imagesize::blob_size(&bytes).map_err(|error| broken(kind, &error))?;
    let side = |pixels: usize| {
        u32::try_from(pixels)
            .ok()
            .filter(|pixels| (1..=1_000_000).contains(pixels))
            .ok_or_else(|| broken(kind, &format!("a side of {pixels} pixels")))
    };
    Ok(Image {
        width_px: side(size.width)?,
        height_px: side(size.height)?,
        orientation,
        taken_time: told.taken_time,
        cautions: match kind {
            PhotoType::Heic => vec![location_kept()],
            PhotoType::Unspecified | PhotoType::Jpeg | PhotoType::Png | PhotoType::Webp => {
                Vec::new()
            }
        },
        kind,
        bytes,
    })
}

/// What kind of file this is; none that is taken: `None`.
fn sniff(bytes: &[u8]) -> Option<PhotoType> {
    use imagesize::{Compression, ImageType};
    match imagesize::reader_type(Cursor::new(bytes)).ok()? {
        ImageType::Jpeg => Some(PhotoType::Jpeg),
        ImageType::Png => Some(PhotoType::Png),
        ImageType::Webp => Some(PhotoType::Webp),
        ImageType::Heif(Compression::Hevc) => Some(PhotoType::Heic),
        // The library may come to know more kinds; they are not taken here.
        _ => None,
    }
}

fn clean_jpeg(bytes: Bytes, exif: Option<Bytes>) -> Result<Vec<u8>, PhotoError> {
    let failed = |reason: &dyn std::fmt::Display| broken(PhotoType::Jpeg, reason);
    let cut_short = || failed(&"it is cut short");
    let mut image = Jpeg::from_bytes(bytes).map_err(|error| failed(&error))?;
    let segments = std::mem::take(image.segments_mut());
    for segment in segments {
        if segment.has_entropy() {
            // The library gives a scan's data only by writing it out.
            let header = segment.contents().clone();
            let whole = segment.encoder().bytes();
            let rest = whole.get(4 + header.len()..).ok_or_else(cut_short)?;
            let scans = jpeg::scans(rest).ok_or_else(cut_short)?;
            let kept = JpegSegment::new_with_entropy(markers::SOS, header, scans.into());
            image.segments_mut().push(kept);
        } else if is_picture(&segment) {
            image.segments_mut().push(segment);
        }
    }
    if !image.segments().iter().any(JpegSegment::has_entropy) {
        return Err(cut_short());
    }
    image.set_exif(exif);
    Ok(image.encoder().bytes().to_vec())
}

/// Whether a segment is needed to show the picture.
fn is_picture(segment: &JpegSegment) -> bool {
    match segment.marker() {
        markers::APP0 => segment.contents().starts_with(b"JFIF\0"),
        markers::APP2 => segment.contents().starts_with(b"ICC_PROFILE\0"),
        // How colours are coded.
        markers::APP14 => segment.contents().starts_with(b"Adobe"),
        marker => !matches!(marker, markers::APP0..=markers::APP15 | markers::COM),
    }
}

fn clean_png(bytes: Bytes, exif: Option<Bytes>) -> Result<Vec<u8>, PhotoError> {
    // Of the chunks registered for PNG, third edition, and APNG: all that say how
    // the picture looks; not its text, times and EXIF.
    const PICTURE: [[u8; 4]; 20] = [
        *b"IHDR", *b"PLTE", *b"IDAT", *b"IEND", *b"tRNS", *b"cHRM", *b"cICP", *b"gAMA", *b"iCCP",
        *b"mDCV", *b"cLLI", *b"sBIT", *b"sRGB", *b"bKGD", *b"hIST", *b"pHYs", *b"sPLT", *b"acTL",
        *b"fcTL", *b"fdAT",
    ];
    let failed = |reason: &dyn std::fmt::Display| broken(PhotoType::Png, reason);
    let mut image = Png::from_bytes(bytes).map_err(|error| failed(&error))?;
    image
        .chunks_mut()
        .retain(|chunk| PICTURE.contains(&chunk.kind()));
    let has = |kind: [u8; 4]| image.chunk_by_type(kind).is_some();
    if !has(*b"IDAT") || !has(*b"IEND") {
        return Err(failed(&"it is cut short"));
    }
    image.set_exif(exif);
    Ok(image.encoder().bytes().to_vec())
}

fn clean_webp(bytes: Bytes, exif: Option<Bytes>) -> Result<Vec<u8>, PhotoError> {
    const PICTURE: [[u8; 4]; 7] = [
        webp::CHUNK_VP8X,
        webp::CHUNK_ICCP,
        webp::CHUNK_ANIM,
        webp::CHUNK_ANMF,
        webp::CHUNK_ALPH,
        webp::CHUNK_VP8,
        webp::CHUNK_VP8L,
    ];
    let failed = |reason: &dyn std::fmt::Display| broken(PhotoType::Webp, reason);
    let mut image = WebP::from_bytes(bytes).map_err(|error| failed(&error))?;
    image
        .chunks_mut()
        .retain(|chunk| PICTURE.contains(&chunk.id()));
    // RFC 9649, section 2.7.1: this bit of the first byte says that there is XMP.
    const XMP: u8 = 0b0000_0100;
    for chunk in image.chunks_mut() {
        let RiffContent::Data(flags) = chunk.content() else {
            continue;
        };
        if chunk.id() == webp::CHUNK_VP8X && flags.first().is_some_and(|first| first & XMP != 0) {
            let mut flags = flags.to_vec();
            if let Some(first) = flags.first_mut() {
                *first &= !XMP;
            }
            *chunk = RiffChunk::new(webp::CHUNK_VP8X, RiffContent::Data(flags.into()));
        }
    }
    image.set_exif(exif);
    Ok(image.encoder().bytes().to_vec())
}

/// What the camera says of the picture.
struct Told {
    orientation: u8,
    taken_time: Option<Timestamp>,
}

impl Told {
    /// A file without, or with broken, EXIF says nothing.
    fn read(bytes: &[u8], zone: &TimeZone) -> Self {
        use exif::{In, Tag};
        // Cameras and programs write much that is slightly wrong; what can be read
        // of it counts.
        let told = exif::Reader::new()
            .continue_on_error(true)
            .read_from_container(&mut Cursor::new(bytes))
            .or_else(|error| error.distill_partial_result(|_| {}));
        let Ok(told) = told else {
            return Self {
                orientation: 1,
                taken_time: None,
            };
        };
        let orientation = told
            .get_field(Tag::Orientation, In::PRIMARY)
            .and_then(|field| field.value.get_uint(0))
            .and_then(|value| u8::try_from(value).ok())
            .filter(|value| (1..=8).contains(value));
        let text = |tag| told.get_field(tag, In::PRIMARY).and_then(ascii);
        let taken_time = text(Tag::DateTimeOriginal)
            .and_then(|time| instant(&time, text(Tag::OffsetTimeOriginal).as_deref(), zone));
        Self {
            orientation: orientation.unwrap_or(1),
            taken_time,
        }
    }
}

fn ascii(field: &exif::Field) -> Option<String> {
    match &field.value {
        exif::Value::Ascii(texts) => String::from_utf8(texts.first()?.clone()).ok(),
        _ => None,
    }
}

/// A time as EXIF 2.32 writes it, `2026:03:02 09:15:00`, and its offset, `+01:00`.
fn instant(time: &str, offset: Option<&str>, zone: &TimeZone) -> Option<Timestamp> {
    let time = DateTime::strptime("%Y:%m:%d %H:%M:%S", time.trim()).ok()?;
    let zone = match offset.and_then(offset_of) {
        Some(offset) => TimeZone::fixed(offset),
        None => zone.clone(),
    };
    let instant = zone.to_timestamp(time).ok()?;
    // Before digital cameras: a clock that was never set.
    (instant.as_second() > 0).then_some(instant)
}

fn offset_of(text: &str) -> Option<Offset> {
    let text = text.trim();
    let (sign, text) = match text.split_at_checked(1)? {
        ("+", text) => (1, text),
        ("-", text) => (-1, text),
        _ => return None,
    };
    let (hours, minutes) = text.split_once(':')?;
    let minutes =
        hours.parse::<u16>().ok()?.checked_mul(60)? + minutes.parse::<u8>().ok()?.min(59) as u16;
    Offset::from_seconds(sign * i32::from(minutes) * 60).ok()
}

/// EXIF that holds the orientation and nothing else: one directory of one short
/// (TIFF 6.0, section 2).
fn only_orientation(orientation: u8) -> Bytes {
    let mut tiff = b"MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    tiff.extend_from_slice(&[orientation, 0, 0, 0, 0, 0, 0]);
    tiff.into()
}

fn location_kept() -> v1::Caution {
    v1::Caution {
        code: "PHOTO_LOCATION_KEPT".to_owned(),
        severity: v1::Severity::Caution.into(),
        text: "This HEIC file is kept as it came, with all that the camera wrote into it, which \
               may say where it was taken. Send JPEG to have that taken out."
            .to_owned(),
        basis: "ISO/IEC 23008-12: parts are found by their place in the file".to_owned(),
    }
}

fn broken(kind: PhotoType, reason: &dyn std::fmt::Display) -> PhotoError {
    let kind = match kind {
        PhotoType::Jpeg => "JPEG",
        PhotoType::Png => "PNG",
        PhotoType::Webp => "WebP",
        PhotoType::Heic => "HEIC",
        PhotoType::Unspecified => "unknown",
    };
    PhotoError::Broken {
        kind,
        reason: reason.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Two pixels, black and white (PNG, third edition; made with zlib by hand).
    fn png(extra: &[(&[u8; 4], &[u8])]) -> Vec<u8> {
        use img_parts::png::PngChunk;
        let chunk = |kind: &[u8; 4], data: &[u8]| {
            let data = Bytes::copy_from_slice(data);
            PngChunk::new(*kind, data).encoder().bytes().to_vec()
        };
        let mut file = b"\x89PNG\r\n\x1A\n".to_vec();
        file.extend(chunk(b"IHDR", b"\0\0\0\x02\0\0\0\x01\x08\0\0\0\0"));
        for (kind, data) in extra {
            file.extend(chunk(kind, data));
        }
        let zlib = b"\x78\x01\x01\x03\0\xFC\xFF\0\0\xFF\x02\0\x01\0";
        file.extend(chunk(b"IDAT", zlib));
        file.extend(chunk(b"IEND", b""));
        file
    }

    fn examined(bytes: Vec<u8>) -> Result<Image, PhotoError> {
        examine(bytes, &TimeZone::UTC)
    }

    #[test]
    fn what_is_not_the_picture_goes_and_the_orientation_stays() {
        let turned = only_orientation(6);
        let given = png(&[
            (b"tEXt", b"Comment\0at home"),
            (b"eXIf", &turned),
            (b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0<x/>"),
            (b"gAMA", b"\0\0\xB1\x8F"),
        ]);
        let image = examined([&given[..], b"appended"].concat()).unwrap();
        assert_eq!(
            (image.width_px, image.height_px, image.orientation),
            (2, 1, 6)
        );
        assert_eq!(image.kind, PhotoType::Png);
        let text = String::from_utf8_lossy(&image.bytes).into_owned();
        for gone in ["tEXt", "iTXt", "appended"] {
            assert!(!text.contains(gone), "{gone}");
        }
        for kept in ["eXIf", "gAMA", "IDAT"] {
            assert!(text.contains(kept), "{kept}");
        }
        let again = examined(image.bytes.clone()).unwrap();
        assert_eq!(again, image, "once more changes nothing");
    }

    #[test]
    fn other_kinds_and_halves_of_files_are_refused() {
        let webp_animation_of_nothing = b"RIFF\x04\0\0\0WEBP".to_vec();
        for other in [
            b"".to_vec(),
            b"GIF89a".to_vec(),
            b"%PDF-1.7".to_vec(),
            b"<svg/>".to_vec(),
        ] {
            assert!(matches!(examined(other), Err(PhotoError::UnknownType)));
        }
        let whole = png(&[]);
        for half in [
            whole[..40].to_vec(),
            b"\xFF\xD8\xFF\xD9 and no picture".to_vec(),
            webp_animation_of_nothing,
        ] {
            let error = examined(half.clone()).unwrap_err();
            assert!(
                matches!(error, PhotoError::Broken { .. }),
                "{half:?}: {error}"
            );
        }
    }

    #[test]
    fn a_cameras_time_is_read_with_its_offset_or_in_the_shops_zone() {
        let vienna = TimeZone::get("Europe/Vienna").unwrap();
        let read = |time, offset| instant(time, offset, &vienna).map(|t| t.to_string());
        assert_eq!(
            read("2026:03:02 09:15:00", None).unwrap(),
            "2026-03-02T08:15:00Z"
        );
        assert_eq!(
            read("2026:03:02 09:15:00", Some("-05:30")).unwrap(),
            "2026-03-02T14:45:00Z"
        );
        for never in [
            "0000:00:00 00:00:00",
            "    :  :     :  :  ",
            "yesterday",
            "1969:01:01 00:00:00",
        ] {
            assert_eq!(read(never, None), None, "{never}");
        }
    }

    proptest! {
        #[test]
        fn no_bytes_make_it_panic(
            start in prop::sample::select(vec![
                &b"\xFF\xD8\xFF\xE1"[..], b"\x89PNG\r\n\x1A\n", b"RIFF\x20\0\0\0WEBPVP8X", b"\0\0\0\x18ftypheic",
            ]),
            rest: Vec<u8>,
        ) {
            let _ = examined([start, &rest].concat());
        }

        #[test]
        fn a_cut_in_a_png_never_panics_and_is_never_taken(cut in 0_usize..57) {
            let whole = png(&[]);
            prop_assert!(examined(whole[..cut.min(whole.len() - 1)].to_vec()).is_err());
        }
    }
}
