//! When the target swings, and roughly how late the screen shows it: from how
//! much each view changes.

use std::io;

use super::super::curve::median;
use super::super::swing::View;
use crate::ranked::at;
use crate::screen::Thumb;

/// How much a view changes, step by step.
pub(super) struct Pace {
    /// Middles of the steps, seconds as shot.
    at_s: Vec<f64>,
    /// Mean change of a cell ÷ seconds, above that of a view at rest.
    change: Vec<f64>,
}

/// Cells that are averaged along each side: noise goes, the target stays.
const BLOCK: usize = 4;
/// Seconds over which change is taken.
const STEP_S: f64 = 1.0 / 60.0;
/// Share of the strongest change that is motion.
const MOTION: f64 = 0.25;
/// Shortest swing, seconds.
const SHORTEST_S: f64 = 0.06;
/// Screens later than this are not looked for, seconds.
const LATEST_S: f64 = 0.6;
/// Steps in which the rough lag is searched, seconds.
const SEARCH_S: f64 = 0.004;
/// Least likeness (correlation) of the two views' changes.
const ALIKE: f64 = 0.5;

impl Pace {
    /// Reads a view.
    pub(super) fn of(view: &mut View<'_>) -> io::Result<Self> {
        let (mut at_s, mut change) = (Vec::new(), Vec::new());
        let mut before: Option<(f64, Vec<f32>)> = None;
        for (k, t) in view.shown_s.iter().enumerate() {
            if before.as_ref().is_some_and(|b| t - b.0 < 0.9 * STEP_S) {
                continue;
            }
            let now = coarse(&view.reel.get(view.pictures[k])?);
            if let Some((s, old)) = &before {
                let sum: f32 = old.iter().zip(&now).map(|(a, b)| (a - b).abs()).sum();
                at_s.push(f64::midpoint(*s, *t));
                change.push(f64::from(sum) / now.len() as f64 / (t - s));
            }
            before = Some((*t, now));
        }
        let rest = median(change.clone()).unwrap_or(0.0);
        let mut sorted = change.clone();
        sorted.sort_by(f64::total_cmp);
        // A pendulum never rests: its quietest moments are the turning points.
        let quiet = sorted.get(sorted.len() / 10).copied().unwrap_or(0.0);
        let rest = if rest < 3.0 * quiet { rest } else { quiet };
        let rest = rest.min(0.5 * sorted.last().copied().unwrap_or(0.0));
        change.iter_mut().for_each(|c| *c = (*c - rest).max(0.0));
        Ok(Self { at_s, change })
    }

    /// From and to of every swing, seconds as shot.
    pub(super) fn swings(&self) -> Vec<[f64; 2]> {
        let strong = at(self.change.clone(), 98, 100).unwrap_or(0.0);
        let mut out: Vec<[f64; 2]> = Vec::new();
        let mut open: Option<[f64; 2]> = None;
        for (t, c) in self.at_s.iter().zip(&self.change) {
            match &mut open {
                Some(s) if *c > MOTION * strong => s[1] = *t,
                // One weak step inside a swing does not end it.
                Some(s) if t - s[1] < 2.5 * STEP_S => {}
                Some(s) => {
                    out.push(*s);
                    open = None;
                }
                None if strong > 0.0 && *c > MOTION * strong => open = Some([*t, *t]),
                None => {}
            }
        }
        out.extend(open);
        out.retain(|s| s[1] - s[0] >= SHORTEST_S);
        out
    }

    /// How late `screen` changes as this view does, seconds; `None` where it
    /// does not.
    pub(super) fn rough_lag(&self, screen: &Self) -> Option<f64> {
        let (first, last) = (-(0.05 / SEARCH_S) as i32, (LATEST_S / SEARCH_S) as i32);
        let (alike, lag) = (first..=last)
            .map(|k| f64::from(k) * SEARCH_S)
            .map(|lag| (self.alike(screen, lag), lag))
            .max_by(|a, b| a.0.total_cmp(&b.0))?;
        (alike >= ALIKE).then_some(lag)
    }

    /// Correlation with the other view `lag` later, on the square roots: the
    /// strongest textures do not decide alone.
    fn alike(&self, screen: &Self, lag: f64) -> f64 {
        let (mut n, mut x, mut y, mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        for (t, c) in screen.at_s.iter().zip(&screen.change) {
            let Some(own) = self.change_at(t - lag) else {
                continue;
            };
            let (a, b) = (own.sqrt(), c.sqrt());
            n += 1.0;
            x += a;
            y += b;
            xx += a * a;
            yy += b * b;
            xy += a * b;
        }
        let spread = (n * xx - x * x) * (n * yy - y * y);
        if n < 8.0 || spread <= 0.0 {
            return 0.0;
        }
        (n * xy - x * y) / spread.sqrt()
    }

    fn change_at(&self, t: f64) -> Option<f64> {
        let i = self.at_s.partition_point(|s| *s <= t);
        let (a, b) = (i.checked_sub(1)?, i);
        let (from, to) = (self.at_s[a], *self.at_s.get(b)?);
        let share = (t - from) / (to - from).max(1e-9);
        Some(self.change[a] + share * (self.change[b] - self.change[a]))
    }
}

/// Means of blocks of cells.
fn coarse(thumb: &Thumb) -> Vec<f32> {
    let (w, h) = (thumb.width / BLOCK, thumb.height / BLOCK);
    let mut out = vec![0.0; w * h];
    for (y, row) in thumb.cells.chunks_exact(thumb.width).enumerate() {
        for (x, block) in row.chunks_exact(BLOCK).enumerate().take(w) {
            if let Some(o) = out.get_mut(y / BLOCK * w + x) {
                *o += block.iter().sum::<f32>();
            }
        }
    }
    let n = (BLOCK * BLOCK) as f32;
    out.iter_mut().for_each(|v| *v /= n);
    out
}
