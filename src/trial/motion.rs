//! How fast what moves in a small picture moves.
//!
//! Only cells that changed beyond noise count, so a still background does not
//! slow the target down, and blur that grows or shrinks in place reads as no
//! motion. Whole-cell shifts are found by search, the rest by least squares
//! on the gradient (Lucas & Kanade 1981), so slow final approaches are seen to
//! a few hundredths of a cell.

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
    #[must_use]
    pub fn length(&self) -> f64 {
        self.dx.hypot(self.dy)
    }
}

/// Changed cells below this share are no motion.
const LEAST_MOVED: f64 = 0.004;
/// Cells that suffice for the search of whole-cell shifts.
const ENOUGH_CELLS: usize = 500;
/// Below this share of changed cells only small shifts are believed.
const FEW_MOVED: f64 = 0.05;
/// Widest search, cells.
const REACH: (i32, i32) = (12, 8);

/// Standard deviation of each cell's noise, from the differences between
/// pictures a step apart: the median over the clip, so that what moves now and
/// then does not count. Cells full of detail are noisier than flat ones.
#[must_use]
pub fn cell_noise(pairs: &[(Thumb, Thumb)]) -> Vec<f32> {
    let n = pairs.first().map_or(0, |p| p.0.cells.len());
    let mut noise: Vec<f32> = (0..n)
        .map(|i| {
            let mut d: Vec<f32> = pairs
                .iter()
                .map(|(a, b)| (a.cells[i] - b.cells[i]).abs())
                .collect();
            middle(&mut d) * 1.4826 / std::f32::consts::SQRT_2
        })
        .collect();
    let usual = middle(&mut noise.clone());
    for v in &mut noise {
        *v = v.max(usual).max(LEAST_NOISE);
    }
    noise
}

/// Noise that even a still clip is taken to have, luma.
const LEAST_NOISE: f32 = 2.0e-4;

fn middle(v: &mut [f32]) -> f32 {
    v.sort_by(f32::total_cmp);
    v.get(v.len() / 2).copied().unwrap_or(0.0)
}

/// A picture smoothed by [1 2 1]/4 twice along rows and columns: cells are
/// box means, and detail finer than a cell would pull shifts to whole cells.
#[must_use]
pub fn smoothed(thumb: &Thumb) -> Thumb {
    let mut out = thumb.clone();
    for _ in 0..2 {
        for (step, len, lines, line_step) in [
            (1, out.width, out.height, out.width),
            (out.width, out.height, out.width, 1),
        ] {
            for line in 0..lines {
                smooth_line(&mut out.cells, line * line_step, step, len);
            }
        }
    }
    out
}

fn smooth_line(cells: &mut [f32], from: usize, step: usize, len: usize) {
    let mut before = cells[from];
    for i in 0..len {
        let at = from + i * step;
        let after = cells[if i + 1 < len { at + step } else { at }];
        let now = cells[at];
        cells[at] = 0.25 * before + 0.5 * now + 0.25 * after;
        before = now;
    }
}

/// The shift that takes what changed from `a` to `b`; `noise` is each cell's.
#[must_use]
pub fn shift(a: &Thumb, b: &Thumb, noise: &[f32]) -> Shift {
    let changed: Vec<usize> = (0..a.cells.len())
        .filter(|i| (a.cells[*i] - b.cells[*i]).abs() > 5.0 * noise[*i])
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let moved = changed.len() as f64 / a.cells.len() as f64;
    if moved < LEAST_MOVED {
        return Shift::default();
    }
    let (mut dx, mut dy) = whole_cells(a, b, &changed, reach(moved));
    for _ in 0..4 {
        let Some((ux, uy)) = refine(a, b, &changed, dx, dy) else {
            break;
        };
        dx += ux.clamp(-1.0, 1.0);
        dy += uy.clamp(-1.0, 1.0);
    }
    let strength: f64 = changed
        .iter()
        .map(|i| f64::from((a.cells[*i] - b.cells[*i]) / noise[*i]).powi(2))
        .sum();
    #[allow(clippy::cast_precision_loss)]
    let cells = a.cells.len() as f64;
    Shift {
        dx,
        dy,
        moved,
        strength: strength / cells,
        explained: explained(a, b, &changed, dx, dy),
    }
}

