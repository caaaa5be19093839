//! Free pendulums: the target counts as in when it covers the autofocus area.

use super::Stimulus;
use super::curve::median;
use super::motion::cell_noise;
use super::swing::{SwingError, Swings, View};
use crate::store::schema::Side;

/// Covered from here on (near); from 1 − this on it is gone (far).
const COVERED: f64 = 0.9;
/// Pictures looked at to learn the background.
const LEARNT_FROM: usize = 401;

/// Finds when the target has covered ≥ 90 % of the area (from its
/// [`coverage`], one a step of the view) or left ≥ 90 % of it free, and stays so
/// for a hold. The view's pictures are not looked at.
#[must_use]
pub fn cover_stimuli(cover: &[f64], view: &View<'_>, hold_s: f64) -> Swings {
    let mut stimuli: Vec<Stimulus> = Vec::new();
    let mut state = None;
    let mut changed_at = 0;
    for i in 0..cover.len() {
        let now = if cover[i] >= COVERED {
            Side::Near
        } else if cover[i] <= 1.0 - COVERED {
            Side::Far
        } else {
            continue;
        };
        if state != Some(now) && stays(cover, view, i, now, hold_s) {
            if state.is_some() {
                stimuli.push(Stimulus {
                    side: Some(now),
                    move_s: Some(view.shown_s[(changed_at + 1).min(i)]),
                    onset_s: view.shown_s[i],
                    onset_u_s: view.instant_u_s,
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

fn stays(cover: &[f64], view: &View<'_>, at: usize, side: Side, hold_s: f64) -> bool {
    let until = view.shown_s[at] + hold_s;
    let n = view.shown_s[at..].partition_point(|t| *t < until);
    let outside = cover[at..at + n]
        .iter()
        .filter(|c| match side {
            Side::Near => **c < COVERED,
            Side::Far => **c > 1.0 - COVERED,
        })
        .count();
    outside <= (n + 10) / 20
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
    let mut before = first;
    for i in (0..n).step_by(step) {
        let now = view.reel.get(view.pictures[i])?;
        for (values, cell) in seen.iter_mut().zip(&cells) {
            values.push(now.cells[*cell]);
        }
        pairs.push((before, now.clone()));
        before = now;
    }
    let noise = cell_noise(&pairs);
    drop(pairs);
    let noise = noise.iter().copied().fold(0.0, f32::max);
    // The background is what a cell shows most often to within noise.
    let ground: Vec<f32> = seen.iter_mut().map(|v| mode(v)).collect();
    let mut spread: Vec<f32> = seen
        .iter()
        .zip(&ground)
        .flat_map(|(v, g)| v.iter().map(move |x| (x - g).abs()))
        .collect();
    spread.sort_by(f32::total_cmp);
    let contrast = spread[spread.len() * 3 / 4];
    let limit = (0.35 * contrast).max(6.0 * noise);
    let mut raw = Vec::with_capacity(n);
    for i in 0..n {
        let now = view.reel.get(view.pictures[i])?;
        let off = cells
            .iter()
            .zip(&ground)
            .filter(|(c, g)| (now.cells[**c] - **g).abs() > limit)
            .count();
        #[allow(clippy::cast_precision_loss)]
        raw.push(off as f64 / cells.len() as f64);
    }
    Ok(scaled(&raw).unwrap_or_default())
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

#[allow(clippy::cast_precision_loss)]
fn inside(area: [f64; 4], width: usize, height: usize) -> Vec<usize> {
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
