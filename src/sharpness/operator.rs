//! What a measure is made of: rows in, filtered rows added up.
//!
//! A new measure is an [`Operator`]: it takes the rows of an area one by one,
//! filters them, and hands the results to a [`Tally`].

use super::grid::{Grid, Tiles};
use super::lanes::{Share, difference, dot, sum};

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
    pub fn row(&self, y: usize) -> &[f32] {
        &self.weights[y * self.width..(y + 1) * self.width]
    }

    /// Columns of the rectangle.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Rows of the rectangle.
    pub fn height(&self) -> usize {
        self.by_row.len()
    }

    /// Pixels of row `y` that count.
    pub fn count(&self, y: usize) -> usize {
        self.by_row[y]
    }
}

/// One group of filtered rows in so many is compared with the frame before:
/// the difference is noise or an update, and a sample tells both.
const COMPARED: usize = 8;

/// Adds filtered rows up, over the whole area and tile by tile, and compares a
/// sample of them with the last frame's.
pub struct Tally {
    /// The tiles of this frame.
    pub grid: Grid,
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
    /// Nothing yet, over these tiles.
    pub fn new(grid: Grid) -> Self {
        Self {
            grid,
            sum: 0.0,
            squares: 0.0,
            groups: 0,
            before: Vec::new(),
            cursor: 0,
            compared: Compared::default(),
            started: false,
        }
    }

    /// Takes what belongs together of row `y` (the planes of one filtered row,
    /// 0 where they do not count) and the number of places that count.
    pub fn add(&mut self, y: usize, rows: &[&[f32]], places: usize) {
        self.grid.add_planes(y, rows);
        self.add_whole(y, rows, places);
    }

    /// Takes values that belong around one position.
    pub fn add_at(&mut self, at: (usize, usize), values: &[f32]) {
        self.grid.add_at(at, dot(values, values));
        self.add_whole(at.1, &[values], 1);
    }

    fn add_whole(&mut self, y: usize, rows: &[&[f32]], places: usize) {
        for row in rows {
            self.sum += sum(row);
        }
        let squares = rows.iter().map(|row| dot(row, row)).sum();
        self.add_squares(y, rows, squares, places);
    }

    /// Where the tiles' squares of row `y` go; they are summed beside the
    /// whole row's.
    pub fn shares(&mut self, y: usize) -> &mut [Share] {
        self.grid.shares(y)
    }

    /// Whether the next rows are held against those of the frame before.
    pub fn compares_next(&self) -> bool {
        self.groups.is_multiple_of(COMPARED)
    }

    /// Takes the sum of squares of rows that are not compared.
    pub fn add_alone(&mut self, squares: f64) {
        self.squares += squares;
        self.groups += 1;
    }

    /// The same where the sum of squares is known and no mean is taken off.
    pub fn add_squares(&mut self, y: usize, rows: &[&[f32]], squares: f64, places: usize) {
        self.squares += squares;
        if self.compares_next() {
            let before = self.compared.squares;
            for row in rows {
                self.compare(row);
            }
            let change = self.compared.squares - before;
            self.grid.add_compared(y, squares, change);
            self.compared.places += places;
        }
        self.groups += 1;
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
    pub fn finish(&mut self, divisor: f64, centred: bool) -> (f64, Option<f64>, Tiles) {
        let variance = |sum: f64, squares: f64, n: f64| {
            let mean = if centred { sum / n } else { 0.0 };
            squares / n - mean * mean
        };
        let energy = variance(self.sum, self.squares, divisor);
        let c = self.compared;
        let n = (c.places as f64).max(1.0);
        let change = self.started.then(|| variance(c.sum, c.squares, n).max(0.0));
        (self.sum, self.squares) = (0.0, 0.0);
        (self.groups, self.cursor) = (0, 0);
        self.compared = Compared::default();
        self.started = true;
        (energy, change, self.grid.finish())
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
