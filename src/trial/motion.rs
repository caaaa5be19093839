//! How fast what moves in a small picture moves.
//!
//! Only cells that changed beyond noise count, so a still background does not
//! slow the target down, and blur that grows or shrinks in place reads as no
//! motion. Whole-cell shifts are found by search, the rest by least squares
//! on the gradient (Lucas & Kanade 1981), so slow final approaches are seen to
//! a few hundredths of a cell.

mod between;
mod search;

use nalgebra::{Matrix4, Vector4};

pub use between::value_at;

use between::Points;
use search::{REACH, whole_cells};

use crate::ranked::{self, SIGMA_OF_MAD};
use crate::screen::Thumb;

/// What happened between two small pictures.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shift {
    /// Cells to the right.
    pub dx: f64,
    /// Cells down.
    pub dy: f64,
    /// Share of cells that changed beyond noise.
    pub moved: f64,
    /// Squared change in noise variances, summed over those cells, ÷ cells.
    pub strength: f64,
    /// Share of that change which the shift explains, 0..=1: near 1 for a
    /// thing that moves, low for one that only blurs or brightens.
    pub explained: f64,
}

impl Shift {
    /// Length in cells.
    pub fn length(&self) -> f64 {
        self.dx.hypot(self.dy)
    }
}

/// Changed cells below this share are no motion.
const LEAST_MOVED: f64 = 0.004;
/// Below this share of changed cells only small shifts are believed.
const FEW_MOVED: f64 = 0.05;

/// Standard deviation of each cell's noise, from the differences between
/// pictures a step apart: the median over the clip, so that what moves now and
/// then does not count. Cells full of detail are noisier than flat ones.
pub fn cell_noise(pairs: &[(Thumb, Thumb)]) -> Vec<f32> {
    let n = pairs.first().map_or(0, |p| p.0.cells.len());
    let mut noise: Vec<f32> = (0..n)
        .map(|i| {
            let steps = pairs.iter().map(|(a, b)| (a.cells[i] - b.cells[i]).abs());
            let usual = ranked::middle(steps.collect()).unwrap_or(0.0);
            usual * SIGMA_OF_MAD as f32 / std::f32::consts::SQRT_2
        })
        .collect();
    let usual = ranked::middle(noise.clone()).unwrap_or(0.0);
    for v in &mut noise {
        *v = v.max(usual).max(LEAST_NOISE);
    }
    noise
}

/// Noise that even a still clip is taken to have, luma.
const LEAST_NOISE: f32 = 2.0e-4;

/// A picture smoothed by [1 2 1]/4 twice along rows and columns: cells are
/// box means, and detail finer than a cell would pull shifts to whole cells.
pub fn smoothed(thumb: &Thumb) -> Thumb {
    let mut out = thumb.clone();
    let width = out.width;
    if width == 0 || out.cells.len() < width {
        return out;
    }
    let mut before = vec![0.0; width];
    for _ in 0..2 {
        for row in out.cells.chunks_exact_mut(width) {
            smooth_along(row, &mut before);
        }
        smooth_down(&mut out.cells, &mut before);
    }
    out
}

fn mixed(before: f32, now: f32, after: f32) -> f32 {
    0.25 * before + 0.5 * now + 0.25 * after
}

/// Smooths a row; `old` takes what it was.
fn smooth_along(row: &mut [f32], old: &mut [f32]) {
    old.copy_from_slice(row);
    let last = old.len() - 1;
    for (now, three) in row.iter_mut().skip(1).zip(old.windows(3)) {
        *now = mixed(three[0], three[1], three[2]);
    }
    row[0] = mixed(old[0], old[0], old[last.min(1)]);
    row[last] = mixed(old[last.saturating_sub(1)], old[last], old[last]);
}

/// Smooths along columns, row by row; `above` takes what the row above was.
fn smooth_down(cells: &mut [f32], above: &mut [f32]) {
    let width = above.len();
    above.copy_from_slice(&cells[..width]);
    let mut rest = cells;
    while rest.len() > width {
        let (row, below) = rest.split_at_mut(width);
        for ((now, above), after) in row.iter_mut().zip(&mut *above).zip(&*below) {
            let new = mixed(*above, *now, *after);
            *above = std::mem::replace(now, new);
        }
        rest = below;
    }
    for (now, above) in rest.iter_mut().zip(above) {
        *now = mixed(*above, *now, *now);
    }
}

/// The shift that takes what changed from `a` to `b`; `noise` is each cell's.
pub fn shift(a: &Thumb, b: &Thumb, noise: &[f32]) -> Shift {
    let changed: Vec<usize> = (0..a.cells.len())
        .filter(|i| (a.cells[*i] - b.cells[*i]).abs() > 5.0 * noise[*i])
        .collect();
    let moved = changed.len() as f64 / a.cells.len() as f64;
    if moved < LEAST_MOVED {
        return Shift::default();
    }
    let (mut dx, mut dy) = whole_cells(a, b, &changed, reach(moved));
    let pair = Pair {
        a: Points::of(a),
        b,
        changed: &changed,
    };
    for _ in 0..4 {
        let Some((ux, uy)) = refine(&pair, dx, dy) else {
            break;
        };
        dx += ux.clamp(-1.0, 1.0);
        dy += uy.clamp(-1.0, 1.0);
    }
    let strength: f64 = changed
        .iter()
        .map(|i| f64::from((a.cells[*i] - b.cells[*i]) / noise[*i]).powi(2))
        .sum();
    let cells = a.cells.len() as f64;
    Shift {
        dx,
        dy,
        moved,
        strength: strength / cells,
        explained: explained(&pair, dx, dy),
    }
}

