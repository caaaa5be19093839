//! Points, quadrilaterals and homographies, each tied to the space it lives in.
//!
//! Pixel (0,0) covers 0..1 in both directions, so a pixel's centre is at +0.5.

use std::marker::PhantomData;

use nalgebra::{SMatrix, SVector};

/// Pixels of the upright frame: x right, y down, as the film is meant to be seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UprightPx {}

/// Pixels of the picture as stored in the file, before the display matrix.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StoredPx {}

/// Fractions of the camera's screen: (0,0) top left, (1,1) bottom right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ScreenFrac {}

/// A point in space `S`.
#[derive(Debug, PartialEq)]
pub struct Point<S> {
    /// To the right.
    pub x: f64,
    /// Downwards.
    pub y: f64,
    space: PhantomData<S>,
}

impl<S> Clone for Point<S> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<S> Copy for Point<S> {}

impl<S> Point<S> {
    /// The point (x, y).
    pub const fn new(x: f64, y: f64) -> Self {
        Self {
            x,
            y,
            space: PhantomData,
        }
    }

    fn cross(self, a: Self, b: Self) -> f64 {
        (a.x - self.x) * (b.y - self.y) - (a.y - self.y) * (b.x - self.x)
    }
}

/// Four corners: top left, top right, bottom right, bottom left as the
/// screen's user reads it.
#[derive(Debug, PartialEq)]
pub struct Quad<S> {
    /// TL, TR, BR, BL.
    pub corners: [Point<S>; 4],
}

impl<S> Clone for Quad<S> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<S> Copy for Quad<S> {}

impl<S> Quad<S> {
    /// The quadrilateral with these corners (TL, TR, BR, BL).
    pub const fn new(corners: [Point<S>; 4]) -> Self {
        Self { corners }
    }

    /// An upright rectangle.
    pub const fn rect(left: f64, top: f64, right: f64, bottom: f64) -> Self {
        Self::new([
            Point::new(left, top),
            Point::new(right, top),
            Point::new(right, bottom),
            Point::new(left, bottom),
        ])
    }

    /// Whether the sides do not cross and no corner is reflex or flat.
    pub fn is_convex(&self) -> bool {
        let c = &self.corners;
        let turns: Vec<f64> = (0..4)
            .map(|i| c[i].cross(c[(i + 1) % 4], c[(i + 2) % 4]))
            .collect();
        turns.iter().all(|t| *t > 1e-9) || turns.iter().all(|t| *t < -1e-9)
    }

    /// Whether TL→TR→BR→BL runs clockwise on a y-down picture (not mirrored).
    pub fn is_clockwise(&self) -> bool {
        self.corners[0].cross(self.corners[1], self.corners[2]) > 0.0
    }

    /// Enclosed area in squared units of the space.
    pub fn area(&self) -> f64 {
        let c = &self.corners;
        let twice: f64 = (0..4)
            .map(|i| {
                let j = (i + 1) % 4;
                c[i].x * c[j].y - c[j].x * c[i].y
            })
            .sum();
        twice.abs() / 2.0
    }

    /// Mean length of the left and the right side: the screen's height.
    pub fn height(&self) -> f64 {
        let c = &self.corners;
        f64::midpoint(distance(c[0], c[3]), distance(c[1], c[2]))
    }

    /// Mean length of the top and the bottom side.
    pub fn width(&self) -> f64 {
        let c = &self.corners;
        f64::midpoint(distance(c[0], c[1]), distance(c[3], c[2]))
    }

    /// Smallest upright rectangle around it: left, top, right, bottom.
    pub fn bounds(&self) -> [f64; 4] {
        let mut b = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
        for p in &self.corners {
            b = [b[0].min(p.x), b[1].min(p.y), b[2].max(p.x), b[3].max(p.y)];
        }
        b
    }
}

/// Distance between two points of one space.
pub fn distance<S>(a: Point<S>, b: Point<S>) -> f64 {
    (a.x - b.x).hypot(a.y - b.y)
}

