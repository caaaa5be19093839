//! Tenengrad: the mean squared Sobel gradient of a smoothed picture.
//!
//! `mean(Gx² + Gy²)`, Sobel [−1 0 1; −2 0 2; −1 0 1] and its transpose without
//! scaling or threshold (Pertuz, Puig & Garcia 2013, key TENG), after a
//! Gaussian of the stated σ in film pixels (0: none).
//!
//! Rows go through one by one, so a frame never leaves the processor's cache.

use super::lanes::{filter_row, filter_rows, sobel_row, sobel_squares};
use super::operator::{Keep, Operator, Rows, Tally};

/// The operator with its smoothing.
pub struct Tenengrad {
    taps: Vec<f32>,
    raw: Vec<f32>,
    along: Vec<Vec<f32>>,
    smooth: [Vec<f32>; 3],
    gradient: [Vec<f32>; 2],
}

impl Tenengrad {
    /// Smoothing by a Gaussian of `sigma_px` film pixels, cut at 3 σ.
    pub fn new(sigma_px: f64) -> Self {
        let taps = gaussian(sigma_px);
        Self {
            along: vec![Vec::new(); 2 * taps.len() - 1],
            taps,
            raw: Vec::new(),
            smooth: Default::default(),
            gradient: Default::default(),
        }
    }

    fn radius(&self) -> usize {
        self.taps.len() - 1
    }

    fn prepare(&mut self, width: usize) {
        let buffers = self.along.iter_mut().chain(&mut self.smooth);
        for b in buffers.chain(&mut self.gradient) {
            b.resize(width, 0.0);
        }
        self.raw.resize(width, 0.0);
    }
}

/// Half of a normalised Gaussian, centre first.
fn gaussian(sigma: f64) -> Vec<f32> {
    let radius = (3.0 * sigma).ceil() as u32;
    let at = |i: u32| {
        if sigma > 0.0 {
            (-0.5 * (f64::from(i) / sigma).powi(2)).exp()
        } else {
            1.0
        }
    };
    let total = at(0) + 2.0 * (1..=radius).map(at).sum::<f64>();
    (0..=radius).map(|i| (at(i) / total) as f32).collect()
}

impl Operator for Tenengrad {
    fn reach(&self) -> usize {
        self.radius() + 1
    }

    fn apply(&mut self, rows: &mut Rows<'_>, keep: &Keep, tally: &mut Tally) {
        let (w, r) = (rows.width, self.radius());
        self.prepare(w);
        let wide_enough = w >= 2 * r + 3;
        for y in 0..rows.height {
            rows.next(&mut self.raw);
            if !wide_enough {
                continue;
            }
            // The oldest row makes room; the middle one is r rows back.
            self.along.rotate_left(1);
            filter_row(&self.raw, &self.taps, &mut self.along[2 * r][r..w - r]);
            if y < 2 * r {
                continue;
            }
            self.smooth.rotate_left(1);
            filter_rows(&self.along, &self.taps, &mut self.smooth[2]);
            if y < 2 * r + 2 {
                continue;
            }
            let at = y - r - 1;
            let [a, b, c] = &self.smooth;
            if !tally.compares_next() {
                let squares = sobel_squares([a, b, c], keep.row(at), tally.shares(at));
                tally.add_alone(squares);
                continue;
            }
            let [gx, gy] = &mut self.gradient;
            let squares = sobel_row([a, b, c], keep.row(at), gx, gy, tally.shares(at));
            tally.add_squares(at, &[gx, gy], squares, keep.count(at));
        }
    }
}
