//! One luma picture as it left the decoder, stride and levels hidden.

use multiversion::multiversion;

use super::Chroma;
use crate::units::StoredTime;

/// Raw samples of the luma plane, borrowed from the decoder.
#[derive(Clone, Copy, Debug)]
pub enum Depth<'a> {
    /// One byte a sample.
    Eight(&'a [u8]),
    /// Two bytes a sample (9 to 16 bits; [`LumaFrame::levels`] tells where in
    /// the word they lie).
    Sixteen(&'a [u16]),
}

/// A luma picture in stored orientation (the display matrix is *not* applied:
/// map regions with [`super::Orientation`], pixels stay untouched).
#[derive(Clone, Copy, Debug)]
pub struct LumaFrame<'a> {
    /// Presentation time on the container's time line, from the first shown frame.
    pub time: StoredTime,
    /// Visible width and height in pixels, cropping applied.
    pub size: (usize, usize),
    /// Samples from the first visible one on.
    pub samples: Depth<'a>,
    /// Samples from one row to the next, ≥ width.
    pub stride: usize,
    /// Raw value of black and of white (16 and 235 for 8-bit limited range).
    pub levels: (f32, f32),
    /// Whether this frame was coded as a key frame.
    pub key: bool,
    /// The colour planes, where they can be read.
    pub chroma: Option<Chroma<'a>>,
}

/// A luma sample as light, white = 1: its square, near enough to the usual tone
/// curves (powers of 1.9 to 2.4). What lies below black is none.
pub fn light(luma: f32) -> f32 {
    let luma = luma.max(0.0);
    luma * luma
}

impl LumaFrame<'_> {
    /// Copies row `y`, columns `x0..x0 + out.len()`, as luma 0..=1 (values
    /// outside the nominal range are kept, not clipped).
    ///
    /// Columns and row must lie inside [`Self::size`]; what lies outside is
    /// left as it was in `out`.
    pub fn row(&self, y: usize, x0: usize, out: &mut [f32]) {
        let (scale, offset) = self.scale();
        let from = y * self.stride + x0;
        match self.samples {
            Depth::Eight(s) => eight(s.get(from..).unwrap_or(&[]), scale, offset, out),
            Depth::Sixteen(s) => sixteen(s.get(from..).unwrap_or(&[]), scale, offset, out),
        }
    }

    /// The same of the strongest of red, green and blue: what a lamp of any colour
    /// raises. Luma where there is no colour.
    pub fn strongest(&self, y: usize, x0: usize, out: &mut [f32]) {
        self.row(y, x0, out);
        let Some(chroma) = &self.chroma else { return };
        let matrix = chroma.matrix();
        for (x, v) in (x0..).zip(out) {
            if let Some(colour) = chroma.at(x, y) {
                *v = matrix.strongest(*v, colour);
            }
        }
    }

    /// The same for every `step`-th column (at least 1) from `x0` on.
    pub fn every(&self, y: usize, x0: usize, step: usize, out: &mut [f32]) {
        let (scale, offset) = self.scale();
        let from = y * self.stride + x0;
        match self.samples {
            Depth::Eight(s) => {
                let samples = s.get(from..).unwrap_or(&[]).iter().step_by(step);
                for (o, v) in out.iter_mut().zip(samples) {
                    *o = f32::from(*v) * scale + offset;
                }
            }
            Depth::Sixteen(s) => {
                let samples = s.get(from..).unwrap_or(&[]).iter().step_by(step);
                for (o, v) in out.iter_mut().zip(samples) {
                    *o = f32::from(*v) * scale + offset;
                }
            }
        }
    }

    fn scale(&self) -> (f32, f32) {
        let scale = 1.0 / (self.levels.1 - self.levels.0);
        (scale, -self.levels.0 * scale)
    }
}

#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
fn eight(samples: &[u8], scale: f32, offset: f32, out: &mut [f32]) {
    for (o, v) in out.iter_mut().zip(samples) {
        *o = f32::from(*v) * scale + offset;
    }
}

#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
fn sixteen(samples: &[u16], scale: f32, offset: f32, out: &mut [f32]) {
    for (o, v) in out.iter_mut().zip(samples) {
        *o = f32::from(*v) * scale + offset;
    }
}
