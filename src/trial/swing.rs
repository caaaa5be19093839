//! A target that swings in and out: when it moved, when it came to rest (or
//! covered the autofocus area), and which of the two it was.

use std::collections::VecDeque;
use std::io;

use super::Stimulus;
use super::curve::median;
use super::motion::{Shift, cell_noise, shift, smoothed};
use crate::screen::{Reel, Thumb};
use crate::store::schema::Side;

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

/// Share of the peak speed below which the target is at rest.
const AT_REST: f64 = 0.05;
/// Share of the clip's peak speed that makes an episode of motion.
const CORE: f64 = 0.25;
/// Shifts explained worse than this are blur or light, not motion.
const LEAST_EXPLAINED: f64 = 0.12;
/// Shifts beyond a cell must explain what changed this well.
const WELL_EXPLAINED: f64 = 0.35;
/// A target this fast (of its peak) right before it is at rest stopped dead.
const SUDDEN: f64 = 0.25;
/// Shortest path of the target, cells.
const LEAST_PATH: f64 = 4.0;

struct Episode {
    /// First step of visible motion.
    start: usize,
    /// First step at rest.
    rest: usize,
    /// The instant of rest, seconds as shot.
    onset_s: f64,
}

/// Finds the swings that end `at = "rest"` in a view.
///
/// # Errors
/// When kept pictures cannot be read back.
pub fn swing_stimuli(view: &mut View<'_>, hold_s: f64) -> Result<Swings, SwingError> {
    if view.pictures.len() < 8 {
        return Ok(Swings::default());
    }
    let shifts = shifts(view)?;
    let episodes = episodes(&shifts, view, hold_s);
    let evidence = episodes
        .iter()
        .map(|e| coming_in(view, e))
        .collect::<Result<Vec<f64>, SwingError>>()?;
    let (sides, side_clarity) = alternate(&evidence);
    let stimuli = episodes
        .iter()
        .zip(sides)
        .map(|(e, side)| Stimulus {
            side: Some(side),
            move_s: Some(view.shown_s[e.start]),
            onset_s: e.onset_s,
            onset_u_s: view.instant_u_s,
        })
        .collect();
    Ok(Swings {
        stimuli,
        side_clarity,
    })
}

/// Shift to each step from the one `span` before; the first have none.
fn shifts(view: &mut View<'_>) -> Result<Vec<Shift>, SwingError> {
    let (n, span) = (view.pictures.len(), view.span);
    let mut picture = |i: usize| view.reel.get(view.pictures[i]).map(|t| smoothed(&t));
    let mut sample = Vec::new();
    for i in (span..n).step_by((n / 200).max(1)) {
        sample.push((picture(i - span)?, picture(i)?));
    }
    let noise = cell_noise(&sample);
    let mut recent: VecDeque<Thumb> = VecDeque::new();
    let mut out = Vec::with_capacity(n);
    for i in 0..n {
        let now = picture(i)?;
        out.push(match recent.front() {
            Some(before) if recent.len() == span => shift(before, &now, noise),
            _ => Shift::default(),
        });
        recent.push_back(now);
        if recent.len() > span {
            recent.pop_front();
        }
    }
    Ok(out)
}

/// Speed of the target at each step, cells per second.
fn speeds(shifts: &[Shift], view: &View<'_>) -> Vec<f64> {
    shifts
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let wild = s.length() > 1.0 && s.explained < WELL_EXPLAINED;
            if i < view.span || wild || s.explained < LEAST_EXPLAINED {
                return 0.0;
            }
            let dt = view.shown_s[i] - view.shown_s[i - view.span];
            let dt = dt.max(0.5 * view.step_s);
            s.length() / dt
        })
        .collect()
}

/// Three-point medians: a single wrong match is not a motion.
fn steadied(v: &[f64]) -> Vec<f64> {
    (0..v.len())
        .map(|i| {
            let near = &v[i.saturating_sub(1)..(i + 2).min(v.len())];
            median(near.to_vec()).unwrap_or(0.0)
        })
        .collect()
}

