//! What each tile of the area adds to a frame's reading.
//!
//! The area's rectangle is cut into [`COLUMNS`] × [`ROWS`] tiles. Their sums
//! tell apart what the whole area's cannot: bands of light, a box drawn over
//! part of it, a reflection. Columns end at whole vectors of pixels, so that
//! the sums cost next to nothing.

use std::sync::Arc;

use super::lanes::{LANES, Share, at_least, dot, dot_shares};
use super::operator::Keep;

/// Tiles along a row.
pub const COLUMNS: usize = 8;
/// Rows of tiles. Bands of light lie along the rows of the stored picture.
pub const ROWS: usize = 16;
/// All tiles.
pub const TILES: usize = COLUMNS * ROWS;

/// One frame, tile by tile, row of tiles by row.
#[derive(Clone, Debug, PartialEq)]
pub struct Tiles {
    /// Σ of the measure's squared output, luma².
    pub energy: [f32; TILES],
    /// The part of it that changes along the rows of the picture; 0 for
    /// measures that do not tell.
    pub along: [f32; TILES],
    /// Mean luma, nominally 0..=1; 0 where a tile has no pixel.
    pub mean: [f32; TILES],
    /// Share of white pixels in 1/255.
    pub white: [u8; TILES],
    /// Per row of tiles: Σ of the squared output where this frame is compared
    /// with the one before, luma².
    pub compared: [f32; ROWS],
    /// Per row of tiles: Σ of the squared difference there.
    pub change: [f32; ROWS],
}

impl Tiles {
    /// Nothing anywhere.
    pub fn empty() -> Self {
        Self {
            energy: [0.0; TILES],
            along: [0.0; TILES],
            mean: [0.0; TILES],
            white: [0; TILES],
            compared: [0.0; ROWS],
            change: [0.0; ROWS],
        }
    }
}

/// How many pixels stand behind the tiles' sums.
#[derive(Clone, Debug, PartialEq)]
pub struct Places {
    /// Places that the measure's output is summed over.
    pub energy: [f32; TILES],
    /// Pixels that the mean is taken over.
    pub mean: [f32; TILES],
}

/// Where the tiles lie.
struct Shape {
    /// One past the last pixel of each column of tiles.
    until: [usize; COLUMNS],
    height: usize,
    places: Places,
    looked_at: [f32; TILES],
}

/// Gathers the tiles of one frame.
pub struct Grid {
    shape: Arc<Shape>,
    tiles: Tiles,
    shares: [Share; COLUMNS],
    energy_row: usize,
    light: [[f32; LANES]; COLUMNS],
    light_row: usize,
    white: [usize; TILES],
}

impl Grid {
    /// Tiles over an area: `inside` its pixels, `keep` where the measure
    /// counts, `light_rows` and `white_rows` one row in so many that is looked
    /// at for brightness and for white.
    pub fn new(inside: &Keep, keep: &Keep, light_rows: usize, white_rows: usize) -> Self {
        let (width, height) = (keep.width(), keep.height());
        let mut until = [width; COLUMNS];
        for (c, u) in until.iter_mut().enumerate().take(COLUMNS - 1) {
            *u = (width * (c + 1) + COLUMNS * LANES / 2) / (COLUMNS * LANES) * LANES;
        }
        let mut shape = Shape {
            until,
            height,
            places: Places {
                energy: [0.0; TILES],
                mean: [0.0; TILES],
            },
            looked_at: [0.0; TILES],
        };
        for y in 0..height {
            let first = shape.row(y) * COLUMNS;
            for c in 0..COLUMNS {
                let span = shape.span(c, width);
                // A filter's first output stands one pixel in.
                let from = if c == 0 { 0 } else { span.start + 1 };
                let to = (span.end + usize::from(c < COLUMNS - 1)).min(width);
                shape.places.energy[first + c] += count(&keep.row(y)[from.min(to)..to]);
                let pixels = count(&inside.row(y)[span]);
                if y.is_multiple_of(light_rows) {
                    shape.places.mean[first + c] += pixels;
                }
                if y.is_multiple_of(white_rows) {
                    shape.looked_at[first + c] += pixels;
                }
            }
        }
        Self::of(Arc::new(shape))
    }

    fn of(shape: Arc<Shape>) -> Self {
        let mut shares = [Share::default(); COLUMNS];
        for (s, until) in shares.iter_mut().zip(shape.until) {
            s.until = until;
        }
        Self {
            shape,
            tiles: Tiles::empty(),
            shares,
            energy_row: 0,
            light: [[0.0; LANES]; COLUMNS],
            light_row: 0,
            white: [0; TILES],
        }
    }

