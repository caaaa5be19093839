//! The power spectrum of a mean picture, and the narrow lines in it.
//!
//! The spectrum is averaged over overlapping Hann-windowed tiles (Welch 1967,
//! in two dimensions), so that a random texture is smooth in it. The pixels of
//! a screen, or their beats with those of the film (moiré), are a lattice: each
//! of its waves is a narrow line that stands out of all its surroundings.

use std::sync::Arc;

use rustfft::{Fft, FftPlanner, num_complex::Complex};

use super::spectrum::{hann, tiles_inside};
use crate::screen::Region;

/// Side of the tiles whose spectra are averaged.
const SIDE: usize = 64;
/// Tiles looked at, evenly spread, where there are more.
const TILES: usize = 160;
/// Steps of a code in an octave, and the code of 1.
const OCTAVE: f64 = 512.0;
const ZERO: f64 = 32768.0;
/// Lines slower than this cannot be told from the subject, cycles per pixel.
const SLOWEST: f64 = 0.08;
/// A line stands out of its surroundings by this factor, at least.
const CLEAR: f64 = 3.0;
/// Its height above them in standard deviations of the averaged spectrum.
const SIGMAS: f64 = 12.0;
/// Tiles overlap by half both ways: so many of them say as much as one alone.
const OVERLAP: f64 = 3.0;
/// Bins on either side that a windowed line spreads over.
const WIDE: i32 = 2;
/// Bins of the surroundings, along one direction.
const AROUND: [i32; 6] = [-5, -4, -3, 3, 4, 5];
/// Directions in which a line must stand out: an edge's spectrum is a ridge.
const DIRECTIONS: [(i32, i32); 4] = [(1, 0), (0, 1), (1, 1), (1, -1)];

/// A wave that stands out of a picture's spectrum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Waves per tile along x and y, signed.
    pub wave: (i32, i32),
    /// Its part of the measure's energy in the picture, 0..1.
    pub share: f64,
}

impl Line {
    /// Whether two lines are one wave, as far as tiles tell.
    #[must_use]
    pub fn same(&self, other: &Self) -> bool {
        let near = |a: (i32, i32), b: (i32, i32)| (a.0 - b.0).abs() <= 1 && (a.1 - b.1).abs() <= 1;
        near(self.wave, other.wave) || near(self.wave, (-other.wave.0, -other.wave.1))
    }
}

/// A frequency a measure answers to.
pub struct Bin {
    /// Cycles per film pixel.
    pub frequency: f64,
    /// Power there times the measure's squared response.
    pub power: f64,
    /// The response alone.
    pub response: f64,
}

/// Power spectrum averaged over tiles of a picture.
#[derive(Clone, Debug)]
pub struct Power {
    /// By wave along y, then x.
    power: Vec<f64>,
    tiles: usize,
}

impl Power {
    /// Of a `region`'s rectangle, row by row. `None` where no tile fits.
    #[must_use]
    pub fn of(picture: &[f32], region: &Region) -> Option<Self> {
        let tiles = tiles_inside(region, SIDE);
        let step = tiles.len().div_ceil(TILES).max(1);
        let mut sum = Sum::new();
        for tile in tiles.iter().step_by(step) {
            sum.add(picture, region.width, *tile);
        }
        (!tiles.is_empty()).then(|| Self {
            power: sum.power,
            tiles: tiles.len().div_ceil(step),
        })
    }

    /// Numbers that [`Self::codes`] gives.
    pub const CODES: usize = (SIDE / 2 + 1) * SIDE;

    /// The spectrum in a few bytes: logarithms in steps of 1/512 octave, one of
    /// each pair of frequencies of opposite sign.
    #[must_use]
    pub fn codes(&self) -> Vec<u16> {
        let code = |p: &f64| match p.log2() {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            l if l.is_finite() => (l * OCTAVE + ZERO).round().clamp(1.0, 65535.0) as u16,
            _ => 0,
        };
        self.power[..Self::CODES].iter().map(code).collect()
    }

