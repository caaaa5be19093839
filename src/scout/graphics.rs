//! Graphics over the live view: sharp things that never change while what is
//! around them does.

use crate::geometry::{Homography, Point, Quad, ScreenFrac, StoredPx};
use crate::ranked::middle;
use crate::screen::find::Looks;

/// Cells the focus area is divided into, across and down.
const CELLS: (usize, usize) = (36, 36);
/// Least gradient of the mean picture, luma per two px.
const SHARP: f32 = 0.06;
/// Most course of a pixel that never changes, ÷ that of its surroundings.
const STILL: f32 = 0.3;
/// Least course of the surroundings, luma.
const ASTIR: f32 = 0.03;
/// Share of a cell's pixels that must be sharp and still.
const DRAWN: f64 = 0.12;
/// More than this share of the focus area is not masked: too little remains.
const MOST: f64 = 0.5;
/// Most rectangles.
const MOST_MASKS: usize = 16;

/// What was found over the focus area.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Graphics {
    /// Rectangles to leave out: left top right bottom, fractions of the
    /// screen.
    pub masks: Vec<[f64; 4]>,
    /// So much is drawn over that nothing is left out.
    pub too_much: bool,
}

/// Looks for graphics in the area `[left, top, right, bottom]` of a screen.
pub fn graphics(looks: &Looks, map: &Homography<ScreenFrac, StoredPx>, area: [f64; 4]) -> Graphics {
    let (mean, spread) = (looks.mean(), looks.spread());
    let (w, h) = (mean.width, mean.height);
    let quad: Quad<StoredPx> = map.apply_quad(&Quad::rect(area[0], area[1], area[2], area[3]));
    let (columns, rows) = CELLS;
    let unit: Quad<ScreenFrac> = Quad::rect(0.0, 0.0, columns as f64, rows as f64);
    let Some(back) = Homography::between(&quad, &unit) else {
        return Graphics::default();
    };
    let mut all = vec![0usize; columns * rows];
    let mut drawn = vec![0usize; columns * rows];
    let mut courses = Vec::new();
    let [x0, y0, x1, y1] = quad.bounds();
    for y in clip(y0, h)..clip(y1, h) {
        for x in clip(x0, w)..clip(x1, w) {
            let p = back.apply(Point::new(x as f64 + 0.5, y as f64 + 0.5));
            let Some(cell) = cell_of(p) else { continue };
            all[cell] += 1;
            courses.push(spread.values[y * w + x]);
            let v = |x: usize, y: usize| mean.values[y * w + x];
            let gx = v((x + 1).min(w - 1), y) - v(x.saturating_sub(1), y);
            let gy = v(x, (y + 1).min(h - 1)) - v(x, y.saturating_sub(1));
            if gx.hypot(gy) < SHARP {
                continue;
            }
            drawn[cell] += usize::from(spread.values[y * w + x] < STILL * ASTIR);
        }
    }
    // Where nothing moves around it, a drawn thing cannot be told.
    if middle(courses).is_none_or(|c| c < ASTIR) {
        return Graphics::default();
    }
    let mark = |(n, d): (&usize, &usize)| *n > 0 && *d >= 3 && *d as f64 >= DRAWN * *n as f64;
    let marked: Vec<bool> = all.iter().zip(&drawn).map(mark).collect();
    let count = marked.iter().filter(|m| **m).count();
    if count < 3 {
        return Graphics::default();
    }
    let rects = rectangles(&marked);
    if count as f64 > MOST * marked.len() as f64 || rects.len() > MOST_MASKS {
        return Graphics {
            masks: Vec::new(),
            too_much: true,
        };
    }
    let [left, top, right, bottom] = area;
    let frac = |i: usize, n: usize, lo: f64, hi: f64| {
        let v = lo + (hi - lo) * i as f64 / n as f64;
        (v * 1e4).round() / 1e4
    };
    let x = |i| frac(i, columns, left, right);
    let y = |i| frac(i, rows, top, bottom);
    let masks = rects
        .into_iter()
        .map(|[l, t, r, b]| [x(l), y(t), x(r), y(b)]);
    Graphics {
        masks: masks.collect(),
        too_much: false,
    }
}

fn clip(v: f64, n: usize) -> usize {
    (v.max(0.0) as usize).min(n)
}

fn cell_of(p: Point<ScreenFrac>) -> Option<usize> {
    let (columns, rows) = CELLS;
    let inside = p.x >= 0.0 && p.y >= 0.0 && p.x < columns as f64 && p.y < rows as f64;
    inside.then(|| p.y as usize * columns + p.x as usize)
}

/// Marked cells as few rectangles: runs of a row, joined with equal runs of
/// the rows below. Left, top, right, bottom in cells.
fn rectangles(marked: &[bool]) -> Vec<[usize; 4]> {
    let (columns, rows) = CELLS;
    let mut open: Vec<[usize; 4]> = Vec::new();
    let mut out = Vec::new();
    for y in 0..rows {
        let mut runs = Vec::new();
        let mut x = 0;
        while x < columns {
            if !marked[y * columns + x] {
                x += 1;
                continue;
            }
            let from = x;
            while x < columns && marked[y * columns + x] {
                x += 1;
            }
            runs.push((from, x));
        }
        let mut next = Vec::new();
        for (from, to) in runs {
            let above = open.iter().position(|r| r[0] == from && r[2] == to);
            let top = above.map_or(y, |k| open.swap_remove(k)[1]);
            next.push([from, top, to, y + 1]);
        }
        out.append(&mut open);
        open = next;
    }
    out.extend(open);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_becomes_its_four_sides() {
        let (columns, rows) = CELLS;
        let mut marked = vec![false; columns * rows];
        for y in 5..20 {
            for x in 4..30 {
                marked[y * columns + x] = y == 5 || y == 19 || x == 4 || x == 29;
            }
        }
        let mut rects = rectangles(&marked);
        rects.sort_unstable();
        let want = [
            [4, 5, 30, 6],
            [4, 6, 5, 19],
            [4, 19, 30, 20],
            [29, 6, 30, 19],
        ];
        assert_eq!(rects, want);
    }
}
