//! From frames to readings: cuts the area out, filters it, sums energies.

use std::sync::Arc;

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

/// Rows of luma, handed out top to bottom, each once.
pub struct Rows<'a> {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    read: &'a mut dyn FnMut(usize, &mut [f32]),
    next: usize,
}

impl<'a> Rows<'a> {
    /// `height` rows of `width` samples that `read` fills by number.
    pub fn new(width: usize, height: usize, read: &'a mut dyn FnMut(usize, &mut [f32])) -> Self {
        Self {
            width,
            height,
            read,
            next: 0,
        }
    }

    /// Fills `row` (`width` samples) with the next one.
    pub fn next(&mut self, row: &mut [f32]) {
        (self.read)(self.next, row);
        self.next += 1;
    }

    /// Fills `picture` with all of them.
    pub fn all(&mut self, picture: &mut Vec<f32>) {
        picture.resize(self.width * self.height, 0.0);
        for row in picture.chunks_exact_mut(self.width) {
            self.next(row);
        }
    }
}

/// Which positions of the rectangle count.
pub struct Keep {
    weights: Vec<f32>,
    width: usize,
    by_row: Vec<usize>,
}

impl Keep {
    /// From one flag a pixel, row by row.
    #[must_use]
    pub fn new(flags: &[bool], width: usize) -> Self {
        Self {
            weights: flags.iter().map(|k| f32::from(u8::from(*k))).collect(),
            width,
            by_row: flags
                .chunks(width.max(1))
                .map(|row| row.iter().filter(|k| **k).count())
                .collect(),
        }
    }

    /// 1 where a pixel of row `y` counts, else 0.
    #[must_use]
    pub fn row(&self, y: usize) -> &[f32] {
        &self.weights[y * self.width..(y + 1) * self.width]
    }

    /// Pixels of row `y` that count.
    #[must_use]
    pub fn count(&self, y: usize) -> usize {
        self.by_row[y]
    }
}

/// One group of filtered rows in so many is compared with the frame before:
/// the difference is noise or an update, and a sample tells both.
const COMPARED: usize = 4;

/// Adds filtered rows up, and compares a sample of them with the last frame's.
#[derive(Default)]
pub struct Tally {
    sum: f64,
    squares: f64,
    groups: usize,
    before: Vec<f32>,
    cursor: usize,
    compared: Compared,
    /// A whole frame has gone before.
    started: bool,
}

#[derive(Clone, Copy, Default)]
struct Compared {
    sum: f64,
    squares: f64,
    places: usize,
}

impl Tally {
    /// Takes rows that belong together (the planes of one filtered row, 0
    /// where they do not count) and the number of places in them that count.
    pub fn add(&mut self, rows: &[&[f32]], places: usize) {
        let sampled = self.groups.is_multiple_of(COMPARED);
        self.groups += 1;
        for row in rows {
            self.sum += sum(row);
            self.squares += dot(row, row);
            if sampled {
                self.compare(row);
            }
        }
        if sampled {
            self.compared.places += places;
        }
    }

    fn compare(&mut self, row: &[f32]) {
        let at = self.cursor..self.cursor + row.len();
        self.cursor = at.end;
        match self.before.get_mut(at) {
            Some(before) => {
                let (sum, squares) = difference(row, before);
                self.compared.sum += sum;
                self.compared.squares += squares;
                before.copy_from_slice(row);
            }
            None => self.before.extend_from_slice(row),
        }
    }

    /// Mean squared output, and of the difference to the frame before; ready
    /// for the next frame. `centred` takes means off.
    #[allow(clippy::cast_precision_loss)]
    pub fn finish(&mut self, divisor: f64, centred: bool) -> (f64, Option<f64>) {
        let variance = |sum: f64, squares: f64, n: f64| {
            let mean = if centred { sum / n } else { 0.0 };
            squares / n - mean * mean
        };
        let energy = variance(self.sum, self.squares, divisor);
        let c = self.compared;
        let n = (c.places as f64).max(1.0);
        let change = self.started.then(|| variance(c.sum, c.squares, n).max(0.0));
        *self = Self {
            before: std::mem::take(&mut self.before),
            started: true,
            ..Self::default()
        };
        (energy, change)
    }
}

