//! Four sides set one by one, and where they meet.

use super::Picture;
use super::candidates::plausible;
use super::side::{SideFit, inward, set};
use crate::geometry::{Point, Quad, StoredPx, distance};

/// How far a side may lie from where a shape put it: share of the shape's
/// height, and pixels of the reduced picture.
const REACH: f64 = 0.035;
const REACH_PX: f64 = 3.5;
/// The same for a screen that was re-framed, share of its height.
const NEAR: f64 = 0.12;
/// The same once it has been set.
const CLOSE_PX: f64 = 5.0;
/// Least support of a side.
pub const LEAST_SUPPORT: f64 = 0.55;

/// A shape whose sides were set.
#[derive(Clone, Debug)]
pub struct Fit {
    /// Clockwise.
    pub quad: Quad<StoredPx>,
    /// From each corner to the next.
    pub sides: [SideFit; 4],
}

/// Sets the sides of a shape on a full picture, twice: the second time from
/// close by.
pub fn refine(picture: &Picture, quad: &Quad<StoredPx>, factor: usize) -> Option<Fit> {
    let reach = (REACH * quad.height().min(quad.width())).max(REACH_PX * factor as f64);
    twice(picture, quad, reach.clamp(5.0, 40.0))
}

/// Sets the sides of a shape that may have moved a good way.
pub fn near(picture: &Picture, quad: &Quad<StoredPx>) -> Option<Fit> {
    let reach = NEAR * quad.height().min(quad.width());
    twice(picture, quad, reach.clamp(10.0, 100.0))
}

fn twice(picture: &Picture, quad: &Quad<StoredPx>, reach: f64) -> Option<Fit> {
    let first = once(picture, quad, reach)?;
    let second = once(picture, &first.quad, CLOSE_PX)?;
    let seen = second.sides.iter().all(|s| s.support >= LEAST_SUPPORT);
    (seen && plausible(&second.quad)).then_some(second)
}

/// Sets the sides of a shape once.
pub fn once(picture: &Picture, quad: &Quad<StoredPx>, reach: f64) -> Option<Fit> {
    let c = &quad.corners;
    let mut sides = Vec::with_capacity(4);
    let mut lines = Vec::with_capacity(4);
    for i in 0..4 {
        let (a, b) = (c[i], c[(i + 1) % 4]);
        let side = set(picture, [a, b], reach)?;
        let n = inward(a, b);
        let moved = |p: Point<StoredPx>, by: f64| Point::new(p.x + by * n.0, p.y + by * n.1);
        lines.push([moved(a, side.ends[0]), moved(b, side.ends[1])]);
        sides.push(side);
    }
    let corner = |i: usize| meet(lines[(i + 3) % 4], lines[i]);
    let quad = Quad::new([corner(0)?, corner(1)?, corner(2)?, corner(3)?]);
    let sides = sides.try_into().ok()?;
    quad.is_convex().then_some(Fit { quad, sides })
}

/// Where two lines cross.
fn meet([a, b]: [Point<StoredPx>; 2], [c, d]: [Point<StoredPx>; 2]) -> Option<Point<StoredPx>> {
    let (ux, uy) = (b.x - a.x, b.y - a.y);
    let (vx, vy) = (d.x - c.x, d.y - c.y);
    let det = ux * vy - uy * vx;
    if det.abs() < 1e-6 * distance(a, b) * distance(c, d) {
        return None;
    }
    let t = ((c.x - a.x) * vy - (c.y - a.y) * vx) / det;
    Some(Point::new(a.x + t * ux, a.y + t * uy))
}
