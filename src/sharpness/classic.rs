//! Three older measures, kept for comparison with published work.
//!
//! Variance of the Laplacian [0 1 0; 1 −4 1; 0 1 0] (÷ n), grey-level variance
//! (÷ n), and Brenner's squared difference at a distance of two pixels,
//! I(x+2) − I(x), here along rows and along columns alike so that a film
//! turned by a quarter reads the same.
//! Formulas: Pertuz, Puig & Garcia 2013 (LAPV, GLVN, BREN).

use super::operator::{Keep, Operator, Rows, Tally};

/// Variance of the Laplacian.
#[derive(Default)]
pub struct Laplacian {
    picture: Vec<f32>,
    row: Vec<f32>,
}

impl Operator for Laplacian {
    fn reach(&self) -> usize {
        1
    }
    fn centred(&self) -> bool {
        true
    }
    fn apply(&mut self, rows: &mut Rows<'_>, keep: &Keep, tally: &mut Tally) {
        let (w, h) = (rows.width, rows.height);
        rows.all(&mut self.picture);
        self.row.resize(w, 0.0);
        for y in 1..h.saturating_sub(1) {
            let [a, b, c] = [y - 1, y, y + 1].map(|i| &self.picture[i * w..(i + 1) * w]);
            let k = keep.row(y);
            for x in 1..w.saturating_sub(1) {
                self.row[x] = (a[x] + c[x] + b[x - 1] + b[x + 1] - 4.0 * b[x]) * k[x];
            }
            tally.add(y, &[&self.row], keep.count(y));
        }
    }
}

/// Grey-level variance.
#[derive(Default)]
pub struct GreyVariance {
    row: Vec<f32>,
}

impl Operator for GreyVariance {
    fn reach(&self) -> usize {
        0
    }
    fn centred(&self) -> bool {
        true
    }
    fn apply(&mut self, rows: &mut Rows<'_>, keep: &Keep, tally: &mut Tally) {
        self.row.resize(rows.width, 0.0);
        for y in 0..rows.height {
            rows.next(&mut self.row);
            for (v, k) in self.row.iter_mut().zip(keep.row(y)) {
                *v *= k;
            }
            tally.add(y, &[&self.row], keep.count(y));
        }
    }
}

/// Brenner's gradient along rows and columns.
#[derive(Default)]
pub struct Brenner {
    picture: Vec<f32>,
    along: Vec<f32>,
    down: Vec<f32>,
}

impl Operator for Brenner {
    fn reach(&self) -> usize {
        2
    }
    fn apply(&mut self, rows: &mut Rows<'_>, keep: &Keep, tally: &mut Tally) {
        let (w, h) = (rows.width, rows.height);
        rows.all(&mut self.picture);
        self.along.resize(w, 0.0);
        self.down.resize(w, 0.0);
        for y in 0..h.saturating_sub(2) {
            let [b, c] = [y, y + 2].map(|i| &self.picture[i * w..(i + 1) * w]);
            let k = keep.row(y);
            for x in 0..w.saturating_sub(2) {
                self.along[x] = (b[x + 2] - b[x]) * k[x];
                self.down[x] = (c[x] - b[x]) * k[x];
            }
            tally.add(y, &[&self.along, &self.down], keep.count(y));
        }
    }
}
