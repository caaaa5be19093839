//! A grey picture in memory.

use image::{GrayImage, Luma};

use crate::clip::LumaFrame;

/// Luma 0..=1 (a little beyond where the film is), row by row. Pixel (0,0)
/// covers 0..1.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Picture {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    pub values: Vec<f32>,
}

impl Picture {
    /// A picture of one value.
    pub fn new(width: usize, height: usize, value: f32) -> Self {
        Self {
            width,
            height,
            values: vec![value; width * height],
        }
    }

    /// A frame in full.
    pub fn of(frame: &LumaFrame<'_>) -> Self {
        let (width, height) = frame.size;
        let mut out = Self::new(width, height, 0.0);
        for (y, row) in out.values.chunks_exact_mut(width.max(1)).enumerate() {
            frame.row(y, 0, row);
        }
        out
    }

    /// Value at a place, interpolated; beyond the rim the rim's own.
    pub fn at(&self, x: f64, y: f64) -> f64 {
        let x = (x - 0.5).clamp(0.0, (self.width.max(1) - 1) as f64);
        let y = (y - 0.5).clamp(0.0, (self.height.max(1) - 1) as f64);
        let (ix, iy) = (x as usize, y as usize);
        let (fx, fy) = (x - ix as f64, y - iy as f64);
        let (jx, jy) = ((ix + 1).min(self.width - 1), (iy + 1).min(self.height - 1));
        let v = |x: usize, y: usize| f64::from(self.values[y * self.width + x]);
        (1.0 - fy) * ((1.0 - fx) * v(ix, iy) + fx * v(jx, iy))
            + fy * ((1.0 - fx) * v(ix, jy) + fx * v(jx, jy))
    }

    /// The same in 256 steps.
    pub fn gray(&self) -> GrayImage {
        let (w, h) = (self.width as u32, self.height as u32);
        GrayImage::from_fn(w, h, |x, y| {
            let v = self.values[y as usize * self.width + x as usize];
            Luma([(v.clamp(0.0, 1.0) * 255.0).round() as u8])
        })
    }

    /// Smoothed by [1 2 1]/4 along rows and columns.
    pub fn smoothed(&self) -> Self {
        let (w, h) = (self.width, self.height);
        let mut across = self.clone();
        for y in 0..h {
            for x in 0..w {
                let v = |x: usize| self.values[y * w + x];
                let (l, r) = (v(x.saturating_sub(1)), v((x + 1).min(w - 1)));
                across.values[y * w + x] = 0.25 * (l + r) + 0.5 * v(x);
            }
        }
        let mut out = across.clone();
        for y in 0..h {
            for x in 0..w {
                let v = |y: usize| across.values[y * w + x];
                let (u, d) = (v(y.saturating_sub(1)), v((y + 1).min(h - 1)));
                out.values[y * w + x] = 0.25 * (u + d) + 0.5 * v(y);
            }
        }
        out
    }
}