/// Two pictures and the cells that changed between them.
struct Pair<'a> {
    a: Points,
    b: &'a Thumb,
    changed: &'a [usize],
}

/// How far to search: a handful of changed cells matches anything somewhere,
/// and a target that moves far changes many.
fn reach(moved: f64) -> (usize, usize) {
    if moved < FEW_MOVED { (1, 1) } else { REACH }
}

/// How much of what blur and light leave unexplained the shift takes away;
/// the quarter of the cells that fit worst (where something came to light) is
/// left out.
fn explained(pair: &Pair<'_>, dx: f64, dy: f64) -> f64 {
    let still = terms(pair, 0.0, 0.0);
    let moved = terms(pair, dx, dy);
    if still.len() < 12 || moved.len() < 12 {
        return 0.0;
    }
    let without = left_over(&still);
    let with = left_over(&moved);
    (1.0 - with / without.max(1e-15)).clamp(0.0, 1.0)
}

/// Mean squared rest of the better three quarters after blur and light.
fn left_over(terms: &[Term]) -> f64 {
    let Some(x) = least_squares(&trimmed(terms), 2) else {
        return f64::MAX;
    };
    let mut rest: Vec<f64> = terms
        .iter()
        .map(|t| (t[4] - x[2] * t[2] - x[3]).powi(2))
        .collect();
    rest.sort_unstable_by(f64::total_cmp);
    rest.truncate((rest.len() * 3).div_ceil(4));
    let n = rest.len().max(1) as f64;
    rest.iter().sum::<f64>() / n
}

/// One least-squares step on the cells that the shift explains.
///
/// Blur that grows or shrinks changes a picture by a multiple of its
/// Laplacian, light by a constant: both are fitted along with the shift, so
/// that neither is taken for motion.
fn refine(pair: &Pair<'_>, dx: f64, dy: f64) -> Option<(f64, f64)> {
    let terms = terms(pair, dx, dy);
    if terms.len() < 12 {
        return None;
    }
    let x = least_squares(&trimmed(&terms), 4)?;
    Some((x[0], x[1]))
}

/// Per cell: gradients along x and y (negative), Laplacian, 1, and what is
/// left to explain.
type Term = [f64; 5];

fn terms(pair: &Pair<'_>, dx: f64, dy: f64) -> Vec<Term> {
    let Pair { a, b, changed } = pair;
    changed
        .iter()
        .filter_map(|i| {
            let (x, y) = ((i % b.width) as f64 - dx, (i / b.width) as f64 - dy);
            let [value, gx, gy, laplacian] = a.at(x, y)?;
            let rest = f64::from(b.cells[*i]) - value;
            Some([-gx, -gy, laplacian, 1.0, rest])
        })
        .collect()
}

/// Without the cells that fit worst: there something else came to light.
fn trimmed(terms: &[Term]) -> Vec<Term> {
    let mut errors: Vec<f64> = terms.iter().map(|t| t[4].abs()).collect();
    let half = errors.len() / 2;
    let middle = *errors.select_nth_unstable_by(half, f64::total_cmp).1;
    let keep = 2.5 * middle + 1e-6;
    terms
        .iter()
        .filter(|t| t[4].abs() <= keep)
        .copied()
        .collect()
}

/// Solves for the last `n` of the four unknowns: 4 are all of them, 2 are blur
/// and light alone. `None` where nothing varies.
fn least_squares(terms: &[Term], n: usize) -> Option<[f64; 4]> {
    let mut m = Matrix4::zeros();
    let mut v = Vector4::zeros();
    for t in terms {
        let row = match n {
            4 => Vector4::new(t[0], t[1], t[2], t[3]),
            _ => Vector4::new(0.0, 0.0, t[2], t[3]),
        };
        m += row * row.transpose();
        v += row * t[4];
    }
    // A little weight on zero keeps it solvable where detail runs one way
    // only, and where an unknown is left out.
    for i in 0..4 {
        m[(i, i)] += 1e-6 * m[(i, i)] + 1e-12;
    }
    let x = m.cholesky()?.solve(&v);
    Some([x[0], x[1], x[2], x[3]])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A card with a smooth random pattern over a still, patterned ground.
    fn scene(left: f64, width: usize, height: usize) -> Thumb {
        let pattern = |x: f64, y: f64, k: f64| {
            0.5 + 0.2 * (0.35 * x + 0.2 * y + k).sin() + 0.2 * (0.15 * x - 0.3 * y + 2.0 * k).cos()
        };
        let cells = (0..width * height)
            .map(|i| {
                let (x, y) = ((i % width) as f64, (i / width) as f64);
                let on_card = x >= left && (8.0..40.0).contains(&y);
                let v = if on_card {
                    pattern(x - left, y, 0.3)
                } else {
                    pattern(x, y, 2.2)
                };
                v as f32
            })
            .collect();
        Thumb {
            width,
            height,
            cells,
        }
    }

    #[test]
    fn shifts_of_a_card_over_a_still_ground_are_found() {
        for d in [0.05, 0.2, 0.5, 1.3, 4.4, 8.0] {
            let a = scene(20.0, 64, 48);
            let b = scene(20.0 + d, 64, 48);
            let s = shift(&a, &b, &[2e-4; 3072]);
            assert!((s.dx - d).abs() < 0.05 + 0.05 * d, "{d}: {s:?}");
            assert!(s.dy.abs() < 0.1 + 0.03 * d, "{d}: {s:?}");
        }
        assert_eq!(
            shift(&scene(20.0, 64, 48), &scene(20.0, 64, 48), &[2e-4; 3072]).moved,
            0.0
        );
    }
}
