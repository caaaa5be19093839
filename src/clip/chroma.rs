//! The colour planes of a decoded frame, where they lie open in memory.
//!
//! Sources: ITU-T H.273, 8.3 (levels of Cb and Cr) and table 4 (K_R and K_B of
//! the matrices), which repeat ITU-R BT.601, BT.709 and BT.2020.

use ffmpeg_next::{color, ffi, frame};

use super::Depth;

/// The weights of red and blue in luma.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Matrix {
    red: f32,
    blue: f32,
}

impl Matrix {
    /// ITU-R BT.601.
    pub const BT601: Self = Self {
        red: 0.299,
        blue: 0.114,
    };
    /// ITU-R BT.709.
    pub const BT709: Self = Self {
        red: 0.2126,
        blue: 0.0722,
    };
    /// ITU-R BT.2020, non-constant luminance.
    pub const BT2020: Self = Self {
        red: 0.2627,
        blue: 0.0593,
    };

    /// Y (0..=1), Cb and Cr (−0.5..=0.5) of red, green and blue (0..=1).
    pub fn of_rgb(self, [r, g, b]: [f32; 3]) -> [f32; 3] {
        let y = self.red * r + (1.0 - self.red - self.blue) * g + self.blue * b;
        [
            y,
            0.5 * (b - y) / (1.0 - self.blue),
            0.5 * (r - y) / (1.0 - self.red),
        ]
    }

    /// Red, green and blue of Y (0..=1), Cb and Cr (−0.5..=0.5); outside 0..=1
    /// where the film's values name no colour.
    pub fn to_rgb(self, [luma, cb, cr]: [f32; 3]) -> [f32; 3] {
        let red = luma + 2.0 * (1.0 - self.red) * cr;
        let blue = luma + 2.0 * (1.0 - self.blue) * cb;
        let green = (luma - self.red * red - self.blue * blue) / (1.0 - self.red - self.blue);
        [red, green, blue]
    }

    /// The strongest of red, green and blue of a luma (0..=1) with Cb and Cr.
    pub fn strongest(self, luma: f32, [cb, cr]: [f32; 2]) -> f32 {
        let [red, green, blue] = self.to_rgb([luma, cb, cr]);
        red.max(green).max(blue)
    }

    /// As the stream says; where it says nothing BT.709 from 720 lines on and
    /// BT.601 below (common practice, no source).
    fn of_frame(frame: &frame::Video) -> Self {
        match frame.color_space() {
            color::Space::BT709 => Self::BT709,
            color::Space::BT470BG | color::Space::SMPTE170M | color::Space::FCC => Self::BT601,
            color::Space::BT2020NCL | color::Space::BT2020CL => Self::BT2020,
            _ if frame.width().min(frame.height()) >= 720 => Self::BT709,
            _ => Self::BT601,
        }
    }
}

/// Cb and Cr of a frame, borrowed from the decoder.
#[derive(Clone, Copy, Debug)]
pub struct Chroma<'a> {
    planes: [Depth<'a>; 2],
    /// Samples from one row to the next, and from one column to the next.
    stride: usize,
    step: usize,
    /// Binary logarithms of how many luma columns and rows share a sample.
    coarse: (u32, u32),
    /// Raw value of no colour, and span of the full scale.
    levels: (f32, f32),
    matrix: Matrix,
}

