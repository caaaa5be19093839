//! One side of a screen, set to a part of a pixel.
//!
//! Across the side the light is read from outside to inside; where it rises
//! from the dark of the rim is a vote for a line. Rises within the live
//! picture lie anywhere and do not line up, those of the rim do.

use super::Picture;
use crate::geometry::{Point, StoredPx, distance};
use crate::ranked::middle;

/// Places along a side.
const PLACES: usize = 120;
/// Part of a side, at either end, that is left out: rounded corners.
const CORNER: f64 = 0.06;
/// Samples per pixel across the side.
const PER_PX: usize = 2;
/// Least rise of light over two pixels.
const LEAST_RISE: f64 = 0.012;
/// Least rise, ÷ the greatest of the same place.
const OF_GREATEST: f64 = 0.3;
/// A rise above this counts no more than this.
const ENOUGH: f64 = 0.12;
/// How far off the line a rise may lie and still belong to it, px.
const INSIDE: f64 = 1.6;
/// Huber's constant: beyond so many standard deviations a rise weighs less.
const HUBER: f64 = 1.345;

/// A side as found.
#[derive(Clone, Copy, Debug)]
pub struct SideFit {
    /// Shift inwards at either end of where it was looked for, px.
    pub ends: [f64; 2],
    /// Share of the places at which the edge was seen on the line.
    pub support: f64,
    /// Root mean square of the rises off the line, px.
    pub rms: f64,
    /// Places on the line.
    pub places: usize,
}

/// A rise of light: place along the side 0..=1, px inwards, weight.
type Rise = (f64, f64, f64);

/// Unit vector inwards of the side from `a` to `b` of a clockwise shape.
pub fn inward(a: Point<StoredPx>, b: Point<StoredPx>) -> (f64, f64) {
    let l = distance(a, b).max(1e-9);
    (-(b.y - a.y) / l, (b.x - a.x) / l)
}

/// Sets the side from `a` to `b`, looked for up to `reach` px either way.
pub fn set(picture: &Picture, [a, b]: [Point<StoredPx>; 2], reach: f64) -> Option<SideFit> {
    let profiles: Vec<(f64, Vec<f64>)> = (0..PLACES)
        .map(|k| {
            let s = CORNER + (1.0 - 2.0 * CORNER) * (k as f64 + 0.5) / PLACES as f64;
            (s, profile(picture, [a, b], s, reach))
        })
        .collect();
    let dark = rim(&profiles);
    let rises: Vec<Rise> = profiles
        .iter()
        .flat_map(|(s, v)| rises(v, *s, reach, dark))
        .collect();
    let start = vote(&rises, reach)?;
    fit(&rises, start)
}

/// Light from `reach` + 4 px outside to as much inside, a mean over three
/// pixels along the side.
fn profile(picture: &Picture, [a, b]: [Point<StoredPx>; 2], s: f64, reach: f64) -> Vec<f64> {
    let n = inward(a, b);
    let (x, y) = (a.x + s * (b.x - a.x), a.y + s * (b.y - a.y));
    let along = (n.1, -n.0);
    let half = ((reach + 4.0) as usize) * PER_PX;
    (0..=2 * half)
        .map(|i| {
            let o = (i as f64 - half as f64) / PER_PX as f64;
            let at = |k: f64| picture.at(x + o * n.0 + k * along.0, y + o * n.1 + k * along.1);
            (at(-1.0) + at(0.0) + at(1.0)) / 3.0
        })
        .collect()
}

/// Light of the rim: the usual darkest place of the outer half.
fn rim(profiles: &[(f64, Vec<f64>)]) -> f64 {
    let darkest = profiles
        .iter()
        .map(|(_, v)| v.iter().copied().fold(f64::MAX, f64::min));
    middle(darkest.collect()).unwrap_or(0.0)
}

/// The rises of one profile that begin in the dark of the rim.
fn rises(v: &[f64], s: f64, reach: f64, dark: f64) -> Vec<Rise> {
    let (step, n) = (PER_PX, v.len());
    let slope = |i: usize| {
        // Over two pixels, smoothed by a third as much.
        (v[i + step] + v[i + step - 1] - v[i - step] - v[i - step + 1]) / 2.0
    };
    let range = 3 * step..n - 3 * step;
    let slopes: Vec<f64> = range.clone().map(slope).collect();
    let top = slopes.iter().copied().fold(0.0, f64::max);
    let least = LEAST_RISE.max(OF_GREATEST * top);
    let mut out = Vec::new();
    for k in 1..slopes.len().saturating_sub(1) {
        let (l, m, r) = (slopes[k - 1], slopes[k], slopes[k + 1]);
        if m < least || m < l || m <= r {
            continue;
        }
        let i = range.start + k;
        let (before, after) = (v[i - 3 * step], v[i + 3 * step]);
        if before > dark + 0.3 * (after - dark).max(0.0) + 0.015 {
            continue;
        }
        let bend = l - 2.0 * m + r;
        let part = if bend < -1e-12 {
            0.5 * (l - r) / bend
        } else {
            0.0
        };
        let o = (i as f64 + part.clamp(-0.5, 0.5) - (n / 2) as f64) / PER_PX as f64;
        if o.abs() <= reach {
            out.push((s, o, m.min(ENOUGH)));
        }
    }
    out
}

