//! When the target stood at one place on its way there and on its way back.
//!
//! Two swings in a row run over the same way in opposite directions, with a
//! turning point between them at which the target stands. Its way is followed
//! from there, back in time through the first swing and on through the second.
//! A place passed at a and again at b gives a middle (a + b)/2 and a span
//! b − a. A view that is late shows the same spans about later middles. Which
//! place it is need not be known, so scale, perspective, mirroring and
//! cropping of the two views do not matter, and a way that is read a little
//! short on both swings does not matter either.

use std::io;

use super::super::motion::{Shift, shift, smoothed};
use super::super::swing::View;
use crate::screen::Thumb;

/// The pictures of one swing in one view, from the turning point away.
pub(super) struct Strip {
    /// When each was first seen, seconds as shot.
    at_s: Vec<f64>,
    pictures: Vec<Thumb>,
}

/// Where the target was: instants and cells right and down of the turn.
type Way = Vec<(f64, [f64; 2])>;

/// A place passed twice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fold {
    /// From the first to the second passing, seconds.
    pub span_s: f64,
    /// The middle between them, seconds as shot.
    pub middle_s: f64,
    /// How much it tells: squared speed ÷ squared error of the place.
    pub weight: f64,
}

/// Least share of the change between two pictures that a shift explains.
const EXPLAINED: f64 = 0.3;
/// The same for a shift that comes suddenly.
const PLAIN: f64 = 0.8;
/// Least share of the changed cells seen when the most of them change.
const LEAST_SHARE: f64 = 0.15;
/// Places looked at.
const PLACES: usize = 12;
/// The nearest and the farthest of them, of the way that both swings show.
const REACH: [f64; 2] = [0.1, 0.95];
/// Shortest way, cells.
const LEAST_WAY: f64 = 4.0;
/// Error of a place: cells, and share of its distance from the turn.
const PLACE_U: [f64; 2] = [0.15, 0.02];

impl Strip {
    /// The pictures shown in `span`, at least `step_s` apart, the first or
    /// the last in time at the turn.
    pub(super) fn read(
        view: &mut View<'_>,
        span: [f64; 2],
        step_s: f64,
        turn_first: bool,
    ) -> io::Result<Self> {
        let first = view.shown_s.partition_point(|t| *t < span[0]);
        let end = view.shown_s.partition_point(|t| *t <= span[1]);
        let mut out = Self {
            at_s: Vec::new(),
            pictures: Vec::new(),
        };
        for i in 0..end - first {
            let k = if turn_first { first + i } else { end - 1 - i };
            let t = view.shown_s[k];
            let near = |s: &f64| (t - s).abs() < 0.9 * step_s;
            if out.at_s.last().is_some_and(near) {
                continue;
            }
            out.at_s.push(t);
            let picture = view.reel.get(view.pictures[k])?;
            out.pictures.push(smoothed(&picture));
        }
        Ok(out)
    }

    /// The target's way from the turn, as far as it can be followed.
    fn way(&self, noise: &[f32]) -> Way {
        let pairs = self.pictures.windows(2);
        let steps: Vec<Shift> = pairs.map(|w| shift(&w[0], &w[1], noise)).collect();
        let widest = steps.iter().map(|s| s.moved).fold(0.0, f64::max);
        let mut place = [0.0, 0.0];
        let mut before = 0.0;
        let mut out: Way = self.at_s.first().map(|t| (*t, place)).into_iter().collect();
        for (t, s) in self.at_s.iter().skip(1).zip(&steps) {
            if s.moved < LEAST_SHARE * widest {
                // What changes a small part of the view only is no target.
                out.push((*t, place));
                continue;
            }
            if !is_sound(s, before) {
                // At the turn the picture may still be coming in; later the
                // target is out of sight.
                if f64::hypot(place[0], place[1]) > 1.0 {
                    break;
                }
                out.push((*t, place));
                continue;
            }
            before = s.length();
            place = [place[0] + s.dx, place[1] + s.dy];
            out.push((*t, place));
        }
        out
    }
}

/// Whether a shift is the target's: a long one explains what changed, and well
/// where it is much longer than the one `before`, as at a stop.
fn is_sound(s: &Shift, before: f64) -> bool {
    let sudden = s.length() > 2.5 * before + 2.0;
    let least = if sudden { PLAIN } else { EXPLAINED };
    s.length() < 1.0 || s.explained >= least
}

/// The places that the swings before and after a turn both pass, by span.
pub(super) fn folds(before: &Strip, after: &Strip, noise: &[f32]) -> Vec<Fold> {
    let ways = [before.way(noise), after.way(noise)];
    let Some(axis) = axis(&ways) else {
        return Vec::new();
    };
    let [there, back] = ways.map(|w| -> Vec<(f64, f64)> {
        let along = |p: [f64; 2]| p[0] * axis[0] + p[1] * axis[1];
        w.into_iter().map(|(t, p)| (t, along(p))).collect()
    });
    let far = |w: &[(f64, f64)]| w.iter().map(|p| p.1).fold(0.0, f64::max);
    let reach = far(&there).min(far(&back));
    if reach < LEAST_WAY {
        return Vec::new();
    }
    let mut out: Vec<Fold> = (0..PLACES)
        .filter_map(|i| {
            let share = (i as f64 + 0.5) / PLACES as f64;
            let place = reach * (REACH[0] + share * (REACH[1] - REACH[0]));
            let (a, v) = passing(&there, place)?;
            let (b, w) = passing(&back, place)?;
            let error = PLACE_U[0] + PLACE_U[1] * place;
            Some(Fold {
                span_s: b - a,
                middle_s: f64::midpoint(a, b),
                weight: (v.min(w) / error).powi(2),
            })
        })
        .collect();
    out.sort_by(|a, b| a.span_s.total_cmp(&b.span_s));
    out
}

/// Direction away from the turn: a unit vector.
fn axis(ways: &[Way; 2]) -> Option<[f64; 2]> {
    let mut sum = [0.0, 0.0];
    for (_, p) in ways.iter().filter_map(|w| w.last()) {
        sum = [sum[0] + p[0], sum[1] + p[1]];
    }
    let length = f64::hypot(sum[0], sum[1]);
    (length > LEAST_WAY).then(|| sum.map(|v| v / length))
}

/// When a place is first passed away from the turn, and how fast.
fn passing(way: &[(f64, f64)], place: f64) -> Option<(f64, f64)> {
    let w = way.windows(2).find(|w| w[0].1 < place && w[1].1 >= place)?;
    let [(s, p), (t, q)] = [w[0], w[1]];
    let at = s + (place - p) / (q - p) * (t - s);
    Some((at, (q - p) / (t - s).abs()))
}
