//! When a target that swings away has cleared the autofocus area, told from
//! pictures of the screen.
//!
//! What is behind the target is out of focus just then, and comes into focus
//! soon after; so it is not known what a cleared cell must look like. Known is
//! that it keeps still: while the target passes a cell changes from update to
//! update, the last time when the target's rear edge leaves it, and it changes
//! as much as target and background differ. A lens that focuses changes the
//! picture too, but later, and little from one update to the next.

use crate::limits;
use std::io;

use super::cover::{inside, noise_at_rest};
use super::swing::View;
use crate::ranked::at;
use crate::screen::{Reel, Thumb};

/// A cell changes where it does by this share of what the plainer quarter of
/// the cells change at most. Where the target's rear edge hardly differs from
/// the background, a cell seems clear before it is; on rendered films a share
/// of 0.35 read 7 ms early, 0.2 within 2 ms.
const CHANGES: f32 = 0.2;
/// The same in noise standard deviations of two pictures.
const ABOVE_NOISE: f32 = 6.0;
/// Fewest cells of an area that can be told.
const FEWEST_CELLS: usize = 12;
/// That while, in steps over which change is taken.
const QUIET_STEPS: usize = 3;

/// When the area was cleared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Clearing {
    /// The instant at which the share passed one tenth, between two updates,
    /// seconds as shot.
    pub passed_s: f64,
    /// The first update that shows the area clear, seconds as shot.
    pub shown_s: f64,
}

/// How much the cells of an area change by chance from picture to picture.
pub(super) struct Area {
    cells: Vec<usize>,
    noise: f32,
}

impl Area {
    /// The cells inside `area` (left, top, right, bottom as fractions of the
    /// view); `None` where they are too few.
    ///
    /// # Errors
    /// When kept pictures cannot be read back.
    pub(super) fn of(screen: &mut View<'_>, area: [f64; 4]) -> io::Result<Option<Self>> {
        let n = screen.pictures.len();
        let mut pairs: Vec<(Thumb, Thumb)> = Vec::new();
        for i in (1..n).step_by((n / 200).max(1)) {
            let before = screen.reel.get(screen.pictures[i - 1])?;
            pairs.push((before, screen.reel.get(screen.pictures[i])?));
        }
        let Some((first, _)) = pairs.first() else {
            return Ok(None);
        };
        let cells = inside(area, first.width, first.height);
        let noise = noise_at_rest(&pairs, &cells).max(0.25 * Reel::COARSE_STEP);
        Ok((cells.len() >= FEWEST_CELLS).then_some(Self { cells, noise }))
    }

    /// When a target cleared the area that left between the instants `span`
    /// (seconds as shot, of the screen); `None` where the pictures do not tell.
    ///
    /// # Errors
    /// When kept pictures cannot be read back.
    pub(super) fn cleared(
        &self,
        screen: &mut View<'_>,
        span: [f64; 2],
    ) -> io::Result<Option<Clearing>> {
        let from = screen.shown_s.partition_point(|t| *t < span[0] - 1e-9);
        let end = screen.shown_s.partition_point(|t| *t <= span[1] + 1e-9);
        let (from, end) = (from.saturating_sub(1), (end + 2).min(screen.shown_s.len()));
        let mut seen: Vec<Vec<f32>> = Vec::new();
        for k in from..end {
            let picture = screen.reel.get(screen.pictures[k])?;
            seen.push(self.cells.iter().map(|i| picture.cells[*i]).collect());
        }
        Ok(self.course(&seen).and_then(|(covered, step)| {
            let floor = others(&covered, step);
            let k = (1..covered.len()).find(|k| covered[*k] - floor <= limits::CLEAR.get())?;
            let [before, after] = [covered[k - 1] - floor, covered[k] - floor];
            let share =
                ((before - limits::CLEAR.get()) / (before - after).max(1e-9)).clamp(0.0, 1.0);
            let [s, t] = [screen.shown_s[from + k - 1], screen.shown_s[from + k]];
            Some(Clearing {
                passed_s: s + share * (t - s),
                shown_s: t,
            })
        }))
    }

    /// Share of the area that is still to be cleared, picture by picture, and
    /// over how many pictures change is taken: as many as the target needs for
    /// about a cell.
    fn course(&self, seen: &[Vec<f32>]) -> Option<(Vec<f64>, usize)> {
        let across = (self.cells.len() as f64).sqrt() as usize;
        let step = seen.len().saturating_sub(4).div_ceil(across.max(1)).max(1);
        let change = |j: usize, i: usize| (seen[j + step][i] - seen[j][i]).abs();
        let steps = seen.len().checked_sub(step)?;
        let most = |i: usize| (0..steps).map(|j| change(j, i)).fold(0.0, f32::max);
        let most: Vec<f32> = (0..self.cells.len()).map(most).collect();
        let plain = at(most.clone(), 3, 4)?;
        let limit = (CHANGES * plain).max(ABOVE_NOISE * self.noise * std::f32::consts::SQRT_2);
        // The last picture before each cell's last change.
        let last: Vec<usize> = (0..self.cells.len())
            .filter(|i| most[*i] > limit)
            .filter_map(|i| (0..steps).rev().find(|j| change(*j, i) > limit))
            .collect();
        let share = |n: usize| n as f64 / last.len() as f64;
        let shown = last.len() as f64 / self.cells.len() as f64;
        let covered = |k: usize| share(last.iter().filter(|l| **l >= k).count());
        (shown >= limits::CLEAR_LEAST_SHOWN.get())
            .then(|| ((0..seen.len()).map(covered).collect(), step))
    }
}

/// Share of the area that changes after a quiet while: not the target's.
fn others(covered: &[f64], step: usize) -> f64 {
    let after = |k: usize| covered[(k + QUIET_STEPS * step).min(covered.len() - 1)];
    let quiet = |k: &usize| {
        covered[*k] <= limits::CLEAR_OTHER.get()
            && covered[*k] - after(*k) <= limits::CLEAR_QUIET.get()
    };
    (0..covered.len()).find(quiet).map_or(0.0, |k| covered[k])
}
