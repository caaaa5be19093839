//! Sharpness of one subject in terms of blur.
//!
//! A subject's sharp picture, blurred by a uniform disc (the defocus of an
//! ideal thin lens; its transfer function is 2 J₁(πdf) ÷ (πdf), Hopkins 1955,
//! cited from memory), gives the share of the measure's energy that is left at
//! every diameter d. Energies are quadratic, so the power spectrum of the
//! picture times the measure's squared response tells all diameters at once.
//! In: the mean of sharp frames. Out: [`BlurScale`], diameters in film pixels.

use std::sync::Arc;

use rustfft::{Fft, FftPlanner, num_complex::Complex};

use super::spectrum::tiles_inside;
use crate::screen::Region;

/// Side of the tiles whose spectra are averaged.
const SIDE: usize = 64;
/// Tiles looked at, evenly spread, where there are more.
const TILES: usize = 160;
/// Diameters of the scale, film pixels: every eighth up to two, then coarser.
const DIAMETERS: [f64; 28] = [
    0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0, 1.125, 1.25, 1.375, 1.5, 1.75, 2.0, 2.5,
    3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 26.0, 34.0, 44.0,
];

/// Share of the sharp energy left, by diameter of the blur.
#[derive(Clone, Debug, PartialEq)]
pub struct BlurScale {
    /// At [`DIAMETERS`]; 1 at first, never rising.
    shares: Vec<f64>,
}

/// What is left of a picture's energy and of white noise's at every diameter
/// of [`DIAMETERS`]: all that a picture says of blur.
#[derive(Clone, Debug, PartialEq)]
pub struct BlurSums {
    /// The picture's.
    pub power: Vec<f64>,
    /// White noise's.
    pub white: Vec<f64>,
}

impl BlurSums {
    /// Numbers of each kind.
    pub const EACH: usize = DIAMETERS.len();

    /// From a sharp picture of `region` (its rectangle, row by row);
    /// `response` is the measure's squared response at (fx, fy), cycles per
    /// film pixel.
    #[must_use]
    pub fn new(picture: &[f32], region: &Region, response: &dyn Fn(f64, f64) -> f64) -> Self {
        let tiles = tiles_inside(region, SIDE);
        let step = tiles.len().div_ceil(TILES).max(1);
        let mut spectrum = Spectrum::new();
        for tile in tiles.iter().step_by(step) {
            spectrum.add(picture, region.width, *tile);
        }
        let bins = spectrum.weighted(response);
        let sum = |of: fn(&Bin) -> f64| {
            let left = |d: &f64| {
                let part = |b: &Bin| of(b) * disc(d * b.frequency).powi(2);
                bins.iter().map(part).sum()
            };
            DIAMETERS.iter().map(left).collect()
        };
        Self {
            power: sum(|b| b.power),
            white: sum(|b| b.response),
        }
    }

    /// The scale, where `noise_share` of the picture's energy is noise, 0..1.
    /// `None` where no tile fitted, or nothing but noise is left.
    #[must_use]
    pub fn scale(&self, noise_share: f64) -> Option<BlurScale> {
        let (total, white) = (self.power.first()?, self.white.first()?);
        if !(*total > 0.0 && *white > 0.0) {
            return None;
        }
        let noise = noise_share.clamp(0.0, 0.95) * total / white;
        let energies = self.power.iter().zip(&self.white);
        let energies: Vec<f64> = energies.map(|(p, w)| p - noise * w).collect();
        let sharp = energies[0];
        let mut least = 1.0;
        let shares = energies
            .iter()
            .map(|e| {
                least = f64::min(least, e / sharp).max(0.0);
                least
            })
            .collect();
        (sharp > 0.0).then_some(BlurScale { shares })
    }
}

impl BlurScale {
    /// From a sharp picture of `region` (its rectangle, row by row).
    /// `noise_share` is the noise's part of the picture's energy, 0..1;
    /// `response` the measure's squared response at (fx, fy), cycles per film
    /// pixel. `None` where no tile fits, or nothing but noise is left.
    #[must_use]
    pub fn new(
        picture: &[f32],
        region: &Region,
        noise_share: f64,
        response: &dyn Fn(f64, f64) -> f64,
    ) -> Option<Self> {
        BlurSums::new(picture, region, response).scale(noise_share)
    }

