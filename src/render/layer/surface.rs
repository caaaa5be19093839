//! A layer's surface in linear luminance, from a texture or from an image.

use std::path::Path;

use rand::Rng;

use super::texture;
use crate::render::RenderError;
use crate::render::scene::{Layer, Origin, Texture};

/// A picture in linear luminance, row-major.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Canvas {
    pub w: usize,
    pub h: usize,
    pub values: Vec<f32>,
}

/// A plain noisy surface (desk, wall).
pub(crate) fn noise(
    (w, h): (usize, usize),
    unit: f64,
    (mean, contrast): (f64, f64),
    rng: &mut impl Rng,
) -> Canvas {
    let values = texture::make(Texture::Noise, (w, h), unit, rng);
    tone(Canvas { w, h, values }, mean, contrast)
}

/// A layer's surface without an image.
pub(crate) fn drawn(layer: &Layer, size: (usize, usize), unit: f64, rng: &mut impl Rng) -> Canvas {
    let values = texture::make(layer.texture, size, unit * layer.scale, rng);
    let (w, h) = size;
    tone(Canvas { w, h, values }, layer.mean, layer.contrast)
}

/// The layer's surface at the wanted size; `unit` is the screen's height, px.
pub(crate) fn surface(
    layer: &Layer,
    size: (usize, usize),
    unit: f64,
    source: (&Path, &Origin, &'static str),
    rng: &mut impl Rng,
) -> Result<Canvas, RenderError> {
    let Some(image) = &layer.image else {
        return Ok(drawn(layer, size, unit, rng));
    };
    let (dir, origin, key) = source;
    let path = dir.join(image);
    let mut values = photograph(&path, size).map_err(|why| RenderError::Image {
        file: origin.file.clone(),
        line: match key {
            "near.image" => origin.near_image,
            _ => origin.far_image,
        },
        key,
        path,
        why,
    })?;
    texture::normalise(&mut values);
    let (w, h) = size;
    Ok(tone(Canvas { w, h, values }, layer.mean, layer.contrast))
}

/// Gives a picture of zero mean and unit deviation its mean and contrast.
fn tone(mut canvas: Canvas, mean: f64, contrast: f64) -> Canvas {
    let (mean, deviation) = (mean as f32, (mean * contrast) as f32);
    for v in &mut canvas.values {
        *v = (mean + deviation * *v).clamp(0.004, 1.0);
    }
    canvas
}

/// A picture file, cut and scaled to a size: linear luminance, row-major.
pub(crate) fn photograph(path: &Path, (w, h): (usize, usize)) -> Result<Vec<f32>, String> {
    if std::fs::metadata(path).is_ok_and(|m| !m.is_file()) {
        return Err("is no ordinary file".to_owned());
    }
    let opened = image::open(path).map_err(|e| e.to_string())?;
    let (width, height) = (w as u32, h as u32);
    let filled = opened
        .resize_to_fill(width, height, image::imageops::FilterType::CatmullRom)
        .to_luma32f();
    Ok(filled.pixels().map(|p| decode(p.0[0])).collect())
}

/// Display value to linear light (IEC 61966-2-1, sRGB).
pub(super) fn decode(v: f32) -> f32 {
    if v <= 0.04045 {
        return v / 12.92;
    }
    ((v + 0.055) / 1.055).powf(2.4)
}
