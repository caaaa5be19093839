//! Photographs of a printed card whose blur is known.
//!
//! Light is added up on a raster four times as fine as the picture's, spread by a
//! uniform disc, collected by square pixels, given the tone curve of IEC 61966-2-1
//! (sRGB), sharpened as a camera may (an unsharp mask on code values, clipped) and
//! written as JPEG. Nothing is shared with the analysis.

#![allow(dead_code, clippy::unwrap_used)]

use std::path::Path;

use focuslag::card::{Card, CardSpec, Paper, Side, Tone};
use image::{GrayImage, Luma};

/// Raster cells a pixel.
const FINE: usize = 4;
/// Reflectance of paper and ink (common practice, no source).
const PAPER: f32 = 0.85;
const INK: f32 = 0.06;

/// How a picture is taken.
#[derive(Clone, Copy, Debug)]
pub struct Shot {
    /// Diameter of the blur disc, px.
    pub disc_px: f64,

    /// Width and height of the picture.
    pub size: (usize, usize),
    /// Amount of the unsharp mask, 0 for none.
    pub sharpened: f32,
    /// Standard deviation of noise at white, share of white.
    pub noise: f32,
    /// JPEG quality, 1..=100.
    pub quality: u8,
    /// Of the noise.
    pub seed: u64,
}

/// Light on a fine raster: the card before a grey wall.
pub struct Scene {
    wide: usize,
    high: usize,
    light: Vec<f32>,
}

impl Scene {
    /// The card of `side` with its texture `card_px` high in the middle of a
    /// picture of `size`.
    pub fn new(side: Side, card_px: f64, size: (usize, usize)) -> Self {
        let spec = CardSpec {
            side,
            paper: Paper::A4,
            seed: 1,
            finest_mm: 1.0,
        };
        let card = Card::new(spec).unwrap();
        let (wide, high) = (size.0 * FINE, size.1 * FINE);
        let area = card.leaves.area;
        // Millimetres to cells; off the raster by a part of a pixel, as in life.
        let cells = card_px * FINE as f64 / area.height;
        let left = wide as f64 / 2.0 - area.width * cells / 2.0 + 1.3;
        let top = high as f64 / 2.0 - area.height * cells / 2.0 + 0.7;
        let mut light = vec![0.4; wide * high];
        let place = |mm: f64, from: f64, to: f64| (mm - from) * cells + to;
        let inside = |x: f64, y: f64| {
            let (right, bottom) = (left + area.width * cells, top + area.height * cells);
            x >= left && x < right && y >= top && y < bottom
        };
        for disc in &card.leaves.discs {
            let (cx, cy) = (place(disc.x, area.x, left), place(disc.y, area.y, top));
            let r = disc.radius * cells;
            let value = match disc.tone {
                Tone::Black => INK,
                Tone::White => PAPER,
            };
            let rows = (cy - r).max(0.0) as usize..((cy + r) as usize + 1).min(high);
            for y in rows {
                let off = y as f64 + 0.5 - cy;
                let half = (r * r - off * off).max(0.0).sqrt();
                let columns = (cx - half).max(0.0) as usize..((cx + half) as usize + 1).min(wide);
                for x in columns {
                    let (px, py) = (x as f64 + 0.5, y as f64 + 0.5);
                    if (px - cx).abs() <= half && inside(px, py) {
                        light[y * wide + x] = value;
                    }
                }
            }
        }
        Self { wide, high, light }
    }

    /// A photograph of it; its blur, noise and so on by `shot`.
    pub fn photograph(&self, shot: &Shot) -> GrayImage {
        let spread = self.spread(shot.disc_px * FINE as f64 / 2.0);
        let mut pixels = collected(&spread, self.wide, shot.size);
        let mut state = shot.seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
        for p in &mut pixels {
            let noise = shot.noise * p.max(0.0).sqrt() * normal(&mut state);
            *p = curve(*p + noise);
        }
        if shot.sharpened > 0.0 {
            sharpen(&mut pixels, shot.size, shot.sharpened);
        }
        let byte = |p: f32| (p.clamp(0.0, 1.0) * 255.0).round() as u8;
        GrayImage::from_fn(shot.size.0 as u32, shot.size.1 as u32, |x, y| {
            Luma([byte(pixels[y as usize * shot.size.0 + x as usize])])
        })
    }