    /// Share of the sharp energy at a diameter, film pixels.
    #[must_use]
    pub fn share(&self, diameter_px: f64) -> f64 {
        let i = DIAMETERS.partition_point(|d| *d <= diameter_px);
        let (Some(a), Some(b)) = (i.checked_sub(1), self.shares.get(i)) else {
            return self.shares.last().copied().unwrap_or(0.0).min(1.0);
        };
        let (from, to) = (DIAMETERS[a], DIAMETERS[i]);
        self.shares[a] + (b - self.shares[a]) * (diameter_px - from) / (to - from)
    }

    /// Diameter at which `share` of the sharp energy is left, film pixels: 0
    /// for 1 and more, the scale's end for less than it holds.
    #[must_use]
    pub fn diameter(&self, share: f64) -> f64 {
        let i = self.shares.partition_point(|s| *s >= share);
        let (Some(a), Some(b)) = (i.checked_sub(1), self.shares.get(i)) else {
            return if i == 0 {
                0.0
            } else {
                DIAMETERS[DIAMETERS.len() - 1]
            };
        };
        let fall = self.shares[a] - b;
        let part = if fall > 0.0 {
            (self.shares[a] - share) / fall
        } else {
            0.0
        };
        DIAMETERS[a] + part * (DIAMETERS[i] - DIAMETERS[a])
    }
}

/// Transfer function of a uniform disc; `df` is diameter × frequency.
fn disc(df: f64) -> f64 {
    let x = std::f64::consts::PI * df;
    if x < 1e-6 { 1.0 } else { 2.0 * libm::j1(x) / x }
}

struct Bin {
    frequency: f64,
    power: f64,
    response: f64,
}

/// Power spectrum averaged over Hann-windowed tiles.
struct Spectrum {
    fft: Arc<dyn Fft<f32>>,
    window: Vec<f32>,
    power: Vec<f64>,
}

impl Spectrum {
    fn new() -> Self {
        Self {
            fft: FftPlanner::new().plan_fft_forward(SIDE),
            window: super::spectrum::hann(SIDE),
            power: vec![0.0; SIDE * SIDE],
        }
    }

    fn add(&mut self, picture: &[f32], width: usize, tile: (usize, usize)) {
        let row = |y: usize| &picture[(tile.1 + y) * width + tile.0..][..SIDE];
        #[allow(clippy::cast_precision_loss)]
        let mean = (0..SIDE).flat_map(row).sum::<f32>() / (SIDE * SIDE) as f32;
        let mut grid: Vec<Complex<f32>> = (0..SIDE)
            .flat_map(|y| row(y).iter().zip(&self.window).map(move |(v, w)| (y, v, w)))
            .map(|(y, v, w)| Complex::new((v - mean) * w * self.window[y], 0.0))
            .collect();
        self.fft.process(&mut grid);
        let mut turned: Vec<Complex<f32>> = (0..SIDE * SIDE)
            .map(|i| grid[(i % SIDE) * SIDE + i / SIDE])
            .collect();
        self.fft.process(&mut turned);
        for (p, c) in self.power.iter_mut().zip(&turned) {
            *p += f64::from(c.norm_sqr());
        }
    }

    /// Bins the measure answers to; the transform is transposed.
    fn weighted(&self, response: &dyn Fn(f64, f64) -> f64) -> Vec<Bin> {
        #[allow(clippy::cast_precision_loss)]
        let signed = |i: usize| {
            let f = i as f64 / SIDE as f64;
            if f >= 0.5 { f - 1.0 } else { f }
        };
        (1..SIDE * SIDE)
            .map(|i| {
                let (fx, fy) = (signed(i / SIDE), signed(i % SIDE));
                let response = response(fx, fy);
                Bin {
                    frequency: fx.hypot(fy),
                    power: self.power[i] * response,
                    response,
                }
            })
            .filter(|b| b.response > 0.0)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Quad;
    use crate::sharpness::gradient::Tenengrad;
    use crate::sharpness::grid::Grid;
    use crate::sharpness::operator::{Keep, Operator, Rows, Tally};
    use rand::{RngExt, SeedableRng};

    const W: usize = 220;
    const H: usize = 200;

    /// Random Gaussian blobs: centre, radius, height.
    fn blobs() -> Vec<[f64; 4]> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        (0..1500)
            .map(|_| {
                [
                    rng.random_range(0.0..W as f64),
                    rng.random_range(0.0..H as f64),
                    rng.random_range(1.2..4.0),
                    rng.random_range(-0.2..0.2),
                ]
            })
            .collect()
    }