    /// Another grid over the same area that holds nothing yet.
    pub fn fresh(&self) -> Self {
        Self::of(Arc::clone(&self.shape))
    }

    /// How many pixels stand behind the sums.
    pub fn places(&self) -> &Places {
        &self.shape.places
    }

    /// Where the squares of row `y` are to be added, column by column.
    pub fn shares(&mut self, y: usize) -> &mut [Share] {
        self.turn_to(self.shape.row(y));
        &mut self.shares
    }

    /// Adds the squares of filtered planes of row `y`; the first is the change
    /// along the row where there are two.
    pub fn add_planes(&mut self, y: usize, planes: &[&[f32]]) {
        let first = self.shape.row(y) * COLUMNS;
        for (i, plane) in planes.iter().enumerate() {
            for c in 0..COLUMNS {
                let part = &plane[self.shape.span(c, plane.len())];
                let squares = narrow(dot(part, part));
                self.tiles.energy[first + c] += squares;
                if planes.len() == 2 && i == 0 {
                    self.tiles.along[first + c] += squares;
                }
            }
        }
    }

    /// Adds squares that belong around a position of the rectangle.
    pub fn add_at(&mut self, (x, y): (usize, usize), squares: f64) {
        let column = self.shape.until.iter().position(|u| x < *u);
        let tile = self.shape.row(y) * COLUMNS + column.unwrap_or(COLUMNS - 1);
        self.tiles.energy[tile] += narrow(squares);
    }

    /// Adds what was compared with the frame before in row `y`.
    pub fn add_compared(&mut self, y: usize, squares: f64, change: f64) {
        let row = self.shape.row(y);
        self.tiles.compared[row] += narrow(squares);
        self.tiles.change[row] += narrow(change);
    }

    /// Adds the light of a row; returns its sum, as [`dot`] would.
    pub fn add_light(&mut self, y: usize, row: &[f32], inside: &[f32]) -> f64 {
        let at = self.shape.row(y);
        if at != self.light_row {
            self.settle_light();
            self.light_row = at;
        }
        dot_shares(row, inside, &self.shape.until, &mut self.light)
    }

    /// Counts the white pixels of a row.
    pub fn add_white(&mut self, y: usize, row: &[f32], level: f32, inside: &[f32]) -> usize {
        let first = self.shape.row(y) * COLUMNS;
        let mut all = 0;
        for c in 0..COLUMNS {
            let span = self.shape.span(c, row.len());
            let n = at_least(&row[span.clone()], level, &inside[span]);
            self.white[first + c] += n;
            all += n;
        }
        all
    }

    /// The frame's tiles; ready for the next.
    pub fn finish(&mut self) -> Tiles {
        self.turn_to(0);
        self.settle_light();
        self.light_row = 0;
        for (tile, n) in self.white.iter_mut().enumerate() {
            let of = self.shape.looked_at[tile].max(1.0);
            let share = (255.0 * *n as f32 / of).round() as u8;
            self.tiles.white[tile] = share;
            *n = 0;
        }
        std::mem::replace(&mut self.tiles, Tiles::empty())
    }

    fn turn_to(&mut self, row: usize) {
        if row == self.energy_row {
            return;
        }
        let mut before = (0.0, 0.0);
        for (c, share) in self.shares.iter_mut().enumerate() {
            let (all, along) = share.sums();
            let tile = self.energy_row * COLUMNS + c;
            self.tiles.energy[tile] += narrow((all - before.0).max(0.0));
            self.tiles.along[tile] += narrow((along - before.1).max(0.0));
            before = (all, along);
            share.clear();
        }
        self.energy_row = row;
    }

    fn settle_light(&mut self) {
        let mut before = 0.0;
        for (c, lanes) in self.light.iter_mut().enumerate() {
            let sum: f64 = lanes.iter().map(|v| f64::from(*v)).sum();
            let tile = self.light_row * COLUMNS + c;
            let pixels = f64::from(self.shape.places.mean[tile]).max(1.0);
            self.tiles.mean[tile] = narrow((sum - before) / pixels);
            before = sum;
            *lanes = [0.0; LANES];
        }
    }
}

impl Shape {
    fn row(&self, y: usize) -> usize {
        (y * ROWS / self.height.max(1)).min(ROWS - 1)
    }

    fn span(&self, column: usize, width: usize) -> std::ops::Range<usize> {
        let from = column.checked_sub(1).map_or(0, |c| self.until[c]);
        let to = self.until[column].min(width);
        from.min(to)..to
    }
}

fn count(weights: &[f32]) -> f32 {
    weights.iter().sum()
}

fn narrow(v: f64) -> f32 {
    v as f32
}