fn episodes(shifts: &[Shift], view: &View<'_>, hold_s: f64) -> Vec<Episode> {
    let speed = speeds(shifts, view);
    let smooth = steadied(&speed);
    let top = smooth.iter().copied().fold(0.0, f64::max);
    if top <= 0.0 {
        return Vec::new();
    }
    let mut out: Vec<Episode> = Vec::new();
    let mut i = 1;
    while i < smooth.len() {
        if smooth[i] < CORE * top {
            i += 1;
            continue;
        }
        let (from, peak, at) = run(&smooth, &speed, view, i, CORE * top, hold_s);
        let onset_s = instant_of_rest(&speed, view, at, peak);
        let rest = view.shown_s.partition_point(|t| *t < onset_s - 1e-9);
        let path: f64 = (from..rest).map(|k| speed[k] * view.step_s).sum();
        if path >= LEAST_PATH && rest < smooth.len() {
            let start = first_motion(&smooth, from, out.last().map_or(1, |e| e.rest), peak);
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
/// whose incoming shift is slow for a hold.
fn run(
    smooth: &[f64],
    speed: &[f64],
    view: &View<'_>,
    from: usize,
    core: f64,
    hold_s: f64,
) -> (usize, f64, usize) {
    let mut peak = 0.0;
    let mut at = from;
    while at < smooth.len() {
        peak = f64::max(peak, smooth[at]);
        if smooth[at] < core.min(AT_REST * peak) && stays_at_rest(speed, view, at, peak, hold_s) {
            break;
        }
        at += 1;
    }
    // The first slow step, however few fast strays lie between it and `at`.
    while at > 1 && at < speed.len() && speed[at - 1] < AT_REST * peak {
        at -= 1;
    }
    (from, peak, at)
}

/// Whether the speed stays below 5 % of the peak from `at` for a hold, one
/// stray step in twenty allowed.
fn stays_at_rest(speed: &[f64], view: &View<'_>, at: usize, peak: f64, hold_s: f64) -> bool {
    let until = view.shown_s[at] + hold_s;
    let n = view.shown_s[at..].partition_point(|t| *t < until);
    let fast = speed[at..at + n]
        .iter()
        .filter(|v| **v >= AT_REST * peak)
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
    let fast = (at.saturating_sub(span + 1)..at).any(|i| speed[i] > SUDDEN * peak);
    let crossing = if fast {
        view.shown_s[at - span] + after * (view.shown_s[at] - view.shown_s[at - span])
    } else {
        let fraction = ((before - AT_REST) / (before - after).max(1e-9)).clamp(0.0, 1.0);
        middle(at - 1) + fraction * (middle(at) - middle(at - 1))
    };
    if span > 1 {
        return crossing;
    }
    let i = view
        .shown_s
        .partition_point(|t| *t < crossing - 0.1 * view.step_s);
    view.shown_s[i.min(view.shown_s.len() - 1)]
}

/// Back from the core to where the speed first rose above noise.
fn first_motion(smooth: &[f64], core: usize, limit: usize, peak: f64) -> usize {
    let mut i = core;
    while i > limit && smooth[i - 1] > 0.01 * peak {
        i -= 1;
    }
    i
}

/// Evidence that the target came in (positive) or went (negative) during an
/// episode: −1..=1.
///
/// The background stands still. While the target comes in, cells it has not
/// reached yet keep showing the picture from before; while it goes, cells it
/// has left show the picture from after at once. The target's own cells
/// change all the time, so they match neither.
fn coming_in(view: &mut View<'_>, e: &Episode) -> Result<f64, SwingError> {
    let before = view.reel.get(view.pictures[e.start.saturating_sub(1)])?;
    let after = view
        .reel
        .get(view.pictures[e.rest.min(view.pictures.len() - 1)])?;
    let contrast: Vec<f32> = before
        .cells
        .iter()
        .zip(&after.cells)
        .map(|(a, b)| (a - b).abs())
        .collect();
    let mut sorted = contrast.clone();
    sorted.sort_by(f32::total_cmp);
    let least = (0.5 * sorted[sorted.len() * 9 / 10]).max(0.01);
    let cells: Vec<usize> = (0..contrast.len())
        .filter(|i| contrast[*i] > least)
        .collect();
    let (mut old, mut new) = (0.0, 0.0);
    for k in e.start..e.rest {
        let now = view.reel.get(view.pictures[k])?;
        old += matching(&now, &before, &cells, &contrast);
        new += matching(&now, &after, &cells, &contrast);
    }
    #[allow(clippy::cast_precision_loss)]
    let steps = (e.rest - e.start).max(1) as f64;
    Ok(((old - new) / steps).clamp(-1.0, 1.0))
}

/// Share of `cells` that look like `other`.
#[allow(clippy::cast_precision_loss)]
fn matching(now: &Thumb, other: &Thumb, cells: &[usize], contrast: &[f32]) -> f64 {
    let same = cells
        .iter()
        .filter(|i| (now.cells[**i] - other.cells[**i]).abs() < 0.25 * contrast[**i])
        .count();
    same as f64 / cells.len().max(1) as f64
}

/// Sides take turns, so the evidence of all episodes decides together.
fn alternate(evidence: &[f64]) -> (Vec<Side>, f64) {
    let signed: f64 = evidence
        .iter()
        .enumerate()
        .map(|(i, e)| if i % 2 == 0 { *e } else { -*e })
        .sum();
    let total: f64 = evidence.iter().map(|e| e.abs()).sum();
    let sides = (0..evidence.len())
        .map(|i| {
            if (i % 2 == 0) == (signed >= 0.0) {
                Side::Near
            } else {
                Side::Far
            }
        })
        .collect();
    let clarity = if total > 0.0 {
        signed.abs() / total
    } else {
        0.0
    };
    (sides, clarity)
}
