//! What the places of a whole clip say: how far the filming camera moved,
//! when the screen was lost, when the filming camera refocused.

use serde::{Deserialize, Serialize};

use super::track::{Place, Sight};
use crate::ranked::{at, median, noise_of_steps};

/// A row of frames, and what the filming camera's focus did in them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Refocused {
    /// First frame.
    pub first: usize,
    /// One past the last.
    pub end: usize,
    /// Greatest blur beyond the clip's sharpest, px: standard deviation of an
    /// equal Gaussian.
    pub blur_px: f64,
}

/// A clip's steadiness.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Review {
    /// Farthest from where the clip began, px.
    pub max_px: f64,
    /// Root mean square distance from the clip's mean place, px.
    pub rms_px: f64,
    /// Most that the screen grew, shrank or turned, px (the 99th percentile of
    /// the frames).
    pub bent_px: f64,
    /// Frames in which the screen was lost.
    pub lost: usize,
    /// Frames in which its edges were too dark to see.
    pub dark: usize,
    /// When the filming camera was less sharp than it can be.
    pub refocused: Vec<Refocused>,
}

/// Reaches of a running median, seconds and frames.
const SMOOTH_S: f64 = 0.03;
const SMOOTH_FRAMES: usize = 3;
/// Share of the frames that are in the sharpest state.
const SHARPEST: usize = 10;
/// Least growth of an edge that is a change of focus: what the live picture
/// does behind the edge makes up to half of that.
const GROWTH: f64 = 0.1;
/// Least growth in standard deviations of a running median.
const SIGMAS: f64 = 5.0;
/// Least growth in steps from the sharpest tenth to the sharpest third of the
/// frames: compression and a restless picture widen edges now and then. Of a
/// normal spread, three standard deviations above its mean.
const SPREADS: f64 = 5.6;
/// A change of focus lasts this long at least, seconds.
const LASTS_S: f64 = 0.05;
/// A change of focus is felt so much before and after it is plain, seconds.
const AROUND_S: f64 = 0.1;
/// Frames in which the screen moves faster, px a frame, are smeared.
const SMEARED: f32 = 0.35;

/// Sums up a clip; `times` are seconds as shot, one a place.
pub fn review(places: &[Place], times: &[f64]) -> Review {
    let seen: Vec<&Place> = places.iter().filter(|p| p.sight == Sight::Seen).collect();
    let count = |s: Sight| places.iter().filter(|p| p.sight == s).count();
    let of = |f: &dyn Fn(&Place) -> f64| seen.iter().map(|p| f(p)).collect::<Vec<f64>>();
    let (x, y) = (
        of(&|p| f64::from(p.moved[0])),
        of(&|p| f64::from(p.moved[1])),
    );
    let (mx, my) = (mean(&x), mean(&y));
    let squares: Vec<f64> = x
        .iter()
        .zip(&y)
        .map(|(x, y)| (x - mx).powi(2) + (y - my).powi(2))
        .collect();
    let far = x.iter().zip(&y).map(|(x, y)| x.hypot(*y));
    Review {
        max_px: far.fold(0.0, f64::max),
        rms_px: mean(&squares).sqrt(),
        bent_px: at(of(&|p| f64::from(p.bent_px)), 99, 100).unwrap_or(0.0),
        lost: count(Sight::Lost),
        dark: count(Sight::Dark),
        refocused: refocused(places, times),
    }
}

fn mean(v: &[f64]) -> f64 {
    v.iter().sum::<f64>() / v.len().max(1) as f64
}

/// Rows of frames whose edges are wider than at their sharpest.
fn refocused(places: &[Place], times: &[f64]) -> Vec<Refocused> {
    let clear: Vec<(usize, f64)> = (0..places.len())
        .filter(|i| is_clear(places, *i))
        .map(|i| (i, f64::from(places[i].edge_px)))
        .collect();
    let smooth = running_median(&clear, times);
    if smooth.len() < 4 * SMOOTH_FRAMES {
        return Vec::new();
    }
    let mut sorted = smooth.clone();
    sorted.sort_by(f64::total_cmp);
    let sharp = sorted[sorted.len() / SHARPEST];
    let third = sorted[sorted.len() * 3 / SHARPEST];
    let growth = (GROWTH * sharp).max(SIGMAS * noise(&smooth));
    let limit = sharp + growth.max(SPREADS * (third - sharp));
    let mut out: Vec<Refocused> = Vec::new();
    let mut k = 0;
    while k < smooth.len() {
        if smooth[k] <= limit {
            k += 1;
            continue;
        }
        let run = smooth[k..].iter().take_while(|w| **w > limit).count();
        let (from, to) = (times[clear[k].0], times[clear[k + run - 1].0]);
        if to - from >= LASTS_S {
            let widest = smooth[k..k + run].iter().copied().fold(0.0, f64::max);
            let blur = (widest * widest - sharp * sharp).max(0.0);
            let spread = std::f64::consts::TAU.sqrt();
            let row = Refocused {
                first: times.partition_point(|t| *t < from - AROUND_S),
                end: times.partition_point(|t| *t <= to + AROUND_S),
                blur_px: blur.sqrt() / spread,
            };
            match out.last_mut().filter(|o| o.end >= row.first) {
                Some(o) => {
                    o.end = row.end;
                    o.blur_px = o.blur_px.max(row.blur_px);
                }
                None => out.push(row),
            }
        }
        k += run;
    }
    out
}

/// Whether a frame's edges tell focus: seen, and not smeared by movement.
fn is_clear(places: &[Place], i: usize) -> bool {
    let still =
        |a: &Place, b: &Place| (a.moved[0] - b.moved[0]).hypot(a.moved[1] - b.moved[1]) < SMEARED;
    let p = &places[i];
    p.sight == Sight::Seen
        && p.edge_px > 0.0
        && i.checked_sub(1).is_none_or(|k| still(&places[k], p))
        && places.get(i + 1).is_none_or(|n| still(p, n))
}

fn running_median(clear: &[(usize, f64)], times: &[f64]) -> Vec<f64> {
    let (mut from, mut to) = (0, 0);
    let mut out = Vec::with_capacity(clear.len());
    for (k, (i, _)) in clear.iter().enumerate() {
        let t = times[*i];
        while times[clear[from].0] < t - SMOOTH_S {
            from += 1;
        }
        while to < clear.len() && times[clear[to].0] <= t + SMOOTH_S {
            to += 1;
        }
        let a = from.min(k.saturating_sub(SMOOTH_FRAMES));
        let b = to.max((k + SMOOTH_FRAMES + 1).min(clear.len()));
        let near = clear[a..b].iter().map(|c| c.1).collect();
        out.push(median(near).unwrap_or(0.0));
    }
    out
}

/// Standard deviation of a running median, from how it changes over its own
/// length: the quieter half of the clip.
fn noise(smooth: &[f64]) -> f64 {
    let step = 2 * SMOOTH_FRAMES + 1;
    let pairs = smooth.windows(step + 1);
    noise_of_steps(pairs.map(|w| (w[step] - w[0]).abs()).collect())
}
