//! Mid-band energy: spectral energy between two frequencies, by `rustfft`.
//!
//! The area is cut into square tiles, each Hann-windowed after its mean is
//! taken off; energies of all bins with `low ≤ √(fx² + fy²) ≤ high` are added
//! and divided by the window's energy, so by Parseval the full band gives the
//! variance per pixel (luma²). Frequencies in cycles per film pixel here; the
//! rig gives them in cycles per screen height.

use std::sync::Arc;

use rustfft::{Fft, FftPlanner, num_complex::Complex};

use super::operator::{Keep, Operator, Rows, Tally};
use crate::screen::Region;

/// The operator for one region.
pub struct MidBand {
    tiles: Vec<(usize, usize)>,
    side: usize,
    window: Vec<f32>,
    bins: Vec<usize>,
    scale: f32,
    fft: Arc<dyn Fft<f32>>,
    grid: Vec<Complex<f32>>,
    turned: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    picture: Vec<f32>,
    values: Vec<f32>,
}

/// Tile sides tried, largest first: a tile must fit into the area.
const SIDES: [usize; 3] = [64, 32, 16];
/// Fewest tiles worth having before a smaller side is tried.
const FEWEST_TILES: usize = 4;

impl MidBand {
    /// Tiles over `region` and the bins between `low` and `high` cycles per
    /// film pixel.
    pub fn new(region: &Region, low: f64, high: f64) -> Self {
        let mut side = SIDES[0];
        let mut tiles = Vec::new();
        for s in SIDES {
            side = s;
            tiles = tiles_inside(region, s);
            if tiles.len() >= FEWEST_TILES {
                break;
            }
        }
        let window = hann(side);
        let bins = band(side, low, high);
        // The window's energy over the tile; a forward FFT scales energy by side².
        let energy: f32 = window.iter().map(|w| w * w).sum::<f32>().powi(2);
        let fft = FftPlanner::new().plan_fft_forward(side);
        let zero = Complex::new(0.0, 0.0);
        Self {
            scratch: vec![zero; fft.get_inplace_scratch_len()],
            grid: vec![zero; side * side],
            turned: vec![zero; side * side],
            scale: 1.0 / energy.sqrt() / side as f32,
            picture: Vec::new(),
            values: vec![0.0; 2 * bins.len()],
            tiles,
            side,
            window,
            bins,
            fft,
        }
    }

    fn transform(&mut self, width: usize, tile: (usize, usize)) {
        let s = self.side;
        let mut mean = 0.0f32;
        for y in 0..s {
            let row = &self.picture[(tile.1 + y) * width + tile.0..][..s];
            mean += row.iter().sum::<f32>();
        }
        let mean = mean / (s * s) as f32;
        for y in 0..s {
            let row = &self.picture[(tile.1 + y) * width + tile.0..][..s];
            let line = &mut self.grid[y * s..(y + 1) * s];
            for ((g, v), w) in line.iter_mut().zip(row).zip(&self.window) {
                *g = Complex::new((v - mean) * w * self.window[y], 0.0);
            }
        }
        self.fft
            .process_with_scratch(&mut self.grid, &mut self.scratch);
        for y in 0..s {
            for x in 0..s {
                self.turned[x * s + y] = self.grid[y * s + x];
            }
        }
        self.fft
            .process_with_scratch(&mut self.turned, &mut self.scratch);
    }
}

/// Top-left corners (in the region's rectangle) of tiles wholly inside it,
/// half overlapping.
pub(super) fn tiles_inside(region: &Region, side: usize) -> Vec<(usize, usize)> {
    let (w, h) = (region.width, region.height);
    let mut out = Vec::new();
    let step = side / 2;
    let starts = |len: usize| (0..=len.saturating_sub(side)).step_by(step);
    if w < side || h < side {
        return out;
    }
    for y in starts(h) {
        for x in starts(w) {
            let whole = (y..y + side).all(|r| {
                region.inside[r * w + x..r * w + x + side]
                    .iter()
                    .all(|i| *i)
            });
            if whole {
                out.push((x, y));
            }
        }
    }
    out
}

pub(super) fn hann(side: usize) -> Vec<f32> {
    (0..side)
        .map(|i| {
            let a = std::f64::consts::TAU * (i as f64 + 0.5) / side as f64;
            (0.5 - 0.5 * a.cos()) as f32
        })
        .collect()
}

/// Indices (in the transposed spectrum) of the half plane of bins inside the
/// band; the other half is its mirror image and carries the same energy.
fn band(side: usize, low: f64, high: f64) -> Vec<usize> {
    let signed = |i: usize| {
        let f = i as f64 / side as f64;
        if f >= 0.5 { f - 1.0 } else { f }
    };
    let mut bins = Vec::new();
    for x in 0..side {
        for y in 0..side {
            let (fx, fy) = (signed(x), signed(y));
            let f = fx.hypot(fy);
            let half = fx > 0.0 || (fx == 0.0 && fy > 0.0);
            if half && f >= low && f <= high {
                bins.push(x * side + y);
            }
        }
    }
    bins
}

impl Operator for MidBand {
    fn reach(&self) -> usize {
        0
    }
    fn divisor(&self, _usable: usize) -> usize {
        if self.bins.is_empty() {
            0
        } else {
            self.tiles.len()
        }
    }
    fn apply(&mut self, rows: &mut Rows<'_>, _keep: &Keep, tally: &mut Tally) {
        rows.all(&mut self.picture);
        // Both halves of the spectrum: √2 in amplitude.
        let scale = self.scale * std::f32::consts::SQRT_2;
        for t in 0..self.tiles.len() {
            self.transform(rows.width, self.tiles[t]);
            for (pair, bin) in self.values.chunks_exact_mut(2).zip(&self.bins) {
                let c = self.turned[*bin];
                pair[0] = c.re * scale;
                pair[1] = c.im * scale;
            }
            let (x, y) = self.tiles[t];
            tally.add_at((x + self.side / 2, y + self.side / 2), &self.values);
        }
    }
}