/// A linear filter whose squared output, averaged, is the measure.
pub trait Operator: Send + Sync {
    /// Pixels around a position that its output there depends on.
    fn reach(&self) -> usize;
    /// Filters all rows into `tally`; 0 where `keep` is 0.
    fn apply(&mut self, rows: &mut Rows<'_>, keep: &Keep, tally: &mut Tally);
    /// Whether the mean of the output is taken off (a variance).
    fn centred(&self) -> bool {
        false
    }
    /// Number by which sums are divided, given the usable pixels.
    fn divisor(&self, usable: usize) -> usize {
        usable
    }
}

/// Reads the sharpness of one area, frame after frame.
pub struct Meter {
    region: Arc<Region>,
    operator: Box<dyn Operator>,
    inside: Arc<Keep>,
    inside_count: usize,
    keep: Arc<Keep>,
    divisor: f64,
    tally: Tally,
    measure: MeasureSpec,
    screen_height_px: f64,
}

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
        let operator = operator(measure, &region, screen_height_px);
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
        #[allow(clippy::cast_precision_loss)]
        Ok(Self {
            inside: Arc::new(Keep::new(&region.inside, region.width)),
            inside_count: region.count(),
            keep: Arc::new(Keep::new(&eroded, region.width)),
            divisor: divisor as f64,
            tally: Tally::default(),
            region: Arc::new(region),
            operator,
            measure: *measure,
            screen_height_px,
        })
    }

    /// Another meter for the same area that has read nothing yet.
    #[must_use]
    pub fn fresh(&self) -> Self {
        Self {
            region: Arc::clone(&self.region),
            operator: operator(&self.measure, &self.region, self.screen_height_px),
            inside: Arc::clone(&self.inside),
            keep: Arc::clone(&self.keep),
            tally: Tally::default(),
            ..*self
        }
    }

    /// Reads one frame. Frames must come in presentation order.
    pub fn read(&mut self, frame: &LumaFrame<'_>) -> Reading {
        let region = &self.region;
        let mut light = Light::default();
        let mut read = |y: usize, row: &mut [f32]| {
            frame.row(region.y0 + y, region.x0, row);
            light.add(row, self.inside.row(y), y);
        };
        let mut rows = Rows::new(region.width, region.height, &mut read);
        self.operator.apply(&mut rows, &self.keep, &mut self.tally);
        let (energy, change) = self.tally.finish(self.divisor, self.operator.centred());
        #[allow(clippy::cast_precision_loss)]
        Reading {
            mean: light.sum / self.inside_count as f64,
            energy,
            change,
            white: light.white as f64 / light.looked_at.max(1) as f64,
        }
    }
}

fn operator(measure: &MeasureSpec, region: &Region, screen_height_px: f64) -> Box<dyn Operator> {
    match *measure {
        MeasureSpec::Tenengrad { smoothing_px } => Box::new(Tenengrad::new(smoothing_px)),
        MeasureSpec::MidBand { low_cph, high_cph } => Box::new(MidBand::new(
            region,
            low_cph / screen_height_px,
            high_cph / screen_height_px,
        )),
        MeasureSpec::VarianceOfLaplacian => Box::new(Laplacian::default()),
        MeasureSpec::NormalizedVariance => Box::new(GreyVariance::default()),
        MeasureSpec::Brenner => Box::new(Brenner::default()),
    }
}

/// Brightness of an area.
#[derive(Default)]
struct Light {
    sum: f64,
    white: usize,
    looked_at: usize,
}

/// White pixels are counted in one row of so many.
const WHITE_ROWS: usize = 8;
/// Luma from which a pixel counts as white.
const WHITE: f32 = 0.995;

impl Light {
    fn add(&mut self, row: &[f32], inside: &[f32], y: usize) {
        self.sum += dot(row, inside);
        if y.is_multiple_of(WHITE_ROWS) {
            let counted = row.iter().zip(inside).filter(|(_, i)| **i > 0.0);
            for (v, _) in counted {
                self.white += usize::from(*v >= WHITE);
                self.looked_at += 1;
            }
        }
    }
}
