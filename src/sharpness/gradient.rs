//! Tenengrad: the mean squared Sobel gradient of a smoothed picture.
//!
//! `mean(Gx² + Gy²)`, Sobel [−1 0 1; −2 0 2; −1 0 1] and its transpose without
//! scaling or threshold (Pertuz, Puig & Garcia 2013, key TENG), after a
//! Gaussian of the stated σ in film pixels (0: none).

use super::lanes::{filter_row, filter_rows, sobel_row};
use super::meter::{Field, Operator, Patch};

/// The operator with its smoothing.
pub struct Tenengrad {
    taps: Vec<f32>,
    along: Vec<f32>,
    smooth: [Vec<f32>; 3],
}

impl Tenengrad {
    /// Smoothing by a Gaussian of `sigma_px` film pixels, cut at 3 σ.
    #[must_use]
    pub fn new(sigma_px: f64) -> Self {
        Self {
            taps: gaussian(sigma_px),
            along: Vec::new(),
            smooth: Default::default(),
        }
    }

    fn radius(&self) -> usize {
        self.taps.len() - 1
    }
}

/// Half of a normalised Gaussian, centre first.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
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

    fn channels(&self) -> usize {
        2
    }

    fn apply(&mut self, patch: &Patch<'_>, keep: &[f32], out: &mut Field) {
        let (w, h, r) = (patch.width, patch.height, self.radius());
        if w < 2 * r + 3 || h < 2 * r + 3 {
            return;
        }
        self.along.resize(w * h, 0.0);
        for (row, line) in patch
            .pixels
            .chunks_exact(w)
            .zip(self.along.chunks_exact_mut(w))
        {
            filter_row(row, &self.taps, &mut line[r..w - r]);
        }
        let [gx, gy] = out.two_channels();
        for s in &mut self.smooth {
            s.resize(w, 0.0);
        }
        for y in r..h - r {
            let rows: Vec<&[f32]> = (y - r..=y + r)
                .map(|i| &self.along[i * w..(i + 1) * w])
                .collect();
            self.smooth.rotate_left(1);
            filter_rows(&rows, &self.taps, &mut self.smooth[2]);
            if y >= r + 2 {
                let at = (y - 1) * w..y * w;
                let [a, b, c] = &self.smooth;
                sobel_row(
                    [a, b, c],
                    &keep[at.clone()],
                    &mut gx[at.clone()],
                    &mut gy[at],
                );
            }
        }
    }
}
