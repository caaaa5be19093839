//! A screen held against where it was said to be.
//!
//! In: a picture or [`Looks`], and the corners somebody wrote down. Out:
//! whether the screen lies there; where it lies if it does not; and, where
//! nothing is found, whether the place can be a screen at all.

use super::judge::{Ground, LEAST_CONTRAST, MOST_RMS, changing, judge, step};
use super::refine::{LEAST_SUPPORT, near};
use super::side::{inward, set};
use super::{Found, Looks, Picture, to_found};
use crate::clip::Orientation;
use crate::geometry::{Point, Quad, StoredPx, UprightPx, distance};

/// How far a side may lie off and the screen still lies where it was said to,
/// film px: a corner that is drafted "fairly sure" is known to ± 2 px, and the
/// edge of a single frame to ± 1.
const PLAY_PX: f64 = 3.0;
/// The same, ‰ of the screen's height, where that is more: areas and masks are
/// written in hundredths of the screen, and this is half of one.
const PLAY_PERMILLE: f64 = 5.0;
/// What a similarity leaves of one screen seen from two places, ‰ of its
/// height. Six films of one kit, re-framed by up to 18 px, leave 5 to 18; a
/// 3:2 picture taken for a 4:3 screen leaves 50.
const SHAPE_PERMILLE: f64 = 35.0;
/// Share of the place in which the picture must change for it to be in doubt
/// that it is no screen: a tenth of what is asked of one.
const LIFELESS: f64 = super::LEAST_CHANGING / 10.0;

/// How far a side may lie off, film px.
pub fn play(quad: &Quad<UprightPx>) -> f64 {
    PLAY_PX.max(PLAY_PERMILLE / 1000.0 * quad.height())
}

/// How many sides of a screen a picture shows where they were said to be.
pub fn sides(picture: &Picture, corners: &Quad<UprightPx>, orientation: Orientation) -> usize {
    let quad = stored(corners, orientation);
    let play = play(corners);
    (0..4).filter(|i| on(picture, &quad, *i, play)).count()
}

fn on(picture: &Picture, quad: &Quad<StoredPx>, i: usize, play: f64) -> bool {
    let (a, b) = (quad.corners[i], quad.corners[(i + 1) % 4]);
    let Some(side) = set(picture, [a, b], play) else {
        return false;
    };
    let n = inward(a, b);
    let moved = |p: Point<StoredPx>, by: f64| Point::new(p.x + by * n.0, p.y + by * n.1);
    let mut there = *quad;
    there.corners[i] = moved(a, side.ends[0]);
    there.corners[(i + 1) % 4] = moved(b, side.ends[1]);
    side.support >= LEAST_SUPPORT
        && side.rms <= MOST_RMS
        && side.ends.iter().all(|e| e.abs() <= play)
        && step(picture, &there, i, 1.0) >= LEAST_CONTRAST
}

/// What a closer look says of the place.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// The screen that lies at or around it, in the order of its corners.
    pub near: Option<Found>,
    /// Sides of a screen that are seen exactly there.
    pub sides: usize,
    /// Neither a side of a screen nor a changing picture is seen there.
    pub lifeless: bool,
}

/// Looks closely at where the screen was said to be.
pub fn place(looks: &Looks, corners: &Quad<UprightPx>, orientation: Orientation) -> Place {
    let ground = Ground::new(looks);
    let quad = stored(corners, orientation);
    let seen = near(&ground.mean, &quad).and_then(|fit| judge(&ground, &fit).ok());
    let sides = sides(&ground.mean, corners, orientation);
    Place {
        near: seen.map(|s| to_found(&s, orientation).in_order_of(corners)),
        sides,
        lifeless: sides == 0 && changing(&ground, &quad) < LIFELESS,
    }
}

/// Corners in the stored picture, clockwise.
fn stored(corners: &Quad<UprightPx>, orientation: Orientation) -> Quad<StoredPx> {
    let mut quad = Quad::new(corners.corners.map(|p| orientation.to_stored(p)));
    if !quad.is_clockwise() {
        quad.corners.reverse();
    }
    quad
}

