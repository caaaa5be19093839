//! A target that swings in and out: when it moved, when it came to rest (or
//! covered the autofocus area), and which of the two it was.

use crate::limits;
use rayon::prelude::*;
use std::io;

use super::Stimulus;
use super::curve::median;
use super::motion::{Shift, cell_noise, shift, smoothed};
use crate::ranked::at;
use crate::screen::{Reel, Thumb};
use crate::store::schema::OnsetSeen;

/// A swing that cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum SwingError {
    /// The kept pictures cannot be read back.
    #[error("temporary pictures cannot be read back: {0}")]
    Io(#[from] io::Error),
}

/// A view of the target: pictures and when each was first seen.
pub struct View<'a> {
    /// Small pictures of the view.
    pub reel: &'a mut Reel,
    /// Which picture to take for each step of the view.
    pub pictures: Vec<usize>,
    /// When each was first seen, seconds as shot, ascending.
    pub shown_s: Vec<f64>,
    /// Seconds between steps.
    pub step_s: f64,
    /// Steps over which a shift is taken: on the screen one update, in a
    /// direct view more, so that slow motion stands out from noise.
    pub span: usize,
    /// Standard uncertainty of an instant in this view, seconds.
    pub instant_u_s: f64,
}

/// What was found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Swings {
    /// In order.
    pub stimuli: Vec<Stimulus>,
    /// How clearly near and far were told apart, 0 (not at all) ..= 1.
    pub side_clarity: f64,
}

/// Shortest path of the target, cells.
pub const LEAST_PATH: f64 = 4.0;

struct Episode {
    /// First step of visible motion.
    start: usize,
    /// First step at rest.
    rest: usize,
    /// The instant of rest, seconds as shot.
    onset_s: f64,
}

/// Finds the swings that end `at = "rest"` in a view from its [`shifts`], each
/// with its instant of rest; the pictures themselves are not looked at. Sides are not told yet: see
/// [`super::tell_sides`], and for the far ones [`super::far_onsets`].
pub fn swing_stimuli(shifts: &[Shift], view: &View<'_>, seen: OnsetSeen) -> Vec<Stimulus> {
    if shifts.len() < 8 {
        return Vec::new();
    }
    episodes(shifts, view)
        .iter()
        .map(|e| Stimulus {
            side: None,
            move_s: Some(view.shown_s[e.start]),
            onset_s: e.onset_s,
            seen,
            onset_u_s: view.instant_u_s,
            off_s: None,
        })
        .collect()
}

/// Steps whose pictures are held at once.
const AT_ONCE: usize = 128;

/// Shift to each step from the one `span` before; the first have none.
///
/// # Errors
/// When kept pictures cannot be read back.
pub fn shifts(view: &mut View<'_>) -> Result<Vec<Shift>, SwingError> {
    let (n, span) = (view.pictures.len(), view.span);
    let mut picture = |i: usize| view.reel.get(view.pictures[i]).map(|t| smoothed(&t));
    let mut sample = Vec::new();
    for i in (span..n).step_by((n / 200).max(1)) {
        sample.push((picture(i - span)?, picture(i)?));
    }
    let noise = cell_noise(&sample);
    let mut out = vec![Shift::default(); span.min(n)];
    let mut held: Vec<Thumb> = Vec::new();
    for from in (0..n).step_by(AT_ONCE) {
        let to = (from + AT_ONCE).min(n);
        held.drain(..held.len().saturating_sub(span));
        for i in from..to {
            held.push(view.reel.get(view.pictures[i])?);
        }
        let first = to - held.len();
        held[from - first..]
            .par_iter_mut()
            .for_each(|t| *t = smoothed(t));
        let pairs = held.par_iter().zip(held.par_iter().skip(span));
        let found: Vec<Shift> = pairs.map(|(a, b)| shift(a, b, &noise)).collect();
        out.extend(found);
    }
    Ok(out)
}

/// Speed of the target at each step, cells per second.
fn speeds(shifts: &[Shift], view: &View<'_>) -> Vec<f64> {
    // What changes a small part of the view only is no target.
    let widest = shifts.iter().map(|s| s.moved).fold(0.0, f64::max);
    let strong = at(shifts.iter().map(|s| s.strength).collect(), 98, 100).unwrap_or(0.0);
    shifts
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let unlikely = s.explained < limits::SWING_WELL_EXPLAINED.get()
                || s.strength < limits::SWING_PLAIN.get() * strong;
            let wild = s.length() > 1.0 && unlikely;
            if i < view.span
                || wild
                || s.moved < limits::SWING_LEAST_SHARE.get() * widest
                || s.explained < limits::SWING_LEAST_EXPLAINED.get()
            {
                return 0.0;
            }
            let dt = view.shown_s[i] - view.shown_s[i - view.span];
            let dt = dt.max(0.5 * view.step_s);
            s.length() / dt
        })
        .collect()
}

/// Running medians over twice the span: a wrong match touches a span of steps
/// and is no motion, and a median moves neither ramps nor edges.
fn steadied(v: &[f64], span: usize) -> Vec<f64> {
    (0..v.len())
        .map(|i| {
            let near = &v[i.saturating_sub(span)..(i + span + 1).min(v.len())];
            median(near.to_vec()).unwrap_or(0.0)
        })
        .collect()
}

