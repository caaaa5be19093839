//! Sums over long rows that the compiler can vectorise, with one fixed order
//! of additions, so the same bytes come out on every processor.

use multiversion::multiversion;

/// Partial sums kept side by side.
pub const LANES: usize = 16;

fn fold(lanes: [f32; LANES]) -> f64 {
    lanes.iter().map(|v| f64::from(*v)).sum()
}

/// Σ a·b over two slices of one length (f32 partial sums of at most
/// [`BLOCK`] terms a lane, joined in f64).
pub fn dot(a: &[f32], b: &[f32]) -> f64 {
    a.chunks(BLOCK)
        .zip(b.chunks(BLOCK))
        .map(|(x, y)| fold(dot_block(x, y)))
        .sum()
}

/// Terms summed in f32 before they go to f64.
const BLOCK: usize = 4096;

#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
fn dot_block(a: &[f32], b: &[f32]) -> [f32; LANES] {
    let mut lanes = [0.0f32; LANES];
    let (xs, ys) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let (xr, yr) = (xs.remainder(), ys.remainder());
    for (x, y) in xs.zip(ys) {
        for i in 0..LANES {
            lanes[i] += x[i] * y[i];
        }
    }
    for (i, (x, y)) in xr.iter().zip(yr).enumerate() {
        lanes[i] += x * y;
    }
    lanes
}

/// Σ (a − b) and Σ (a − b)² over two slices of at most [`BLOCK`] values.
pub fn difference(a: &[f32], b: &[f32]) -> (f64, f64) {
    let (total, squares) = difference_block(a, b);
    (fold(total), fold(squares))
}

#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
fn difference_block(a: &[f32], b: &[f32]) -> ([f32; LANES], [f32; LANES]) {
    let mut total = [0.0f32; LANES];
    let mut squares = [0.0f32; LANES];
    let (xs, ys) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let (xr, yr) = (xs.remainder(), ys.remainder());
    for (x, y) in xs.zip(ys) {
        for i in 0..LANES {
            let d = x[i] - y[i];
            total[i] += d;
            squares[i] += d * d;
        }
    }
    for (i, (x, y)) in xr.iter().zip(yr).enumerate() {
        total[i] += x - y;
        squares[i] += (x - y) * (x - y);
    }
    (total, squares)
}

/// Adds (value − b)² to each of a row of sums.
#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
pub fn add_squares(sums: &mut [f64], value: f64, row: &[f64]) {
    for (sum, b) in sums.iter_mut().zip(row) {
        *sum += (value - b) * (value - b);
    }
}

/// Σ a over a slice.
pub fn sum(a: &[f32]) -> f64 {
    a.chunks(BLOCK).map(|x| fold(sum_block(x))).sum()
}

#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
fn sum_block(a: &[f32]) -> [f32; LANES] {
    let mut lanes = [0.0f32; LANES];
    let xs = a.chunks_exact(LANES);
    let rest = xs.remainder();
    for x in xs {
        for i in 0..LANES {
            lanes[i] += x[i];
        }
    }
    for (i, x) in rest.iter().enumerate() {
        lanes[i] += x;
    }
    lanes
}

/// `out[x] = taps[0]·row[x+r] + Σ taps[i]·(row[x+r−i] + row[x+r+i])`: a
/// symmetric filter of radius `r = taps.len() − 1` along a row; `out` is
/// `2r` shorter than `row`.
#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
pub fn filter_row(row: &[f32], taps: &[f32], out: &mut [f32]) {
    let r = taps.len() - 1;
    let n = out.len();
    // The default smoothing, all taps at once: several times as fast.
    if let [c, d, e, f] = taps {
        let row = &row[..n + 6];
        for x in 0..n {
            out[x] = c * row[x + 3]
                + d * (row[x + 2] + row[x + 4])
                + e * (row[x + 1] + row[x + 5])
                + f * (row[x] + row[x + 6]);
        }
        return;
    }
    for (o, v) in out.iter_mut().zip(&row[r..]) {
        *o = taps[0] * v;
    }
    for (i, t) in taps.iter().enumerate().skip(1) {
        let (left, right) = (&row[r - i..r - i + n], &row[r + i..r + i + n]);
        for ((o, a), b) in out.iter_mut().zip(left).zip(right) {
            *o += t * (a + b);
        }
    }
}

