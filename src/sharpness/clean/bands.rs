//! Light and energy of a frame, row of tiles by row, and what is usual around
//! it.

use std::collections::VecDeque;
use std::io;

use crate::screen::even::lit_mean;
use crate::sharpness::{COLUMNS, Places, ROWS, TileReel, Tiles};

/// One frame, row of tiles by row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bands {
    /// Mean luma.
    pub mean: [f64; ROWS],
    /// Σ of the measure's squared output, luma².
    pub energy: [f64; ROWS],
    /// Σ of the squared output where it is compared with the frame before.
    pub compared: [f64; ROWS],
    /// Σ of the squared difference there.
    pub change: [f64; ROWS],
}

impl Bands {
    /// The rows of a frame's tiles.
    pub fn of(tiles: &Tiles, places: &Places) -> Self {
        let mut out = Self {
            mean: [0.0; ROWS],
            energy: [0.0; ROWS],
            compared: tiles.compared.map(f64::from),
            change: tiles.change.map(f64::from),
        };
        for r in 0..ROWS {
            let mut pixels = 0.0;
            for i in r * COLUMNS..(r + 1) * COLUMNS {
                out.energy[r] += f64::from(tiles.energy[i]);
                out.mean[r] += f64::from(tiles.mean[i] * places.mean[i]);
                pixels += f64::from(places.mean[i]);
            }
            out.mean[r] /= pixels.max(1.0);
        }
        out
    }
}

/// Pixels behind the mean of each row of tiles.
pub fn row_pixels(places: &Places) -> [f64; ROWS] {
    std::array::from_fn(|r| {
        places.mean[r * COLUMNS..(r + 1) * COLUMNS]
            .iter()
            .map(|n| f64::from(*n))
            .sum()
    })
}

/// Goes through the frames in order, each with the mean light of the frames
/// around it. Holds no more than these.
pub struct Around<'a> {
    reel: &'a mut TileReel,
    places: &'a Places,
    half: usize,
    next: usize,
    first: usize,
    held: VecDeque<Bands>,
    sum: [f64; ROWS],
    lit_only: bool,
}

impl<'a> Around<'a> {
    /// `half` frames on either side.
    pub fn new(reel: &'a mut TileReel, places: &'a Places, half: usize) -> Self {
        Self {
            reel,
            places,
            half,
            next: 0,
            first: 0,
            held: VecDeque::new(),
            sum: [0.0; ROWS],
            lit_only: false,
        }
    }

    /// Whether usual is the light of a row while it is lit: of rows that go
    /// black, the mean light wanders with the share of frames that show them.
    pub fn lit_only(mut self, lit_only: bool) -> Self {
        self.lit_only = lit_only;
        self
    }

    /// The next frame and the mean light around it; `None` after the last.
    ///
    /// # Errors
    /// When the tiles cannot be read back.
    pub fn next(&mut self) -> io::Result<Option<(Bands, [f64; ROWS])>> {
        let (n, k) = (self.reel.len(), self.next);
        if k >= n {
            return Ok(None);
        }
        while self.first + self.held.len() < (k + self.half + 1).min(n) {
            let tiles = self.reel.get(self.first + self.held.len())?;
            let bands = Bands::of(&tiles, self.places);
            for (s, m) in self.sum.iter_mut().zip(bands.mean) {
                *s += m;
            }
            self.held.push_back(bands);
        }
        while self.first + self.half < k {
            if let Some(old) = self.held.pop_front() {
                for (s, m) in self.sum.iter_mut().zip(old.mean) {
                    *s -= m;
                }
            }
            self.first += 1;
        }
        self.next += 1;
        let held = self.held.len() as f64;
        let usual = if self.lit_only {
            std::array::from_fn(|r| lit_mean(self.held.iter().map(|b| b.mean[r])))
        } else {
            self.sum.map(|s| s / held)
        };
        Ok(Some((self.held[k - self.first], usual)))
    }
}
