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
/// Widest search, cells.
const REACH: (i32, i32) = (12, 8);

/// Standard deviation of a cell's noise: from the quieter half of the
/// differences between neighbouring pictures.
#[must_use]
pub fn cell_noise(pairs: &[(Thumb, Thumb)]) -> f32 {
    let mut spreads: Vec<f32> = pairs
        .iter()
        .map(|(a, b)| {
            let mut d: Vec<f32> = a
                .cells
                .iter()
                .zip(&b.cells)
                .map(|(x, y)| (x - y).abs())
                .collect();
            d.sort_by(f32::total_cmp);
            // Median absolute difference of two noisy values, as a sigma.
            d[d.len() / 2] * 1.4826 / std::f32::consts::SQRT_2
        })
        .collect();
    spreads.sort_by(f32::total_cmp);
    spreads
        .get(spreads.len() / 4)
        .copied()
        .unwrap_or(0.0)
        .max(2.0e-4)
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

/// The shift that takes what changed from `a` to `b`; `noise` is one cell's.
#[must_use]
pub fn shift(a: &Thumb, b: &Thumb, noise: f32) -> Shift {
    let limit = 5.0 * noise;
    let changed: Vec<usize> = (0..a.cells.len())
        .filter(|i| (a.cells[*i] - b.cells[*i]).abs() > limit)
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let moved = changed.len() as f64 / a.cells.len() as f64;
    if moved < LEAST_MOVED {
        return Shift::default();
    }
    let (mut dx, mut dy) = whole_cells(a, b, &changed);
    for _ in 0..4 {
        let Some((ux, uy)) = refine(a, b, &changed, dx, dy) else {
            break;
        };
        dx += ux.clamp(-1.0, 1.0);
        dy += uy.clamp(-1.0, 1.0);
    }
    Shift {
        dx,
        dy,
        moved,
        explained: explained(a, b, &changed, dx, dy),
    }
}

/// How much of the squared difference the shift takes away; the quarter of
/// the cells that fit worst (where something came to light) is left out.
fn explained(a: &Thumb, b: &Thumb, changed: &[usize], dx: f64, dy: f64) -> f64 {
    let mut pairs: Vec<(f64, f64)> = changed
        .iter()
        .filter_map(|i| {
            #[allow(clippy::cast_precision_loss)]
            let (x, y) = ((i % a.width) as f64 - dx, (i / a.width) as f64 - dy);
            let (value, _, _) = bilinear(a, x, y)?;
            let with = (f64::from(b.cells[*i]) - value).powi(2);
            Some((with, f64::from(b.cells[*i] - a.cells[*i]).powi(2)))
        })
        .collect();
    pairs.sort_by(|p, q| p.0.total_cmp(&q.0));
    pairs.truncate((pairs.len() * 3).div_ceil(4));
    let (with, without) = pairs
        .iter()
        .fold((0.0, 1e-15), |s, p| (s.0 + p.0, s.1 + p.1));
    (1.0 - with / without).clamp(0.0, 1.0)
}

/// The whole-cell shift with the smallest mean clipped difference.
fn whole_cells(a: &Thumb, b: &Thumb, all: &[usize]) -> (f64, f64) {
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
    for dy in -REACH.1..=REACH.1 {
        for dx in -REACH.0..=REACH.0 {
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
fn refine(a: &Thumb, b: &Thumb, changed: &[usize], dx: f64, dy: f64) -> Option<(f64, f64)> {
    let mut terms: Vec<(f64, f64, f64)> = Vec::with_capacity(changed.len());
    for i in changed {
        #[allow(clippy::cast_precision_loss)]
        let (x, y) = ((i % a.width) as f64 - dx, (i / a.width) as f64 - dy);
        if let Some((value, gx, gy)) = bilinear(a, x, y) {
            terms.push((gx, gy, f64::from(b.cells[*i]) - value));
        }
    }
    if terms.len() < 6 {
        return None;
    }
    // Cells where something else came to light do not fit: leave out the worst.
    let mut errors: Vec<f64> = terms.iter().map(|t| t.2.abs()).collect();
    errors.sort_by(f64::total_cmp);
    let keep = 2.5 * errors[errors.len() / 2] + 1e-6;
    let (mut xx, mut xy, mut yy, mut xt, mut yt) = (1e-9, 0.0, 1e-9, 0.0, 0.0);
    for (gx, gy, e) in terms.iter().filter(|t| t.2.abs() <= keep) {
        xx += gx * gx;
        xy += gx * gy;
        yy += gy * gy;
        xt += gx * e;
        yt += gy * e;
    }
    let det = xx * yy - xy * xy;
    if det < 1e-4 * xx * yy {
        // Detail in one direction only: move along it.
        let along = if xx > yy {
            (-xt / xx, 0.0)
        } else {
            (0.0, -yt / yy)
        };
        return Some(along);
    }
    Some((-(yy * xt - xy * yt) / det, -(xx * yt - xy * xt) / det))
}

/// Value and gradient between cells; `None` at or beyond the rim.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)]
fn bilinear(a: &Thumb, x: f64, y: f64) -> Option<(f64, f64, f64)> {
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
    Some((
        mix(&at),
        mix(&|cx, cy| (at(cx + 1, cy) - at(cx - 1, cy)) / 2.0),
        mix(&|cx, cy| (at(cx, cy + 1) - at(cx, cy - 1)) / 2.0),
    ))
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
            let s = shift(&a, &b, 2e-4);
            assert!((s.dx - d).abs() < 0.05 + 0.05 * d, "{d}: {s:?}");
            assert!(s.dy.abs() < 0.1 + 0.03 * d, "{d}: {s:?}");
        }
        assert_eq!(
            shift(&scene(20.0, 64, 48), &scene(20.0, 64, 48), 2e-4).moved,
            0.0
        );
    }
}
