//! Two-dimensional FFT of a fixed size. Spectra are kept transposed (one row
//! per horizontal frequency), which saves a transposition each way.

use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};
use transpose::transpose;

/// Plans for one size.
#[derive(Clone)]
pub(crate) struct Fft2 {
    pub w: usize,
    pub h: usize,
    rows: [Arc<dyn Fft<f32>>; 2],
    cols: [Arc<dyn Fft<f32>>; 2],
}

impl Fft2 {
    pub(crate) fn new(w: usize, h: usize) -> Self {
        let mut planner = FftPlanner::new();
        Self {
            w,
            h,
            rows: [planner.plan_fft_forward(w), planner.plan_fft_inverse(w)],
            cols: [planner.plan_fft_forward(h), planner.plan_fft_inverse(h)],
        }
    }

    /// Spectrum (transposed: entry (fx, fy) at fx·h + fy) of row-major values.
    pub(crate) fn forward(&self, mut data: Vec<Complex32>) -> Vec<Complex32> {
        self.rows[0].process(&mut data);
        let mut spectrum = vec![Complex32::default(); data.len()];
        transpose(&data, &mut spectrum, self.w, self.h);
        self.cols[0].process(&mut spectrum);
        spectrum
    }

    /// Row-major values of a transposed spectrum, scaled by 1 ÷ (w·h).
    pub(crate) fn inverse(&self, spectrum: &mut [Complex32], out: &mut Vec<Complex32>) {
        self.cols[1].process(spectrum);
        out.resize(spectrum.len(), Complex32::default());
        transpose(spectrum, out, self.h, self.w);
        self.rows[1].process(out);
        let scale = 1.0 / (self.w * self.h) as f32;
        for v in out {
            *v *= scale;
        }
    }
}

/// Signed frequency of bin `i` of `n`, cycles per pixel.
pub(crate) fn frequency(i: usize, n: usize) -> f32 {
    let over = if 2 * i > n { n as f32 } else { 0.0 };
    (i as f32 - over) / n as f32
}

/// Smallest size ≥ `n` whose prime factors are 2, 3 and 5, and even.
pub(crate) fn good_size(n: usize) -> usize {
    let smooth = |mut m: usize| {
        for p in [2, 3, 5] {
            while m.is_multiple_of(p) {
                m /= p;
            }
        }
        m == 1
    };
    let mut sizes = n.max(8)..;
    let good = sizes.find(|m| m.is_multiple_of(2) && smooth(*m));
    good.unwrap_or(n)
}
