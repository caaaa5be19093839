//! Finds the camera's screen in a film of it.
//!
//! In: a clip's frames through a [`Glance`], joined to [`Looks`]: some dozens
//! of frames reduced in size, and the mean of the same frames in full. Out: a
//! [`Found`]: four corners in the upright frame, px, with their standard
//! uncertainty and how plainly each side was seen; or a [`Refusal`] that says
//! why nothing is named. A wrong screen silently ruins all, so what is not
//! plain is refused.
//!
//! A screen is a lit four-sided thing with a dark rim on all sides, whose rim
//! stays where it is while what is inside changes. How: the bright end of
//! every pixel's course is cut at many levels; components become hulls and
//! four-sided shapes (Suzuki & Abe 1985, Douglas & Peucker 1973, as `imageproc`
//! has them). The sides of each are then set on the full-size mean: rises of
//! light along normals, found to a part of a pixel, vote for a straight line
//! (Hough 1962), which is fitted robustly (Huber 1964); neighbours intersect.
//!
//! An upright frame is taken to show the screen not upside down: the corner
//! order begins at the upper left of the frame.

mod candidates;
mod held;
mod judge;
mod look;
mod picture;
mod refine;
mod side;
#[cfg(test)]
mod tests;

pub use held::{Place, Similarity, place, play, sides};
pub(crate) use judge::holds;
pub(crate) use look::{Glance, Look, Looks, wanted};
pub(crate) use picture::Picture;

use crate::clip::Orientation;
use crate::geometry::{Point, Quad, StoredPx, UprightPx, distance};
pub use judge::Lack;
use judge::{Ground, Seen};

/// A screen that was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// Its corners, TL TR BR BL, px of the upright frame.
    pub corners: Quad<UprightPx>,
    /// Standard uncertainty of a corner's mean place, px.
    pub corner_u_px: f64,
    /// How far the screen moves about in the film, px: root mean square of one
    /// direction.
    pub sway_px: f64,
    /// Share of the least plain side along which its edge was seen, 0..=1.
    pub support: f64,
    /// Step of light from rim to screen at the least plain side, luma.
    pub contrast: f64,
    /// Share of the screen in which the picture changes, 0..=1.
    pub changing: f64,
}

/// The largest lit four-sided thing that is no screen.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearest {
    /// Its corners.
    pub corners: Quad<UprightPx>,
    /// What it lacks.
    pub lack: Lack,
}

/// Why no screen is named.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    /// Nothing looks like a lit screen with a dark rim; what came nearest.
    None(Option<Box<Nearest>>),
    /// One does, but nothing on it changes: it may as well be a window.
    Still(Found),
    /// Two that are as likely.
    Two(Box<[Found; 2]>),
    /// It is too small to judge sharpness on.
    Small(Found),
}

/// A screen lower than this is too small, px.
pub const LEAST_HEIGHT_PX: f64 = 96.0;
/// Least share that changes on a screen in use.
const LEAST_CHANGING: f64 = 0.08;
/// Of two that lie within each other the outer one is the screen unless so
/// much less of it changes: a card on the screen changes all over.
const OUTER: f64 = 0.35;
/// Two screens are alike if the lesser is within this of the better.
const ALIKE: f64 = 0.5;

impl Found {
    /// In words: how sure.
    pub fn sureness(&self) -> &'static str {
        if self.is_sure() {
            "sure"
        } else if self.support >= 0.7 && self.corner_u_px <= 1.0 {
            "fairly sure"
        } else {
            "not sure"
        }
    }

    /// Whether all its sides were seen plainly.
    pub fn is_sure(&self) -> bool {
        self.support >= 0.85 && self.corner_u_px <= 0.5 && self.contrast >= 0.06
    }

    /// Whether the picture on it changes as that of a screen in use.
    pub fn is_in_use(&self) -> bool {
        self.changing >= LEAST_CHANGING
    }

    /// Corners to a tenth of a pixel, as they are written.
    pub fn rounded(&self) -> [[f64; 2]; 4] {
        let tenth = |v: f64| (v * 10.0).round() / 10.0;
        self.corners.corners.map(|p| [tenth(p.x), tenth(p.y)])
    }

    /// Whether this is the same screen as another, seen from about the same
    /// place: no corner further away than a tenth of its height.
    pub fn is_like(&self, other: &Self) -> bool {
        let pairs = self.corners.corners.iter().zip(&other.corners.corners);
        let far = pairs.map(|(a, b)| distance(*a, *b)).fold(0.0, f64::max);
        far <= 0.1 * other.corners.height()
    }
}

impl Refusal {
    /// What it speaks of, by name.
    pub fn places(&self) -> Vec<(&'static str, Quad<UprightPx>)> {
        match self {
            Self::None(nearest) => {
                let nearest = nearest.iter();
                nearest
                    .map(|n| ("nearest to a screen", n.corners))
                    .collect()
            }
            Self::Still(f) => vec![("does not change", f.corners)],
            Self::Two(both) => both.iter().map(|f| ("a screen?", f.corners)).collect(),
            Self::Small(f) => vec![("too small", f.corners)],
        }
    }