/// The same filter down the columns of `rows` (`2r + 1` rows of one length).
#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
pub fn filter_rows(rows: &[Vec<f32>], taps: &[f32], out: &mut [f32]) {
    let r = taps.len() - 1;
    if let ([c, d, e, f], [a0, a1, a2, a3, a4, a5, a6]) = (taps, rows) {
        let n = out.len();
        let (a0, a1, a2, a3) = (&a0[..n], &a1[..n], &a2[..n], &a3[..n]);
        let (a4, a5, a6) = (&a4[..n], &a5[..n], &a6[..n]);
        for x in 0..n {
            out[x] = c * a3[x] + d * (a2[x] + a4[x]) + e * (a1[x] + a5[x]) + f * (a0[x] + a6[x]);
        }
        return;
    }
    for (o, v) in out.iter_mut().zip(&rows[r]) {
        *o = taps[0] * v;
    }
    for (i, t) in taps.iter().enumerate().skip(1) {
        for ((o, a), b) in out.iter_mut().zip(&rows[r - i]).zip(&rows[r + i]) {
            *o += t * (a + b);
        }
    }
}

/// Sobel gradients of the middle of three rows, without scaling, where `keep`
/// is 1 (0 elsewhere), and the sum of their squares. The first and last column
/// stay as they were. `shares` takes what falls to each column of tiles.
pub fn sobel_row(
    rows: [&[f32]; 3],
    keep: &[f32],
    gx: &mut [f32],
    gy: &mut [f32],
    shares: &mut [Share],
) -> f64 {
    fold(sobel_lanes(rows, keep, gx, gy, shares))
}

/// What has fallen to the columns of tiles up to one of them, over some rows.
#[derive(Clone, Copy, Debug, Default)]
pub struct Share {
    /// One past the last column of pixels, from the first that a filter fills.
    pub until: usize,
    /// Σ of all squares, from the first column of tiles on.
    pub all: [f32; LANES],
    /// Σ of the squares along the rows.
    pub along: [f32; LANES],
}

impl Share {
    /// The two sums.
    pub fn sums(&self) -> (f64, f64) {
        (fold(self.all), fold(self.along))
    }

    /// Nothing again.
    pub fn clear(&mut self) {
        self.all = [0.0; LANES];
        self.along = [0.0; LANES];
    }
}

#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
fn sobel_lanes(
    rows: [&[f32]; 3],
    keep: &[f32],
    gx: &mut [f32],
    gy: &mut [f32],
    shares: &mut [Share],
) -> [f32; LANES] {
    let mut lanes = [0.0f32; LANES];
    let mut along = [0.0f32; LANES];
    let n = keep.len();
    if n < 3 {
        return lanes;
    }
    // Fixed lengths inside, so that the compiler sees whole vectors.
    let whole = (n - 2) / LANES * LANES;
    let [a, b, c] = rows;
    let mut from = 0;
    let last = shares.len().saturating_sub(1);
    for (i, share) in shares.iter_mut().enumerate() {
        let to = if i == last {
            whole
        } else {
            share.until.min(whole)
        };
        for at in (from..to).step_by(LANES) {
            let (a, b, c) = (&a[at..at + WIDE], &b[at..at + WIDE], &c[at..at + WIDE]);
            let keep = &keep[at + 1..at + 1 + LANES];
            let gx = &mut gx[at + 1..at + 1 + LANES];
            let gy = &mut gy[at + 1..at + 1 + LANES];
            for i in 0..LANES {
                let h = (a[i + 2] - a[i]) + 2.0 * (b[i + 2] - b[i]) + (c[i + 2] - c[i]);
                let v = (c[i] - a[i]) + 2.0 * (c[i + 1] - a[i + 1]) + (c[i + 2] - a[i + 2]);
                gx[i] = h * keep[i];
                gy[i] = v * keep[i];
                lanes[i] += gx[i] * gx[i] + gy[i] * gy[i];
                along[i] += gx[i] * gx[i];
            }
        }
        from = to.max(from);
        if i == last {
            for x in whole + 1..n - 1 {
                let h = (a[x + 1] - a[x - 1]) + 2.0 * (b[x + 1] - b[x - 1]) + (c[x + 1] - c[x - 1]);
                let v = (c[x - 1] - a[x - 1]) + 2.0 * (c[x] - a[x]) + (c[x + 1] - a[x + 1]);
                gx[x] = h * keep[x];
                gy[x] = v * keep[x];
                lanes[x % LANES] += gx[x] * gx[x] + gy[x] * gy[x];
                along[x % LANES] += gx[x] * gx[x];
            }
        }
        for i in 0..LANES {
            share.all[i] += lanes[i];
            share.along[i] += along[i];
        }
    }
    lanes
}

