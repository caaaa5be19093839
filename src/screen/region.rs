//! Which pixels of the stored picture belong to an area of the screen.

use crate::geometry::{Homography, Quad, ScreenFrac, StoredPx};

/// A set of pixels inside an upright rectangle of the stored picture.
///
/// A pixel belongs to it when its centre lies inside the area and outside
/// every mask.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// Left column of the rectangle.
    pub x0: usize,
    /// Top row of the rectangle.
    pub y0: usize,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Row by row, `true` where the pixel belongs.
    pub inside: Vec<bool>,
}

impl Region {
    /// The pixels of `area` minus `masks`, all on a screen that `to_picture`
    /// places in a stored picture of `size` px. What falls off the picture is
    /// left out; the rectangle may be empty.
    pub fn on_screen(
        area: [f64; 4],
        masks: &[[f64; 4]],
        to_picture: &Homography<ScreenFrac, StoredPx>,
        size: (usize, usize),
    ) -> Self {
        let quad = |a: [f64; 4]| to_picture.apply_quad(&Quad::rect(a[0], a[1], a[2], a[3]));
        let holes: Vec<Quad<StoredPx>> = masks.iter().map(|m| quad(*m)).collect();
        Self::of_quad(&quad(area), &holes, size)
    }

    /// The pixels of a quadrilateral minus others.
    pub fn of_quad(area: &Quad<StoredPx>, holes: &[Quad<StoredPx>], size: (usize, usize)) -> Self {
        let [left, top, right, bottom] = area.bounds();
        let (x0, x1) = (clamp(left.floor(), size.0), clamp(right.ceil(), size.0));
        let (y0, y1) = (clamp(top.floor(), size.1), clamp(bottom.ceil(), size.1));
        let (width, height) = (x1.saturating_sub(x0), y1.saturating_sub(y0));
        let mut inside = Vec::with_capacity(width * height);
        for y in y0..y0 + height {
            for x in x0..x0 + width {
                let (cx, cy) = (centre(x), centre(y));
                inside.push(contains(area, cx, cy) && !holes.iter().any(|h| contains(h, cx, cy)));
            }
        }
        Self {
            x0,
            y0,
            width,
            height,
            inside,
        }
    }

    /// Left column and top row after a move of (x, y) px inside a picture of
    /// `size` px; where that would leave the picture, the nearest that does
    /// not, and `false`.
    pub fn moved(&self, shift: (i16, i16), size: (usize, usize)) -> ((usize, usize), bool) {
        let (x, fits_x) = slide(self.x0, self.width, shift.0, size.0);
        let (y, fits_y) = slide(self.y0, self.height, shift.1, size.1);
        ((x, y), fits_x && fits_y)
    }

    /// Number of pixels that belong.
    pub fn count(&self) -> usize {
        self.inside.iter().filter(|i| **i).count()
    }

    /// Pixels whose whole neighbourhood of `reach` px belongs: there a filter
    /// of that reach sees nothing from outside.
    pub fn eroded(&self, reach: usize) -> Vec<bool> {
        let by_row = erode_lines(&self.inside, self.width, self.height, reach, 1, self.width);
        erode_lines(&by_row, self.height, self.width, reach, self.width, 1)
    }
}

/// Where `len` places from `from` on go when moved by `by` within `limit`, and
/// whether there is room for the whole move.
pub(super) fn slide(from: usize, len: usize, by: i16, limit: usize) -> (usize, bool) {
    let most = limit.saturating_sub(len);
    match from.checked_add_signed(isize::from(by)) {
        Some(to) if to <= most => (to, true),
        Some(_) => (most, false),
        None => (0, false),
    }
}

/// One-dimensional erosion along lines of `len` cells `step` apart.
fn erode_lines(
    cells: &[bool],
    len: usize,
    lines: usize,
    reach: usize,
    step: usize,
    line_step: usize,
) -> Vec<bool> {
    let mut out = vec![false; cells.len()];
    for line in 0..lines {
        let base = line * line_step;
        let mut run = 0;
        for i in 0..len {
            run = if cells[base + i * step] { run + 1 } else { 0 };
            if run > 2 * reach {
                out[base + (i - reach) * step] = true;
            }
        }
    }
    out
}

fn centre(i: usize) -> f64 {
    i as f64 + 0.5
}

fn clamp(v: f64, limit: usize) -> usize {
    v.clamp(0.0, limit as f64) as usize
}

/// Whether a point lies in a convex quadrilateral of either turning sense.
fn contains(q: &Quad<StoredPx>, x: f64, y: f64) -> bool {
    let c = &q.corners;
    let side = |i: usize| {
        let (a, b) = (c[i], c[(i + 1) % 4]);
        (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x)
    };
    let s = [side(0), side(1), side(2), side(3)];
    s.iter().all(|v| *v >= 0.0) || s.iter().all(|v| *v <= 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    #[test]
    fn area_of_a_tilted_quad_is_counted_within_its_rim() {
        let q = Quad::new([
            Point::new(120.0, 80.0),
            Point::new(520.0, 110.0),
            Point::new(500.0, 400.0),
            Point::new(140.0, 360.0),
        ]);
        let r = Region::of_quad(&q, &[], (640, 480));
        let n = r.count() as f64;
        assert!((n - q.area()).abs() < 700.0, "{n} against {}", q.area());
    }

    #[test]
    fn masks_are_left_out_and_erosion_keeps_filters_away_from_them() {
        let area = Quad::rect(10.0, 10.0, 40.0, 30.0);
        let hole = Quad::rect(20.0, 15.0, 25.0, 20.0);
        let r = Region::of_quad(&area, &[hole], (64, 64));
        assert_eq!(r.count(), 30 * 20 - 25);
        let eroded = r.eroded(2);
        for y in 0..r.height {
            for x in 0..r.width {
                let all = (-2..=2i32).all(|dy| {
                    (-2..=2i32).all(|dx| {
                        let (px, py) = (x as i32 + dx, y as i32 + dy);
                        px >= 0
                            && py >= 0
                            && (px as usize) < r.width
                            && (py as usize) < r.height
                            && r.inside[py as usize * r.width + px as usize]
                    })
                });
                assert_eq!(eroded[y * r.width + x], all, "{x},{y}");
            }
        }
    }

    #[test]
    fn what_falls_off_the_picture_is_left_out() {
        let r = Region::of_quad(&Quad::rect(-5.0, -5.0, 5.0, 5.0), &[], (64, 64));
        assert_eq!((r.x0, r.y0, r.width, r.height), (0, 0, 5, 5));
        assert_eq!(r.moved((3, 70), (64, 64)), ((3, 59), false));
        assert_eq!(r.moved((3, 59), (64, 64)), ((3, 59), true));
        assert_eq!(r.moved((-1, 0), (64, 64)), ((0, 0), false));
        let gone = Region::of_quad(&Quad::rect(70.0, 0.0, 90.0, 9.0), &[], (64, 64));
        assert_eq!(gone.count(), 0);
    }
}
