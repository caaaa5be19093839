//! What a picture shows in its focus area, to look at.

use std::io::Cursor;
use std::path::Path;

use image::DynamicImage;
use image::codecs::jpeg::JpegEncoder;

use super::file::decoded;

/// Largest side of a crop, px: every pixel is shown, so that blur is seen.
const SIDE: u32 = 360;
/// Quality of its JPEG: what it adds is finer than what is looked for.
const QUALITY: u8 = 88;

/// A part of a photograph as JPEG, without anything else of its file.
#[derive(Clone, Debug, PartialEq)]
pub struct Crop {
    /// Width and height, px.
    pub size: (u32, u32),
    /// The bytes.
    pub jpeg: Vec<u8>,
}

/// The middle of a picture's focus area, pixel by pixel; `None` where it cannot be
/// read any more.
pub(crate) fn crop(path: &Path, area: [f64; 4]) -> Option<Crop> {
    let (picture, _) = decoded(path).ok()?;
    let (w, h) = (f64::from(picture.width()), f64::from(picture.height()));
    let part = |low: f64, high: f64, side: f64| {
        let long = ((high - low) * side).min(f64::from(SIDE)).max(1.0);
        let from = (f64::midpoint(low, high) * side - long / 2.0).max(0.0);
        (from as u32, long as u32)
    };
    let ((x, wide), (y, high)) = (part(area[0], area[2], w), part(area[1], area[3], h));
    let cut = DynamicImage::ImageRgb8(picture.crop_imm(x, y, wide, high).into_rgb8());
    let mut jpeg = Cursor::new(Vec::new());
    cut.write_with_encoder(JpegEncoder::new_with_quality(&mut jpeg, QUALITY))
        .ok()?;
    Some(Crop {
        size: (cut.width(), cut.height()),
        jpeg: jpeg.into_inner(),
    })
}