/// The sum of [`sobel_row`] where the gradients themselves are not wanted: the
/// same bytes, without the stores.
pub fn sobel_squares(rows: [&[f32]; 3], keep: &[f32], shares: &mut [Share]) -> f64 {
    fold(sobel_square_lanes(rows, keep, shares))
}

#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
fn sobel_square_lanes(rows: [&[f32]; 3], keep: &[f32], shares: &mut [Share]) -> [f32; LANES] {
    let mut lanes = [0.0f32; LANES];
    let mut along = [0.0f32; LANES];
    let n = keep.len();
    if n < 3 {
        return lanes;
    }
    let whole = (n - 2) / LANES * LANES;
    let [a, b, c] = rows;
    let mut from = 0;
    let last = shares.len().saturating_sub(1);
    for (i, share) in shares.iter_mut().enumerate() {
        let to = if i == last {
            whole
        } else {
            share.until.min(whole)
        };
        for at in (from..to).step_by(LANES) {
            let (a, b, c) = (&a[at..at + WIDE], &b[at..at + WIDE], &c[at..at + WIDE]);
            let keep = &keep[at + 1..at + 1 + LANES];
            for i in 0..LANES {
                let h = (a[i + 2] - a[i]) + 2.0 * (b[i + 2] - b[i]) + (c[i + 2] - c[i]);
                let v = (c[i] - a[i]) + 2.0 * (c[i + 1] - a[i + 1]) + (c[i + 2] - a[i + 2]);
                let (h, v) = (h * keep[i], v * keep[i]);
                lanes[i] += h * h + v * v;
                along[i] += h * h;
            }
        }
        from = to.max(from);
        if i == last {
            for x in whole + 1..n - 1 {
                let h = (a[x + 1] - a[x - 1]) + 2.0 * (b[x + 1] - b[x - 1]) + (c[x + 1] - c[x - 1]);
                let v = (c[x - 1] - a[x - 1]) + 2.0 * (c[x] - a[x]) + (c[x + 1] - a[x + 1]);
                let (h, v) = (h * keep[x], v * keep[x]);
                lanes[x % LANES] += h * h + v * v;
                along[x % LANES] += h * h;
            }
        }
        for i in 0..LANES {
            share.all[i] += lanes[i];
            share.along[i] += along[i];
        }
    }
    lanes
}

/// Adds the sums of `row` up to each bound in `until` (rising; the last takes
/// the rest) where `keep` is 1 to `out`, and returns the whole sum: the bytes
/// of [`dot`] on rows of at most [`BLOCK`].
pub fn dot_shares(row: &[f32], keep: &[f32], until: &[usize], out: &mut [[f32; LANES]]) -> f64 {
    if row.len() > BLOCK {
        // No phone films an area this wide; the tiles then stay empty.
        return dot(row, keep);
    }
    fold(dot_shares_lanes(row, keep, until, out))
}

#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
fn dot_shares_lanes(
    row: &[f32],
    keep: &[f32],
    until: &[usize],
    out: &mut [[f32; LANES]],
) -> [f32; LANES] {
    let mut lanes = [0.0f32; LANES];
    let whole = row.len() / LANES * LANES;
    let last = out.len().saturating_sub(1);
    let mut from = 0;
    for (i, (until, out)) in until.iter().zip(out).enumerate() {
        let to = if i == last {
            whole
        } else {
            (*until).min(whole)
        };
        for at in (from..to).step_by(LANES) {
            let (x, y) = (&row[at..at + LANES], &keep[at..at + LANES]);
            for i in 0..LANES {
                lanes[i] += x[i] * y[i];
            }
        }
        from = to.max(from);
        if i == last {
            for (i, (x, y)) in row[whole..].iter().zip(&keep[whole..]).enumerate() {
                lanes[i] += x * y;
            }
        }
        for i in 0..LANES {
            out[i] += lanes[i];
        }
    }
    lanes
}

/// How many of `row` are at least `level` where `keep` is 1.
#[multiversion(targets("x86_64+avx2", "x86_64+sse4.1", "aarch64+neon"))]
pub fn at_least(row: &[f32], level: f32, keep: &[f32]) -> usize {
    let mut count = 0u32;
    for (v, k) in row.iter().zip(keep) {
        count += u32::from((*v >= level) & (*k > 0.0));
    }
    count as usize
}

/// A vector of results needs one more input on either side.
const WIDE: usize = LANES + 2;

#[cfg(test)]
#[path = "lanes_tests.rs"]
mod tests;