    /// From what [`Self::codes`] gave and the number of [`Self::tiles`]. `None`
    /// where they are too few.
    #[must_use]
    pub fn from_codes(codes: &[u16], tiles: usize) -> Option<Self> {
        let value = |c: u16| match c {
            0 => 0.0,
            c => ((f64::from(c) - ZERO) / OCTAVE).exp2(),
        };
        let half = codes.get(..Self::CODES)?;
        let mut power: Vec<f64> = half.iter().map(|c| value(*c)).collect();
        for y in SIDE / 2 + 1..SIDE {
            let twin = |x: usize| (SIDE - y) * SIDE + (SIDE - x) % SIDE;
            power.extend((0..SIDE).map(|x| value(half[twin(x)])));
        }
        Some(Self { power, tiles })
    }

    /// Tiles it is the mean of.
    #[must_use]
    pub fn tiles(&self) -> usize {
        self.tiles
    }

    fn at(&self, x: i32, y: i32) -> f64 {
        #[allow(clippy::cast_sign_loss)]
        let i = |v: i32| v.rem_euclid(side()) as usize;
        self.power[i(y) * SIDE + i(x)]
    }

    /// Lines that stand out, one of each pair of signs, weighed by the
    /// measure's squared `response` at (fx, fy), cycles per pixel.
    #[must_use]
    pub fn lines(&self, response: &dyn Fn(f64, f64) -> f64) -> Vec<Line> {
        let total: f64 = self.bins(response).iter().map(|b| b.power).sum();
        #[allow(clippy::cast_precision_loss)]
        let alone = (self.tiles as f64 / OVERLAP).max(1.0);
        let clear = CLEAR.max(1.0 + SIGMAS / alone.sqrt());
        let half = side() / 2;
        let mut out = Vec::new();
        for y in 0..=half {
            for x in -half..half {
                let (fx, fy) = (f64::from(x) / 64.0, f64::from(y) / 64.0);
                if fx.hypot(fy) < SLOWEST || (y == 0 && x <= 0) || !self.is_top(x, y) {
                    continue;
                }
                let around = self.around(x, y);
                if self.at(x, y) < clear * around {
                    continue;
                }
                let share = 2.0 * self.excess(x, y, around) * response(fx, fy) / total;
                if share.is_finite() {
                    out.push(Line {
                        wave: (x, y),
                        share,
                    });
                }
            }
        }
        out
    }

    fn is_top(&self, x: i32, y: i32) -> bool {
        let here = self.at(x, y);
        (-1..=1).all(|dy| (-1..=1).all(|dx| self.at(x + dx, y + dy) <= here))
    }

    /// The highest of the medians along four directions.
    fn around(&self, x: i32, y: i32) -> f64 {
        DIRECTIONS
            .iter()
            .map(|(dx, dy)| {
                let mut v = AROUND.map(|k| self.at(x + k * dx, y + k * dy));
                v.sort_by(f64::total_cmp);
                f64::midpoint(v[2], v[3])
            })
            .fold(0.0, f64::max)
    }

    /// Power of a line above its surroundings.
    fn excess(&self, x: i32, y: i32, around: f64) -> f64 {
        let near = -WIDE..=WIDE;
        near.clone()
            .flat_map(|dy| near.clone().map(move |dx| (dx, dy)))
            .map(|(dx, dy)| (self.at(x + dx, y + dy) - around).max(0.0))
            .sum()
    }

    /// The spectrum as it would be without these lines.
    #[must_use]
    pub fn without(mut self, lines: &[Line]) -> Self {
        for line in lines {
            let (x, y) = line.wave;
            let around = self.around(x, y);
            for (sx, sy) in [(x, y), (-x, -y)] {
                for dy in -WIDE..=WIDE {
                    for dx in -WIDE..=WIDE {
                        #[allow(clippy::cast_sign_loss)]
                        let i = |v: i32| v.rem_euclid(side()) as usize;
                        let p = &mut self.power[i(sy + dy) * SIDE + i(sx + dx)];
                        *p = p.min(around);
                    }
                }
            }
        }
        self
    }