/// How far what moves went since it was last at rest, cells, step by step: what
/// [`LEAST_PATH`] is held against.
pub fn swing_ways(shifts: &[Shift], view: &View<'_>) -> Vec<f64> {
    let speed = steadied(&speeds(shifts, view), view.span);
    let top = speed.iter().copied().fold(0.0, f64::max);
    let mut way = 0.0;
    let step = |v: &f64| {
        let at_rest = *v < limits::SWING_AT_REST.get() * top || *v <= 0.0;
        way = if at_rest { 0.0 } else { way + v * view.step_s };
        way
    };
    speed.iter().map(step).collect()
}

fn episodes(shifts: &[Shift], view: &View<'_>) -> Vec<Episode> {
    let speed = steadied(&speeds(shifts, view), view.span);
    let top = speed.iter().copied().fold(0.0, f64::max);
    if top <= 0.0 {
        return Vec::new();
    }
    let mut out: Vec<Episode> = Vec::new();
    let mut i = 1;
    while i < speed.len() {
        if speed[i] < limits::SWING_CORE.get() * top {
            i += 1;
            continue;
        }
        let (from, peak, at) = run(&speed, view, i, limits::SWING_CORE.get() * top);
        let onset_s = instant_of_rest(&speed, view, at, peak);
        let rest = view.shown_s.partition_point(|t| *t < onset_s - 1e-9);
        let path: f64 = (from..rest).map(|k| speed[k] * view.step_s).sum();
        if path >= LEAST_PATH && rest < speed.len() {
            let start = first_motion(&speed, from, out.last().map_or(1, |e| e.rest), peak);
            out.push(Episode {
                start,
                rest,
                onset_s,
            });
        }
        i = at.max(i + 1);
    }
    out
}

/// From a step inside a motion: that step, the peak speed, and the first step
/// whose incoming shift is slow and stays so ([`limits::STAYS_S`]).
fn run(speed: &[f64], view: &View<'_>, from: usize, core: f64) -> (usize, f64, usize) {
    let mut peak = 0.0;
    let mut at = from;
    while at < speed.len() {
        peak = f64::max(peak, speed[at]);
        if speed[at] < core.min(limits::SWING_AT_REST.get() * peak)
            && stays_at_rest(speed, view, at, peak)
        {
            break;
        }
        at += 1;
    }
    // The first slow step, however few fast strays lie between it and `at`.
    while at > 1 && at < speed.len() && speed[at - 1] < limits::SWING_AT_REST.get() * peak {
        at -= 1;
    }
    (from, peak, at)
}

/// Whether the speed stays below 5 % of the peak from `at` on for
/// [`limits::STAYS_S`], one stray step in twenty allowed.
fn stays_at_rest(speed: &[f64], view: &View<'_>, at: usize, peak: f64) -> bool {
    let until = view.shown_s[at] + limits::STAYS_S.get();
    let n = view.shown_s[at..].partition_point(|t| *t < until);
    let fast = speed[at..at + n]
        .iter()
        .filter(|v| **v >= limits::SWING_AT_REST.get() * peak)
        .count();
    fast <= (n + 10) / 20
}

/// When the target became slower than 5 % of its peak, seconds as shot.
///
/// `speed[i]` is the mean speed between the pictures `span` steps apart that
/// end at i, so it belongs to the middle between them. Where the target slows
/// down smoothly the instant is read off the line between neighbouring
/// middles; where it stops dead, the last fast shift says how far into it the
/// stop came. On the screen the instant is that of the first update that
/// shows it; in a direct view it is the instant itself.
fn instant_of_rest(speed: &[f64], view: &View<'_>, at: usize, peak: f64) -> f64 {
    let span = view.span;
    if at <= span || at >= speed.len() {
        return view.shown_s.get(at).copied().unwrap_or(f64::MAX);
    }
    let middle = |i: usize| f64::midpoint(view.shown_s[i - span.min(i)], view.shown_s[i]);
    let (before, after) = (speed[at - 1] / peak, speed[at] / peak);
    let fraction =
        ((before - limits::SWING_AT_REST.get()) / (before - after).max(1e-9)).clamp(0.0, 1.0);
    let between = middle(at - 1) + fraction * (middle(at) - middle(at - 1));
    if span > 1 {
        let fast =
            (at.saturating_sub(span + 1)..at).any(|i| speed[i] > limits::SUDDEN.get() * peak);
        let from = view.shown_s[at - span];
        return if fast {
            from + after * (view.shown_s[at] - from)
        } else {
            between
        };
    }
    let crossing =
        braking(before, after).map_or(between, |steps| view.shown_s[at - 1] + steps * view.step_s);
    let i = view
        .shown_s
        .partition_point(|t| *t < crossing - 0.1 * view.step_s);
    view.shown_s[i.min(view.shown_s.len() - 1)]
}

/// When the speed fell below 5 % of its peak, in steps after the picture
/// between the two last shifts, the speed falling evenly to nought inside the
/// second. `before` and `after` are mean speeds ÷ peak. `None` where the
/// target moved on beyond that shift.
///
/// With v = s·(e − t): before = s·(e + ½) and after = s·e² ÷ 2.
fn braking(before: f64, after: f64) -> Option<f64> {
    let r = after / before.max(1e-9);
    let end = r + (r * r + r).sqrt();
    let slope = before / (end + 0.5);
    (end <= 1.0).then(|| end - limits::SWING_AT_REST.get() / slope)
}

/// Back from the core to where the speed first rose above noise.
fn first_motion(speed: &[f64], core: usize, limit: usize, peak: f64) -> usize {
    let mut i = core;
    while i > limit && speed[i - 1] > 0.01 * peak {
        i -= 1;
    }
    i
}
