//! Which whole-cell shift fits best. All shifts of a row are tried side by
//! side; each sum keeps the order of its cells, so the same bytes come out on
//! every processor.

use multiversion::multiversion;

use crate::screen::Thumb;

/// Widest search, cells to either side and up or down.
pub(super) const REACH: (usize, usize) = (12, 8);
/// Shifts tried side by side: those of a row, and what fills a register.
const LANES: usize = 32;
/// Cells that suffice for the search.
const ENOUGH_CELLS: usize = 500;

/// The whole-cell shift with the smallest mean clipped difference over the cells
/// that changed, at most `reach` cells.
pub(super) fn whole_cells(
    a: &Thumb,
    b: &Thumb,
    changed: &[usize],
    reach: (usize, usize),
) -> (f64, f64) {
    let step = changed.len().div_ceil(ENOUGH_CELLS).max(1);
    let some: Vec<usize> = changed.iter().step_by(step).copied().collect();
    let cap = {
        let square = |i: &usize| (a.cells[*i] - b.cells[*i]).powi(2);
        let mut d: Vec<f32> = some.iter().map(square).collect();
        let middle = d.len() / 2;
        *d.select_nth_unstable_by(middle, f32::total_cmp).1 * 2.0
    };
    let ground = Ground::of(a);
    let tried: Vec<(usize, f32)> = some.iter().map(|i| (ground.at(*i), b.cells[*i])).collect();
    #[allow(clippy::cast_precision_loss)]
    let n = tried.len() as f64;
    let mut best = (f64::MAX, 0.0, 0.0);
    for down in REACH.1 - reach.1..=REACH.1 + reach.1 {
        let dy = apart(down, REACH.1);
        // The row above is that many rows on: rows and shifts run against each other.
        let from = &ground.cells[(2 * REACH.1 - down) * ground.width..];
        let sums = mismatches(&tried, from, cap);
        for across in REACH.0 - reach.0..=REACH.0 + reach.0 {
            let dx = apart(across, REACH.0);
            let cost = sums[2 * REACH.0 - across] / n + 1e-9 * (dx * dx + dy * dy);
            if cost < best.0 {
                best = (cost, dx, dy);
            }
        }
    }
    (best.1, best.2)
}

#[allow(clippy::cast_precision_loss)]
fn apart(place: usize, middle: usize) -> f64 {
    place as f64 - middle as f64
}

/// A picture with room around it, no number there.
struct Ground {
    cells: Vec<f32>,
    width: usize,
    inner: usize,
}

impl Ground {
    fn of(a: &Thumb) -> Self {
        let width = a.width + LANES;
        let mut cells = vec![f32::NAN; width * (a.height + 2 * REACH.1)];
        for (row, own) in a.cells.chunks_exact(a.width).enumerate() {
            let from = (row + REACH.1) * width + REACH.0;
            cells[from..from + a.width].copy_from_slice(own);
        }
        Self {
            cells,
            width,
            inner: a.width,
        }
    }

    /// Where the cells begin that cell `i` is held against, one row of shifts
    /// from the top.
    fn at(&self, i: usize) -> usize {
        i / self.inner * self.width + i % self.inner
    }
}

/// Sums of the clipped squared differences, one a shift to the right, the
/// largest first. What comes from outside is neither for nor against.
#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
fn mismatches(tried: &[(usize, f32)], from: &[f32], cap: f32) -> [f64; LANES] {
    let outside = cap * 0.6;
    let mut sums = [0.0; LANES];
    for (at, value) in tried {
        let Some(near) = from.get(*at..).and_then(|f| f.first_chunk::<LANES>()) else {
            continue;
        };
        for (sum, near) in sums.iter_mut().zip(near) {
            let square = (value - near) * (value - near);
            let clipped = if square < cap { square } else { cap };
            *sum += f64::from(if near.is_nan() { outside } else { clipped });
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One shift after the other, cell by cell, as the definition has it.
    fn plainly(a: &Thumb, b: &Thumb, cells: &[usize], cap: f32, dx: i32, dy: i32) -> f64 {
        let (w, h) = (a.width as i32, a.height as i32);
        let sum = cells.iter().fold(0.0, |sum, i| {
            let (x, y) = (*i as i32 % w - dx, *i as i32 / w - dy);
            let there = (0..w).contains(&x) && (0..h).contains(&y);
            sum + f64::from(match there {
                true => (b.cells[*i] - a.cells[(y * w + x) as usize])
                    .powi(2)
                    .min(cap),
                false => cap * 0.6,
            })
        });
        sum / cells.len() as f64 + 1e-9 * f64::from(dx * dx + dy * dy)
    }

    #[test]
    fn side_by_side_is_the_same_to_the_last_bit() {
        let (width, height) = (64, 48);
        let mut state = 7u32;
        let mut noise = move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / (1 << 24) as f32
        };
        for reach in [REACH, (1, 1)] {
            let cells: Vec<f32> = (0..width * height).map(|_| noise()).collect();
            let moved = |i: usize| 0.9 * cells[(i + 3 * width - 2) % cells.len()];
            let b = (0..cells.len()).map(|i| moved(i) + 0.1 * noise()).collect();
            let [a, b] = [cells.clone(), b].map(|cells| Thumb {
                width,
                height,
                cells,
            });
            let changed: Vec<usize> = (0..width * height).filter(|i| i % 5 != 1).collect();
            let some: Vec<usize> = changed.iter().step_by(5).copied().collect();
            let mut squares: Vec<f32> = some
                .iter()
                .map(|i| (a.cells[*i] - b.cells[*i]).powi(2))
                .collect();
            squares.sort_by(f32::total_cmp);
            let cap = squares[squares.len() / 2] * 2.0;
            let (rx, ry) = (reach.0 as i32, reach.1 as i32);
            let all = (-ry..=ry).flat_map(|dy| (-rx..=rx).map(move |dx| (dx, dy)));
            let mut best = (f64::MAX, 0, 0);
            for (dx, dy) in all {
                let cost = plainly(&a, &b, &some, cap, dx, dy);
                if cost < best.0 {
                    best = (cost, dx, dy);
                }
            }
            let found = whole_cells(&a, &b, &changed, reach);
            assert_eq!(found, (f64::from(best.1), f64::from(best.2)));
            // Every sum, not the best alone.
            let ground = Ground::of(&a);
            let tried: Vec<_> = some.iter().map(|i| (ground.at(*i), b.cells[*i])).collect();
            for dy in -8..=8 {
                let from = &ground.cells[(8 - dy) as usize * ground.width..];
                let sums = mismatches(&tried, from, cap);
                for dx in -12..=12 {
                    let off = 1e-9 * f64::from(dx * dx + dy * dy);
                    let sum = sums[(12 - dx) as usize] / some.len() as f64 + off;
                    assert_eq!(sum.to_bits(), plainly(&a, &b, &some, cap, dx, dy).to_bits());
                }
            }
        }
    }
}
