//! One photograph as luma, upright.

use std::path::Path;

use image::{DynamicImage, ImageDecoder, ImageReader, Limits};

use super::PhotoError;
use super::exif::taken;
use super::pair::Taken;
use crate::clip::{Depth, LumaFrame};
use crate::units::StoredTime;

/// Largest side of a picture, px: three times what cameras make today.
const LARGEST_SIDE: u32 = 40_000;
/// Most pixels of a picture: more than any camera of today makes.
const MOST_PIXELS: u64 = 200_000_000;
/// Most memory that one picture may take while it is read: 150 million pixels of
/// 16 bits and three colours.
const MOST_BYTES: u64 = 1 << 30;

/// A photograph in memory.
pub(super) struct Photograph {
    /// Width and height, px, upright.
    pub size: (usize, usize),
    /// When it was taken, where the file says so.
    pub taken: Option<Taken>,
    samples: Samples,
}

enum Samples {
    Eight(Vec<u8>),
    Sixteen(Vec<u16>),
}

impl Photograph {
    /// Reads a file, turned as it is meant to be seen.
    ///
    /// # Errors
    /// What the decoder says of a file that it cannot read.
    pub fn open(path: &Path) -> Result<Self, PhotoError> {
        let said = |source_text: String| PhotoError::Picture {
            file: path.display().to_string(),
            source_text,
        };
        if !path.is_file() {
            return Err(said("it is not a plain file".to_owned()));
        }
        let (picture, taken) = decoded(path).map_err(said)?;
        let size = (picture.width() as usize, picture.height() as usize);
        let samples = match &picture {
            DynamicImage::ImageLuma16(_)
            | DynamicImage::ImageLumaA16(_)
            | DynamicImage::ImageRgb16(_)
            | DynamicImage::ImageRgba16(_)
            | DynamicImage::ImageRgb32F(_)
            | DynamicImage::ImageRgba32F(_) => Samples::Sixteen(picture.into_luma16().into_raw()),
            _ => Samples::Eight(picture.into_luma8().into_raw()),
        };
        Ok(Self {
            size,
            taken,
            samples,
        })
    }

    /// The picture as a frame at time 0; luma of code values, 0..=1.
    pub fn frame(&self) -> LumaFrame<'_> {
        let (samples, white) = match &self.samples {
            Samples::Eight(s) => (Depth::Eight(s), f32::from(u8::MAX)),
            Samples::Sixteen(s) => (Depth::Sixteen(s), f32::from(u16::MAX)),
        };
        LumaFrame {
            time: StoredTime(0.0),
            size: self.size,
            samples,
            stride: self.size.0,
            levels: (0.0, white),
            key: true,
            chroma: None,
        }
    }
}

pub(super) fn decoded(path: &Path) -> Result<(DynamicImage, Option<Taken>), String> {
    let words = |e: image::ImageError| e.to_string();
    let file = std::fs::File::open(path).map_err(|e| e.to_string())?;
    let reader = ImageReader::new(std::io::BufReader::new(file)).with_guessed_format();
    let mut reader = reader.map_err(|e| e.to_string())?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(LARGEST_SIDE);
    limits.max_image_height = Some(LARGEST_SIDE);
    limits.max_alloc = Some(MOST_BYTES);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(words)?;
    let (wide, high) = decoder.dimensions();
    if u64::from(wide) * u64::from(high) > MOST_PIXELS {
        return Err(format!(
            "{wide} × {high} px; at most {} million pixels are read",
            MOST_PIXELS / 1_000_000
        ));
    }
    let turned = decoder.orientation().map_err(words)?;
    let exif = decoder.exif_metadata().unwrap_or_default();
    let mut picture = DynamicImage::from_decoder(decoder).map_err(words)?;
    picture.apply_orientation(turned);
    Ok((picture, exif.as_deref().and_then(taken)))
}