/// A projective map from space `A` to space `B` (3×3, h33 = 1).
#[derive(Debug)]
pub struct Homography<A, B> {
    /// Row-major coefficients.
    pub h: [[f64; 3]; 3],
    spaces: PhantomData<(A, B)>,
}

impl<A, B> Clone for Homography<A, B> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<A, B> Copy for Homography<A, B> {}

impl<A, B> Homography<A, B> {
    /// The map that takes the four corners of `from` to those of `to`;
    /// `None` where three corners lie on one line.
    pub fn between(from: &Quad<A>, to: &Quad<B>) -> Option<Self> {
        let mut m = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        for (i, (s, d)) in from.corners.iter().zip(&to.corners).enumerate() {
            let x = [s.x, s.y, 1.0, 0.0, 0.0, 0.0, -d.x * s.x, -d.x * s.y];
            let y = [0.0, 0.0, 0.0, s.x, s.y, 1.0, -d.y * s.x, -d.y * s.y];
            for c in 0..8 {
                (m[(2 * i, c)], m[(2 * i + 1, c)]) = (x[c], y[c]);
            }
            (right[2 * i], right[2 * i + 1]) = (d.x, d.y);
        }
        let v = m.full_piv_lu().solve(&right)?;
        if !v.iter().all(|c| c.is_finite()) {
            return None;
        }
        Some(Self {
            h: [[v[0], v[1], v[2]], [v[3], v[4], v[5]], [v[6], v[7], 1.0]],
            spaces: PhantomData,
        })
    }

    /// Where a point of `A` lies in `B`.
    pub fn apply(&self, p: Point<A>) -> Point<B> {
        let h = &self.h;
        let w = h[2][0] * p.x + h[2][1] * p.y + h[2][2];
        Point::new(
            (h[0][0] * p.x + h[0][1] * p.y + h[0][2]) / w,
            (h[1][0] * p.x + h[1][1] * p.y + h[1][2]) / w,
        )
    }

    /// The quadrilateral's image.
    pub fn apply_quad(&self, q: &Quad<A>) -> Quad<B> {
        Quad::new(q.corners.map(|c| self.apply(c)))
    }
}

/// The unit square of the screen.
pub fn whole_screen() -> Quad<ScreenFrac> {
    Quad::rect(0.0, 0.0, 1.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quad(c: [[f64; 2]; 4]) -> Quad<UprightPx> {
        Quad::new(c.map(|p| Point::new(p[0], p[1])))
    }

    /// Reference values: OpenCV `getPerspectiveTransform`, which agrees with
    /// scikit-image and an 8×8 solve (values confirmed by running them).
    #[test]
    fn homography_agrees_with_reference_libraries() {
        let src = quad([[120., 80.], [520., 110.], [500., 400.], [140., 360.]]);
        let dst: Quad<ScreenFrac> = Quad::rect(0., 0., 640., 480.);
        let h = Homography::between(&src, &dst).unwrap();
        let want = [
            [1.67553037364741, -0.11968074097481497, -191.48918555970403],
            [-0.115472413033162, 1.539632173775493, -109.31388433805999],
            [0.00015547674995649067, -0.00035683146528125775, 1.0],
        ];
        for (row, line) in want.iter().enumerate() {
            for (col, value) in line.iter().enumerate() {
                assert!((h.h[row][col] - value).abs() <= 1e-9 * value.abs().max(1e-3));
            }
        }
        let p = h.apply(Point::new(320.0, 237.5));
        assert!((p.x - 327.725_068_284_453_87).abs() < 1e-9);
        assert!((p.y - 227.353_811_625_192_55).abs() < 1e-9);
    }

    #[test]
    fn crossed_corners_are_not_convex() {
        assert!(quad([[0., 0.], [9., 0.], [9., 5.], [0., 5.]]).is_convex());
        assert!(!quad([[0., 0.], [9., 5.], [9., 0.], [0., 5.]]).is_convex());
        assert!(!quad([[0., 0.], [9., 0.], [18., 0.], [0., 5.]]).is_convex());
    }
}