/// How far to search: a handful of changed cells matches anything somewhere,
/// and a target that moves far changes many.
fn reach(moved: f64) -> (i32, i32) {
    if moved < FEW_MOVED { (1, 1) } else { REACH }
}

/// How much of what blur and light leave unexplained the shift takes away;
/// the quarter of the cells that fit worst (where something came to light) is
/// left out.
fn explained(a: &Thumb, b: &Thumb, changed: &[usize], dx: f64, dy: f64) -> f64 {
    let still = terms(a, b, changed, 0.0, 0.0);
    let moved = terms(a, b, changed, dx, dy);
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
    rest.sort_by(f64::total_cmp);
    rest.truncate((rest.len() * 3).div_ceil(4));
    #[allow(clippy::cast_precision_loss)]
    let n = rest.len().max(1) as f64;
    rest.iter().sum::<f64>() / n
}

/// The whole-cell shift with the smallest mean clipped difference.
fn whole_cells(a: &Thumb, b: &Thumb, all: &[usize], reach: (i32, i32)) -> (f64, f64) {
    let some: Vec<usize> = all
        .iter()
        .step_by(all.len().div_ceil(ENOUGH_CELLS).max(1))
        .copied()
        .collect();
    let changed = some.as_slice();
    let cap = {
        let mut d: Vec<f32> = changed
            .iter()
            .map(|i| (a.cells[*i] - b.cells[*i]).powi(2))
            .collect();
        d.sort_by(f32::total_cmp);
        d[d.len() / 2] * 2.0
    };
    let mut best = (f64::MAX, 0, 0);
    for dy in -reach.1..=reach.1 {
        for dx in -reach.0..=reach.0 {
            let cost = mismatch(a, b, changed, dx, dy, cap) + 1e-9 * f64::from(dx * dx + dy * dy);
            if cost < best.0 {
                best = (cost, dx, dy);
            }
        }
    }
    (f64::from(best.1), f64::from(best.2))
}

fn mismatch(a: &Thumb, b: &Thumb, changed: &[usize], dx: i32, dy: i32, cap: f32) -> f64 {
    let (w, h) = (cells(a.width), cells(a.height));
    let (mut sum, mut n) = (0.0f64, 0.0f64);
    for i in changed {
        let (x, y) = (cells(i % a.width) - dx, cells(i / a.width) - dy);
        let d = if x < 0 || y < 0 || x >= w || y >= h {
            // Comes from outside: neither for nor against.
            cap * 0.6
        } else {
            #[allow(clippy::cast_sign_loss)]
            let from = y as usize * a.width + x as usize;
            (b.cells[*i] - a.cells[from]).powi(2).min(cap)
        };
        sum += f64::from(d);
        n += 1.0;
    }
    sum / n
}

#[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]
fn cells(i: usize) -> i32 {
    i as i32
}

/// One least-squares step on the cells that the shift explains.
///
/// Blur that grows or shrinks changes a picture by a multiple of its
/// Laplacian, light by a constant: both are fitted along with the shift, so
/// that neither is taken for motion.
fn refine(a: &Thumb, b: &Thumb, changed: &[usize], dx: f64, dy: f64) -> Option<(f64, f64)> {
    let terms = terms(a, b, changed, dx, dy);
    if terms.len() < 12 {
        return None;
    }
    let x = least_squares(&trimmed(&terms), 4)?;
    Some((x[0], x[1]))
}

/// Per cell: gradients along x and y (negative), Laplacian, 1, and what is
/// left to explain.
type Term = [f64; 5];

