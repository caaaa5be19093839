//! Luma pictures as JPEG.

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder, ImageReader, Limits};

/// Quality that keeps fine texture: quantisation of the highest frequencies
/// must not look like blur.
const QUALITY: u8 = 82;
/// Largest side of a picture that is read back, px.
const LARGEST: u32 = 4096;

/// A luma picture, row by row, 0 black, 255 white.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grey {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// `width × height` values.
    pub pixels: Vec<u8>,
}

/// Why a picture could not be written or read.
#[derive(Debug, thiserror::Error)]
#[error("the picture cannot be used: {0}")]
pub struct PictureError(String);

impl Grey {
    /// The picture as a baseline JPEG without metadata.
    ///
    /// # Errors
    /// A picture without pixels.
    pub fn to_jpeg(&self) -> Result<Vec<u8>, PictureError> {
        let size = |n: usize| u32::try_from(n).map_err(|e| PictureError(e.to_string()));
        let mut bytes = Vec::new();
        JpegEncoder::new_with_quality(&mut bytes, QUALITY)
            .write_image(
                &self.pixels,
                size(self.width)?,
                size(self.height)?,
                ExtendedColorType::L8,
            )
            .map_err(|e| PictureError(e.to_string()))?;
        Ok(bytes)
    }

    /// Reads a JPEG of believable size.
    ///
    /// # Errors
    /// What is no JPEG, or is larger than any evidence.
    pub fn from_jpeg(bytes: &[u8]) -> Result<Self, PictureError> {
        let mut reader = ImageReader::new(std::io::Cursor::new(bytes));
        reader.set_format(image::ImageFormat::Jpeg);
        let mut limits = Limits::default();
        limits.max_image_width = Some(LARGEST);
        limits.max_image_height = Some(LARGEST);
        reader.limits(limits);
        let decoded = reader.decode().map_err(|e| PictureError(e.to_string()))?;
        let grey = decoded.into_luma8();
        Ok(Self {
            width: grey.width() as usize,
            height: grey.height() as usize,
            pixels: grey.into_raw(),
        })
    }
}
