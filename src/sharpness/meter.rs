//! From frames to readings: cuts the area out, filters it, sums energies.

use super::classic::{Brenner, GreyVariance, Laplacian};
use super::gradient::Tenengrad;
use super::lanes::{difference, dot, sum};
use super::spectrum::MidBand;
use crate::clip::LumaFrame;
use crate::rig::MeasureSpec;
use crate::screen::Region;

/// What one frame's area says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Mean luma of the area, nominally 0..=1.
    pub mean: f64,
    /// The measure's energy, luma².
    pub energy: f64,
    /// Energy of the difference to the frame before, luma², from an even
    /// sample of the area; `None` for the first frame.
    pub change: Option<f64>,
    /// Share of the area's pixels at or above white.
    pub white: f64,
}

/// An area that the measure cannot work on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "the autofocus area holds {pixels} usable film pixels ({width}×{height}), too few for the \
     measure: film the screen larger, or enlarge `screen.af_area`"
)]
pub struct MeterError {
    /// Usable pixels.
    pub pixels: usize,
    /// Columns of the surrounding rectangle.
    pub width: usize,
    /// Rows of the surrounding rectangle.
    pub height: usize,
}

/// Fewest usable pixels an area may have: a 24 × 24 px square.
pub const FEWEST_PIXELS: usize = 576;

/// A rectangle of luma, 0..=1, row by row.
pub struct Patch<'a> {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// `width × height` samples.
    pub pixels: &'a [f32],
}

/// A filtered picture: `channels` planes one after the other.
#[derive(Default)]
pub struct Field {
    /// All planes.
    pub values: Vec<f32>,
}

impl Field {
    /// The two halves.
    pub fn two_channels(&mut self) -> [&mut [f32]; 2] {
        let half = self.values.len() / 2;
        let (a, b) = self.values.split_at_mut(half);
        [a, b]
    }
}

/// A linear filter whose squared output, averaged, is the measure.
pub trait Operator: Send {
    /// Pixels around a position that its output there depends on.
    fn reach(&self) -> usize;
    /// Planes of output.
    fn channels(&self) -> usize;
    /// Fills `out` (planes the size of the patch unless
    /// [`Self::field_len`] says otherwise); 0 where `keep` is 0.
    fn apply(&mut self, patch: &Patch<'_>, keep: &[f32], out: &mut Field);
    /// Values in a field for a patch of this many pixels.
    fn field_len(&self, pixels: usize) -> usize {
        self.channels() * pixels
    }
    /// Whether the mean of the output is taken off (a variance).
    fn centred(&self) -> bool {
        false
    }
    /// Number by which sums are divided, given the usable pixels.
    fn divisor(&self, usable: usize) -> usize {
        usable
    }
}

/// Share of the usable values that lie in the sampled blocks.
#[allow(clippy::cast_precision_loss)]
fn sampled_share(keep: &[f32], len: usize) -> f64 {
    let usable = |i: usize| {
        keep.len() > len || !len.is_multiple_of(keep.len()) || keep[i % keep.len()] > 0.0
    };
    let all = (0..len).filter(|i| usable(*i)).count();
    let some = (0..len)
        .filter(|i| (i / BLOCK).is_multiple_of(COMPARED) && usable(*i))
        .count();
    some.max(1) as f64 / all.max(1) as f64
}

/// Reads the sharpness of one area, frame after frame.
pub struct Meter {
    region: Region,
    operator: Box<dyn Operator>,
    patch: Vec<f32>,
    inside: Vec<f32>,
    inside_count: usize,
    keep: Vec<f32>,
    divisor: f64,
    field: Field,
    before: Vec<f32>,
    sampled: f64,
    started: bool,
}

/// One block of values in so many is compared with the frame before: the
/// difference is noise or an update, and a sample tells both.
const COMPARED: usize = 4;
/// Values in a block.
const BLOCK: usize = 1024;

impl Meter {
    /// A meter for `measure` on `region`; `screen_height_px` turns cycles per
    /// screen height into cycles per film pixel.
    ///
    /// # Errors
    /// [`MeterError`] when too few pixels are usable.
    pub fn new(
        measure: &MeasureSpec,
        region: Region,
        screen_height_px: f64,
    ) -> Result<Self, MeterError> {
        let operator: Box<dyn Operator> = match *measure {
            MeasureSpec::Tenengrad { smoothing_px } => Box::new(Tenengrad::new(smoothing_px)),
            MeasureSpec::MidBand { low_cph, high_cph } => Box::new(MidBand::new(
                &region,
                low_cph / screen_height_px,
                high_cph / screen_height_px,
            )),
            MeasureSpec::VarianceOfLaplacian => Box::new(Laplacian),
            MeasureSpec::NormalizedVariance => Box::new(GreyVariance),
            MeasureSpec::Brenner => Box::new(Brenner),
        };
        let eroded = region.eroded(operator.reach());
        let usable = eroded.iter().filter(|k| **k).count();
        let divisor = operator.divisor(usable);
        if usable < FEWEST_PIXELS || divisor == 0 {
            return Err(MeterError {
                pixels: usable,
                width: region.width,
                height: region.height,
            });
        }
        let as_weights = |v: &[bool]| v.iter().map(|k| f32::from(u8::from(*k))).collect();
        let field = Field {
            values: vec![0.0; operator.field_len(region.width * region.height)],
        };
        let keep: Vec<f32> = as_weights(&eroded);
        #[allow(clippy::cast_precision_loss)]
        Ok(Self {
            patch: vec![0.0; region.width * region.height],
            inside: as_weights(&region.inside),
            inside_count: region.count(),
            sampled: sampled_share(&keep, field.values.len()),
            keep,
            divisor: divisor as f64,
            before: Vec::new(),
            field,
            started: false,
            region,
            operator,
        })
    }