fn terms(a: &Thumb, b: &Thumb, changed: &[usize], dx: f64, dy: f64) -> Vec<Term> {
    changed
        .iter()
        .filter_map(|i| {
            #[allow(clippy::cast_precision_loss)]
            let (x, y) = ((i % a.width) as f64 - dx, (i / a.width) as f64 - dy);
            let s = bilinear(a, x, y)?;
            Some([
                -s.gx,
                -s.gy,
                s.laplacian,
                1.0,
                f64::from(b.cells[*i]) - s.value,
            ])
        })
        .collect()
}

/// Without the cells that fit worst: there something else came to light.
fn trimmed(terms: &[Term]) -> Vec<Term> {
    let mut errors: Vec<f64> = terms.iter().map(|t| t[4].abs()).collect();
    errors.sort_by(f64::total_cmp);
    let keep = 2.5 * errors[errors.len() / 2] + 1e-6;
    terms
        .iter()
        .filter(|t| t[4].abs() <= keep)
        .copied()
        .collect()
}

/// Solves for the first `n` of the four unknowns taken from the end: 4 are
/// all of them, 2 are blur and light alone. `None` where nothing varies.
fn least_squares(terms: &[Term], n: usize) -> Option<[f64; 4]> {
    let skip = 4 - n;
    let mut m = normal_equations(terms);
    let mut x = [0.0; 4];
    // Gauss elimination; a little weight on zero keeps it solvable where
    // detail runs one way only.
    for i in skip..4 {
        m[i][i] *= 1.0 + 1e-6;
        m[i][i] += 1e-12;
    }
    for i in skip..4 {
        if m[i][i].abs() < 1e-15 {
            return None;
        }
        for r in i + 1..4 {
            let f = m[r][i] / m[i][i];
            for c in i..5 {
                m[r][c] -= f * m[i][c];
            }
        }
    }
    for i in (skip..4).rev() {
        let known: f64 = (i + 1..4).map(|c| m[i][c] * x[c]).sum();
        x[i] = (m[i][4] - known) / m[i][i];
    }
    Some(x)
}

/// The normal equations, right side last.
fn normal_equations(terms: &[Term]) -> [[f64; 5]; 4] {
    let mut m = [[0.0; 5]; 4];
    for t in terms {
        for (r, row) in m.iter_mut().enumerate() {
            for (c, v) in row.iter_mut().enumerate() {
                *v += t[r] * t[c];
            }
        }
    }
    m
}

/// A picture's value between its cells; `None` at or beyond the rim.
#[must_use]
pub fn value_at(a: &Thumb, x: f64, y: f64) -> Option<f64> {
    bilinear(a, x, y).map(|b| b.value)
}

/// A picture between its cells.
struct Between {
    value: f64,
    gx: f64,
    gy: f64,
    laplacian: f64,
}

/// Value and gradient between cells; `None` at or beyond the rim.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)]
fn bilinear(a: &Thumb, x: f64, y: f64) -> Option<Between> {
    if x < 1.0 || y < 1.0 || x >= a.width as f64 - 2.0 || y >= a.height as f64 - 2.0 {
        return None;
    }
    let (ix, iy) = (x as usize, y as usize);
    let (fx, fy) = (x - ix as f64, y - iy as f64);
    let at = |cx: usize, cy: usize| f64::from(a.cells[cy * a.width + cx]);
    let mix = |f: &dyn Fn(usize, usize) -> f64| {
        (1.0 - fy) * ((1.0 - fx) * f(ix, iy) + fx * f(ix + 1, iy))
            + fy * ((1.0 - fx) * f(ix, iy + 1) + fx * f(ix + 1, iy + 1))
    };
    Some(Between {
        value: mix(&at),
        gx: mix(&|cx, cy| (at(cx + 1, cy) - at(cx - 1, cy)) / 2.0),
        gy: mix(&|cx, cy| (at(cx, cy + 1) - at(cx, cy - 1)) / 2.0),
        laplacian: mix(&|cx, cy| {
            at(cx + 1, cy) + at(cx - 1, cy) + at(cx, cy + 1) + at(cx, cy - 1) - 4.0 * at(cx, cy)
        }),
    })
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
