//! From frames to readings: cuts the area out, filters it, sums energies.

use std::sync::Arc;

use super::classic::{Brenner, GreyVariance, Laplacian};
use super::gradient::Tenengrad;
use super::grid::{Grid, Places, Tiles};
use super::operator::{Keep, Operator, Rows, Tally};
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

/// Reads the sharpness of one area, frame after frame.
pub struct Meter {
    region: Arc<Region>,
    operator: Box<dyn Operator>,
    inside: Arc<Keep>,
    keep: Arc<Keep>,
    divisor: f64,
    tally: Tally,
    /// Tiles of the light alone: rows are read while `tally` is at work.
    light: Grid,
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
        let inside = Arc::new(Keep::new(&region.inside, region.width));
        let keep = Arc::new(Keep::new(&eroded, region.width));
        let grid = Grid::new(&inside, &keep, MEAN_ROWS, WHITE_ROWS);
        Ok(Self {
            light: grid.fresh(),
            tally: Tally::new(grid),
            inside,
            keep,
            divisor: divisor as f64,
            region: Arc::new(region),
            operator,
            measure: *measure,
            screen_height_px,
        })
    }

    /// Another meter for the same area that has read nothing yet.
    pub fn fresh(&self) -> Self {
        Self {
            region: Arc::clone(&self.region),
            operator: operator(&self.measure, &self.region, self.screen_height_px),
            inside: Arc::clone(&self.inside),
            keep: Arc::clone(&self.keep),
            tally: Tally::new(self.tally.grid.fresh()),
            light: self.tally.grid.fresh(),
            ..*self
        }
    }

    /// The area it reads.
    pub fn region(&self) -> &Region {
        &self.region
    }

    /// How many pixels stand behind the tiles' sums.
    pub fn places(&self) -> &Places {
        self.tally.grid.places()
    }

    /// Reads one frame, whole and tile by tile. Frames must come in
    /// presentation order.
    pub fn read(&mut self, frame: &LumaFrame<'_>) -> (Reading, Tiles) {
        self.read_at(frame, (0, 0))
    }

    /// Whether the area, moved by (x, y) px, lies inside a picture of `size`.
    pub fn fits(&self, shift: (i16, i16), size: (usize, usize)) -> bool {
        self.region.moved(shift, size).1
    }

    /// Reads one frame with the area moved by (x, y) px, as far as the picture
    /// reaches. [`Reading::change`] is against the frame before wherever the
    /// area was then.
    pub fn read_at(&mut self, frame: &LumaFrame<'_>, shift: (i16, i16)) -> (Reading, Tiles) {
        let region = &self.region;
        let ((x0, y0), _) = region.moved(shift, frame.size);
        let mut light = Light::new(&mut self.light);
        let mut read = |y: usize, row: &mut [f32]| {
            frame.row(y0 + y, x0, row);
            light.add(row, &self.inside, y);
        };
        let mut rows = Rows::new(region.width, region.height, &mut read);
        self.operator.apply(&mut rows, &self.keep, &mut self.tally);
        let (mean, white) = (
            light.sum / light.places.max(1.0),
            light.white as f64 / light.looked_at.max(1) as f64,
        );
        let bright = self.light.finish();
        let (energy, change, mut tiles) = self.tally.finish(self.divisor, self.operator.centred());
        (tiles.mean, tiles.white) = (bright.mean, bright.white);
        let reading = Reading {
            mean,
            energy,
            change,
            white,
        };
        (reading, tiles)
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
struct Light<'g> {
    grid: &'g mut Grid,
    sum: f64,
    places: f64,
    white: usize,
    looked_at: usize,
}

/// The mean is taken over one row of so many.
const MEAN_ROWS: usize = 2;
/// White pixels are counted in one row of so many.
const WHITE_ROWS: usize = 8;
/// Luma from which a pixel counts as white.
const WHITE: f32 = 0.995;

impl<'g> Light<'g> {
    fn new(grid: &'g mut Grid) -> Self {
        Self {
            grid,
            sum: 0.0,
            places: 0.0,
            white: 0,
            looked_at: 0,
        }
    }

    fn add(&mut self, row: &[f32], inside: &Keep, y: usize) {
        if y.is_multiple_of(MEAN_ROWS) {
            self.sum += self.grid.add_light(y, row, inside.row(y));
            self.places += inside.count(y) as f64;
        }
        if y.is_multiple_of(WHITE_ROWS) {
            self.white += self.grid.add_white(y, row, WHITE, inside.row(y));
            self.looked_at += inside.count(y);
        }
    }
}