    /// Reads one frame. Frames must come in presentation order.
    pub fn read(&mut self, frame: &LumaFrame<'_>) -> Reading {
        let w = self.region.width;
        for (y, row) in self.patch.chunks_exact_mut(w).enumerate() {
            frame.row(self.region.y0 + y, self.region.x0, row);
        }
        self.read_patch()
    }

    fn read_patch(&mut self) -> Reading {
        let patch = Patch {
            width: self.region.width,
            height: self.region.height,
            pixels: &self.patch,
        };
        self.operator.apply(&patch, &self.keep, &mut self.field);
        let f = &self.field.values;
        let field_mean = if self.operator.centred() {
            sum(f) / self.divisor
        } else {
            0.0
        };
        let energy = dot(f, f) / self.divisor - field_mean * field_mean;
        let change = self.compare();
        let (mean, white) = self.brightness();
        Reading {
            mean,
            energy,
            change,
            white,
        }
    }

    /// Energy of the difference to the frame before on the sampled blocks,
    /// which it then keeps for the next frame.
    fn compare(&mut self) -> Option<f64> {
        let blocks = self.field.values.chunks(BLOCK).step_by(COMPARED);
        if !self.started {
            self.before = blocks.flatten().copied().collect();
            self.started = true;
            return None;
        }
        let n = self.divisor * self.sampled;
        let (mut total, mut squares) = (0.0, 0.0);
        for (now, before) in blocks.zip(self.before.chunks_mut(BLOCK)) {
            let (s, q) = difference(now, before);
            total += s;
            squares += q;
            before.copy_from_slice(now);
        }
        let mean = if self.operator.centred() {
            total / n
        } else {
            0.0
        };
        Some((squares / n - mean * mean).max(0.0))
    }

    #[allow(clippy::cast_precision_loss)]
    fn brightness(&self) -> (f64, f64) {
        let n = self.inside_count as f64;
        let white = self
            .patch
            .iter()
            .zip(&self.inside)
            .filter(|(v, i)| **i > 0.0 && **v >= 0.995)
            .count() as f64;
        (dot(&self.patch, &self.inside) / n, white / n)
    }
}
