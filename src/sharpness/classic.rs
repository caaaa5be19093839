//! Three older measures, kept for comparison with published work.
//!
//! Variance of the Laplacian [0 1 0; 1 −4 1; 0 1 0] (÷ n), grey-level variance
//! (÷ n), and Brenner's squared difference at a distance of two pixels,
//! I(x+2) − I(x), here along rows and along columns alike so that a film
//! turned by a quarter reads the same.
//! Formulas: Pertuz, Puig & Garcia 2013 (LAPV, GLVN, BREN).

use super::meter::{Field, Operator, Patch};

/// Variance of the Laplacian.
pub struct Laplacian;

impl Operator for Laplacian {
    fn reach(&self) -> usize {
        1
    }
    fn channels(&self) -> usize {
        1
    }
    fn centred(&self) -> bool {
        true
    }
    fn apply(&mut self, patch: &Patch<'_>, keep: &[f32], out: &mut Field) {
        let (w, h, p) = (patch.width, patch.height, patch.pixels);
        for y in 1..h.saturating_sub(1) {
            let (a, b, c) = (
                &p[(y - 1) * w..y * w],
                &p[y * w..][..w],
                &p[(y + 1) * w..][..w],
            );
            let o = &mut out.values[y * w..(y + 1) * w];
            let k = &keep[y * w..(y + 1) * w];
            for x in 1..w.saturating_sub(1) {
                o[x] = (a[x] + c[x] + b[x - 1] + b[x + 1] - 4.0 * b[x]) * k[x];
            }
        }
    }
}

/// Grey-level variance.
pub struct GreyVariance;

impl Operator for GreyVariance {
    fn reach(&self) -> usize {
        0
    }
    fn channels(&self) -> usize {
        1
    }
    fn centred(&self) -> bool {
        true
    }
    fn apply(&mut self, patch: &Patch<'_>, keep: &[f32], out: &mut Field) {
        for ((o, v), k) in out.values.iter_mut().zip(patch.pixels).zip(keep) {
            *o = v * k;
        }
    }
}

/// Brenner's gradient along rows and columns.
pub struct Brenner;

impl Operator for Brenner {
    fn reach(&self) -> usize {
        2
    }
    fn channels(&self) -> usize {
        2
    }
    fn apply(&mut self, patch: &Patch<'_>, keep: &[f32], out: &mut Field) {
        let (w, h, p) = (patch.width, patch.height, patch.pixels);
        let [along, down] = out.two_channels();
        for y in 0..h.saturating_sub(2) {
            let (b, c) = (&p[y * w..][..w], &p[(y + 2) * w..][..w]);
            let (k, range) = (&keep[y * w..][..w], y * w..(y + 1) * w);
            let (gx, gy) = (&mut along[range.clone()], &mut down[range]);
            for x in 0..w.saturating_sub(2) {
                gx[x] = (b[x + 2] - b[x]) * k[x];
                gy[x] = (c[x] - b[x]) * k[x];
            }
        }
    }
}