/// The line (shift at either end) with the most votes.
fn vote(rises: &[Rise], reach: f64) -> Option<[f64; 2]> {
    let per_px = 2.0;
    let bins = (2.0 * reach * per_px) as usize + 1;
    let shift = |bin: usize| bin as f64 / per_px - reach;
    let mut votes = vec![0.0f64; bins * bins];
    for (s, o, weight) in rises {
        for i in 0..bins {
            // Along the end that the place is further from, so that one bin
            // there is less than one here.
            let (first, other) = if *s > 0.5 {
                (i, (o - (1.0 - s) * shift(i)) / s)
            } else {
                (i, (o - s * shift(i)) / (1.0 - s))
            };
            let bin = ((other + reach) * per_px).round();
            if bin < 0.0 || bin >= bins as f64 {
                continue;
            }
            let (e0, e1) = if *s > 0.5 {
                (first, bin as usize)
            } else {
                (bin as usize, first)
            };
            votes[e0 * bins + e1] += weight;
        }
    }
    let near = |e0: usize, e1: usize| -> f64 {
        let rows = e0.saturating_sub(1)..(e0 + 2).min(bins);
        rows.map(|r| {
            let columns = e1.saturating_sub(1)..(e1 + 2).min(bins);
            columns.map(|c| votes[r * bins + c]).sum::<f64>()
        })
        .sum()
    };
    let all = (0..bins).flat_map(|e0| (0..bins).map(move |e1| (e0, e1)));
    let scored = all.map(|(e0, e1)| (near(e0, e1), e0, e1));
    let best = scored.max_by(|a, b| a.0.total_cmp(&b.0))?;
    (best.0 > 0.0).then(|| [shift(best.1), shift(best.2)])
}

/// A robust fit of the rises near a line: least squares, reweighted.
fn fit(rises: &[Rise], start: [f64; 2]) -> Option<SideFit> {
    let off = |ends: &[f64; 2], r: &Rise| r.1 - (ends[0] + r.0 * (ends[1] - ends[0]));
    let mut ends = start;
    let mut inside = INSIDE;
    let mut rms = inside;
    let mut on: Vec<Rise> = Vec::new();
    for _ in 0..8 {
        on = nearest(rises, |r| off(&ends, r).abs(), inside);
        if on.len() < PLACES / 8 {
            return None;
        }
        let scale = rms.max(0.05);
        let mut m = [0.0; 5];
        for r in &on {
            let d = off(&ends, r).abs() / scale;
            let w = r.2 * if d > HUBER { HUBER / d } else { 1.0 };
            for (sum, v) in m.iter_mut().zip([1.0, r.0, r.0 * r.0, r.1, r.0 * r.1]) {
                *sum += w * v;
            }
        }
        let det = m[0] * m[2] - m[1] * m[1];
        if det.abs() < 1e-12 {
            return None;
        }
        let intercept = (m[3] * m[2] - m[1] * m[4]) / det;
        let slope = (m[0] * m[4] - m[1] * m[3]) / det;
        ends = [intercept, intercept + slope];
        rms = (on.iter().map(|r| off(&ends, r).powi(2)).sum::<f64>() / on.len() as f64).sqrt();
        inside = (3.0 * rms).clamp(0.5, INSIDE);
    }
    Some(SideFit {
        ends,
        support: on.len() as f64 / PLACES as f64,
        rms,
        places: on.len(),
    })
}

/// Of every place the rise nearest to the line, where one is inside.
fn nearest(rises: &[Rise], off: impl Fn(&Rise) -> f64, inside: f64) -> Vec<Rise> {
    let mut out: Vec<Rise> = Vec::new();
    for r in rises.iter().filter(|r| off(r) <= inside) {
        match out.last_mut() {
            Some(last) if last.0 == r.0 => {
                if off(r) < off(last) {
                    *last = *r;
                }
            }
            _ => out.push(*r),
        }
    }
    out
}