    /// What is wrong and what to do, in a sentence that goes on from a file's
    /// name.
    pub fn words(&self) -> String {
        let bounds = |q: &Quad<UprightPx>| {
            let [x0, y0, x1, y1] = q.bounds();
            format!("{x0:.0},{y0:.0} to {x1:.0},{y1:.0}")
        };
        let at = |f: &Found| bounds(&f.corners);
        match self {
            Self::None(nearest) => {
                let nearest = nearest.as_ref().map_or_else(String::new, |n| {
                    let at = bounds(&n.corners);
                    format!(" (the nearest to it lies at {at} px: {})", n.lack.words())
                });
                format!(
                    "no screen was found: nothing in it is lit, has four straight sides and a \
                     dark rim all round{nearest}; show the whole rim in the film, keep fingers \
                     and straps off it, or write `screen.corners` by hand (`screen.feed = true` \
                     for a recording of the feed itself)"
                )
            }
            Self::Still(f) => format!(
                "no screen was found for sure: the lit rectangle at {} px does not change, so it \
                 may as well be a window or a lamp; use a clip in which the target swings, or \
                 write `screen.corners` by hand",
                at(f)
            ),
            Self::Two(both) => format!(
                "two screens are as likely, at {} and at {} px; cover one of them, or write \
                 `screen.corners` by hand",
                at(&both[0]),
                at(&both[1])
            ),
            Self::Small(f) => format!(
                "the screen at {} px is {:.0} px high, too small to judge sharpness on (at least \
                 {LEAST_HEIGHT_PX:.0}, better 640 or more); film it larger",
                at(f),
                f.corners.height()
            ),
        }
    }
}

/// Looks for the screen.
///
/// # Errors
/// [`Refusal`]: nothing is named rather than guessed.
pub fn find(looks: &Looks, orientation: Orientation) -> Result<Found, Refusal> {
    let high = looks.high();
    let ground = Ground::new(looks);
    let mut seen: Vec<Seen> = Vec::new();
    let mut nearest: Option<(Quad<StoredPx>, Lack)> = None;
    for quad in candidates::candidates(&high) {
        let full = looks.to_full(&quad);
        let Some(fit) = refine::refine(&ground.mean, &full, looks.factor) else {
            continue;
        };
        let one = match judge::judge(&ground, &fit) {
            Ok(one) => one,
            Err(lack) => {
                let larger = |n: &(Quad<StoredPx>, Lack)| fit.quad.area() > n.0.area();
                if nearest.as_ref().is_none_or(larger) {
                    nearest = Some((fit.quad, lack));
                }
                continue;
            }
        };
        let near = 0.03 * one.quad.height();
        match seen.iter_mut().find(|s| judge::apart(s, &one) < near) {
            Some(same) if one.score() > same.score() => *same = one,
            Some(_) => {}
            None => seen.push(one),
        }
    }
    let nearest = nearest.map(|(quad, lack)| {
        Box::new(Nearest {
            corners: upright(&quad, orientation),
            lack,
        })
    });
    choose(seen, nearest, orientation)
}

fn choose(
    seen: Vec<Seen>,
    nearest: Option<Box<Nearest>>,
    orientation: Orientation,
) -> Result<Found, Refusal> {
    let found = |s: &Seen| to_found(s, orientation);
    let (live, still): (Vec<Seen>, Vec<Seen>) =
        seen.into_iter().partition(|s| s.changing >= LEAST_CHANGING);
    let largest = |all: &[Seen]| {
        let by_area = |a: &&Seen, b: &&Seen| a.quad.area().total_cmp(&b.quad.area());
        all.iter().max_by(by_area).cloned()
    };
    if live.is_empty() {
        return Err(match largest(&still) {
            Some(s) => Refusal::Still(found(&s)),
            None => Refusal::None(nearest),
        });
    }
    let mut tops = judge::outermost(live, OUTER);
    tops.sort_by(|a, b| b.score().total_cmp(&a.score()));
    let best = &tops[0];
    if best.quad.height() < LEAST_HEIGHT_PX {
        return Err(Refusal::Small(found(best)));
    }
    let large = |s: &&Seen| s.quad.height() >= LEAST_HEIGHT_PX;
    match tops[1..].iter().find(large) {
        Some(next) if next.score() >= ALIKE * best.score() => {
            Err(Refusal::Two(Box::new([found(best), found(next)])))
        }
        _ => Ok(found(best)),
    }
}

fn to_found(seen: &Seen, orientation: Orientation) -> Found {
    Found {
        corners: upright(&seen.quad, orientation),
        corner_u_px: seen.corner_u_px,
        sway_px: seen.sway_px,
        support: seen.support,
        contrast: seen.contrast,
        changing: seen.changing,
    }
}

/// The corners as read in the upright frame, top left first.
fn upright(quad: &Quad<StoredPx>, orientation: Orientation) -> Quad<UprightPx> {
    let mut c: Vec<Point<UprightPx>> = quad
        .corners
        .iter()
        .map(|p| orientation.to_upright(*p))
        .collect();
    if orientation.mirrored {
        c.reverse();
    }
    // The top side is the one that runs most plainly to the right.
    let rightwards = |i: usize| {
        let (a, b) = (c[i], c[(i + 1) % 4]);
        (b.x - a.x) / distance(a, b).max(1e-9)
    };
    let top = (0..4).max_by(|a, b| rightwards(*a).total_cmp(&rightwards(*b)));
    c.rotate_left(top.unwrap_or(0));
    Quad::new([c[0], c[1], c[2], c[3]])
}