    /// The card seen through a disc: the mean over shifts that fill it evenly,
    /// each drawn where it really lies between the pixels.
    fn card(diameter: f64) -> Vec<f32> {
        let shifts: Vec<(f64, f64)> = (0..81)
            .map(|i| (f64::from(i % 9) / 4.0 - 1.0, f64::from(i / 9) / 4.0 - 1.0))
            .filter(|(x, y)| x.hypot(*y) <= 1.0)
            .map(|(x, y)| (x * diameter / 2.0, y * diameter / 2.0))
            .collect();
        let share = 1.0 / shifts.len() as f64;
        let mut out = vec![0.5f64; W * H];
        for [cx, cy, r, a] in blobs() {
            for (sx, sy) in &shifts {
                let (x, y) = (cx + sx, cy + sy);
                let span = |c: f64, n: usize| {
                    let low = (c - 4.0 * r).max(0.0) as usize;
                    low..((c + 4.0 * r).max(0.0) as usize).min(n)
                };
                for py in span(y, H) {
                    for px in span(x, W) {
                        let d2 = (px as f64 - x).powi(2) + (py as f64 - y).powi(2);
                        out[py * W + px] += share * a * (-d2 / (2.0 * r * r)).exp();
                    }
                }
            }
        }
        out.into_iter().map(|v| v as f32).collect()
    }

    fn energy(o: &mut dyn Operator, region: &Region, picture: &[f32]) -> f64 {
        let eroded = region.eroded(o.reach() + 10);
        let keep = Keep::new(&eroded, W);
        let mut read =
            |y: usize, row: &mut [f32]| row.copy_from_slice(&picture[y * W..(y + 1) * W]);
        let mut tally = Tally::new(Grid::new(&keep, &keep, 2, 8));
        o.apply(&mut Rows::new(W, H, &mut read), &keep, &mut tally);
        tally
            .finish(eroded.iter().filter(|k| **k).count() as f64, o.centred())
            .0
    }

    /// The scale against the card drawn through discs of known size.
    #[test]
    fn the_scale_tells_what_a_disc_leaves() {
        let region = Region::of_quad(&Quad::rect(0.0, 0.0, W as f64, H as f64), &[], (W, H));
        let sharp = card(0.0);
        let mut o = Tenengrad::new(1.0);
        let scale = BlurScale::new(&sharp, &region, 0.0, &|x, y| o.response(x, y)).unwrap();
        let all = energy(&mut o, &region, &sharp);
        for d in [1.0, 2.0, 4.0, 8.0, 14.0] {
            let left = energy(&mut o, &region, &card(d)) / all;
            let told = scale.share(d);
            assert!(
                (told - left).abs() < 0.015 + 0.1 * left,
                "{d}: {told} against {left}"
            );
            let back = scale.diameter(left);
            assert!((back - d).abs() < 0.15 + 0.08 * d, "{d}: {back}");
        }
        assert_eq!(scale.diameter(1.2), 0.0);
        assert_eq!(scale.diameter(0.0), 44.0);
        assert!((scale.share(scale.diameter(0.5)) - 0.5).abs() < 1e-9);
    }

    /// Airy's zeros: a disc of diameter d passes nothing at f = 1.21967 ÷ d
    /// (first zero of J₁ at 3.831706, Abramowitz & Stegun table 9.5).
    #[test]
    fn transfer_of_a_disc() {
        assert!((disc(0.0) - 1.0).abs() < 1e-12);
        assert!(disc(3.831_706 / std::f64::consts::PI).abs() < 1e-6);
        // 2 J₁(1) ÷ 1 = 0.880 101 171 (Abramowitz & Stegun table 9.1).
        assert!((disc(1.0 / std::f64::consts::PI) - 0.880_101_171_4).abs() < 1e-8);
    }
}