    /// The frequencies a measure answers to.
    #[must_use]
    pub fn bins(&self, response: &dyn Fn(f64, f64) -> f64) -> Vec<Bin> {
        #[allow(clippy::cast_precision_loss)]
        let signed = |i: usize| {
            let f = i as f64 / SIDE as f64;
            if f >= 0.5 { f - 1.0 } else { f }
        };
        (1..SIDE * SIDE)
            .map(|i| {
                let (fx, fy) = (signed(i % SIDE), signed(i / SIDE));
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

#[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]
fn side() -> i32 {
    SIDE as i32
}

/// Spectra of tiles, added up.
struct Sum {
    fft: Arc<dyn Fft<f32>>,
    window: Vec<f32>,
    power: Vec<f64>,
}

impl Sum {
    fn new() -> Self {
        Self {
            fft: FftPlanner::new().plan_fft_forward(SIDE),
            window: hann(SIDE),
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
        let turn = |from: &[Complex<f32>]| -> Vec<Complex<f32>> {
            (0..SIDE * SIDE)
                .map(|i| from[(i % SIDE) * SIDE + i / SIDE])
                .collect()
        };
        let mut turned = turn(&grid);
        self.fft.process(&mut turned);
        for (p, c) in self.power.iter_mut().zip(turn(&turned)) {
            *p += f64::from(c.norm_sqr());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Quad;
    use rand::{RngExt, SeedableRng};

    const W: usize = 320;
    const H: usize = 256;

    fn region() -> Region {
        Region::of_quad(&Quad::rect(0.0, 0.0, W as f64, H as f64), &[], (W, H))
    }

    /// White noise summed over boxes: detail at every frequency, none above
    /// the others; with an edge down the middle, a ridge in the spectrum.
    fn texture(seed: u64, edge: f32) -> Vec<f32> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let fine: Vec<f32> = (0..W * H).map(|_| rng.random_range(-0.2..0.2)).collect();
        (0..W * H)
            .map(|i| {
                let near: f32 = [0, 1, W, W + 1]
                    .iter()
                    .filter_map(|d| fine.get(i + d))
                    .sum();
                0.5 + near / 4.0 + if i % W > W / 2 { edge } else { 0.0 }
            })
            .collect()
    }

    #[test]
    fn a_lattice_is_found_with_its_energy_and_a_texture_is_left_alone() {
        let flat = |_: f64, _: f64| 1.0;
        for seed in 1..5 {
            let plain = texture(seed, 0.3);
            let power = Power::of(&plain, &region()).unwrap();
            assert_eq!(power.lines(&flat), Vec::new(), "seed {seed}");
            let (fx, fy, depth) = (0.21, 0.13, 0.03);
            let film: Vec<f32> = (0..W * H)
                .map(|i| {
                    let (x, y) = ((i % W) as f64, (i / W) as f64);
                    let wave = |v: f64| (std::f64::consts::TAU * v).cos();
                    plain[i] * (1.0 + depth * (wave(fx * x) + wave(fy * y))) as f32
                })
                .collect();
            let power = Power::of(&film, &region()).unwrap();
            let lines = power.lines(&flat);
            let waves: Vec<(i32, i32)> = lines.iter().map(|l| l.wave).collect();
            // 0.21 and 0.13 cycles per pixel are waves 13.4 and 8.3 of a tile.
            assert_eq!(waves, [(13, 0), (0, 8)], "seed {seed}");
            let of = |p: &Power| p.bins(&flat).iter().map(|b| b.power).sum::<f64>();
            let plain = of(&Power::of(&plain, &region()).unwrap());
            let all = of(&power);
            let share: f64 = lines.iter().map(|l| l.share).sum();
            let true_share = 1.0 - plain / all;
            assert!(
                (share / true_share - 1.0).abs() < 0.2,
                "{share} {true_share}"
            );
            let left = of(&power.without(&lines)) / plain;
            assert!((left - 1.0).abs() < 0.03, "seed {seed}: {left}");
        }
    }
}