impl Found {
    /// The same screen, its corners in the order of another's: a screen may
    /// have been filmed turned.
    pub fn in_order_of(mut self, other: &Quad<UprightPx>) -> Self {
        let turned = |k: usize| {
            let c = &self.corners.corners;
            Quad::new([0, 1, 2, 3].map(|i| c[(i + k) % 4]))
        };
        let left = |q: &Quad<UprightPx>| Similarity::between(other, q).turn().abs();
        let best = (0..4).map(turned);
        if let Some(quad) = best.min_by(|a, b| left(a).total_cmp(&left(b))) {
            self.corners = quad;
        }
        self
    }

    /// Whether it lies at these corners: no side further off than the play and
    /// what the found corners themselves are uncertain by.
    pub fn lies_at(&self, corners: &Quad<UprightPx>) -> bool {
        let unsure = 2.0 * self.corner_u_px.hypot(self.sway_px);
        aside(corners, &self.corners) <= play(corners).hypot(unsure)
    }

    /// Whether it can be the screen with these corners, seen from elsewhere.
    pub fn has_shape_of(&self, corners: &Quad<UprightPx>) -> bool {
        let left = Similarity::between(corners, &self.corners).left(corners, &self.corners);
        left <= SHAPE_PERMILLE / 1000.0 * self.corners.height()
    }

    /// Its corner furthest from these, px.
    pub fn off(&self, corners: &Quad<UprightPx>) -> f64 {
        let pairs = corners.corners.iter().zip(&self.corners.corners);
        pairs.map(|(a, b)| distance(*a, *b)).fold(0.0, f64::max)
    }
}

/// Furthest that an end of a side lies off the same side of another, px.
fn aside(from: &Quad<UprightPx>, to: &Quad<UprightPx>) -> f64 {
    let mut most: f64 = 0.0;
    for i in 0..4 {
        let (a, b) = (from.corners[i], from.corners[(i + 1) % 4]);
        let length = distance(a, b).max(1e-9);
        for p in [to.corners[i], to.corners[(i + 1) % 4]] {
            let across = (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
            most = most.max(across.abs() / length);
        }
    }
    most
}

/// A shift, a turn and a growth of the upright frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Similarity {
    from: [f64; 2],
    to: [f64; 2],
    /// Growth × (cosine, sine) of the turn.
    by: [f64; 2],
}

impl Similarity {
    /// The one that takes corners to others with the least sum of squares.
    pub fn between(from: &Quad<UprightPx>, to: &Quad<UprightPx>) -> Self {
        let mean = |q: &Quad<UprightPx>| {
            let c = &q.corners;
            [
                c.iter().map(|p| p.x).sum::<f64>() / 4.0,
                c.iter().map(|p| p.y).sum::<f64>() / 4.0,
            ]
        };
        let (f, t) = (mean(from), mean(to));
        let mut sums = [0.0; 3];
        for (a, b) in from.corners.iter().zip(&to.corners) {
            let (a, b) = ([a.x - f[0], a.y - f[1]], [b.x - t[0], b.y - t[1]]);
            sums[0] += a[0] * b[0] + a[1] * b[1];
            sums[1] += a[0] * b[1] - a[1] * b[0];
            sums[2] += a[0] * a[0] + a[1] * a[1];
        }
        let size = sums[2].max(1e-9);
        Self {
            from: f,
            to: t,
            by: [sums[0] / size, sums[1] / size],
        }
    }

    /// Where it takes a point.
    pub fn apply(&self, p: Point<UprightPx>) -> Point<UprightPx> {
        let (x, y) = (p.x - self.from[0], p.y - self.from[1]);
        let [c, s] = self.by;
        Point::new(self.to[0] + c * x - s * y, self.to[1] + s * x + c * y)
    }

    /// How much larger things become.
    pub fn growth(&self) -> f64 {
        self.by[0].hypot(self.by[1])
    }

    /// Turn, radians.
    fn turn(&self) -> f64 {
        self.by[1].atan2(self.by[0])
    }

    /// How far off it leaves the worst corner, px.
    fn left(&self, from: &Quad<UprightPx>, to: &Quad<UprightPx>) -> f64 {
        let pairs = from.corners.iter().zip(&to.corners);
        let off = pairs.map(|(a, b)| distance(self.apply(*a), *b));
        off.fold(0.0, f64::max)
    }
}