impl<'a> Chroma<'a> {
    /// The planes of a frame; `None` where there are none, or where they are
    /// packed together with luma or stored upside down.
    pub(super) fn of(frame: &'a frame::Video, full: bool) -> Option<Self> {
        let descriptor = frame.format().descriptor()?;
        // SAFETY: FFmpeg's descriptions are constants.
        let raw = unsafe { &*descriptor.as_ptr() };
        let [cb, cr] = [&raw.comp[1], &raw.comp[2]];
        let unit: usize = if cb.depth <= 8 { 1 } else { 2 };
        let step = usize::try_from(cb.step).ok()?;
        let alike = cb.step == cr.step && cb.depth == cr.depth && cb.shift == cr.shift;
        if raw.nb_components < 3 || cb.plane == 0 || !alike || step % unit != 0 || step == 0 {
            return None;
        }
        let coarse = (u32::from(raw.log2_chroma_w), u32::from(raw.log2_chroma_h));
        let share = |n: u32, by: u32| (n as usize).div_ceil(1 << by);
        let size = (
            share(frame.width(), coarse.0),
            share(frame.height(), coarse.1),
        );
        let [first, second] = [cb, cr].map(|c| {
            let plane = usize::try_from(c.plane).ok()?;
            let offset = usize::try_from(c.offset).ok()?;
            plane_of(frame, plane, offset, (unit, step), size)
        });
        let (first, stride) = first?;
        let (second, other) = second?;
        if stride != other {
            return None;
        }
        let depth = cb.depth.unsigned_abs();
        let unit_value = (1_u32 << cb.shift.unsigned_abs()) as f32;
        let middle = (1_u32 << (depth - 1)) as f32;
        let span = if full {
            ((1_u32 << depth) - 1) as f32
        } else {
            (224_u32 << (depth.max(8) - 8)) as f32
        };
        Some(Self {
            planes: [first, second],
            stride,
            step: step / unit,
            coarse,
            levels: (middle * unit_value, span * unit_value),
            matrix: Matrix::of_frame(frame),
        })
    }

    /// How many luma columns and rows share one sample: 2 and 2 for 4:2:0.
    pub fn shared(&self) -> (usize, usize) {
        (1 << self.coarse.0, 1 << self.coarse.1)
    }

    /// Cb and Cr (−0.5..=0.5) at a luma pixel; `None` outside the picture.
    pub fn at(&self, x: usize, y: usize) -> Option<[f32; 2]> {
        let i = (y >> self.coarse.1) * self.stride + (x >> self.coarse.0) * self.step;
        let value = |plane: Depth<'_>| match plane {
            Depth::Eight(s) => s.get(i).map(|v| f32::from(*v)),
            Depth::Sixteen(s) => s.get(i).map(|v| f32::from(*v)),
        };
        let (middle, span) = self.levels;
        let [cb, cr] = self.planes.map(value);
        Some([(cb? - middle) / span, (cr? - middle) / span])
    }

    /// How red, green and blue became luma and chroma.
    pub fn matrix(&self) -> Matrix {
        self.matrix
    }
}

/// One component's samples and its stride in samples.
fn plane_of(
    frame: &frame::Video,
    plane: usize,
    offset: usize,
    (unit, step): (usize, usize),
    (width, height): (usize, usize),
) -> Option<(Depth<'_>, usize)> {
    // SAFETY: reads two fields of a live frame.
    let (data, line) = unsafe {
        let raw = &*frame.as_ptr();
        (*raw.data.get(plane)?, *raw.linesize.get(plane)?)
    };
    let line = usize::try_from(line).ok().filter(|l| *l >= width * step)?;
    if data.is_null() || width == 0 || height == 0 {
        return None;
    }
    // SAFETY: a plane holds `height` rows `line` bytes apart, each `width`
    // steps long (checked above); the last sample read ends within its step.
    unsafe {
        let data = data.cast_const().add(offset);
        let bytes = line * (height - 1) + (width - 1) * step + unit;
        if unit == 1 {
            let samples = std::slice::from_raw_parts(data, bytes);
            return Some((Depth::Eight(samples), line));
        }
        let aligned = data.align_offset(align_of::<u16>()) == 0 && line % unit == 0;
        aligned.then(|| {
            let samples = std::slice::from_raw_parts(data.cast::<u16>(), bytes / unit);
            (Depth::Sixteen(samples), line / unit)
        })
    }
}

const _: () = assert!(ffi::AV_NUM_DATA_POINTERS >= 3);

#[cfg(test)]
#[path = "chroma_tests.rs"]
mod tests;
