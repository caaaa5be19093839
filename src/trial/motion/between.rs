//! A picture between its cells.

use crate::screen::Thumb;

/// Value, gradients to the right and down, and Laplacian.
pub(super) type Point = [f64; 4];

/// The picture's points, worked out once for all shifts.
pub(super) struct Points {
    width: usize,
    height: usize,
    /// Of every cell; nought at the rim, which is not asked for.
    all: Vec<Point>,
}

impl Points {
    pub(super) fn of(a: &Thumb) -> Self {
        let mut all = vec![[0.0; 4]; a.cells.len()];
        for y in 1..a.height.saturating_sub(1) {
            let row = |y: usize| &a.cells[y * a.width..(y + 1) * a.width];
            let (up, here, down) = (row(y - 1), row(y), row(y + 1));
            let out = &mut all[y * a.width..(y + 1) * a.width];
            for x in 1..a.width.saturating_sub(1) {
                let [left, value, right] = [here[x - 1], here[x], here[x + 1]].map(f64::from);
                let [up, down] = [up[x], down[x]].map(f64::from);
                out[x] = [
                    value,
                    (right - left) / 2.0,
                    (down - up) / 2.0,
                    right + left + down + up - 4.0 * value,
                ];
            }
        }
        Self {
            width: a.width,
            height: a.height,
            all,
        }
    }

    /// The point there; `None` at or beyond the rim.
    pub(super) fn at(&self, x: f64, y: f64) -> Option<Point> {
        let place = Place::of(self.width, self.height, x, y)?;
        let [a, b, c, d] = place.corners(self.width).map(|i| self.all[i]);
        Some(std::array::from_fn(|k| place.mix([a[k], b[k], c[k], d[k]])))
    }
}

/// A picture's value between its cells; `None` at or beyond the rim.
#[must_use]
pub fn value_at(a: &Thumb, x: f64, y: f64) -> Option<f64> {
    let place = Place::of(a.width, a.height, x, y)?;
    let corners = place.corners(a.width).map(|i| f64::from(a.cells[i]));
    Some(place.mix(corners))
}

/// A place between four cells.
struct Place {
    x: usize,
    y: usize,
    right: f64,
    down: f64,
}

impl Place {
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss
    )]
    fn of(width: usize, height: usize, x: f64, y: f64) -> Option<Self> {
        if x < 1.0 || y < 1.0 || x >= width as f64 - 2.0 || y >= height as f64 - 2.0 {
            return None;
        }
        let (ix, iy) = (x as usize, y as usize);
        Some(Self {
            x: ix,
            y: iy,
            right: x - ix as f64,
            down: y - iy as f64,
        })
    }

    fn corners(&self, width: usize) -> [usize; 4] {
        let first = self.y * width + self.x;
        [first, first + 1, first + width, first + width + 1]
    }

    fn mix(&self, [a, b, c, d]: [f64; 4]) -> f64 {
        (1.0 - self.down) * ((1.0 - self.right) * a + self.right * b)
            + self.down * ((1.0 - self.right) * c + self.right * d)
    }
}
