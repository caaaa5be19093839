//! Values between the pixels of a picture.
//!
//! A moving film asks for values at ever new fractions of a pixel: what a
//! short kernel takes off the high frequencies then comes and goes with the
//! movement and looks like focus. Eight taps of a Kaiser-windowed sinc (Kaiser
//! and Schafer 1980, IEEE Trans. ASSP 28, 105) leave less than 1 % of that up
//! to 0.3 cycles per pixel.

use super::grid::sinc;

/// Taps to each side.
const HALF: usize = 4;
const TAPS: usize = 2 * HALF;
/// Fractions of a pixel that are told apart.
const STEPS: usize = 512;
/// Shape of the Kaiser window.
const BETA: f64 = 5.0;

/// Weights for every fraction of a pixel.
pub(super) struct Kernel(Vec<[f32; TAPS]>);

/// Modified Bessel function of order 0 (its power series: Abramowitz and
/// Stegun 9.6.12).
fn bessel_i0(x: f64) -> f64 {
    let mut term = 1.0;
    let mut sum = 1.0;
    for k in 1..40 {
        term *= (x / 2.0 / f64::from(k)).powi(2);
        sum += term;
    }
    sum
}

impl Kernel {
    pub(super) fn new() -> Self {
        let weights = (0..=STEPS).map(|k| {
            let fraction = k as f64 / STEPS as f64;
            let mut row = [0.0; TAPS];
            for (i, w) in row.iter_mut().enumerate() {
                let x = i as f64 - (HALF as f64 - 1.0) - fraction;
                let inside = 1.0 - (x / HALF as f64).powi(2);
                let window = bessel_i0(BETA * inside.max(0.0).sqrt()) / bessel_i0(BETA);
                *w = sinc(x) * window;
            }
            let sum: f64 = row.iter().sum();
            row.map(|w| (w / sum) as f32)
        });
        Self(weights.collect())
    }

    fn at(&self, fraction: f64) -> &[f32; TAPS] {
        &self.0[((fraction * STEPS as f64 + 0.5) as usize).min(STEPS)]
    }

    /// Value of a picture of `size` at (x, y), pixel centres at whole numbers;
    /// beyond its sides it goes on as it ends.
    #[inline]
    pub(super) fn value(&self, picture: &[f32], (w, h): (usize, usize), x: f64, y: f64) -> f32 {
        let (ix, iy) = (x.floor(), y.floor());
        let (wx, wy) = (self.at(x - ix), self.at(y - iy));
        let (left, top) = (ix as i64 - (HALF as i64 - 1), iy as i64 - (HALF as i64 - 1));
        let inside = left >= 0 && left + TAPS as i64 <= w as i64;
        let mut sum = 0.0;
        for (j, wy) in wy.iter().enumerate() {
            let row = (top + j as i64).clamp(0, h as i64 - 1) as usize * w;
            let mut line = 0.0;
            if inside {
                let taps = &picture[row + left as usize..][..TAPS];
                for (v, wx) in taps.iter().zip(wx) {
                    line += v * wx;
                }
            } else {
                for (i, wx) in wx.iter().enumerate() {
                    let at = (left + i as i64).clamp(0, w as i64 - 1) as usize;
                    line += picture[row + at] * wx;
                }
            }
            sum += wy * line;
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A band-limited picture is the same between its pixels (sampling theorem).
    #[test]
    fn gratings_keep_their_contrast_at_every_fraction() {
        let kernel = Kernel::new();
        for f in [0.05, 0.15, 0.25, 0.3] {
            let wave = |x: f64| (std::f64::consts::TAU * f * x).cos();
            let row: Vec<f32> = (0..64).map(|x| wave(f64::from(x)) as f32).collect();
            let picture: Vec<f32> = (0..64).flat_map(|_| row.clone()).collect();
            for k in 0..40 {
                let x = 20.0 + f64::from(k) * 0.537;
                let got = f64::from(kernel.value(&picture, (64, 64), x, 30.4));
                assert!((got - wave(x)).abs() < 0.01, "{f} {x}: {got}");
            }
        }
    }

    #[test]
    fn values_at_the_pixels_are_the_pixels() {
        let kernel = Kernel::new();
        let picture: Vec<f32> = (0..20 * 20).map(|i| (i * 37 % 101) as f32).collect();
        for (x, y) in [(0, 0), (5, 7), (19, 19)] {
            let got = kernel.value(&picture, (20, 20), f64::from(x), f64::from(y));
            assert!((got - picture[(y * 20 + x) as usize]).abs() < 1e-3);
        }
    }
}
