//! One luma picture as it left the decoder, stride and levels hidden.

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
}

impl LumaFrame<'_> {
    /// Copies row `y`, columns `x0..x0 + out.len()`, as luma 0..=1 (values
    /// outside the nominal range are kept, not clipped).
    ///
    /// Columns and row must lie inside [`Self::size`]; what lies outside is
    /// left as it was in `out`.
    pub fn row(&self, y: usize, x0: usize, out: &mut [f32]) {
        let scale = 1.0 / (self.levels.1 - self.levels.0);
        let offset = -self.levels.0 * scale;
        let from = y * self.stride + x0;
        match self.samples {
            Depth::Eight(s) => {
                for (o, v) in out.iter_mut().zip(s.get(from..).unwrap_or(&[])) {
                    *o = f32::from(*v) * scale + offset;
                }
            }
            Depth::Sixteen(s) => {
                for (o, v) in out.iter_mut().zip(s.get(from..).unwrap_or(&[])) {
                    *o = f32::from(*v) * scale + offset;
                }
            }
        }
    }
}
