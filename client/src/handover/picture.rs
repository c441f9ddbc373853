//! Photos made fit for a page: turned upright, small enough to send by mail, and
//! written into the page itself.

use std::io::Cursor;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageEncoder as _, ImageReader, Limits, imageops};
use lamella_proto::v1;

use super::sheet::{Photo, Photos};
use super::work::panel_name;
use crate::names::clean;
use crate::render;
use crate::text::View;

/// Longer side of a photo on the page, pixels: 200 dpi on half the width of A4.
const LONGER_SIDE_PX: u32 = 1_000;
/// Quality of the JPEG on the page, percent.
const QUALITY: u8 = 80;
/// Most memory to unpack one photo in, bytes.
const MEMORY: u64 = 1 << 30;

/// The photos by moment, at most `most` of them.
pub(crate) fn photos(
    all: &[(v1::Photo, Vec<u8>)],
    vehicle: &v1::Vehicle,
    most: usize,
    view: &View,
) -> Vec<Photos> {
    let mut room = most;
    let moments = [
        v1::PhotoMoment::Before,
        v1::PhotoMoment::During,
        v1::PhotoMoment::After,
    ];
    let mut groups = Vec::new();
    for moment in moments {
        let mut group = Photos {
            moment: render::photo::moment(moment),
            ..Photos::default()
        };
        for (photo, bytes) in all.iter().filter(|(photo, _)| photo.moment() == moment) {
            let shown = if room == 0 {
                Err(format!("more than {most} photos"))
            } else {
                shown(photo, bytes, vehicle, view)
            };
            match shown {
                Ok(photo) => {
                    room -= 1;
                    group.shown.push(photo);
                }
                Err(why) => group
                    .left_out
                    .push(format!("{}: {why}", clean(&photo.name))),
            }
        }
        if !group.shown.is_empty() || !group.left_out.is_empty() {
            groups.push(group);
        }
    }
    groups
}

fn shown(
    photo: &v1::Photo,
    bytes: &[u8],
    vehicle: &v1::Vehicle,
    view: &View,
) -> Result<Photo, String> {
    if photo.r#type() == v1::PhotoType::Heic {
        return Err("HEIC, which browsers do not show".to_owned());
    }
    let (jpeg, width_px, height_px) =
        smaller(bytes, photo.orientation).map_err(|error| error.to_string())?;
    let subject = if photo.panel.is_empty() {
        "the car".to_owned()
    } else {
        panel_name(vehicle, &photo.panel)
    };
    let moment = render::photo::moment(photo.moment());
    let taken = photo.taken_time.as_ref().map(|time| view.time(time));
    let said = [
        subject.clone(),
        clean(&photo.caption),
        taken.unwrap_or_default(),
    ];
    let said: Vec<String> = said.into_iter().filter(|text| !text.is_empty()).collect();
    let alt = match photo.caption.as_str() {
        "" => format!("Photo of {subject}, {moment} the work"),
        caption => format!("Photo of {subject}, {moment} the work: {}", clean(caption)),
    };
    Ok(Photo {
        name: clean(&photo.name),
        src: format!("data:image/jpeg;base64,{}", STANDARD.encode(jpeg)),
        width_px,
        height_px,
        alt,
        caption: said.join(", "),
    })
}

/// The picture as JPEG, upright, its longer side limited, with its colour profile;
/// and its width and height, pixels.
fn smaller(bytes: &[u8], orientation: i32) -> Result<(Vec<u8>, u32, u32), image::ImageError> {
    let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format()?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder()?;
    let profile = decoder.icc_profile()?;
    let mut picture = DynamicImage::from_decoder(decoder)?;
    if picture.width().max(picture.height()) > LONGER_SIDE_PX {
        picture = picture.resize(
            LONGER_SIDE_PX,
            LONGER_SIDE_PX,
            imageops::FilterType::CatmullRom,
        );
    }
    let orientation = u8::try_from(orientation)
        .ok()
        .and_then(Orientation::from_exif);
    picture.apply_orientation(orientation.unwrap_or(Orientation::NoTransforms));
    let mut jpeg = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut jpeg, QUALITY);
    let picture = match (profile, picture.color().has_color()) {
        (profile, true) => {
            if let Some(profile) = profile {
                // Without it colours are merely taken for the usual ones.
                let _ = encoder.set_icc_profile(profile);
            }
            DynamicImage::from(picture.into_rgb8())
        }
        (_, false) => DynamicImage::from(picture.into_luma8()),
    };
    encoder.encode_image(&picture)?;
    Ok((jpeg, picture.width(), picture.height()))
}

#[cfg(test)]
mod tests {
    use image::{Rgb, RgbImage};

    use super::*;
    use crate::text::tests::view;
    use crate::units::System;

    /// Left half red, right half blue.
    fn png(width: u32, height: u32) -> Vec<u8> {
        let picture = RgbImage::from_fn(width, height, |x, _| {
            if x < width / 2 {
                Rgb([250, 0, 0])
            } else {
                Rgb([0, 0, 250])
            }
        });
        let mut bytes = Cursor::new(Vec::new());
        picture
            .write_to(&mut bytes, image::ImageFormat::Png)
            .unwrap();
        bytes.into_inner()
    }

    #[test]
    fn a_large_photo_is_made_small_and_turned_upright() {
        // EXIF 2.32, tag 274: 6 means that the first row is the right side, so
        // that what is stored on the left is shown on top.
        let (jpeg, width, height) = smaller(&png(3_000, 1_500), 6).unwrap();
        assert_eq!((width, height), (500, 1_000));
        let upright = image::load_from_memory(&jpeg).unwrap().into_rgb8();
        assert_eq!(upright.dimensions(), (500, 1_000));
        let (top, bottom) = (upright.get_pixel(250, 50), upright.get_pixel(250, 950));
        assert!(top[0] > 200 && top[2] < 50, "{top:?}");
        assert!(bottom[2] > 200 && bottom[0] < 50, "{bottom:?}");
    }

    #[test]
    fn photos_go_by_moment_and_what_cannot_be_shown_is_said() {
        let photo = |number: u32, moment: v1::PhotoMoment, kind: v1::PhotoType| v1::Photo {
            name: format!("jobs/a/photos/{number}"),
            moment: moment.into(),
            r#type: kind.into(),
            orientation: 1,
            ..Default::default()
        };
        use v1::PhotoMoment::{After, Before};
        let all = [
            (photo(1, After, v1::PhotoType::Png), png(4, 4)),
            (photo(2, Before, v1::PhotoType::Png), png(4, 4)),
            (photo(3, Before, v1::PhotoType::Heic), Vec::new()),
            (photo(4, Before, v1::PhotoType::Png), b"broken".to_vec()),
            (photo(5, After, v1::PhotoType::Png), png(4, 4)),
        ];
        let groups = photos(&all, &v1::Vehicle::default(), 2, &view(System::Metric));
        let told: Vec<_> = groups
            .iter()
            .map(|g| (g.moment.as_str(), g.shown.len(), g.left_out.len()))
            .collect();
        assert_eq!(told, [("before", 1, 2), ("after", 1, 1)]);
        assert!(
            groups[0].left_out[0].contains("HEIC"),
            "{:?}",
            groups[0].left_out
        );
        assert!(
            groups[1].left_out[0].contains("photos/5: more than 2"),
            "{:?}",
            groups[1].left_out
        );
        assert_eq!(groups[0].shown[0].alt, "Photo of the car, before the work");
    }
}