    /// The light spread by a disc of `radius` cells: every row of the disc is a run,
    /// summed by differences of running sums.
    fn spread(&self, radius: f64) -> Vec<f32> {
        if radius < 0.5 {
            return self.light.clone();
        }
        let reach = radius.floor() as isize;
        let runs: Vec<(isize, isize)> = (-reach..=reach)
            .map(|dy| {
                (
                    dy,
                    (radius * radius - (dy * dy) as f64).sqrt().round() as isize,
                )
            })
            .collect();
        let cells: isize = runs.iter().map(|(_, half)| 2 * half + 1).sum();
        let sums: Vec<Vec<f64>> = self.light.chunks(self.wide).map(running).collect();
        let (wide, high) = (self.wide as isize, self.high as isize);
        let mut out = vec![0.0; self.light.len()];
        for y in 0..high {
            for x in 0..wide {
                let mut sum = 0.0;
                for (dy, half) in &runs {
                    let row = &sums[(y + dy).clamp(0, high - 1) as usize];
                    let from = (x - half).clamp(0, wide) as usize;
                    let to = (x + half + 1).clamp(0, wide) as usize;
                    sum += row[to] - row[from];
                }
                out[(y * wide + x) as usize] = (sum / cells as f64) as f32;
            }
        }
        out
    }
}

fn running(row: &[f32]) -> Vec<f64> {
    let mut sum = 0.0;
    let mut out = vec![0.0];
    for v in row {
        sum += f64::from(*v);
        out.push(sum);
    }
    out
}

/// What square pixels collect.
fn collected(light: &[f32], wide: usize, size: (usize, usize)) -> Vec<f32> {
    let mut out = vec![0.0; size.0 * size.1];
    for (y, row) in light.chunks(wide).enumerate() {
        for (x, v) in row.iter().enumerate() {
            out[y / FINE * size.0 + x / FINE] += v / (FINE * FINE) as f32;
        }
    }
    out
}

/// IEC 61966-2-1.
fn curve(light: f32) -> f32 {
    let light = light.clamp(0.0, 1.0);
    if light <= 0.003_130_8 {
        12.92 * light
    } else {
        1.055 * light.powf(1.0 / 2.4) - 0.055
    }
}

/// An unsharp mask of one pixel's radius.
fn sharpen(pixels: &mut [f32], (wide, high): (usize, usize), amount: f32) {
    let kernel: Vec<f32> = (-3i32..=3).map(|k| (-0.5 * (k * k) as f32).exp()).collect();
    let sum: f32 = kernel.iter().sum();
    let along = |from: &[f32], step: (isize, isize)| -> Vec<f32> {
        let mut out = vec![0.0; from.len()];
        for y in 0..high as isize {
            for x in 0..wide as isize {
                let at = |k: usize| {
                    let by = k as isize - 3;
                    let x = (x + by * step.0).clamp(0, wide as isize - 1);
                    let y = (y + by * step.1).clamp(0, high as isize - 1);
                    from[y as usize * wide + x as usize]
                };
                let mean: f32 = kernel.iter().enumerate().map(|(k, w)| w * at(k)).sum();
                out[y as usize * wide + x as usize] = mean / sum;
            }
        }
        out
    };
    let blurred = along(&along(pixels, (1, 0)), (0, 1));
    for (p, b) in pixels.iter_mut().zip(&blurred) {
        *p = (*p + amount * (*p - b)).clamp(0.0, 1.0);
    }
}

/// A normal deviate: twelve even ones less six (common practice, no source).
fn normal(state: &mut u64) -> f32 {
    (0..12).map(|_| even(state)).sum::<f32>() - 6.0
}

/// An even deviate by xorshift64 (Marsaglia 2003, J. Stat. Softw. 8(14)).
fn even(state: &mut u64) -> f32 {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    (*state >> 40) as f32 / (1u64 << 24) as f32
}

/// Writes a picture as JPEG.
pub fn save(picture: &GrayImage, quality: u8, path: &Path) {
    let file = std::fs::File::create(path).unwrap();
    let out = std::io::BufWriter::new(file);
    image::codecs::jpeg::JpegEncoder::new_with_quality(out, quality)
        .encode_image(picture)
        .unwrap();
}

/// The same, taken at this time of the camera's clock (ms from its midnight), as
/// Exif has it with hundredths of a second.
pub fn save_at(picture: &GrayImage, quality: u8, path: &Path, ms: u64) {
    use exif::experimental::Writer;
    use exif::{Field, In, Tag, Value};
    use image::ImageEncoder;
    let (s, hundredths) = (ms / 1000, ms % 1000 / 10);
    let time = format!(
        "2026:06:01 {:02}:{:02}:{:02}",
        s / 3600,
        s / 60 % 60,
        s % 60
    );
    let field = |tag: Tag, text: String| Field {
        tag,
        ifd_num: In::PRIMARY,
        value: Value::Ascii(vec![text.into_bytes()]),
    };
    let fields = [
        field(Tag::DateTimeOriginal, time),
        field(Tag::SubSecTimeOriginal, format!("{hundredths:02}")),
    ];
    let mut writer = Writer::new();
    fields.iter().for_each(|f| writer.push_field(f));
    let mut block = std::io::Cursor::new(Vec::new());
    writer.write(&mut block, false).unwrap();
    let out = std::io::BufWriter::new(std::fs::File::create(path).unwrap());
    let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(out, quality);
    encoder.set_exif_metadata(block.into_inner()).unwrap();
    encoder.encode_image(picture).unwrap();
}
