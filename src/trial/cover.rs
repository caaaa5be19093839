//! Free pendulums: the target counts as in when it covers the autofocus area.

use super::Stimulus;
use super::curve::median;
use super::swing::{SwingError, Swings, View};
use crate::limits;
use crate::ranked::at;
use crate::screen::Thumb;
use crate::store::schema::{OnsetSeen, Side};

/// Covered from here on (near); from 1 − this on it is gone (far).
pub const COVERED: f64 = 0.9;
/// Pictures looked at to learn the background.
const LEARNT_FROM: usize = 401;

/// Finds when the target has covered ≥ 90 % of the area on the screen (from its
/// [`coverage`], one a step of the view) or left ≥ 90 % of it free, and stays so.
/// The view's pictures are not looked at.
pub fn cover_stimuli(cover: &[f64], view: &View<'_>) -> Swings {
    let mut stimuli: Vec<Stimulus> = Vec::new();
    let mut state = None;
    let mut changed_at = 0;
    for i in 0..cover.len() {
        let now = if is_in(Side::Near, cover[i]) {
            Side::Near
        } else if is_in(Side::Far, cover[i]) {
            Side::Far
        } else {
            continue;
        };
        if state != Some(now) && stays(cover, view, i, now) {
            if state.is_some() {
                stimuli.push(Stimulus {
                    side: Some(now),
                    move_s: Some(view.shown_s[(changed_at + 1).min(i)]),
                    onset_s: view.shown_s[i],
                    seen: OnsetSeen::Screen,
                    onset_u_s: view.instant_u_s,
                    off_s: None,
                });
            }
            state = Some(now);
        }
        if state == Some(now) {
            changed_at = i;
        }
    }
    Swings {
        stimuli,
        side_clarity: 1.0,
    }
}

fn is_in(side: Side, cover: f64) -> bool {
    match side {
        Side::Near => cover >= COVERED,
        Side::Far => cover <= 1.0 - COVERED,
    }
}

/// Whether a state lasts from `at` on, one stray step in twenty allowed: for
/// [`limits::STAYS_S`], or for half the time until it is left where the pendulum is
/// quicker than that. Only noise is kept off: between the two states lies the
/// target's whole way over the area.
fn stays(cover: &[f64], view: &View<'_>, at: usize, side: Side) -> bool {
    let passing = |c: &f64| match side {
        Side::Near => *c < limits::PASSING.get(),
        Side::Far => *c > limits::PASSING.get(),
    };
    let left = cover[at..].iter().position(passing);
    let visit = &cover[at..left.map_or(cover.len(), |n| at + n)];
    let last = visit.iter().rposition(|c| is_in(side, *c)).unwrap_or(0);
    let lasts_s = view.shown_s[at + last] - view.shown_s[at];
    let until = view.shown_s[at] + limits::STAYS_S.get().min(lasts_s / 2.0);
    let n = view.shown_s[at..].partition_point(|t| *t < until);
    let outside = cover[at..at + n].iter().filter(|c| !is_in(side, **c));
    outside.count() <= (n + 10) / 20
}

/// Share of the cells of `area` (left, top, right, bottom as fractions of the
/// view) that do not show the background, per picture: 0 with the target gone,
/// 1 with it all over the area. Empty where nothing covers it.
///
/// # Errors
/// When kept pictures cannot be read back.
pub fn coverage(view: &mut View<'_>, area: [f64; 4]) -> Result<Vec<f64>, SwingError> {
    let n = view.pictures.len();
    if n < 8 {
        return Ok(Vec::new());
    }
    let first = view.reel.get(view.pictures[0])?;
    let cells = inside(area, first.width, first.height);
    let step = (n / LEARNT_FROM).max(1);
    let mut seen: Vec<Vec<f32>> = vec![Vec::new(); cells.len()];
    let mut pairs = Vec::new();
    for i in (1..n).step_by(step) {
        let now = view.reel.get(view.pictures[i])?;
        for (values, cell) in seen.iter_mut().zip(&cells) {
            values.push(now.cells[*cell]);
        }
        pairs.push((view.reel.get(view.pictures[i - 1])?, now));
    }
    let noise = noise_at_rest(&pairs, &cells);
    drop(pairs);
    // The background is what a cell shows most often to within noise.
    let ground: Vec<f32> = seen.iter_mut().map(|v| mode(v)).collect();
    let spread: Vec<f32> = seen
        .iter()
        .zip(&ground)
        .flat_map(|(v, g)| v.iter().map(move |x| (x - g).abs()))
        .collect();
    let contrast = at(spread, 3, 4).unwrap_or(0.0);
    let limit = (0.35 * contrast).max(6.0 * noise);
    let mut raw = Vec::with_capacity(n);
    for i in 0..n {
        let now = view.reel.get(view.pictures[i])?;
        let off = cells
            .iter()
            .zip(&ground)
            .filter(|(c, g)| (now.cells[**c] - **g).abs() > limit)
            .count();
        raw.push(off as f64 / cells.len() as f64);
    }
    Ok(scaled(&raw).unwrap_or_default())
}

/// Quietest share of the steps: about its turning points a free pendulum hardly
/// moves, and at no other time does the view keep still.
const QUIETEST: usize = 10;
/// Standard deviation of normal noise ÷ its mean deviation.
const PER_MEAN: f64 = 1.2533;

/// Standard deviation of the noise of some cells, luma, from pictures one
/// after the other: how much these cells change in the quietest steps.
pub(super) fn noise_at_rest(pairs: &[(Thumb, Thumb)], cells: &[usize]) -> f32 {
    let n = cells.len().max(1) as f64;
    let change = |(a, b): &(Thumb, Thumb)| {
        let of = |i: &usize| f64::from((a.cells[*i] - b.cells[*i]).abs());
        cells.iter().map(of).sum::<f64>() / n
    };
    let quiet = at(pairs.iter().map(change).collect(), 1, QUIETEST).unwrap_or(0.0);
    (quiet * PER_MEAN / std::f64::consts::SQRT_2) as f32
}

/// Some of the target's cells look like the background by chance: the level
/// reached when it covers the area counts as 1, the level without it as 0.
fn scaled(raw: &[f64]) -> Option<Vec<f64>> {
    let mut sorted = raw.to_vec();
    sorted.sort_by(f64::total_cmp);
    let low = median(sorted[..sorted.len().div_ceil(5)].to_vec())?;
    let high = median(sorted[sorted.len() * 4 / 5..].to_vec())?;
    (high - low > 0.25).then(|| raw.iter().map(|v| (v - low) / (high - low)).collect())
}

pub(super) fn inside(area: [f64; 4], width: usize, height: usize) -> Vec<usize> {
    (0..width * height)
        .filter(|i| {
            let x = ((i % width) as f64 + 0.5) / width as f64;
            let y = ((i / width) as f64 + 0.5) / height as f64;
            x > area[0] && x < area[2] && y > area[1] && y < area[3]
        })
        .collect()
}

/// Half-sample mode: the middle of the shortest interval that keeps holding
/// half of the values (Bickel & Frühwirth 2006).
fn mode(values: &mut [f32]) -> f32 {
    values.sort_by(f32::total_cmp);
    let mut v = &values[..];
    while v.len() > 3 {
        let half = v.len().div_ceil(2);
        let start = (0..=v.len() - half)
            .min_by(|a, b| {
                let width = |s: usize| v[s + half - 1] - v[s];
                width(*a).total_cmp(&width(*b))
            })
            .unwrap_or(0);
        v = &v[start..start + half];
    }
    v.get(v.len() / 2).copied().unwrap_or(0.0)
}
